"""A run of which a scope saw the beginning alone: what the logic analyser saw later is compared all the same."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from app.cli.inputs import of_one_run
from tests.notices.recipes import NAMES, SAME, STEP_PS, A, board, compared
from tracecore.capture import AnalogTrace, Capture
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.compare.level_comparison import compare_levels
from tracecore.comparison import CompareRequest, compare
from tracecore.sides.join import joined


def with_scope(logic: Capture, name: str, cycles: int = 200, low: float = 0.2) -> Capture:
    """Beside the logic the volts of one of its signals, over the first cycles."""
    at = np.arange(cycles * 10, dtype=np.int64) * STEP_PS
    volts = np.where(logic.digital[name].level_at(at) == 1, 3.4, low) + np.random.default_rng(2).normal(
        0, 0.01, len(at)
    )
    trace = AnalogTrace(0, Fraction(STEP_PS), volts.astype(np.float32))
    scope = Capture("scope", {}, {name: trace}, STEP_PS, "scope columns")
    return joined((replace(logic, name=f"{logic.name} logic"), scope), "trigger")


def test_a_fault_behind_what_the_scope_saw_is_found() -> None:
    rows = A.copy()
    rows[5, 400:] ^= 1
    found = compared(with_scope(board(A), "B"), with_scope(board(rows, "south"), "B"))
    assert found.outcome.signals == (NAMES[5],)
    sound = compared(with_scope(board(A), "B"), with_scope(SAME, "B"))
    assert sound.outcome.word == "agrees"
    assert sound.lineup.matched_cycles >= 598
    assert sound.signal("B (volts)").compared_cycles < 210


def test_a_weak_level_beside_its_logic_is_found_with_the_pin_of_the_sheet() -> None:
    sheet = ProbeSheet((Probe("B", "D03", "6", "B22", family="74LS"),))
    sides = with_scope(board(A), "B"), with_scope(SAME, "B", low=1.3)
    found = compare(CompareRequest((sides[0],), (sides[1],), sheet, clock="CK"))
    assert found.outcome.signals == ("D03 (volts)",)
    assert found.signal("D03 (volts)").place == "6-B22"
    (row,) = compare_levels(found.signals, found.lineup, sheet).rows
    assert row.suspect is not None
    assert (row.place, row.suspect.driver.name) == ("6-B22", "74LS")


def test_two_files_are_joined_by_a_signal_that_one_of_them_holds_in_volts() -> None:
    logic = board(A)
    (at,) = with_scope(logic, "B").analog.values()
    # the scope was started by another event, 37.5 us later by its own clock
    moved = AnalogTrace(at.start_ps + 37_500_000, at.interval_ps, at.volts)
    scope = Capture("scope", {}, {"B": moved}, STEP_PS, "scope columns")
    for parts in ((logic, scope), (scope, logic)):
        (both,) = of_one_run(parts, "B")
        assert set(both.channels) == {*logic.channels, "B (volts)"}
        assert abs(both.analog["B (volts)"].start_ps - at.start_ps) <= STEP_PS
