"""What the Backplane page shows, as plain values: slots and pins with their verdicts, a net, the rows of readings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from app.case.values import MOST_PINS, MOST_ROWS, MOST_SLOTS, CrateShape
from app.model.compared_readings import compared_readings
from tracecore.circuit.continuity.comparison import ContinuityComparison, Pair, Verdict
from tracecore.circuit.continuity.nets import Nets, nets_of
from tracecore.circuit.continuity.path import Located, NetPath, NextReading, located, next_reading
from tracecore.circuit.continuity.pin_name import pair_of, pin_order
from tracecore.circuit.continuity.readings import Side
from tracecore.circuit.net_path import driver_place, net_at, path_to, place_of
from tracecore.circuit.pin_list import DRIVING, PinList, Pinned

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from tracecore.compare.findings import SignalFinding
    from tracecore.comparison import Comparison

PinVerdict = Literal["agrees", "diverges", "level", "timing", "not probed"]
PIN_VERDICTS: tuple[PinVerdict, ...] = ("diverges", "level", "timing", "agrees", "not probed")
EdgeState = Literal["same", "broken", "to measure"]
Role = Literal["driver", "receiver", "pin"]
_PIN = re.compile(r"(\d+)-([A-Z]{1,2})(\d+)")
_LEAST_PINS = 36
"""A crate nobody described has this many pins a row, or more where more are named."""
COMMON_SHAPES: tuple[tuple[str, CrateShape], ...] = (
    ("8 slots, 1 row of 22", CrateShape(8, ("A",), 22)),
    ("12 slots, 2 rows of 36", CrateShape(12, ("A", "B"), 36)),
    ("16 slots, 2 rows of 43", CrateShape(16, ("A", "B"), 43)),
    ("20 slots, 3 rows of 32", CrateShape(20, ("A", "B", "C"), 32)),
)
"""Shapes to start from; the counts of pins are those of common edge and two-part connectors (common practice)."""


def columns(crate: CrateShape, *, wiring: bool) -> tuple[tuple[int, str], ...]:
    """Slot and row from left to right; the wiring side mirrors the card side."""
    order = [(slot, row) for slot in range(1, crate.slots + 1) for row in crate.rows]
    return tuple(reversed(order)) if wiring else tuple(order)


@dataclass(frozen=True, slots=True)
class PinSpot:
    """One pin on the map; ``signal`` is what was captured there, empty where nothing was."""

    slot: int
    row: str
    number: int
    name: str
    net: str
    verdict: PinVerdict
    words: str
    signal: str = ""


@dataclass(frozen=True, slots=True)
class NetPin:
    """One point of the chosen net. ``part`` is the chip behind it, as it is marked on the board."""

    point: str
    role: Role
    part: str
    verdict: PinVerdict
    words: str
    signal: str


@dataclass(frozen=True, slots=True)
class NetEdge:
    """Two neighbours on the chosen net, and what a side's readings say of the wire between them."""

    start: str
    end: str
    state: EdgeState


@dataclass(frozen=True)
class BackplaneView:
    """All of the page for one chosen pin and one crate. ``pairs`` stand as they are listed: the chosen net's first."""

    side: Side
    crate: CrateShape
    spots: tuple[PinSpot, ...]
    pairs: tuple[Pair, ...]
    found: ContinuityComparison
    chosen: str
    net: str
    net_pins: tuple[NetPin, ...]
    edges: tuple[NetEdge, ...]
    path: NetPath | None
    step: NextReading | None
    place: Located | None
    outside: int
    """So many named pins are none of the crate."""
    legs: tuple[NetPin, ...] = ()
    """Legs of chips that were captured under a clip: they have no place on the map."""

    @cached_property
    def by_name(self) -> Mapping[str, PinSpot]:
        """The pins by name."""
        return {spot.name: spot for spot in self.spots}

    @cached_property
    def nets(self) -> Mapping[str, str]:
        """The net of each named pin."""
        return {spot.name: spot.net for spot in self.spots}

    def spot(self, name: str) -> PinSpot | None:
        """The pin of that name."""
        return self.by_name.get(name)

    def count(self, verdict: PinVerdict) -> int:
        """How many pins of the crate, and legs under a clip, have a verdict; pins that nobody named count as not
        probed."""
        known = [own.verdict for own in self.spots] + [own.verdict for own in self.legs]
        if verdict != "not probed":
            return known.count(verdict)
        every = self.crate.slots * len(self.crate.rows) * self.crate.pins
        return every - sum(spot.verdict != "not probed" for spot in self.spots)

    def readings(self, verdict: Verdict | None) -> int:
        """How many pairs have a verdict; None counts all."""
        return len(self.found.pairs) if verdict is None else self.found.count(verdict)


def pin_of_signal(case: OpenCase, signal: str | None) -> str:
    """The pin at which a signal can be shown: its own on the sheet, else the first of its net on the pin list.

    Empty where neither names one that a crate or the pin list has: another pin is never shown in its place.
    """
    if not signal:
        return ""
    pins = case.pins or PinList()
    listed = (point for row in pins.of_net(signal) for point in row.points[:1])
    places = (place_of(p.slot, p.pin) for p in case.sheet.probes if p.signal == signal)
    return next((p for p in (*places, *listed) if _PIN.fullmatch(p) or (p and pins.net_at(p))), "")


def no_pin_words(signal: str) -> str:
    """Why a signal cannot be shown at its pin.

    >>> no_pin_words("SEL1")
    'No pin is known for SEL1: neither the probe sheet nor a pin list names one of slot, row and number, as 7-B04'
    """
    return (
        f"No pin is known for {signal}: neither the probe sheet nor a pin list names one of slot, row and number, "
        "as 7-B04"
    )


def backplane_view(
    case: OpenCase, comparison: Comparison | None, chosen: str | None = None, side: Side = "suspect"
) -> BackplaneView:
    """What the page shows; ``chosen`` is a pin, empty for none, None for that of the first likely cause, or the
    first pin of all where nothing is a cause."""
    pins, readings, sheet = case.pins or PinList(), case.continuity, case.sheet
    spots = _spots(case, comparison, pins, side)
    names = {spot.name for spot in spots}
    if chosen is None and comparison is not None and comparison.causes:
        chosen = pin_of_signal(case, comparison.causes[0].signal)
    if chosen is None:
        chosen = next(iter(sorted(names, key=pin_order)), "")
    elif chosen not in names and not pins.net_at(chosen):
        chosen = ""
    net = net_at(pins, sheet, chosen)
    path = path_to(pins, sheet, chosen) if chosen else None
    found = compared_readings(readings)
    crate = case.crate or crate_of(spots)
    inside = _in_crate(spots, crate)
    by_name = {spot.name: spot for spot in spots}
    legs = _captured_legs(comparison, pins, side)
    net_pins = _net_pins(pins.of_net(net), path, by_name, {own.point: own for own in legs})
    place = located(path, readings) if path else None
    parted = {pair_of(*place.between)} if side == "suspect" and place is not None and len(place.between) == 2 else set()
    mine = {own.point for own in net_pins} | ({path.ground} if path is not None and path.ground else set())
    ordered = sorted(found.pairs, key=lambda pair: not (pair.start in mine and pair.end in mine))
    return BackplaneView(
        side,
        crate,
        inside,
        tuple(ordered),
        found,
        chosen,
        net,
        net_pins,
        _edges([own.point for own in net_pins if own.point in names], nets_of(readings, side), parted),
        path,
        next_reading(path, readings) if path else None,
        place,
        len(spots) - len(inside),
        legs,
    )


def _captured_legs(comparison: Comparison | None, pins: PinList, side: Side) -> tuple[NetPin, ...]:
    """The signals that were captured at legs of the pin list's chips."""
    listed = {point: row for row in pins.rows for point in row.points[:1] if not _PIN.fullmatch(point)}
    out = []
    for signal in comparison.signals if comparison is not None else ():
        row = listed.get(place_of(signal.slot, signal.pin))
        if row is not None:
            out.append(
                NetPin(
                    row.points[0], _role(row), f"{row.part} {row.number}".strip(), *_told(signal, side), signal.signal
                )
            )
    return tuple(out)


def _role(row: Pinned) -> Role:
    return "driver" if row.direction in DRIVING else "receiver" if row.direction == "in" else "pin"


def _net_pins(
    rows: tuple[Pinned, ...], path: NetPath | None, spots: Mapping[str, PinSpot], legs: Mapping[str, NetPin]
) -> tuple[NetPin, ...]:
    """The points of a net, its driver first; of a net that only the sheet knows those of its path."""
    out: dict[str, NetPin] = {}

    def add(point: str, role: Role, part: str) -> None:
        if point in legs:
            out.setdefault(point, legs[point])
            return
        spot = spots.get(point)
        words = spot.words if spot is not None else "not probed"
        verdict: PinVerdict = spot.verdict if spot is not None else "not probed"
        out.setdefault(point, NetPin(point, role, part, verdict, words, spot.signal if spot is not None else ""))

    for row in sorted(rows, key=lambda row: row.direction not in DRIVING):
        add(row.points[0], _role(row), f"{row.part} {row.number}".strip())
    if not out and path is not None:
        for index, point in enumerate(path.points):
            add(point, "receiver" if index else "driver", "")
    return tuple(out.values())


def _edges(points: list[str], nets: Nets, parted: set[tuple[str, str]]) -> tuple[NetEdge, ...]:
    """Neighbours in the list's order; an open or raised reading between them breaks the line, and so does the place
    that all readings together leave."""
    apart = {reading.pair for reading in nets.parting} | parted
    out = []
    for one, other in pairwise(points):
        state: EdgeState = "same" if nets.joined(one, other) else "to measure"
        if state == "to measure" and pair_of(one, other) in apart:
            state = "broken"
        out.append(NetEdge(one, other, state))
    return tuple(out)


def _spots(case: OpenCase, comparison: Comparison | None, pins: PinList, side: Side) -> tuple[PinSpot, ...]:
    spots: dict[str, PinSpot] = {}

    def add(
        name: str, net: str, verdict: PinVerdict = "not probed", words: str = "not probed", signal: str = ""
    ) -> None:
        match = _PIN.fullmatch(name)
        if match and name not in spots:
            spots[name] = PinSpot(int(match[1]), match[2], int(match[3]), name, net, verdict, words, signal)

    of_pin = {point: row.net for row in pins.rows for point in row.points}
    for signal in comparison.signals if comparison is not None else ():
        name = place_of(signal.slot, signal.pin)
        verdict, words = _told(signal, side)
        add(name, of_pin.get(name, signal.signal), verdict, words, signal.signal)
    for probe in case.sheet.probes:
        add(place_of(probe.slot, probe.pin), probe.signal, words="not compared")
        add(driver_place(probe.driver), of_pin.get(driver_place(probe.driver), probe.signal))
    for row in pins.rows:
        add(row.place, row.net)
    for reading in case.continuity.readings:
        for point in (reading.start, reading.end):
            add(point, "", words="read with a meter")
    return tuple(sorted(spots.values(), key=lambda spot: pin_order(spot.name)))


def _told(signal: SignalFinding, side: Side) -> tuple[PinVerdict, str]:
    """The verdict at a captured pin. The good crate is what is compared with: only its own volts accuse it."""
    if side == "good":
        if any(own.side == "good" for own in signal.levels):
            return "level", "outside its limits on good too"
        if signal.good_trace is None:
            return "not probed", "not captured on good"
        return "agrees", "moves" if len(signal.good_trace.times_ps) > 1 else "stands still"
    if signal.verdict != "diverges":
        agrees = signal.verdict == "agrees"
        return ("agrees", "moves as on good") if agrees else ("not probed", "cannot be told")
    words = signal.fault_mode or "diverges"
    if signal.missing_transitions or signal.extra_transitions:
        return "diverges", words
    return ("level" if signal.levels else "timing"), words


def crate_of(spots: Iterable[PinSpot]) -> CrateShape:
    """The crate that some named pins need, where nobody described one."""
    # a slot of 700 is a slip of the hand, and would leave no room for any other
    listed = tuple(spot for spot in spots if spot.slot <= MOST_SLOTS and spot.number <= MOST_PINS)
    slots = max((spot.slot for spot in listed), default=1)
    rows = sorted({spot.row for spot in listed} | {"A", "B"})[:MOST_ROWS]
    return CrateShape(slots, tuple(rows), max(_LEAST_PINS, *(spot.number for spot in listed), 1))


def _in_crate(spots: tuple[PinSpot, ...], crate: CrateShape) -> tuple[PinSpot, ...]:
    """Pins that the crate has, whose slots and pins count from 1; others stand in the tables alone."""
    return tuple(
        s for s in spots if 0 < s.slot <= crate.slots and s.row in crate.rows and 0 < s.number <= crate.pins
    )  # fmt: skip
