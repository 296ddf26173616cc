"""A fault of the clock is named as the clock's, first of all, and a sound clock is never accused."""

from __future__ import annotations

import os
from fractions import Fraction

import numpy as np
import pytest

from tests.clock_planter import AT_THE_PIN, IN_VOLTS, WITH_THE_MACHINE, clock_in_volts, with_clock_fault
from tests.plant import CLOCK, Fault, Pair, Plant
from tests.thinned import thinned
from tracecore.capture import Capture
from tracecore.capture_series import SeriesRequest, outcomes
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.quantities import group_digits

KINDS = {
    "pin stops": "stops",
    "pin pauses": "pauses",
    "all dead": "dead",
    "slow edges": "slow transitions",
}


def drawn(seed: int) -> Plant:
    """Two instruments of their own rates, 11 to 23 samples a cycle."""
    rng = np.random.default_rng((17, seed))
    rates = [Fraction(int(rng.uniform(11, 23) / 416e-9)) for _ in range(2)]
    return Plant(
        seed + 1,
        cycles=int(rng.integers(300, 700)),
        good_rate_hz=rates[0],
        suspect_rate_hz=rates[1],
        drift_ppm=float(rng.uniform(-200, 200)),
        offset_cycles=int(rng.integers(-30, 30)),
    )


def captured(pair: Pair, kind: str, seed: int) -> tuple[Capture, Capture]:
    if kind in IN_VOLTS:
        return clock_in_volts(pair.good, "", seed), clock_in_volts(pair.suspect, kind, seed)
    return pair.good.capture(), with_clock_fault(pair.suspect, kind, seed).capture()


def compared(good: Capture, suspect: Capture, pair: Pair) -> Comparison:
    return compare(CompareRequest((good,), (suspect,), pair.sheet, clock=CLOCK))


@pytest.mark.parametrize("kind", thinned([*AT_THE_PIN, *WITH_THE_MACHINE, *IN_VOLTS]))
def test_the_clock_is_named_first(kind):
    pair = drawn(3).clean()
    found = compared(*captured(pair, kind, 3), pair)
    assert found.diverges
    assert found.signal(CLOCK).verdict == "diverges"
    assert (found.causes[0].signal, found.causes[0].rank) == (CLOCK, 1)
    assert [c.rank for c in found.causes] == list(range(1, len(found.causes) + 1))
    assert found.clocks is not None
    kinds = {fault.kind for fault in found.clocks.faults}
    assert KINDS.get(kind, kind) in kinds or kind in ("runts", "slow edges")
    for cause in found.causes[1:]:
        assert any(f"The clock {CLOCK} is wrong itself" in sentence for sentence in cause.because)


def test_where_the_clock_stops_is_one_number_in_every_sentence():
    pair = drawn(3).clean()
    found = compared(*captured(pair, "pin stops", 3), pair)
    last = group_digits(found.lineup.runs[-1].good_start + found.lineup.runs[-1].length - 1)
    assert found.causes[0].summary == f"the clock itself · it stops after cycle {last}"
    assert found.causes[0].because[0].endswith("the good clock never rests longer than a cycle.")
    (told,) = [own.text for own in found.notices if own.code == "clock_stops"]
    assert f"nothing is compared after cycle {last}," in told


@pytest.mark.parametrize("kind", ["late", "early"])
def test_a_late_clock_is_the_one_cause_and_nothing_else_is_accused(kind):
    pair = drawn(5).clean()
    found = compared(*captured(pair, kind, 5), pair)
    assert [c.signal for c in found.causes] == [CLOCK]
    assert found.causes[0].fault_mode.startswith(f"{kind} by ")
    assert {f.verdict for f in found.signals if f.signal != CLOCK} == {"agrees"}


def test_behind_double_edges_the_line_up_still_holds_and_a_fault_is_still_found():
    plant = drawn(7)
    pair = plant.faulty(Fault("stuck low", "D02", 60))
    found = compared(pair.good.capture(), with_clock_fault(pair.suspect, "double edges", 7).capture(), pair)
    assert found.lineup.offset_cycles == plant.offset_cycles
    assert found.signal("D02").verdict == "diverges"
    assert [c.signal for c in found.causes[:1]] == [CLOCK]


def test_a_signal_that_is_late_by_itself_is_not_the_clock():
    pair = drawn(8).faulty(Fault("late", "D02", by_ps=150_000))
    found = compared(pair.good.capture(), pair.suspect.capture(), pair)
    assert found.signal(CLOCK).verdict == "agrees"
    assert found.causes[0].signal == "D02"


def test_a_board_that_was_wrong_before_its_clock_stops_may_have_halted_it():
    pair = drawn(9).faulty(Fault("stuck high", "READ", 20))
    found = compared(pair.good.capture(), with_clock_fault(pair.suspect, "stops", 9).capture(), pair)
    assert [c.signal for c in found.causes[:2]] == ["READ", CLOCK]
    assert any("may have halted the clock" in sentence for sentence in found.causes[1].because)


def test_a_series_counts_a_capture_with_a_dead_clock():
    pair = drawn(4).clean()
    good, dead = captured(pair, "dead", 4)
    (outcome,) = outcomes(SeriesRequest((good,), pair.sheet, clock=CLOCK), [dead])
    assert outcome.first == CLOCK
    assert outcome.differs


@pytest.mark.parametrize("seed", range(100, 112))
def test_a_sound_pair_is_not_accused(seed):
    pair = drawn(seed).clean()
    found = compared(pair.good.capture(), pair.suspect.capture(), pair)
    assert found.clocks is not None
    assert found.clocks.faults == ()
    assert not found.diverges


def test_a_sound_clock_in_volts_is_not_accused():
    pair = drawn(120).clean()
    found = compared(clock_in_volts(pair.good, "", 1), clock_in_volts(pair.suspect, "", 2), pair)
    assert not found.diverges


@pytest.mark.long
def test_many_draws_of_every_kind():
    for seed in range(int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "100"))):
        pair = drawn(1000 + seed).clean()
        for kind in (*AT_THE_PIN, *WITH_THE_MACHINE, *IN_VOLTS):
            found = compared(*captured(pair, kind, seed), pair)
            assert found.causes[0].signal == CLOCK, (kind, seed)
        assert not compared(pair.good.capture(), pair.suspect.capture(), pair).diverges, seed
