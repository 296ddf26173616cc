"""A case as single items, each a row in the file: what changed between two cases is the rows that differ."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from app.case.changes import PLACES
from app.case.codec import decode, encode
from app.case.item_checks import check_item
from app.case.record import SIDES, UNTITLED, OpenCase, SideState
from app.case.values import CrateShape, HeldCapture, ShownRows, Unit
from tracecore.circuit.continuity.readings import (
    JOINS_OHMS,
    RAISED_OHMS,
    ContinuityList,
    parse_continuity,
    write_continuity,
)
from tracecore.circuit.parts.donor import Donor
from tracecore.circuit.pin_list import PinList
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.circuit.wire_list import WireList
from tracecore.settings import CompareSettings

Key = tuple[str, str]
"""Kind of an item, and which one of its kind."""
KINDS: dict[str, type] = {place: kind for kind, place in PLACES.items()}
ITEM_KINDS = frozenset(
    {
        "head",
        "question",
        "sheet",
        "wires",
        "pins",
        "continuity",
        "crate",
        "donors",
        "rows",
        "side",
        "unit",
        "capture",
        *KINDS,
    }
)
"""The kinds of all items."""


MOST_TOLD = 20
"""So many sentences at most tell what cannot be read; the last counts the rest."""


@dataclass(frozen=True, slots=True)
class Head:
    """Title and origin of a case."""

    title: str = UNTITLED
    number: str = ""
    identity: str = ""
    opened_at: str = ""
    opened_by: str = ""


@dataclass(frozen=True, slots=True)
class SideRow:
    """The captures of a side in their order, by key, which one is shown, and what their channels are called."""

    captures: tuple[str, ...] = ()
    shown: int = 0
    sheet: ProbeSheet | None = None
    same: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class StockRow:
    """The donor parts in the order of their list."""

    donors: tuple[Donor, ...] = ()


@dataclass(frozen=True, slots=True)
class ReadingsRow:
    """The ohm readings as the text of a continuity list: JSON has no number for an open circuit."""

    text: str = ""
    good_leads_ohms: float = 0.0
    suspect_leads_ohms: float = 0.0
    joins_ohms: float = JOINS_OHMS
    raised_ohms: float = RAISED_OHMS

    @property
    def readings(self) -> ContinuityList:
        """The list. Raises SheetError where the text is none."""
        rows = parse_continuity(self.text, "continuity list of the case").readings if self.text else ()
        leads = self.good_leads_ohms, self.suspect_leads_ohms
        return ContinuityList(rows, *leads, joins_ohms=self.joins_ohms, raised_ohms=self.raised_ohms)

    def __post_init__(self) -> None:
        # a text that is no list must not get into a case
        _ = self.readings
        if self.joins_ohms <= 0 or self.raised_ohms <= 0:
            raise ValueError("a limit of ohms is not above zero")


def readings_row(readings: ContinuityList) -> ReadingsRow:
    """The readings as they are kept."""
    text = write_continuity(readings.readings) if readings.readings else ""
    leads = readings.good_leads_ohms, readings.suspect_leads_ohms
    return ReadingsRow(text, *leads, readings.joins_ohms, readings.raised_ohms)


def items_of(case: OpenCase) -> dict[Key, str]:
    """Every item of a case as text."""
    items: dict[Key, str] = {
        ("head", ""): encode(Head(case.title, case.number, case.identity, case.opened_at, case.opened_by)),
        ("question", ""): encode(case.settings),
        ("sheet", ""): encode(case.sheet),
    }
    if case.wire_list is not None:
        items["wires", ""] = encode(case.wire_list)
    if case.pins is not None:
        items["pins", ""] = encode(case.pins)
    if case.continuity != ContinuityList():
        items["continuity", ""] = encode(readings_row(case.continuity))
    if case.crate is not None:
        items["crate", ""] = encode(case.crate)
    if case.donors:
        items["donors", ""] = encode(StockRow(case.donors))
    if case.rows != ShownRows():
        items["rows", ""] = encode(case.rows)
    for side in SIDES:
        state = case.side(side)
        items["side", side] = encode(
            SideRow(tuple(c.key for c in state.captures), state.shown, state.sheet, state.same)
        )
        items["unit", side] = encode(case.unit(side))
        for capture in state.captures:
            items["capture", capture.key] = encode(capture)
    for place in KINDS:
        for value in getattr(case, place):
            items[place, str(value.id)] = encode(value)
    return items


def case_of(items: Mapping[Key, str]) -> tuple[OpenCase, tuple[str, ...]]:
    """The case that some items make, and a sentence for each item that could not be read.

    An item that is lacking takes what an empty case has, so that a damaged file gives what is left of it. The sentences
    are the case's ``unread`` too, at most ``MOST_TOLD`` of them.
    """
    trouble: list[str] = []

    def read(kind: type, key: Key) -> Any:
        if key not in items:
            return None
        try:
            value: Any = decode(kind, items[key])
            check_item(key, value)
        except ValueError as error:
            trouble.append(f"{' '.join(part for part in key if part)} cannot be read ({error})")
            return None
        return value

    head = read(Head, ("head", "")) or Head()
    case = OpenCase(
        title=head.title,
        number=head.number,
        identity=head.identity,
        opened_at=head.opened_at,
        opened_by=head.opened_by,
        settings=read(CompareSettings, ("question", "")) or CompareSettings(),
        sheet=read(ProbeSheet, ("sheet", "")) or ProbeSheet(),
        wire_list=read(WireList, ("wires", "")),
        pins=read(PinList, ("pins", "")),
        continuity=(read(ReadingsRow, ("continuity", "")) or ReadingsRow()).readings,
        crate=read(CrateShape, ("crate", "")),
        rows=read(ShownRows, ("rows", "")) or ShownRows(),
        donors=(read(StockRow, ("donors", "")) or StockRow()).donors,
        good_unit=read(Unit, ("unit", "good")) or Unit(),
        suspect_unit=read(Unit, ("unit", "suspect")) or Unit(),
    )
    placed: set[str] = set()
    for side in SIDES:
        row = read(SideRow, ("side", side)) or SideRow()
        lacking = [key for key in row.captures if ("capture", key) not in items]
        trouble += [f"capture {key} of the {side} side is lacking" for key in lacking]
        captures = [read(HeldCapture, ("capture", key)) for key in row.captures]
        placed.update(row.captures)
        kept = tuple(c for c in captures if c is not None)
        shown = row.shown if 0 <= row.shown < len(kept) else 0
        case = case.with_side(side, SideState(kept, shown, row.sheet, row.same))
    noted: dict[str, Any] = {}
    for place, kind in KINDS.items():
        values = [value for key in items if key[0] == place and (value := read(kind, key)) is not None]
        noted[place] = tuple(sorted(values, key=lambda value: value.id))
    for kind_name, number in items:
        if kind_name == "capture" and number not in placed:
            trouble.append(f"capture {number} is on no side")
        elif kind_name not in ITEM_KINDS:
            trouble.append(f"{kind_name} {number} is of no kind that is known")
    if len(trouble) > MOST_TOLD:
        trouble[MOST_TOLD - 1 :] = [f"{len(trouble) - MOST_TOLD + 1} more items cannot be read"]
    return replace(case, **noted, unread=tuple(trouble)), tuple(trouble)


def differences(before: Mapping[Key, str], after: Mapping[Key, str]) -> Iterable[tuple[Key, str | None, str | None]]:
    """Each item that differs, with its text before and after; None where it is not there."""
    for key in dict.fromkeys((*before, *after)):
        old, new = before.get(key), after.get(key)
        if old != new:
            yield key, old, new
