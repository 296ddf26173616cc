"""What the first instant of a divergence is, at the edges of cycles; and moves of both signs."""

from __future__ import annotations

import numpy as np
import pytest

from tracecore.capture import digital_trace
from tracecore.compare.divergence import Limits, diverge, matched
from tracecore.compare.fault_modes import name_fault
from tracecore.lineup.lineup import Lineup, MatchedRun
from tracecore.measure.clock import cycle_states

PERIOD = 400_000
EDGES = np.arange(101, dtype=np.int64) * PERIOD + 50_000
LIMITS = Limits(20_000, 520_000, 10_000, 10_000)


def lineup(runs: tuple[MatchedRun, ...]) -> Lineup:
    return Lineup("CLK", "rising", "unique", "", 0, 1.0, runs, (), EDGES, EDGES, 0.0)


def compared(good: np.ndarray, suspect: np.ndarray, runs: tuple[MatchedRun, ...] = (MatchedRun(0, 0, 100),)):
    """Traces that toggle at the given times, from low."""
    stop = int(EDGES[-1]) + PERIOD
    sides = []
    for times in (good, suspect):
        levels = (np.arange(len(times) + 1) % 2).astype(np.uint8)
        sides.append(digital_trace(np.append(0, times), levels, stop))
    states = [cycle_states(side, EDGES, 10_000) for side in sides]
    return diverge(*sides, *states, matched(lineup(runs)), LIMITS)


def toggles(*cycles: int, delay: int = 100_000) -> np.ndarray:
    return EDGES[list(cycles)] + delay


@pytest.mark.parametrize("delay", [0, 1, 200_000])
@pytest.mark.parametrize("cycle", [1, 5, 50])
def test_a_missing_pulse_diverges_in_its_own_cycle_even_at_its_very_edge(cycle, delay):
    good = toggles(cycle, cycle + 1, 70, 75, delay=delay)
    found = compared(good, good[2:])
    assert found.first is not None
    assert found.first.cycle == cycle
    assert found.first.good_ps == EDGES[cycle] + delay
    assert int(found.cycles[0]) == cycle


def test_a_state_that_differs_before_any_transition_counts_from_its_own_edge():
    # the suspect's level was wrong before the first matched edge; the transition that goes missing later announces
    # nothing of that
    good, suspect = np.array([10_000, EDGES[1] + 1, EDGES[7]]), np.array([EDGES[7]])
    found = compared(good, suspect)
    assert found.first is not None
    assert found.first.cycle == 0
    assert found.first.good_ps == EDGES[0]


def test_what_an_inserted_cycle_shows_is_no_divergence():
    good = toggles(5, 9, 20, 33, 60, 61)
    # cycle 40 of the suspect is inserted, and the signal pulses in it
    late = good + np.where(good > EDGES[40], PERIOD, 0)
    suspect = np.sort(np.append(late, [EDGES[40] + 90_000, EDGES[41] + 90_000]))
    runs = MatchedRun(0, 0, 40), MatchedRun(40, 41, 59)
    found = compared(good, suspect, runs)
    assert found.first is None
    assert not len(found.cycles)
    assert not found.differing.any()


def test_cycles_behind_a_slip_keep_their_good_numbers():
    good = toggles(5, 9, 20, 33, 60, 61, 70, 90)
    suspect = good + np.where(good > EDGES[40], PERIOD, 0)
    runs = MatchedRun(0, 0, 40), MatchedRun(40, 41, 59)
    found = compared(good, np.delete(suspect, [6, 7]), runs)
    assert found.first is not None
    assert found.first.cycle == 70
    assert found.first.suspect_ps == EDGES[71] + 100_000
    assert set(found.cycles.tolist()) >= {70, 89}
    assert found.good_cycles[found.index_of(70)] == 70


def test_moves_of_both_signs_are_jitter_and_not_a_delay():
    good = toggles(*range(2, 96, 2))
    by = np.where(np.arange(len(good)) % 2, 60_000, -60_000)
    found = compared(good, good + by)
    mode = name_fault("D0", found, (), {}, PERIOD)
    assert mode.kind == "jitter"
    assert mode.name == "jitter of 120 ns"
    assert "come late" in mode.because[0]
    assert name_fault("D0", compared(good, good + 60_000), (), {}, PERIOD).kind == "late"
    assert name_fault("D0", compared(good, good - 60_000), (), {}, PERIOD).kind == "early"
