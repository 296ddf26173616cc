"""Cycles counted without a clock: by a strobe, by two phases, by any transition."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.plant import CLOCK, Fault, Pair, Plant
from tracecore.capture import Capture, DigitalTrace, digital_trace
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.errors import RequestError
from tracecore.measure.cycle_count import (
    ANY_TRANSITION,
    best_count,
    counting_edges_ps,
    counting_signals,
    quiet_ps,
    two_phases,
)

FAST = {"good_rate_hz": Fraction(10**8), "suspect_rate_hz": Fraction(10**8)}


def pulses(starts: np.ndarray, width: int) -> DigitalTrace:
    times = np.sort(np.concatenate(([0], starts, starts + width))).astype(np.int64)
    return digital_trace(times, (np.arange(len(times)) % 2).astype(np.uint8), int(times[-1]) + width)


def without(capture: Capture, *names: str) -> Capture:
    kept = {n: t for n, t in capture.digital.items() if n not in names}
    return Capture(capture.name, kept, {}, capture.resolution_ps, "built")


def compared(pair: Pair, clock: str | None, *dropped: str) -> Comparison:
    good, suspect = (without(side.capture(), *dropped) for side in (pair.good, pair.suspect))
    return compare(CompareRequest((good,), (suspect,), pair.sheet, clock=clock))


# --- by a strobe


def uneven_strobe(seed: int) -> dict[str, DigitalTrace]:
    """Data that change after each strobe and stand still before the next, which comes at no even pace."""
    rng = np.random.default_rng(seed)
    starts = np.cumsum(rng.integers(600_000, 2_400_000, 300))
    moves = [starts[rng.random(300) < 0.5] + int(rng.integers(60_000, 200_000)) for _ in range(5)]
    data = {
        f"D{i}": digital_trace(np.append(0, m), (np.arange(len(m) + 1) % 2).astype(np.uint8), int(starts[-1]) + 10**6)
        for i, m in enumerate(moves)
    }
    return {**data, "STB": pulses(starts, 300_000)}


@pytest.mark.parametrize("seed", range(4))
def test_the_strobe_is_what_everything_stands_still_at(seed):
    assert best_count(uneven_strobe(seed), 10_000, "rising") == "STB"


def test_a_comparison_without_a_clock_counts_by_the_strobe():
    good = Capture("good", uneven_strobe(1), {}, 10_000, "built")
    found = compare(CompareRequest((good,), (good,)))
    assert found.lineup.clock == "STB"
    assert found.lineup.status == "unique"
    assert not found.diverges
    assert any("No signal ticks evenly; STB counts the cycles" in n.text for n in found.notices)


def test_signals_that_move_at_any_time_have_no_strobe():
    rng = np.random.default_rng(2)
    loose = {f"D{i}": pulses(np.cumsum(rng.integers(50_000, 900_000, 400)), 20_000) for i in range(4)}
    assert best_count(loose, 10_000, "rising") == ANY_TRANSITION


# --- by two phases


def phases(period: int, pause: int) -> dict[str, DigitalTrace]:
    starts = np.arange(1, 200) * period
    width = period // 2 - pause
    return {"PHI1": pulses(starts, width), "PHI2": pulses(starts + period // 2, width)}


def test_two_phases_that_take_turns_count_together():
    traces = phases(1_000_000, 60_000)
    assert two_phases(traces, 10_000) == "PHI1+PHI2"
    edges = counting_edges_ps("PHI1+PHI2", traces, "rising", 0)
    assert np.unique(np.diff(edges)).tolist() == [500_000]


def test_a_clock_and_its_inverse_are_no_two_phases():
    assert two_phases(phases(1_000_000, 0), 10_000) is None
    assert two_phases(phases(1_000_000, 15_000), 10_000) is None


def test_signals_of_other_rates_are_no_two_phases():
    one, other = phases(1_000_000, 60_000), phases(700_000, 60_000)
    assert two_phases({"A": one["PHI1"], "B": other["PHI2"]}, 10_000) is None


def with_phases(capture: Capture) -> Capture:
    """The clock split in two phases that take turns: every other of its cycles goes to each."""
    clock = capture.digital[CLOCK]
    rises, falls = clock.times_ps[1:][clock.levels[1:] == 1], clock.times_ps[1:][clock.levels[1:] == 0]
    width = int(np.median(falls[: len(rises)] - rises[: len(falls)]))
    made = {f"PHI{i + 1}": pulses(rises[i::2], width) for i in range(2)}
    rest = {n: t for n, t in capture.digital.items() if n != CLOCK}
    return Capture(capture.name, {**made, **rest}, {}, capture.resolution_ps, "built")


def test_a_machine_with_two_phases_is_compared_by_both():
    pair = Plant(5, cycles=900, offset_cycles=6, **FAST).faulty(Fault("stuck low", "D02", 200))
    good, suspect = with_phases(pair.good.capture()), with_phases(pair.suspect.capture())
    found = compare(CompareRequest((good,), (suspect,), pair.sheet))
    assert found.lineup.clock == "PHI1+PHI2"
    (cause,) = found.causes
    assert (cause.signal, cause.fault_mode, cause.since_cycle) == ("D02", "stuck low", pair.truth.first_cycle)
    assert {found.signal(s).verdict for s in ("PHI1", "PHI2")} == {"agrees"}
    assert [f.signal for f in found.signals[:2]] == ["PHI1", "PHI2"]


# --- by any transition


def test_bursts_begin_where_something_moves_after_a_pause():
    traces = {"A": pulses(np.array([1000, 5000]), 40), "B": pulses(np.array([1020, 9000]), 30)}
    assert counting_edges_ps(ANY_TRANSITION, traces, "rising", 500).tolist() == [999, 4999, 8999]


def test_the_pause_parts_short_gaps_from_long_ones():
    rng = np.random.default_rng(1)
    starts = np.cumsum(rng.integers(300_000, 900_000, 200))
    traces = {f"D{i}": pulses(starts[i::2] + rng.integers(0, 30_000, 100), 40_000) for i in range(2)}
    assert 40_000 < quiet_ps(traces, 5000) < 300_000


@pytest.mark.parametrize("seed", [1, 5, 9])
def test_captures_without_any_clock_line_up_by_their_transitions(seed):
    pair = Plant(seed, cycles=900, offset_cycles=12, drift_ppm=500, **FAST).clean()
    found = compared(pair, ANY_TRANSITION, CLOCK)
    assert found.lineup
    assert found.lineup.matched_cycles > 0.9 * (len(found.lineup.good_edges_ps) - 15)
    assert {f.verdict for f in found.signals} == {"agrees"}
    # the good cycles that pair lie as far apart in time as the offset says
    run = max(found.lineup.runs, key=lambda r: r.length)
    apart = (
        found.lineup.suspect_edges_ps[run.suspect_start : run.suspect_start + run.length]
        - found.lineup.good_edges_ps[run.good_start : run.good_start + run.length]
    )
    cycles = np.median(apart) / 416_000
    assert abs(cycles - 12) < 0.7


def test_a_stuck_signal_is_found_without_any_clock():
    pair = Plant(5, cycles=900, **FAST).faulty(Fault("stuck low", "D02", 200))
    found = compared(pair, ANY_TRANSITION, CLOCK)
    assert [c.signal for c in found.causes][:1] == ["D02"]
    assert found.causes[0].fault_mode == "stuck low"


def test_a_clock_of_a_name_that_stands_for_nothing_is_refused():
    pair = Plant(5, cycles=300, **FAST).clean()
    for name in ("NONE", "D00+NONE", "D00+D01+D02"):
        assert counting_signals(name, pair.good.capture().digital) is None
        with pytest.raises(RequestError, match="Name one of these as the clock"):
            compared(pair, name)


def test_a_clock_that_is_captured_is_taken_before_any_other_count():
    pair = Plant(5, cycles=600, **FAST).clean()
    request = CompareRequest((pair.good.capture(),), (pair.suspect.capture(),), pair.sheet)
    assert compare(request).lineup.clock == CLOCK
    assert compare(replace(request, clock=CLOCK)).lineup.offset_cycles == pair.truth.offset_cycles
