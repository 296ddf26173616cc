"""Likely causes with what the ohm meter says of their nets: for the window, the terminal and the report alike."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from app.report.continuity_words import located_words, next_words, on_card_words
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from tracecore.causes.measured import MeasuredCause
    from tracecore.circuit.continuity.readings import ContinuityList
    from tracecore.circuit.pin_list import PinList
    from tracecore.compare.findings import Cause
    from tracecore.comparison import Comparison


def with_readings(comparison: Comparison, pins: PinList | None, readings: ContinuityList) -> Comparison:
    """The comparison with its causes in the order that the readings give them, each with what was read of its net."""
    from tracecore.causes.measured import measured_causes
    from tracecore.circuit.pin_list import PinList

    if not comparison.causes or not readings.of("suspect"):
        return comparison
    told = measured_causes(comparison.causes, pins or PinList(), readings, comparison.request.sheet)
    return replace(comparison, causes=tuple(_told(own) for own in told))


def with_case_readings(comparison: Comparison, case: OpenCase) -> Comparison:
    """The same with the readings and the pin list of a case."""
    return with_readings(comparison, case.pins, case.continuity)


def _told(own: MeasuredCause) -> Cause:
    if not own.read:
        return own.cause
    cause, count = own.cause, len(own.read)
    because = [f"Read with a meter on its net: {group_digits(count)} time{'s' if count > 1 else ''} on suspect."]
    probe_next = cause.probe_next
    if own.place is not None:
        because.append(located_words(own.place))
    if own.found:
        because.append("A fault that was measured stands before those that are inferred.")
    if own.step is not None:
        probe_next = next_words(own.step)
    elif own.found and own.place is not None and own.place.place == "card":
        probe_next = (
            f"With power off and the card out, ohms from {on_card_words(own.place)} to ground, beside the good card. "
            "Far lower than there: may be that part."
        )
    elif own.found and own.place is not None:
        first, last = own.place.between[0], own.place.between[-1]
        probe_next = f"With power off, measure {first} to {last} on suspect once more before anything is undone."
    return replace(cause, because=(*because, *cause.because), probe_next=probe_next)
