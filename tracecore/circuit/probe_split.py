"""Which net to probe next, by the wire list: the one that leaves the fewest parts whichever way it turns out.

Behind a wrong net stand the parts that reach it without a captured net between. A probe on a net among them tells on
which side of it the fault may lie; the net nearest to half of the parts tells most.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from tracecore.circuit.wire_list import WireList


@dataclass(frozen=True, slots=True)
class Split:
    """``net`` as ``part`` drives it; ``behind`` are the parts left where it is wrong, ``ahead`` where it is right."""

    net: str
    part: str
    behind: tuple[str, ...]
    ahead: tuple[str, ...]


def best_split(net: str, wires: WireList, captured: Collection[str]) -> Split | None:
    """The net to probe next where ``net`` is wrong; None where no uncaptured net parts its makers.

    >>> from tracecore.circuit.wire_list import parse_wire_list
    >>> wires = parse_wire_list("part,kind,output,inputs\\nU1,gate,H,A\\nU2,gate,K,H\\nU3,gate,L,K\\nU4,gate,Y,L\\n")
    >>> best_split("Y", wires, {"A", "Y"})
    Split(net='K', part='U2', behind=('U1', 'U2'), ahead=('U3', 'U4'))
    """
    parts, nets = _makers(net, wires, captured)
    best: tuple[int, Split] | None = None
    for inner in nets:
        behind, _ = _makers(inner, wires, captured)
        # a loop may lead back to the wrong net itself: then nothing is ahead
        ahead = tuple(part for part in parts if part not in behind)
        worst = max(len(behind), len(ahead))
        drivers = wires.drivers(inner)
        if ahead and drivers and (best is None or worst < best[0]):
            best = worst, Split(inner, drivers[0].part, tuple(p for p in parts if p in behind), ahead)
    return best[1] if best is not None else None


def _makers(net: str, wires: WireList, captured: Collection[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The parts that reach a net without a captured net between, in the list's order, and the nets on the way."""
    todo, nets, parts = [net], [net], set()
    while todo:
        for row in wires.drivers(todo.pop()):
            parts.add(row.part)
            for source in row.inputs:
                if source not in captured and source not in nets and wires.drivers(source):
                    nets.append(source)
                    todo.append(source)
    return tuple(dict.fromkeys(row.part for row in wires.rows if row.part in parts)), tuple(nets[1:])
