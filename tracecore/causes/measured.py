"""Likely causes beside what was read with an ohm meter: a fault that was measured comes before one that was inferred.

A reading does not follow from another signal's misbehaviour, as a wrong level does. So a net on which the readings
find a break, a poor contact or something that holds it stands first. Readings as on the good side move nothing: they
clear the wire, and neither contact nor card.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tracecore.circuit.continuity.path import Located, NetPath, NextReading, located, next_reading
from tracecore.circuit.continuity.readings import ContinuityList, Reading
from tracecore.circuit.net_path import path_to, place_on_sheet
from tracecore.circuit.pin_list import PinList
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.compare.findings import Cause


@dataclass(frozen=True, slots=True)
class MeasuredCause:
    """A cause, the path of its net, where the readings put the fault, and what to read next.

    ``read`` are the suspect's readings between pins of the path, or from it to ground.
    """

    cause: Cause
    path: NetPath | None = None
    place: Located | None = None
    step: NextReading | None = None
    read: tuple[Reading, ...] = ()

    @property
    def found(self) -> bool:
        """Do the readings show a fault on the net itself?"""
        return self.place is not None and self.place.place != "cannot be told" and bool(self.place.between)


def measured_causes(
    causes: Sequence[Cause], pins: PinList, readings: ContinuityList, sheet: ProbeSheet
) -> tuple[MeasuredCause, ...]:
    """The causes with what was read, those whose fault was measured first; ranks from 1 in the new order."""
    told = [_measured(cause, pins, readings, sheet) for cause in causes]
    ordered = sorted(told, key=lambda own: not own.found)
    return tuple(replace(own, cause=replace(own.cause, rank=rank)) for rank, own in enumerate(ordered, start=1))


def _measured(cause: Cause, pins: PinList, readings: ContinuityList, sheet: ProbeSheet) -> MeasuredCause:
    here = place_on_sheet(sheet, cause.signal)
    path = path_to(pins, sheet, here) if here else pins.path_of(cause.signal)
    if path is None:
        return MeasuredCause(cause)
    on_path = {*path.points, path.ground}
    read = tuple(r for r in readings.of("suspect") if r.ohms is not None and r.start in on_path and r.end in on_path)
    if not read:
        return MeasuredCause(cause, path)
    return MeasuredCause(cause, path, located(path, readings), next_reading(path, readings), read)
