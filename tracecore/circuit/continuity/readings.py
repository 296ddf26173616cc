"""Ohm readings between pins of the two backplanes, as a list that any spreadsheet can write.

A continuity list is CSV with the heading ``from,to,ohms,side,read_on,by,note``; columns may stand in any order, and
only ``from``, ``to`` and ``ohms`` are required. ``ohms`` is a number with k or M, ``open``, or empty where it is still
to be measured. A row from ``leads`` to ``leads`` is the meter with its leads shorted. A note that begins with
``card in`` says that the card was seated; such a reading is compared, and joins no net of the bare backplane.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from tracecore.circuit.continuity.pin_name import pair_of, pin_name
from tracecore.circuit.sheet_table import SheetForm, SheetRow, sheet_table, sheet_text
from tracecore.csv_cells import csv_text
from tracecore.errors import SheetError

Side = Literal["good", "suspect"]
SIDES: tuple[Side, ...] = ("good", "suspect")
COLUMNS = ("from", "to", "ohms", "side", "read_on", "by", "note")
FORM = SheetForm("a continuity list", COLUMNS, COLUMNS[:3], "6-B22,7-B04,0.2")
LEADS = "leads"
CARD_IN = "card in"
OPEN = math.inf
JOINS_OHMS = 1.0
"""A reading below this, the leads taken off, joins two pins (common practice; a setting)."""
RAISED_OHMS = 1.0
"""So much above the good side counts as raised (common practice; a setting)."""
_OVER_RANGE = 9.0e36
"""Logging meters write about 9.9E37 for over range, as SCPI-1999 has it for infinity (from memory)."""
_LEAST_OHMS = -1.0
"""A meter whose leads were zeroed may read a little below nothing."""
_OHMS = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*([kKmM]?)\s*(?:ohms?|Ω|Ω)?", re.IGNORECASE)
_FACTORS = {"": 1.0, "k": 1e3, "K": 1e3, "M": 1e6, "m": 1e-3}


@dataclass(frozen=True, slots=True)
class Reading:
    """One row. ``ohms`` as the meter showed it, ``OPEN`` where it is over range, None where it is to be measured."""

    start: str
    end: str
    ohms: float | None
    side: Side
    read_on: str = ""
    by: str = ""
    note: str = ""
    path: str = ""
    line: int = 0

    @property
    def pair(self) -> tuple[str, str]:
        """Both pins in counting order."""
        return pair_of(self.start, self.end)

    @property
    def card_in(self) -> bool:
        """Was it read with the card seated?"""
        return self.note.lower().startswith(CARD_IN)


@dataclass(frozen=True, slots=True)
class ContinuityList:
    """The readings of both sides in the order they were made; ``..._leads_ohms`` is the meter's leads shorted.

    A reading below ``joins_ohms`` joins; so much as ``raised_ohms`` above good counts as raised.
    """

    readings: tuple[Reading, ...] = ()
    good_leads_ohms: float = 0.0
    suspect_leads_ohms: float = 0.0
    notes: tuple[str, ...] = ()
    joins_ohms: float = JOINS_OHMS
    raised_ohms: float = RAISED_OHMS

    def of(self, side: Side) -> tuple[Reading, ...]:
        """The readings of one side."""
        return tuple(reading for reading in self.readings if reading.side == side)

    def leads_ohms(self, side: Side) -> float:
        """What the leads alone read on that side."""
        return self.good_leads_ohms if side == "good" else self.suspect_leads_ohms

    def with_leads(self, ohms: float | None, side: Side) -> ContinuityList:
        """The same with the leads' own ohms as entered; None leaves them."""
        if ohms is None:
            return self
        return replace(self, good_leads_ohms=ohms) if side == "good" else replace(self, suspect_leads_ohms=ohms)

    def entered(self, reading: Reading) -> ContinuityList:
        """The same with one more reading; a row that was to be measured is filled in, a value is never replaced.

        The row keeps its pins in their order and its note: which lead is where, and whether the slot is empty.
        """
        rows = list(self.readings)
        for index, row in enumerate(rows):
            same = row.pair == reading.pair and row.side == reading.side and row.card_in == reading.card_in
            if same and row.ohms is None:
                note = row.note if row.note.lower().startswith(reading.note.lower()) else reading.note
                rows[index] = replace(reading, start=row.start, end=row.end, note=note, path=row.path, line=row.line)
                return replace(self, readings=tuple(rows))
        return replace(self, readings=(*rows, reading))

    def and_those_of(self, other: ContinuityList) -> ContinuityList:
        """Both lists as one; leads that the other knows win over leads of nothing."""
        return ContinuityList(
            self.readings + other.readings,
            self.good_leads_ohms or other.good_leads_ohms,
            self.suspect_leads_ohms or other.suspect_leads_ohms,
            self.notes + other.notes,
            self.joins_ohms,
            self.raised_ohms,
        )


def parse_ohms(text: str) -> float | None:
    """Ohms of a text such as ``0.2``, ``2.1k``, ``1 Mohm``, ``open``; None where it is empty.

    Raises ValueError where it is none of these.

    >>> parse_ohms("2.1k"), parse_ohms("open"), parse_ohms("")
    (2100.0, inf, None)
    """
    plain = text.strip()
    if not plain:
        return None
    if plain.lower() in ("open", "ol", "o.l", "o.l.", "over range"):
        return OPEN
    match = _OHMS.fullmatch(plain)
    if match is None:
        raise ValueError(f"{text!r} is no reading such as 0.2, 2.1k or open")
    ohms = float(match[1]) * _FACTORS[match[2]]
    if ohms < _LEAST_OHMS:
        raise ValueError(f"{text!r} is below nothing")
    return OPEN if ohms > _OVER_RANGE else ohms


def ohms_text(ohms: float | None) -> str:
    """Ohms as a list writes them; read back, they are the same.

    >>> ohms_text(2100.0), ohms_text(0.2), ohms_text(OPEN), ohms_text(None)
    ('2.1k', '0.2', 'open', '')
    """
    if ohms is None:
        return ""
    if math.isinf(ohms):
        return "open"
    for factor, letter in ((1e6, "M"), (1e3, "k")):
        text = f"{ohms / factor:.12g}"
        if abs(ohms) >= factor and float(text) * factor == ohms:
            return text + letter
    return f"{ohms:.12g}" if float(f"{ohms:.12g}") == ohms else repr(ohms)


def read_continuity(path: str | Path, side: Side | None = None) -> ContinuityList:
    """Reads a list. ``side`` is whose rows are taken, and the side of rows that name none; None takes both.

    Raises SheetError with line and column where a cell cannot be taken.
    """
    return parse_continuity(sheet_text(path, FORM), str(path), side)


def parse_continuity(text: str, path: str = "continuity list", side: Side | None = None) -> ContinuityList:
    """Takes the text of a list.

    >>> parse_continuity("from,to,ohms,side\\n6-B22,7-B04,0.2,good\\n").readings[0].ohms
    0.2
    """
    table = sheet_table(text, path, FORM)
    taken: list[Reading] = []
    leads: dict[Side, float] = {}
    others = 0
    for row in table.rows:
        of = _side(row, side)
        if side is not None and of != side:
            others += 1
        elif row.cells["from"].lower() == LEADS and row.cells["to"].lower() == LEADS:
            leads[of] = _lead_ohms(row, table.decimal_comma)
        else:
            taken.append(_reading(row, of, table.decimal_comma))
    notes = (_left_out(path, others, side),) if others and side else ()
    return ContinuityList(tuple(taken), leads.get("good", 0.0), leads.get("suspect", 0.0), notes)


def write_continuity(readings: Iterable[Reading], leads: Iterable[tuple[Side, float]] = ()) -> str:
    """The text of a list with every column; read back, it is the same."""
    rows = [(LEADS, LEADS, ohms_text(ohms), side, "", "", "leads shorted") for side, ohms in leads if ohms]
    rows += [(r.start, r.end, ohms_text(r.ohms), r.side, r.read_on, r.by, r.note) for r in readings]
    return csv_text(COLUMNS, rows)


def _side(row: SheetRow, side: Side | None) -> Side:
    word = row.cells["side"].lower()
    for known in SIDES:
        if word == known:
            return known
    if word:
        raise row.bad("side", "good or suspect")
    if side is None:
        raise SheetError(
            row.path,
            line=row.line,
            found="a reading without a side",
            expected="good or suspect in the column side",
            do="Fill the column, or give the two sides as a file each.",
        )
    return side


def _lead_ohms(row: SheetRow, decimal_comma: bool) -> float:
    ohms = _ohms(row, decimal_comma)
    if ohms is None or math.isinf(ohms):
        raise row.bad("ohms", "the ohms of the shorted leads", "Short the leads and write what is read.")
    return ohms


def _ohms(row: SheetRow, decimal_comma: bool) -> float | None:
    text = row.cells["ohms"]
    try:
        return parse_ohms(text.replace(",", ".") if decimal_comma else text)
    except ValueError:
        raise row.bad("ohms", "a number with k or M, open, or nothing where it is to be measured") from None


def _reading(row: SheetRow, side: Side, decimal_comma: bool) -> Reading:
    start, end = _pin(row, "from"), _pin(row, "to")
    if start == end:
        raise row.bad("to", "another pin than in from; a pin to itself tells nothing")
    cells = row.cells
    return Reading(
        start, end, _ohms(row, decimal_comma), side, cells["read_on"], cells["by"], cells["note"], row.path, row.line
    )


def _pin(row: SheetRow, name: str) -> str:
    try:
        return pin_name(row.cells[name])
    except ValueError:
        raise row.bad(name, "a pin as slot-pin, such as 7-B04") from None


def _left_out(path: str, rows: int, side: Side) -> str:
    other = "suspect" if side == "good" else "good"
    what = "1 row is" if rows == 1 else f"{rows} rows are"
    return f"{path}: {what} of the {other} side and not taken here. Give the file for that side too."
