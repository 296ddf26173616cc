"""What needs no line-up: dead boards, boards that are held, a clock on one side only."""

from __future__ import annotations

import numpy as np
import pytest

from tests.plant import CLOCK, Fault, Plant
from tracecore.capture import Capture, DigitalTrace
from tracecore.capture_series import SeriesRequest, outcomes
from tracecore.compare.unaligned import compare_unaligned, motion
from tracecore.comparison import CompareRequest, Comparison, compare

PLANT = Plant(6, cycles=500)
PAIR = PLANT.clean()
GOOD, SOUND = PAIR.good.capture(), PAIR.suspect.capture()


def still(trace: DigitalTrace, level: int) -> DigitalTrace:
    return DigitalTrace(trace.times_ps[:1].copy(), np.array([level], np.uint8), trace.stop_ps)


def changed(capture: Capture, **traces: DigitalTrace) -> Capture:
    return Capture(capture.name, {**capture.digital, **traces}, {}, capture.resolution_ps, "built")


def dead(capture: Capture, *but: str, level: int = 1) -> Capture:
    """Nothing moves but some signals."""
    return changed(capture, **{s: still(t, level) for s, t in capture.digital.items() if s not in but})


def released(capture: Capture, at_ps: int | None) -> DigitalTrace:
    """A reset line that goes high once, or never."""
    stop = capture.stop_ps
    if at_ps is None:
        return DigitalTrace(np.array([0]), np.array([0], np.uint8), stop)
    return DigitalTrace(np.array([0, at_ps]), np.array([0, 1], np.uint8), stop)


def compared(good: Capture, suspect: Capture, clock: str | None = CLOCK) -> Comparison:
    return compare(CompareRequest((good,), (suspect,), clock=clock))


def test_a_dead_board_whose_clock_ticks_diverges_on_every_signal_that_should_move():
    found = compared(GOOD, dead(SOUND, CLOCK))
    assert not found.lineup
    assert found.diverges
    assert found.signal(CLOCK).verdict != "diverges"
    wrong = {s.signal for s in found.signals if s.verdict == "diverges"}
    assert {"SEQ0", "SEQ1", "READ", "ADDR00"} <= wrong
    assert {c.signal for c in found.causes} == wrong
    assert {c.fault_mode for c in found.causes} == {"stuck high"}


def test_a_board_without_clock_is_the_clock_s_fault():
    found = compared(GOOD, dead(SOUND))
    assert (found.causes[0].signal, found.causes[0].fault_mode) == (CLOCK, "dead, high")
    assert all("may be a consequence" in c.because[-1] for c in found.causes[1:])


def test_a_board_held_in_reset_names_the_line_that_holds_it():
    good = changed(GOOD, RESET=released(GOOD, 900_000))
    found = compared(good, changed(dead(SOUND, CLOCK), RESET=released(SOUND, None)))
    assert (found.causes[0].signal, found.causes[0].fault_mode) == ("RESET", "stuck low")
    assert "may be what holds the board" in found.causes[0].because[0]
    assert len(found.causes) > 3


def test_a_series_counts_a_dead_board():
    (outcome,) = outcomes(SeriesRequest((GOOD,), clock=CLOCK), [dead(SOUND, CLOCK)])
    assert outcome.differs
    assert "SEQ0" in outcome.diverges


def test_a_signal_that_may_rest_as_long_is_not_accused():
    rare = DigitalTrace(np.array([0, 500, 900]), np.array([0, 1, 0], np.uint8), 10**8)
    assert compare_unaligned({"A": rare}, {"A": still(rare, 0)}) == {}
    busy = DigitalTrace(np.arange(50) * 10**6, (np.arange(50) % 2).astype(np.uint8), 50 * 10**6)
    short = DigitalTrace(np.array([0]), np.array([0], np.uint8), 2 * 10**6)
    assert compare_unaligned({"A": busy}, {"A": short}) == {}
    assert compare_unaligned({"A": busy}, {"A": still(busy, 0)})["A"].kind == "stuck low"
    assert compare_unaligned({"A": still(busy, 0)}, {"A": busy})["A"].kind == "extra pulses"
    assert motion(busy).rests_ps == 10**6


def test_what_was_never_known_is_not_accused():
    busy = DigitalTrace(np.arange(50) * 10**6, (np.arange(50) % 2).astype(np.uint8), 50 * 10**6)
    assert compare_unaligned({"A": busy}, {"A": still(busy, 2)}) == {}


@pytest.mark.parametrize("which", ["good", "suspect"])
def test_a_clock_on_one_side_only_makes_no_certain_line_up(which):
    lacking = {n: t for n, t in (SOUND if which == "good" else GOOD).digital.items() if n != CLOCK}
    few = Capture("few", lacking, {}, GOOD.resolution_ps, "built")
    found = compared(*((GOOD, few) if which == "good" else (few, SOUND)), None)
    assert found.lineup.status not in ("unique", "by hand")
    assert found.lineup.confidence <= 0.6
    if found.lineup:
        assert f"{CLOCK}, which ticks evenly, was captured on" in found.lineup.reason


def test_a_clock_on_both_sides_is_no_matter():
    assert compared(GOOD, SOUND, None).lineup.status == "unique"


@pytest.mark.parametrize("seed", range(3))
def test_a_pair_that_lines_up_is_not_judged_this_way(seed):
    pair = Plant(seed, cycles=400).faulty(Fault("stuck low", "D02", 100))
    found = compared(pair.good.capture(), pair.suspect.capture())
    assert found.lineup
    assert found.causes[0].signal == "D02"
    assert found.causes[0].since_cycle == pair.truth.first_cycle
