"""Laws that hold for any capture, and the fast routines against the plain ones."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_traces.instruments import sampled_rows
from tests import oracles
from tests.fresh_file import fresh_file
from tests.plant import CLOCK, Fault, Plant
from tests.strategies import captures, digital_traces
from tracecore.capture import Capture, DigitalTrace, sample_time_ps
from tracecore.compare.transitions import match_transitions
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.lineup.lineup import find_lineup
from tracecore.measure.clock import active_edges_ps, cycle_states, known_transitions
from tracecore.readers import read_capture


def compared(good: Capture, suspect: Capture) -> Comparison:
    return compare(CompareRequest((good,), (suspect,), clock=CLOCK))


def moved(capture: Capture, by_ps: int) -> Capture:
    traces = {n: DigitalTrace(t.times_ps + by_ps, t.levels, t.stop_ps + by_ps) for n, t in capture.digital.items()}
    return Capture(capture.name, traces, {}, capture.resolution_ps, capture.reader)


def told(comparison: Comparison) -> list[tuple[object, ...]]:
    """What a comparison says, without its times."""
    rows = [(f.signal, f.verdict, f.fault_mode, f.diverging_cycles.tolist(), f.skew) for f in comparison.signals]
    return [*rows, *((c.rank, c.signal, c.fault_mode, c.since_cycle) for c in comparison.causes)]


@given(digital_traces(), st.lists(st.integers(-10, 12_000), max_size=20))
def test_the_level_at_an_instant_is_the_last_entry_before_it(trace, at):
    assert trace.level_at(np.array(at, np.int64)).tolist() == [oracles.level_at(trace, t) for t in at]


@given(digital_traces(unknown=False))
def test_rising_edges_are_those_of_a_plain_reading(trace):
    assert active_edges_ps(trace, "rising").tolist() == oracles.rising_edges(trace)


@given(digital_traces(), st.lists(st.integers(0, 12_000), unique=True, max_size=25).map(sorted), st.integers(1, 300))
def test_states_are_those_of_a_plain_reading(trace, edges, guard):
    assert cycle_states(trace, np.array(edges, np.int64), guard).tolist() == oracles.states(trace, edges, guard)


@given(digital_traces(unknown=False), digital_traces(unknown=False), st.integers(0, 400))
def test_no_other_matching_within_the_tolerance_is_better(good, suspect, tolerance):
    sides = []
    for trace in (good, suspect):
        known = known_transitions(trace)
        sides.append((known.times_ps[1:], known.levels[1:]))
    found = match_transitions(*sides[0], *sides[1], tolerance_ps=tolerance, furthest_ps=tolerance)
    if found.delay_ps:
        return  # then it is the best round that delay, which the table does not know
    apart = np.abs(sides[0][0][found.good] - sides[1][0][found.suspect])
    plain = [list(zip(times.tolist(), levels.tolist(), strict=True)) for times, levels in sides]
    pairs, total = oracles.longest_matching(*plain, tolerance)
    assert len(apart) * (tolerance + 1) - int(apart.sum()) == pairs * (tolerance + 1) - total


@settings(max_examples=16)
@given(st.integers(0, 1000), st.integers(-100, 100), st.integers(3, 8))
def test_the_offset_is_the_one_that_trying_all_of_them_finds(seed, offset, signals):
    rng = np.random.default_rng(seed)
    whole = (np.cumsum(rng.random((signals, 500)) < 0.3, axis=1) % 2).astype(np.uint8)
    good, suspect = whole[:, 120:380], whole[:, 120 - offset : 380 - offset].copy()
    suspect[0, 130:] = 0
    edges = np.arange(261, dtype=np.int64) * 400_000
    found = find_lineup("CLK", "rising", edges, edges, good, suspect, tuple(f"S{i}" for i in range(signals)))
    assert found.offset_cycles == oracles.best_offset(good[1:], suspect[1:]) == offset


@given(captures())
def test_samples_come_back_from_the_transitions(drawn):
    capture, samples, rate = drawn
    at = sample_time_ps(np.arange(samples.shape[1]), rate)
    for row, trace in zip(samples, capture.digital.values(), strict=True):
        assert trace.level_at(at).tolist() == row.tolist()


@settings(max_examples=20)
@given(captures(most_samples=60, channels=(2, 6)))
def test_a_capture_comes_back_from_its_file(drawn):
    capture, samples, rate = drawn
    if rate.denominator > 1:
        return  # a preamble states rates as decimals
    back = read_capture(fresh_file("drawn.csv", sampled_rows(capture.channels, samples.T, f"{int(rate)} Hz")))
    assert back.channels == capture.channels
    assert back.resolution_ps == capture.resolution_ps
    for name, trace in capture.digital.items():
        assert back.digital[name].times_ps.tolist() == trace.times_ps.tolist()
        assert back.digital[name].levels.tolist() == trace.levels.tolist()
        assert back.digital[name].stop_ps == trace.stop_ps


@settings(max_examples=8)
@given(st.integers(1, 500), st.integers(-(10**12), 10**12), st.integers(-(10**12), 10**12))
def test_when_the_captures_were_begun_changes_nothing(seed, good_by, suspect_by):
    pair = Plant(seed, cycles=500).faulty(Fault("stuck low", "D02", 100))
    good, suspect = pair.good.capture(), pair.suspect.capture()
    assert told(compared(moved(good, good_by), moved(suspect, suspect_by))) == told(compared(good, suspect))


@settings(max_examples=8)
@given(st.integers(1, 500), st.integers(-40, 40))
def test_swapping_the_sides_turns_offset_skew_and_transitions_round(seed, offset):
    plant = Plant(seed, cycles=500, offset_cycles=offset, good_rate_hz=Fraction(50_000_000))
    pair = plant.faulty(Fault("missing pulses", "READ", share=0.1))
    one = compared(pair.good.capture(), pair.suspect.capture())
    other = compared(pair.suspect.capture(), pair.good.capture())
    assert one.lineup.offset_cycles == -other.lineup.offset_cycles == offset
    there, back = one.signal("READ"), other.signal("READ")
    assert there.missing_transitions == back.extra_transitions > 0
    assert there.extra_transitions == back.missing_transitions == 0
    for signal in ("STB", "ACK", "SEQ0"):
        skews = one.signal(signal).skew, other.signal(signal).skew
        assert skews[0] is not None
        assert skews[1] is not None
        # each is read to one sample period of both sides
        assert abs(skews[0].median_ps + skews[1].median_ps) <= skews[0].uncertainty_ps


@settings(max_examples=6)
@given(st.integers(1, 500))
def test_a_capture_against_itself_lines_up_at_nought_and_agrees(seed):
    capture = Plant(seed, cycles=500).clean().good.capture()
    comparison = compared(capture, capture)
    assert comparison.lineup.offset_cycles == 0
    assert not comparison.diverges
    for finding in comparison.signals:
        if finding.skew is not None:
            assert (finding.skew.median_ps, finding.skew.max_ps) == (0, 0)


def test_the_order_of_the_channels_changes_nothing():
    pair = Plant(3, cycles=500).faulty(Fault("inverted", "SEQ1"))
    good, suspect = pair.good.capture(), pair.suspect.capture()
    turned = Capture("turned", dict(reversed(suspect.digital.items())), {}, suspect.resolution_ps, "built")
    assert told(compared(good, turned)) == told(compared(good, suspect))


def test_more_of_the_same_suspect_changes_only_how_often_it_is_seen():
    pair = Plant(4, cycles=500).faulty(Fault("stuck high", "D01", 50))
    good, suspect = pair.good.capture(), pair.suspect.capture()
    twice = compare(replace(CompareRequest((good,), (suspect, suspect)), clock=CLOCK))
    assert told(twice) == told(compared(good, suspect))
    assert ("Seen in", "2 of 2 suspect captures") in twice.causes[0].readings
