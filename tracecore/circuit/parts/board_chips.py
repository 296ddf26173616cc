"""Chips of a board by the nets of a comparison: no clip was needed, for their nets were captured anyway."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from tracecore.capture import DigitalTrace
from tracecore.circuit.parts.catalogue import Part, exact_number, find_part
from tracecore.circuit.parts.clip import traces_on
from tracecore.circuit.parts.outputs import output_values
from tracecore.circuit.parts.pin_traces import PinTraces
from tracecore.circuit.pin_list import PinList
from tracecore.errors import RequestError

_SUPPLY = {"+5v": 1, "vcc": 1, "gnd": 0, "ground": 0, "0v": 0, "vss": 0}
"""Nets that stand still, and how; a leg tied to one needs no capture."""


@dataclass(frozen=True, slots=True)
class BoardChip:
    """A chip of the pin list: its name on the board, its part and number, and the net on each leg."""

    name: str
    part: Part
    number: str
    nets: Mapping[int, str]


def board_chips(pins: PinList) -> tuple[BoardChip, ...]:
    """The chips of a list whose number is known to the table, in the list's order."""
    out = []
    for name, text in pins.numbers.items():
        try:
            part = find_part(text)
        except RequestError:
            continue
        out.append(BoardChip(name, part, exact_number(text, part), pins.legs(name)))
    return tuple(out)


def chip_pins(chip: BoardChip, traces: Mapping[str, DigitalTrace], resolution_ps: int) -> PinTraces | None:
    """The levels at a chip's legs from the traces of its nets; None where no output of it was captured."""
    legs: dict[str, DigitalTrace] = {}
    tied: dict[str, int] = {}
    for leg, net in chip.nets.items():
        name = chip.part.signals.get(leg)
        if name is None:
            continue
        if net in traces:
            legs[name] = traces[net]
        elif net.replace(" ", "").lower() in _SUPPLY:
            tied[name] = _SUPPLY[net.replace(" ", "").lower()]
    if not legs.keys() & output_values(chip.part, chip.number).keys():
        return None
    return traces_on(legs, tied, resolution_ps)
