"""Which pin is on which net, and which leg of which chip stands behind it: one row a pin.

A pin list is CSV with the heading ``net,slot,pin,part,part_pin,direction,note``; columns may stand in any order. A row
names a pin of a connector (``slot`` and ``pin``), a leg of a chip (``part`` and ``part_pin``), or both where the leg is
right behind the pin. ``part`` is the chip's name on the board, with its number in one of its rows at least:
``U7 74181``. ``direction`` is seen from the chip: ``in``, ``out``, ``three-state``, ``open collector``, ``both``,
``supply`` or empty. Nets are named as the signals on the probe sheet.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from tracecore.circuit.continuity.path import NetPath
from tracecore.circuit.continuity.pin_name import pin_name, pin_order
from tracecore.circuit.sheet_table import SheetForm, SheetRow, sheet_table, sheet_text
from tracecore.csv_cells import csv_text

Direction = Literal["", "in", "out", "three-state", "open collector", "both", "supply"]
DIRECTIONS: tuple[Direction, ...] = ("", "in", "out", "three-state", "open collector", "both", "supply")
DRIVING: tuple[Direction, ...] = ("out", "three-state", "open collector", "both")
COLUMNS = ("net", "slot", "pin", "part", "part_pin", "direction", "note")
FORM = SheetForm("a pin list", COLUMNS, ("net",), "D03,7,B04,U7 74181,2,in,")
GROUNDS = frozenset({"gnd", "ground", "0v", "vss"})
"""Names of the net to which ohms to ground are read."""
FaultKind = Literal["two outputs", "no driver", "pin on two nets", "no such leg", "net of one pin"]


@dataclass(frozen=True, slots=True)
class Pinned:
    """One row. ``part`` is the chip's name without its number; ``number`` stands where the row gave it."""

    net: str
    slot: str = ""
    pin: str = ""
    part: str = ""
    number: str = ""
    part_pin: str = ""
    direction: Direction = ""
    note: str = ""
    line: int = 0

    @property
    def place(self) -> str:
        """The connector's pin as it is typed, ``7-B04``; empty where the row names only a leg."""
        return pin_name(f"{self.slot}-{self.pin}") if self.slot and self.pin else ""

    @property
    def leg(self) -> str:
        """The chip's leg as it is typed, ``U7-2``; empty where the row names only a connector's pin."""
        return pin_name(f"{self.part}-{self.part_pin}") if self.part and self.part_pin else ""

    @property
    def points(self) -> tuple[str, ...]:
        """Both where both are named, in the order in which a signal that arrives passes them."""
        return tuple(point for point in (self.place, self.leg) if point)


@dataclass(frozen=True, slots=True)
class PinFault:
    """What cannot be right in a list: its ``kind``, the net or part it is about, and the rows that show it."""

    kind: FaultKind
    about: str
    rows: tuple[Pinned, ...]


@dataclass(frozen=True, slots=True)
class PinList:
    """The rows of a list, in order."""

    rows: tuple[Pinned, ...] = ()
    path: str = ""
    _by_net: dict[str, tuple[Pinned, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        by_net: dict[str, list[Pinned]] = {}
        for row in self.rows:
            by_net.setdefault(row.net, []).append(row)
        object.__setattr__(self, "_by_net", {net: tuple(rows) for net, rows in by_net.items()})

    @property
    def nets(self) -> tuple[str, ...]:
        """Every net, in the list's order."""
        return tuple(self._by_net)

    def of_net(self, net: str) -> tuple[Pinned, ...]:
        """The pins of a net."""
        return self._by_net.get(net, ())

    def drivers(self, net: str) -> tuple[Pinned, ...]:
        """The rows of a net that drive it."""
        return tuple(row for row in self.of_net(net) if row.direction in DRIVING)

    def receivers(self, net: str) -> tuple[Pinned, ...]:
        """The rows of a net that only listen."""
        return tuple(row for row in self.of_net(net) if row.direction == "in")

    def net_at(self, point: str) -> str:
        """The net of a pin or a leg, as it is typed; empty where the list does not have it."""
        return next((row.net for row in self.rows if point in row.points), "")

    @property
    def numbers(self) -> dict[str, str]:
        """The number of each chip that has one, by its name on the board."""
        return {row.part: row.number for row in self.rows if row.part and row.number}

    def legs(self, part: str) -> dict[int, str]:
        """The nets of a chip by its legs' numbers."""
        return {int(row.part_pin): row.net for row in self.rows if row.part == part and row.part_pin.isdecimal()}

    @property
    def legs_alone(self) -> PinList:
        """The rows that put a chip's leg on a net: all that a comparison asks of a list."""
        return PinList(tuple(row for row in self.rows if row.part and row.part_pin), self.path)

    def slot_pins(self, slot: str) -> tuple[Pinned, ...]:
        """The connector's pins of one slot, in counting order."""
        rows = [row for row in self.rows if row.slot == slot and row.pin]
        return tuple(sorted(rows, key=lambda row: pin_order(row.place)))

    def ground_of(self, slot: str) -> str:
        """A ground pin of a slot; empty where the list names none."""
        return next((r.place for r in self.slot_pins(slot) if r.net.replace(" ", "").lower() in GROUNDS), "")

    def path_of(self, net: str, to: str = "") -> NetPath | None:
        """The net from its driver to the pin ``to`` (its last receiver where empty), in the list's order.

        Only pins of connectors are on it, as far as a row has one; ``to`` may be a leg, which then ends the path. None
        where the list knows no driver, or no further pin.
        """
        rows, drivers = self.of_net(net), self.drivers(net)
        if not drivers:
            return None
        points = list(dict.fromkeys((drivers[0].points[0], *(row.points[0] for row in rows))))
        last = next((row for row in rows if to in row.points), None) if to else None
        if to and (last is None or last is drivers[0]):
            return None
        if last is not None:
            points = points[: points.index(last.points[0]) + 1]
            points += [to] if to != points[-1] else []
        if len(points) < 2:
            return None
        slot = next((row.slot for row in rows if points[-1] in row.points), "")
        behind = frozenset((row.place, row.leg) for row in rows if row.place and row.leg)
        return NetPath(tuple(points), self.ground_of(slot), behind)

    def slot_pairs(self, slot: str) -> tuple[tuple[str, str], ...]:
        """Pairs to read for a whole slot: each of its pins with the net's driver, or with another pin of its net."""
        pairs = []
        for row in self.slot_pins(slot):
            others = [*self.drivers(row.net), *self.of_net(row.net)]
            other = next((o.place for o in others if o.place and o.place != row.place), "")
            if other:
                pairs.append((other, row.place))
        return tuple(pairs)

    def faults(self, legs_of: Callable[[str], Collection[int] | None] = lambda number: None) -> tuple[PinFault, ...]:
        """What cannot be right. ``legs_of`` gives the legs of a part number, None where it is not known."""
        return (
            *self._net_faults(),
            *self._pin_faults(),
            *self._leg_faults(legs_of),
        )

    def reached(self, captured: Collection[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The nets of the list that were captured, and those that were not."""
        return (
            tuple(net for net in self.nets if net in captured),
            tuple(net for net in self.nets if net not in captured),
        )

    def _net_faults(self) -> Iterable[PinFault]:
        for net, rows in self._by_net.items():
            plain = [row for row in rows if row.direction == "out"]
            driven = [row for row in rows if row.direction in DRIVING]
            if plain and len(driven) > 1:
                yield PinFault("two outputs", net, tuple(driven))
            supply = any(row.direction == "supply" for row in rows) or net.replace(" ", "").lower() in GROUNDS
            known = all(row.direction for row in rows)
            if not driven and known and not supply and any(row.direction == "in" for row in rows):
                yield PinFault("no driver", net, rows)
            if not supply and len({point for row in rows for point in row.points}) < 2:
                yield PinFault("net of one pin", net, rows)

    def _pin_faults(self) -> Iterable[PinFault]:
        seen: dict[str, list[Pinned]] = {}
        for row in self.rows:
            for point in row.points:
                seen.setdefault(point, []).append(row)
        for point, rows in seen.items():
            if len({row.net for row in rows}) > 1:
                yield PinFault("pin on two nets", point, tuple(rows))

    def _leg_faults(self, legs_of: Callable[[str], Collection[int] | None]) -> Iterable[PinFault]:
        for part, number in self.numbers.items():
            legs = legs_of(number)
            for row in self.rows:
                if row.part == part and row.part_pin and legs is not None and int(row.part_pin) not in legs:
                    yield PinFault("no such leg", f"{part} {number}", (row,))


def read_pin_list(path: str | Path) -> PinList:
    """Reads a list. Raises SheetError with line and column where a cell cannot be taken."""
    return parse_pin_list(sheet_text(path, FORM), str(path))


def parse_pin_list(text: str, path: str = "pin list") -> PinList:
    """Takes the text of a list.

    >>> pins = parse_pin_list("net,slot,pin,part,part_pin,direction\\nD03,7,B04,U7 74181,2,in\\n")
    >>> pins.rows[0].place, pins.rows[0].leg, pins.numbers
    ('7-B04', 'U7-2', {'U7': '74181'})
    """
    return PinList(tuple(_pinned(row) for row in sheet_table(text, path, FORM).rows), path)


def write_pin_list(rows: Iterable[Pinned]) -> str:
    """The text of a list with every column; read back, it is the same."""
    cells = ((r.net, r.slot, r.pin, f"{r.part} {r.number}".strip(), r.part_pin, r.direction, r.note) for r in rows)
    return csv_text(COLUMNS, cells)


def _pinned(row: SheetRow) -> Pinned:
    cells = row.cells
    if not cells["net"]:
        raise row.bad("net", "the name of the net", "Fill this cell.")
    part, _, number = cells["part"].partition(" ")
    if not (cells["slot"] and cells["pin"]) and not (part and cells["part_pin"]):
        raise row.bad("net", "slot and pin, or part and part_pin, in the same row", "Fill these cells.")
    if cells["slot"] and cells["pin"]:
        try:
            pin_name(f"{cells['slot']}-{cells['pin']}")
        except ValueError:
            raise row.bad("pin", "a pin such as B04") from None
    if cells["part_pin"] and not (cells["part_pin"].isdecimal() and 0 < int(cells["part_pin"]) < 100):
        raise row.bad("part_pin", "the number of the chip's leg, from 1")
    if part:
        try:
            pin_name(f"{part}-1")
        except ValueError:
            raise row.bad("part", "a chip's name and number such as U7 74181") from None
    for direction in DIRECTIONS:
        if cells["direction"].lower() == direction:
            return Pinned(
                cells["net"], cells["slot"], cells["pin"], part, number.strip(), cells["part_pin"], direction,
                cells["note"], row.line,
            )  # fmt: skip
    raise row.bad("direction", "one of: " + ", ".join(d for d in DIRECTIONS if d))
