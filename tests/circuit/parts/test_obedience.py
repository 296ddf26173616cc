"""Chips on drawn boards: one that obeys is never accused, and a fault that was put in is named or not judged."""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import islice

import numpy as np
import pytest

from tests.circuit.parts.drawn_chip import Fault, drawn_chip
from tests.circuit.parts.leg_faults import checked, every_fault, outcome
from tests.circuit.parts.reference import COMBINATIONAL, MEMORIES
from tracecore.capture import digital_trace
from tracecore.circuit.parts.catalogue import find_part
from tracecore.circuit.parts.delays import part_times
from tracecore.circuit.parts.obedience import Obedience, check_part
from tracecore.circuit.parts.pin_traces import constant

NUMBERS = (*COMBINATIONAL, *MEMORIES)
RATES_PS = (2_000, 5_000, 10_000, 20_000, 41_667, 100_000)


def _checked(number: str, seed: int, resolution_ps: int, fault: Fault | None = None, **more: float) -> Obedience:
    part = find_part(number)
    pins = drawn_chip(part, part_times(number, part), seed, resolution_ps=resolution_ps, fault=fault, **more)
    return check_part(part, number, pins, explain=fault is not None)


@pytest.mark.parametrize("number", NUMBERS)
def test_a_chip_that_obeys_is_not_accused(number: str) -> None:
    judged = 0
    for k, resolution in enumerate(RATES_PS):
        found = _checked(number, 50 + k, resolution, changes=90)
        assert found.verdict != "disobeys", (resolution, found.outputs)
        judged += found.judged
    assert judged > 0


@pytest.mark.long
def test_ten_thousand_chips_that_obey_are_not_accused() -> None:
    count = min(10_000, int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "10000")))
    accused = []
    for k in range(count):
        number = NUMBERS[k % len(NUMBERS)]
        found = _checked(number, 20_000 + k, RATES_PS[k // len(NUMBERS) % len(RATES_PS)], changes=150)
        accused += [(number, k)] if found.verdict == "disobeys" else []
    assert accused == []


@pytest.mark.long
def test_no_fault_at_any_leg_of_any_part_is_missed() -> None:
    """Named, or said not to be told: each leg held, open, joined with the next one, or late."""
    most = int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "100000"))
    missed = [
        (number, fault)
        for k, (number, fault) in enumerate(islice(every_fault(), most))
        if outcome(checked(number, fault, 9000 + k, changes=200), fault) == "missed"
    ]
    assert missed == []


def _told(found: Obedience, kind: str, names: tuple[str, ...]) -> bool:
    return any(e.kind == kind and set(e.names) == set(names) for e in found.explanations)


@pytest.mark.parametrize(
    ("number", "fault", "kind"),
    [
        ("7400", Fault("stuck", ("Y2",), 1), "stuck output"),
        ("74LS138", Fault("open", ("C",), 1), "dead input"),
        ("74181", Fault("open", ("A3",), 1), "dead input"),
        ("74181", Fault("stuck", ("F0",), 0), "stuck output"),
        ("74153", Fault("joined", ("Y1", "Y2")), "joined outputs"),
        ("7402", Fault("joined", ("Y1", "Y2")), "joined outputs"),
        ("74161", Fault("stuck", ("QB",), 0), "stuck output"),
        ("74161", Fault("dead", ("ENT",), 0), "dead input"),
        ("7474", Fault("stuck", ("Q1",), 1), "stuck output"),
        ("74164", Fault("dead", ("A",), 1), "dead input"),
        ("74374", Fault("dead", ("D5",), 0), "dead input"),
        ("7404", Fault("late", ("Y1",)), "late output"),
    ],
)
def test_a_fault_is_named(number: str, fault: Fault, kind: str) -> None:
    found = _checked(number, 7, 10_000, fault, changes=500, pace_ps=500_000, hasty=0)
    assert found.verdict == "disobeys"
    assert _told(found, kind, fault.names), found.explanations
    level = next(e.level for e in found.explanations if e.kind == kind and e.names == fault.names)
    if fault.kind in ("stuck", "open", "dead"):
        assert level == fault.level


def test_a_leg_that_was_not_captured_is_said_and_the_rest_is_judged() -> None:
    part = find_part("74138")
    pins = drawn_chip(part, part_times("74138", part), 3, resolution_ps=10_000)
    traces = {name: trace for name, trace in pins.traces.items() if name not in ("G1", "Y7")}
    found = check_part(part, "74138", replace(pins, traces=traces))
    assert found.not_captured == ("Y7", "G1") or set(found.not_captured) == {"G1", "Y7"}
    # where G2A is high nothing hangs on G1
    assert found.verdict == "obeys"
    assert found.judged > 0
    tied = check_part(part, "74138", replace(pins, traces=traces, tied={"G1": 1}), explain=False)
    assert "G1" not in tied.not_captured


def test_without_outputs_nothing_can_be_told() -> None:
    part = find_part("7400")
    pins = drawn_chip(part, part_times("7400", part), 3, resolution_ps=10_000)
    found = check_part(part, "7400", replace(pins, traces={n: t for n, t in pins.traces.items() if n[0] != "Y"}))
    assert (found.verdict, found.doubts) == ("cannot be told", ("output not captured",))


def test_sampled_too_slowly_nothing_is_claimed() -> None:
    found = _checked("74161", 4, 2_000_000)
    assert found.verdict == "cannot be told"


def test_leads_exchanged_and_a_wrong_number() -> None:
    part = find_part("74LS138")
    pins = drawn_chip(part, part_times("74LS138", part), 5, resolution_ps=10_000, pace_ps=500_000)
    swapped = pins.exchanged({"A": "Y4", "Y4": "A"})
    found = check_part(part, "74LS138", swapped)
    assert [(e.kind, set(e.names)) for e in found.explanations] == [("swapped leads", {"A", "Y4"})]
    other = find_part("74LS139")
    renamed = {other.pins[leg]: pins.traces[name] for leg, name in part.signals.items()}
    wrong = check_part(other, "74LS139", replace(pins, traces=renamed))
    assert [(e.kind, e.number) for e in wrong.explanations] == [("other part", "74LS138")]


def test_an_open_collector_that_is_pulled_low_by_others_is_neither_cleared_nor_accused() -> None:
    part = find_part("7438")
    pins = drawn_chip(part, part_times("7438", part), 5, resolution_ps=10_000)
    low = constant(0, 0, pins.stop_ps)
    held = check_part(part, "7438", replace(pins, traces={**pins.traces, "Y1": low}))
    assert (held.verdict, held.doubts) == ("cannot be told", ("low while let go",))
    assert next(c for c in held.outputs if c.name == "Y1").let_go_low > 0
    up = check_part(part, "7438", replace(pins, traces={**pins.traces, "Y1": constant(1, 0, pins.stop_ps)}))
    assert up.verdict == "disobeys"


def test_input_states_are_counted_with_what_was_wrong_in_them() -> None:
    found = _checked("74LS138", 7, 10_000, Fault("open", ("C",), 1), changes=600, pace_ps=500_000)
    group = found.groups[0]
    assert group.inputs == ("A", "B", "C", "G2A_n", "G2B_n", "G1")
    assert sum(state.times for state in group.states) == found.judged
    assert sum(state.wrong for state in group.states) == found.wrong
    assert found.possible == 64
    assert all(state.inputs[2] == 0 for state in group.states if state.wrong)


def test_an_input_that_no_judged_state_hangs_on_is_told() -> None:
    part = find_part("7430")
    pins = drawn_chip(part, part_times("7430", part), 3, resolution_ps=10_000, hasty=0)
    low = constant(0, 0, pins.stop_ps)
    found = check_part(part, "7430", replace(pins, traces={**pins.traces, "A": low, "Y": constant(1, 0, pins.stop_ps)}))
    assert found.verdict == "obeys"
    # with one input low throughout the output says nothing of any other
    assert set(found.unshown) >= {"B", "C", "D", "E", "F", "G", "H"}
    plain = find_part("7400")
    whole = check_part(plain, "7400", drawn_chip(plain, part_times("7400", plain), 4, resolution_ps=10_000))
    assert (whole.verdict, whole.unshown) == ("obeys", ())


def test_an_output_that_moves_is_not_called_stuck() -> None:
    """Late beyond every judged state it looks stuck there, but between them it arrives."""
    part = find_part("7400")
    pins = drawn_chip(part, part_times("7400", part), 7, resolution_ps=10_000, pace_ps=500_000, hasty=0)
    low = constant(0, 0, pins.stop_ps)
    stuck = check_part(part, "7400", replace(pins, traces={**pins.traces, "Y1": low}))
    assert ("stuck output", ("Y1",)) in [(e.kind, e.names) for e in stuck.explanations]
    # two samples high where nothing is judged: right behind a change of its input
    at = int(pins.changes("A1")[5]) + 10_000
    times, levels = np.array([0, at, at + 20_000], np.int64), np.array([0, 1, 0], np.uint8)
    pulse = digital_trace(times, levels, pins.stop_ps)
    moved = check_part(part, "7400", replace(pins, traces={**pins.traces, "Y1": pulse}))
    assert moved.verdict == "disobeys"
    assert all(e.kind != "stuck output" for e in moved.explanations)


def test_a_dead_load_that_no_judged_state_hangs_on_is_told_though_edges_may_be_missed() -> None:
    """It was said to obey without a word: short clock pulses kept the dead pin from being tried."""
    fault = Fault("open", ("LOAD_n",), 1)
    found = checked("74163", fault, 9740, changes=250)
    assert found.verdict == "obeys"
    assert "LOAD_n" in found.unshown
    assert outcome(found, fault) == "told as not shown"


def test_a_held_clock_is_no_explanation_of_outputs_that_move() -> None:
    """With its clock held nothing of a counter is judged, so all of it seemed to fit, whatever its outputs did."""
    found = checked("74163", Fault("joined", ("QC", "QB")), 10_266, changes=250)
    assert found.verdict == "disobeys"
    assert all("CLK" not in e.names for e in found.explanations)
    # where they stand still it is one
    still = checked("74174", Fault("dead", ("CLK",), 0), 9040, changes=250)
    assert still.verdict == "disobeys"
    assert any("CLK" in e.names for e in still.explanations)
