"""Many suspect captures against a reference, one at a time: the same verdicts as the comparison of one pair."""

from __future__ import annotations

import gc
import weakref
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.compare.many_captures import CLOCK, captures
from tests.plant import Fault, Pair, Plant
from tests.strategies import faults, plants
from tracecore.capture import Capture, DigitalTrace, digital_trace
from tracecore.capture_series import SeriesRequest, outcomes, read_against, reference
from tracecore.comparison import CompareRequest, compare
from tracecore.errors import RequestError
from tracecore.repeats.table import table_of

PLANT = Plant(3, cycles=600)


def both(pair: Pair, volts: bool = False) -> tuple[Capture, Capture]:
    sides = pair.good, pair.suspect
    good, suspect = (s.capture_in_volts() if volts else s.capture() for s in sides)
    return good, suspect


def same_as_the_pair(good: Capture, suspect: Capture) -> None:
    """With one good capture nothing is forgiven, and an outcome says what the comparison of the pair says."""
    shown = compare(CompareRequest((good,), (suspect,), clock=CLOCK))
    found = read_against(reference(SeriesRequest((good,), clock=CLOCK)), suspect)
    wrong = {s.signal: s for s in shown.signals if s.verdict == "diverges"}
    assert found.outcome.diverges == set(wrong)
    for signal, finding in wrong.items():
        reported = found.reported[signal]
        assert reported.cycles.tolist() == finding.diverging_cycles.tolist()
        assert int(reported.instants_ps.min()) == finding.first_divergence.good_ps
        assert int(reported.cycles[0]) == finding.first_divergence.cycle
    if wrong:
        assert found.outcome.first == shown.causes[0].signal
        assert found.outcome.first_cycle == shown.causes[0].since_cycle


modes = st.sampled_from(
    ["stuck low", "stuck high", "inverted", "one cycle late", "intermittent", "late", "missing pulses", "extra pulses"]
)


@settings(max_examples=10)
@given(plants, modes.flatmap(lambda mode: faults(mode, ("D00", "D02", "READ", "SEQ1"))))
def test_an_outcome_says_what_the_pair_says(plant, fault):
    plant = replace(plant, cycles=600, offset_cycles=plant.offset_cycles // 3)
    same_as_the_pair(*both(plant.faulty(fault)))


@pytest.mark.parametrize("fault", [Fault("weak low", "D01", rest_v=1.2), Fault("open", "READ", since=150)])
def test_an_outcome_in_volts_says_what_the_pair_says(fault):
    plant = Plant(3, cycles=400, good_rate_hz=Fraction(50_000_000), suspect_rate_hz=Fraction(50_000_000))
    same_as_the_pair(*both(plant.faulty(fault), volts=True))


def test_what_follows_from_a_fault_comes_after_it():
    good, suspect = both(PLANT.faulty(Fault("stuck low", "D01", since=50), propagate=True))
    (outcome,) = outcomes(SeriesRequest((good,), clock=CLOCK), [suspect])
    assert outcome.first == "D01"
    assert {"D01"} < outcome.diverges
    assert outcome.cycles > 580


def test_three_bad_captures_in_twelve():
    good = captures(PLANT, range(3))
    bad = {i: Fault("stuck low", "D02", since) for i, since in ((4, 40), (9, 300), (10, 7))}
    suspects = (captures(PLANT, range(20 + i, 21 + i), fault=bad.get(i))[0] for i in range(12))
    table = table_of(outcomes(SeriesRequest(good, clock=CLOCK), suspects))
    assert (table.captures, table.diverging, table.uncounted) == (12, 3, 0)
    row = table.rows()[0]
    assert (row.signal, row.first_credit, row.captures) == ("D02", 3, ("run 24", "run 29", "run 30"))
    assert (row.share.diverging, row.share.captures) == (3, 12)
    truth = [PLANT.faulty(fault).truth.first_cycle for fault in bad.values()]
    assert [o.first_cycle for o in table.recent_diverging] == truth
    assert table.first_verdict().sentence.endswith("3 more would be needed to be sure.")


def test_after_the_repair_none_diverges():
    table = table_of(outcomes(SeriesRequest(captures(PLANT, range(2)), clock=CLOCK), captures(PLANT, range(30, 40))))
    assert table.proof().sentence == "0 of 10 captures diverge; with 95 % confidence fewer than 26 % would."
    assert table.signals["D00"].compared == 10


def test_only_one_suspect_capture_is_held_at_a_time():
    alive: list[weakref.ref[Capture]] = []

    class Held(Capture):
        """A capture that can be watched going away."""

        __slots__ = ("__weakref__",)

    def read_one_by_one():
        for run in range(50, 54):
            gc.collect()
            assert not any(seen() for seen in alive[:-1])
            made = captures(PLANT, range(run, run + 1))[0]
            own = Held(made.name, made.digital, {}, made.resolution_ps, made.reader)
            del made
            alive.append(weakref.ref(own))
            yield own

    assert len(list(outcomes(SeriesRequest(captures(PLANT, range(1)), clock=CLOCK), read_one_by_one()))) == 4


def stripped(capture: Capture, *keep: str, rename: str = "") -> Capture:
    traces = {n + rename: t for n, t in capture.digital.items() if n in keep}
    return Capture(capture.name, traces, {}, capture.resolution_ps, capture.reader)


def test_captures_that_cannot_be_compared_say_why():
    good = captures(PLANT, range(2))
    whole = captures(PLANT, range(5, 6))[0]
    other = captures(replace(PLANT, seed=99), range(5, 6))[0]
    suspects = [
        stripped(whole, "D00", "D01"),
        stripped(whole, CLOCK),
        Capture("another program", other.digital, {}, other.resolution_ps, "built"),
        whole,
    ]
    found = list(outcomes(SeriesRequest(good, clock=CLOCK), suspects))
    assert [o.counts for o in found] == [False, False, False, True]
    for outcome, words in zip(found, ("not the clock MCLK", "no signal of run 0", "agree"), strict=False):
        assert words in outcome.reason
    assert table_of(found).uncounted == 3


def test_a_capture_whose_clock_stops_counts_by_its_clock_though_nothing_lines_up():
    whole = captures(PLANT, range(5, 6))[0]
    short = DigitalTrace(whole.digital[CLOCK].times_ps[:9].copy(), whole.digital[CLOCK].levels[:9].copy(), 10**9)
    capture = Capture("short", {**whole.digital, CLOCK: short}, {}, whole.resolution_ps, "built")
    (found,) = outcomes(SeriesRequest(captures(PLANT, range(2)), clock=CLOCK), [capture])
    assert (found.first, found.diverges, found.cycles) == (CLOCK, {CLOCK}, 0)


def test_a_clock_that_is_sound_elsewhere_is_one_of_as_many_captures_as_the_others():
    good, whole = captures(PLANT, range(2)), captures(PLANT, range(5, 6))[0]
    short = DigitalTrace(whole.digital[CLOCK].times_ps[:9].copy(), whole.digital[CLOCK].levels[:9].copy(), 10**9)
    stops = Capture("short", {**whole.digital, CLOCK: short}, {}, whole.resolution_ps, "built")
    row = table_of(outcomes(SeriesRequest(good, clock=CLOCK), [whole, stops])).row(CLOCK)
    assert (row.share.diverging, row.share.captures) == (1, 2)


def test_a_signal_that_a_capture_lacks_is_not_counted_as_agreeing():
    whole = captures(PLANT, range(5, 6))[0]
    few = stripped(whole, CLOCK, "D00", "D01", "SEQ0", "SEQ1", "READ", "STB")
    table = table_of(outcomes(SeriesRequest(captures(PLANT, range(1)), clock=CLOCK), [whole, few]))
    assert (table.captures, table.uncounted) == (1, 1)
    assert table.signals["D00"].compared == table.signals["D02"].compared == 1
    assert table.recent[1].reason.endswith(": 9 are on one side only.")


def test_a_request_that_cannot_be_met_is_refused():
    with pytest.raises(RequestError, match="at least one known-good"):
        reference(SeriesRequest(()))
    good = captures(PLANT, range(1))
    with pytest.raises(RequestError, match="'NOPE' is not in run 0"):
        reference(SeriesRequest(good, clock="NOPE"))
    with pytest.raises(RequestError, match="0 other signals"):
        reference(SeriesRequest((stripped(good[0], CLOCK),)))


def test_the_clock_is_found_where_none_is_named():
    assert reference(SeriesRequest(captures(PLANT, range(1)))).clock == CLOCK


def test_a_good_capture_that_may_lie_a_pass_off_teaches_nothing():
    rng = np.random.default_rng(1)
    loop = np.tile((np.cumsum(rng.random((5, 60)) < 0.4, axis=1) % 2).astype(np.uint8), (1, 12))
    loop[:, ::60] = 0
    made = [_from_states(f"loop {i}", loop) for i in range(3)]
    against = reference(SeriesRequest(tuple(made), clock=CLOCK))
    assert against.tolerance.captures == 1
    assert len(against.notices) == 2
    assert "loop 1 teaches nothing" in against.notices[0].text
    # a suspect capture of a loop can be compared all the same: every pass looks alike
    assert read_against(against, made[1]).outcome.counts


def _from_states(name: str, states: np.ndarray, period_ps: int = 400_000) -> Capture:
    """Signals that take each state a quarter of a cycle after the clock's edge, at 40 samples a cycle."""
    cycles = states.shape[1]
    edges = np.arange(cycles, dtype=np.int64) * period_ps
    stop = cycles * period_ps
    ticks = np.sort(np.concatenate((edges, edges + period_ps // 2)))
    traces = {CLOCK: digital_trace(ticks, np.tile(np.array([1, 0], np.uint8), cycles), stop)}
    for i, row in enumerate(states):
        times = np.concatenate(([0], edges + period_ps // 4))
        traces[f"S{i}"] = digital_trace(times, np.concatenate((row[:1], row)), stop)
    return Capture(name, traces, {}, period_ps // 40, "built")


def test_signals_wrong_at_one_instant_are_all_first():
    rng = np.random.default_rng(4)
    good = (np.cumsum(rng.random((6, 400)) < 0.4, axis=1) % 2).astype(np.uint8)
    bad = good.copy()
    bad[1:3, 200] ^= 1
    bad[4, 203] ^= 1
    against = reference(SeriesRequest((_from_states("good", good),), clock=CLOCK))
    found = read_against(against, _from_states("bad", bad)).outcome
    assert found.diverges == {"S1", "S2", "S4"}
    assert found.firsts == {"S1", "S2"}
    # the clock is high when the capture begins, so its first edge is that of the second row
    assert found.first_cycle == 199
