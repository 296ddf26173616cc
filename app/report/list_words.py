"""What is said below the lists: what cannot be right, what the captures reach, what may be learnt."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from app.report.continuity_words import pin_fault_words
from tracecore.circuit.learnt_pins import DriverHint, LearntPins, driver_hints, learnt_pins
from tracecore.circuit.parts.catalogue import find_part
from tracecore.circuit.pin_list import PinList
from tracecore.errors import RequestError
from tracecore.name_lists import few_names
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from tracecore.capture import DigitalTrace
    from tracecore.comparison import Comparison

MOST_FAULTS = 8


def legs_of(number: str) -> tuple[int, ...] | None:
    """The legs of a part number; None where the table does not have it."""
    try:
        return tuple(find_part(number).pins)
    except RequestError:
        return None


def fault_lines(pins: PinList) -> tuple[str, ...]:
    """Each thing that cannot be right in a pin list."""
    return tuple(pin_fault_words(fault) for fault in pins.faults(legs_of))


def reach_words(pins: PinList, captured: set[str]) -> str:
    """How much of a pin list the captures reach."""
    reached, others = pins.reached(captured)
    return f"The captures reach {len(reached)} of {len(pins.nets)} nets" + (
        f"; not {few_names(others, MOST_FAULTS)}." if others else "."
    )


def hint_words(hint: DriverHint) -> str:
    """A suggestion, with what speaks for it."""
    others = " and ".join(hint.others)
    return (
        f"{hint.net}: on the good side {hint.pin} moves before {others} in {group_digits(hint.first)} of "
        f"{group_digits(hint.transitions)} transitions, and after in {group_digits(hint.later)}. It may be the driver."
    )


def hints_of(comparison: Comparison | None, pins: PinList) -> tuple[DriverHint, ...]:
    """Which pin may drive a net of whose pins several were captured; nets whose driver the list names are left out."""
    by_net: dict[str, dict[str, DigitalTrace]] = {}
    for signal in comparison.signals if comparison is not None else ():
        net = pins.net_at(signal.place) or signal.signal
        if signal.good_trace is not None and signal.place and not pins.drivers(net):
            by_net.setdefault(net, {})[signal.place] = signal.good_trace
    return driver_hints({net: traces for net, traces in by_net.items() if len(traces) > 1})


def learnt_of(case: OpenCase) -> LearntPins:
    """What the good side's readings add to the case's pin list."""
    return learnt_pins(case.continuity, case.pins or PinList(), case.sheet)


def learnt_lines(found: LearntPins) -> Iterator[str]:
    """What may be taken into the list, and what contradicts it."""
    if found.rows:
        nets = list(dict.fromkeys(row.net for row in found.rows))
        pins = f"{len(found.rows)} pin{'s' if len(found.rows) > 1 else ''}"
        yield f"The good side's readings put {pins} more on {few_names(nets, 4)}."
    for names in found.clashes[:MOST_FAULTS]:
        yield f"The good side's readings join {' and '.join(names)}: read again, or correct a list."
