"""A comparison of captures that show what a data sheet prints. Source: see counter_163."""

from __future__ import annotations

import numpy as np

from tests.outside.counter_163 import OUTPUTS, PUBLISHED, SLOWEST_PS, counter_163, published
from tracecore.capture import Capture
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.measure.clock import active_edges_ps, clock_candidates, cycle_states


def decoded(capture: Capture) -> list[int]:
    """Counts, read one sample period before each rising edge."""
    edges = active_edges_ps(capture.digital["CLOCK"], "rising")
    rows = [cycle_states(capture.digital[name], edges, capture.resolution_ps).astype(int) for name in OUTPUTS]
    return sum(row << i for i, row in enumerate(rows)).tolist()


def compared(good: Capture, suspect: Capture) -> Comparison:
    return compare(CompareRequest((good,), (suspect,), clock="CLOCK"))


def test_the_printed_sequence_is_read_back():
    counts = decoded(counter_163("good"))
    assert counts[:10] == [0, 12, 13, 14, 15, 0, 1, 2, 2, 2]
    assert counts == list(published(12).counts)


def test_the_carry_is_high_at_fifteen_and_only_there():
    capture = counter_163("good")
    edges = active_edges_ps(capture.digital["CLOCK"], "rising")
    carry = cycle_states(capture.digital["RCO"], edges, capture.resolution_ps)
    assert np.flatnonzero(carry).tolist() == [i for i, count in enumerate(published(12).counts) if count == 15]


def test_the_clock_is_told_from_the_outputs():
    best = clock_candidates(counter_163("good").digital, 10_000)[0]
    assert best.signal == "CLOCK"
    assert abs(best.rate_hz - 5e6) < 1


def test_a_typical_part_and_the_slowest_one_agree():
    found = compared(counter_163("typical"), counter_163("slowest", delays_ps=SLOWEST_PS, skip=5))
    assert found.lineup.offset_cycles == -5
    assert found.lineup.status == "unique"
    assert not found.diverges
    carry = found.signal("RCO").skew
    assert carry is not None
    # 35 ns at most against 23 ns typical, read to one sample period of both sides
    assert abs(carry.median_ps - 12_000) <= carry.uncertainty_ps == 20_000


def test_a_carry_later_than_the_sheet_allows_is_late():
    slow = {**SLOWEST_PS, "RCO": SLOWEST_PS["RCO"] + 60_000}
    (cause,) = compared(counter_163("good", passes=30), counter_163("slow", passes=30, delays_ps=slow)).causes
    assert cause.signal == "RCO"
    assert cause.fault_mode.startswith("late by")
    assert cause.since_cycle == PUBLISHED.index(15)


def test_an_output_that_stays_low_is_found_where_the_sheet_first_has_it_high():
    def stuck(signal: str, levels: np.ndarray) -> np.ndarray:
        return np.zeros_like(levels) if signal == "QB" else levels

    suspect = counter_163("suspect", wrong=stuck)
    (cause,) = compared(counter_163("good"), suspect).causes
    assert (cause.signal, cause.fault_mode) == ("QB", "stuck low")
    # fourteen is the first count of the sequence with a one at QB
    assert cause.since_cycle == PUBLISHED.index(14)
    assert decoded(suspect)[:8] == [count & 0b1101 for count in PUBLISHED]


def test_a_counter_that_counts_in_tens_is_found_at_the_carry():
    """The 162 is the decade counter of the same sheet: it goes from nine to zero, so that no fifteen comes."""

    def no_carry(signal: str, levels: np.ndarray) -> np.ndarray:
        return np.zeros_like(levels) if signal == "RCO" else levels

    found = compared(counter_163("good"), counter_163("suspect", wrong=no_carry))
    assert [f.signal for f in found.signals if f.verdict == "diverges"] == ["RCO"]
    assert found.signal("RCO").fault_mode == "stuck low"
