"""A fault at every leg of a part: held low, held high, open, joined with the next leg, late; and what is made of it.

Two inputs that are joined are no fault of the chip: it reads what stands on its legs, and obeys that. An output joined
with an input beside it pulls that input's net, which stands on the leg too. So legs are joined where both are outputs.
"""

from __future__ import annotations

from collections.abc import Iterator

from tests.circuit.parts.drawn_chip import Fault, drawn_chip
from tests.circuit.parts.reference import COMBINATIONAL, MEMORIES
from tracecore.circuit.parts.catalogue import Part, find_part
from tracecore.circuit.parts.delays import part_times
from tracecore.circuit.parts.obedience import Obedience, check_part
from tracecore.circuit.parts.outputs import input_names, output_values

NUMBERS = (*COMBINATIONAL, *MEMORIES)
KINDS = {
    "stuck": "stuck output",
    "open": "dead input",
    "dead": "dead input",
    "joined": "joined outputs",
    "late": "late output",
}


def leg_faults(part: Part) -> Iterator[Fault]:
    """Every single fault, leg by leg."""
    outputs = list(output_values(part, part.number))
    inputs = [name for name in input_names(part, part.number) if name not in outputs]
    for leg, name in sorted(part.signals.items()):
        if name in outputs:
            yield Fault("stuck", (name,), 0)
            yield Fault("stuck", (name,), 1)
            yield Fault("late", (name,))
            beside = part.signals.get(leg + 1)
            if beside in outputs:
                yield Fault("joined", (name, beside))
        elif name in inputs:
            yield Fault("open", (name,), 1)
            yield Fault("dead", (name,), 0)


def every_fault() -> Iterator[tuple[str, Fault]]:
    """All of them, part by part in turn, so that a first share of them has every part in it."""
    left = {number: list(leg_faults(find_part(number))) for number in NUMBERS}
    while any(left.values()):
        for number, faults in left.items():
            if faults:
                yield number, faults.pop(0)


def checked(number: str, fault: Fault, seed: int, *, changes: int = 300) -> Obedience:
    """A drawn chip at 100 MHz with this fault, judged."""
    part = find_part(number)
    pins = drawn_chip(
        part, part_times(number, part), seed,
        resolution_ps=10_000, changes=changes, pace_ps=500_000, fault=fault, hasty=0.02,
    )  # fmt: skip
    return check_part(part, number, pins)


def outcome(found: Obedience, fault: Fault) -> str:
    """What was made of a planted fault; "missed" is a chip said to obey although a leg that counted was at fault."""
    if found.verdict != "disobeys":
        still = {c.name for c in found.outputs if not (c.should_high and c.should_low)}
        shown = set(fault.names) - set(found.unshown) - still
        return "cannot be told" if found.verdict != "obeys" else "missed" if shown else "told as not shown"
    kind = KINDS[fault.kind]
    level = None if fault.kind in ("joined", "late") else fault.level
    right = [e for e in found.explanations if e.kind == kind and set(e.names) == set(fault.names) and e.level == level]
    if right:
        return "named alone" if len(found.explanations) == 1 else "named among others"
    return "named otherwise" if found.explanations else "wrong, not named"
