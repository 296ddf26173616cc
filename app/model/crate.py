"""What the Backplane page shows, as plain values: slots and pins with their verdicts, and the rows of readings."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from tracecore.circuit.continuity.comparison import ContinuityComparison, Pair, compare_continuity
from tracecore.circuit.continuity.nets import Nets
from tracecore.circuit.continuity.path import Located, NetPath, NextReading, located, next_reading
from tracecore.circuit.continuity.pin_name import pin_name, pin_order
from tracecore.circuit.continuity.readings import ContinuityList
from tracecore.circuit.pin_list import PinList

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from tracecore.comparison import Comparison

PinVerdict = Literal["agrees", "diverges", "level", "timing", "not probed"]
PIN_VERDICTS: tuple[PinVerdict, ...] = ("diverges", "level", "timing", "agrees", "not probed")
_PIN = re.compile(r"(\d+)-([A-Z]{1,2})(\d+)")
_LEAST_PINS = 36
"""A crate nobody described has this many pins a row, or more where more are named."""


@dataclass(frozen=True, slots=True)
class Crate:
    """How many slots, which rows of pins, and how many pins a row."""

    slots: int
    rows: tuple[str, ...]
    pins: int

    def columns(self, *, wiring: bool) -> tuple[tuple[int, str], ...]:
        """Slot and row from left to right; the wiring side mirrors the card side."""
        order = [(slot, row) for slot in range(1, self.slots + 1) for row in self.rows]
        return tuple(reversed(order)) if wiring else tuple(order)


@dataclass(frozen=True, slots=True)
class PinSpot:
    """One pin on the map."""

    slot: int
    row: str
    number: int
    name: str
    net: str
    verdict: PinVerdict
    words: str


@dataclass(frozen=True, slots=True)
class BackplaneView:
    """All of the page for one chosen pin. ``pairs`` stand in the order they are listed: the chosen net's first.

    ``sound`` are neighbours on the path that the suspect's readings join.
    """

    crate: Crate
    spots: tuple[PinSpot, ...]
    pairs: tuple[Pair, ...]
    found: ContinuityComparison
    chosen: str
    net: str
    path: NetPath | None
    step: NextReading | None
    place: Located | None
    sound: frozenset[tuple[str, str]]

    def spot(self, name: str) -> PinSpot | None:
        """The pin of that name."""
        return next((spot for spot in self.spots if spot.name == name), None)

    def count(self, verdict: PinVerdict) -> int:
        """How many of the named pins have a verdict; those of no name count as not probed."""
        known = sum(spot.verdict == verdict for spot in self.spots)
        if verdict != "not probed":
            return known
        return self.crate.slots * len(self.crate.rows) * self.crate.pins - sum(
            spot.verdict != "not probed" for spot in self.spots
        )


def place_of(slot: str, pin: str) -> str:
    """A pin as it is typed; empty where it is none."""
    try:
        return pin_name(f"{slot}-{pin}")
    except ValueError:
        return ""


def backplane_view(case: OpenCase, comparison: Comparison | None, chosen: str = "") -> BackplaneView:
    """What the page shows; ``chosen`` is a pin, empty takes that of the first likely cause."""
    pins = case.pins or PinList()
    readings = case.continuity
    spots = _spots(case, comparison, pins, readings)
    if not chosen and comparison is not None and comparison.causes:
        chosen = next((p for p in (_at(case, comparison.causes[0].signal),) if p), "")
    names = {spot.name for spot in spots}
    if chosen not in names:
        chosen = next(iter(sorted(names, key=pin_order)), "")
    net = pins.net_at(chosen) or next((s.net for s in spots if s.name == chosen), "")
    path = _path(case, pins, net, chosen)
    found = compare_continuity(readings)
    mine = {spot.name for spot in spots if net and spot.net == net} | set(path.points if path else ())
    ordered = sorted(found.pairs, key=lambda pair: not (pair.start in mine and pair.end in mine | _ground(path)))
    step = next_reading(path, readings) if path else None
    place = located(path, readings) if path else None
    return BackplaneView(
        _crate(spots), spots, tuple(ordered), found, chosen, net, path, step, place, _sound(path, readings)
    )


def _sound(path: NetPath | None, readings: ContinuityList) -> frozenset[tuple[str, str]]:
    """A whole path from its driver to a point has sound pieces up to there."""
    if path is None:
        return frozenset()
    nets = Nets(readings.of("suspect"), leads_ohms=readings.suspect_leads_ohms)
    last = max(k for k, point in enumerate(path.points) if nets.joined(path.points[0], point))
    return frozenset(pairwise(path.points[: last + 1]))


def _ground(path: NetPath | None) -> set[str]:
    return {path.ground} if path is not None and path.ground else set()


def _at(case: OpenCase, signal: str) -> str:
    return next((place_of(p.slot, p.pin) for p in case.sheet.probes if p.signal == signal), "")


def _path(case: OpenCase, pins: PinList, net: str, chosen: str) -> NetPath | None:
    """By the pin list where it knows the net, else from the sheet's driver to the captured pin."""
    found = pins.path_of(net, chosen) if net else None
    if found is not None:
        return found
    for probe in case.sheet.probes:
        here = place_of(probe.slot, probe.pin)
        driver = place_of(*probe.driver.rsplit("-", 1)) if "-" in probe.driver else ""
        if here and driver and here != driver and chosen in (here, driver):
            return NetPath((driver, here), pins.ground_of(probe.slot))
    return None


def _spots(
    case: OpenCase, comparison: Comparison | None, pins: PinList, readings: ContinuityList
) -> tuple[PinSpot, ...]:
    spots: dict[str, PinSpot] = {}

    def add(name: str, net: str, verdict: PinVerdict, words: str) -> None:
        match = _PIN.fullmatch(name)
        if match and name not in spots:
            spots[name] = PinSpot(int(match[1]), match[2], int(match[3]), name, net, verdict, words)

    if comparison is not None:
        for signal in comparison.signals:
            name = place_of(signal.slot, signal.pin)
            verdict = _verdict(
                signal.verdict, bool(signal.levels), signal.missing_transitions, signal.extra_transitions
            )
            add(name, signal.signal, verdict, signal.fault_mode or "moves as on the good side")
    for probe in case.sheet.probes:
        add(place_of(probe.slot, probe.pin), probe.signal, "not probed", "not compared")
        if "-" in probe.driver:
            add(place_of(*probe.driver.rsplit("-", 1)), probe.signal, "not probed", "not probed")
    for row in pins.rows:
        add(row.place, row.net, "not probed", "not probed")
    for reading in readings.readings:
        for point in (reading.start, reading.end):
            add(point, "", "not probed", "read with a meter")
    return tuple(sorted(spots.values(), key=lambda spot: pin_order(spot.name)))


def _verdict(verdict: str, levels: bool, missing: int, extra: int) -> PinVerdict:
    if verdict != "diverges":
        return "agrees" if verdict == "agrees" else "not probed"
    if missing or extra:
        return "diverges"
    return "level" if levels else "timing"


def _crate(spots: Iterable[PinSpot]) -> Crate:
    listed = tuple(spots)
    slots = max((spot.slot for spot in listed), default=1)
    rows = {spot.row for spot in listed} | {"A", "B"}
    return Crate(slots, tuple(sorted(rows)), max(_LEAST_PINS, *(spot.number for spot in listed), 1))
