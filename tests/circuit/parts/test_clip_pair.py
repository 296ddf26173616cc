"""One chip type clipped on both boards: pin by pin, with faults that were put in."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.circuit.parts.drawn_chip import Fault, drawn_chip
from tracecore.circuit.parts.catalogue import Part, find_part
from tracecore.circuit.parts.clip_pair import leg_pairs, other_outputs
from tracecore.circuit.parts.delays import part_times
from tracecore.circuit.parts.obedience import check_part
from tracecore.circuit.parts.pin_traces import PinTraces, constant


def _clip(number: str, seed: int, fault: Fault | None = None) -> tuple[Part, PinTraces]:
    part = find_part(number)
    more = {"changes": 500, "pace_ps": 500_000, "hasty": 0}
    return part, drawn_chip(part, part_times(number, part), seed, resolution_ps=10_000, fault=fault, **more)


@pytest.mark.parametrize("number", ["7400", "74LS138", "7474", "74161"])
def test_two_sound_clips_of_other_stretches_are_alike(number: str) -> None:
    part, good = _clip(number, 3)
    _, suspect = _clip(number, 4)
    told = {pair.verdict for pair in leg_pairs(part, good, suspect)}
    # an output that is seldom asked for may move far more in one of two short stretches, but none stands still
    assert told <= {"alike", "moves less", "moves more"}
    assert other_outputs(check_part(part, number, good), check_part(part, number, suspect)) == ()


def test_a_stuck_output_stands_still_and_differs_in_alike_states() -> None:
    part, good = _clip("7400", 3)
    _, suspect = _clip("7400", 4, Fault("stuck", ("Y2",), 1))
    first = leg_pairs(part, good, suspect)[0]
    assert (first.name, first.verdict, first.suspect_moves, first.suspect_high) == ("Y2", "still on suspect", 0, 1.0)
    found = other_outputs(check_part(part, "7400", good), check_part(part, "7400", suspect))
    assert [(own.name, own.states) for own in found] == [("Y2", 1)]


def test_a_dead_input_moves_as_on_good_and_its_outputs_differ() -> None:
    part, good = _clip("74LS138", 3)
    _, suspect = _clip("74LS138", 4, Fault("open", ("C",), 1))
    assert next(p for p in leg_pairs(part, good, suspect) if p.name == "C").verdict == "alike"
    names = {own.name for own in other_outputs(check_part(part, "74LS138", good), check_part(part, "74LS138", suspect))}
    assert names == {f"Y{n}" for n in range(8)}


def test_legs_that_are_not_on_both_sides_or_rest_otherwise_are_told() -> None:
    part, good = _clip("7400", 3)
    still = {**good.traces, "A1": constant(1, 0, good.stop_ps), "B1": constant(0, 0, good.stop_ps)}
    one = replace(good, traces=still)
    other = replace(good, traces={n: t for n, t in still.items() if n != "A2"} | {"A1": constant(0, 0, good.stop_ps)})
    told = {pair.name: pair.verdict for pair in leg_pairs(part, one, other)}
    assert (told["A1"], told["B1"], told["A2"]) == ("rests otherwise", "alike", "not captured")
    assert {pair.name: pair.verdict for pair in leg_pairs(part, good, one)}["B1"] == "still on suspect"
    assert {pair.name: pair.verdict for pair in leg_pairs(part, one, good)}["B1"] == "still on good"
