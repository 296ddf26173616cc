"""Ohms that were written in the log, as readings that count: between two pins, beside those of the Backplane page.

A line of the log keeps what was typed. Where that is ohms between two pins, it says what a row of the continuity list
says, and the likely causes must not do without it.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

from app.case.record import OpenCase
from app.case.values import BenchCard, CardRow, Entry
from app.case.values import Reading as Written
from tracecore.circuit.continuity.pin_name import pin_name
from tracecore.circuit.continuity.readings import CARD_IN, SIDES, ContinuityList, Reading, parse_ohms

_PLACE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.]*-[A-Za-z]{0,2}\d{1,3}\b")
_SEATED = re.compile(r"\bcards?\b[^,;]*\b(?:in|seated)\b", re.IGNORECASE)
_RED = re.compile(r"\bred lead on [\w-]+", re.IGNORECASE)
_UNITS = {"ohm": 1.0, "ohms": 1.0, "Ω": 1.0, "kohm": 1e3, "k": 1e3, "kΩ": 1e3, "Mohm": 1e6, "M": 1e6, "MΩ": 1e6}
_ALIKE, _NEAR_OHMS = 0.02, 0.06
"""A value written in the log was perhaps rounded, and its leads taken off: so near it is the same reading."""


def counted(written: Written, read_on: str = "", by: str = "") -> tuple[Reading, ...]:
    """The readings that a written one is, known-good first; none where it is no ohms between two pins.

    >>> [(r.start, r.end, r.ohms, r.side) for r in counted(Written("6-B22 to 7-B04", "0.2", "open"))]
    [('6-B22', '7-B04', 0.2, 'good'), ('6-B22', '7-B04', inf, 'suspect')]
    """
    pins = [pin_name(found) for found in _PLACE.findall(_RED.sub("", written.where))]
    if len(pins) != 2 or pins[0] == pins[1]:
        return ()
    red = _RED.search(written.where)
    parts = (CARD_IN if _SEATED.search(written.where) else "", red[0] if red else "")
    note = ", ".join(part for part in parts if part)
    out = []
    for side, text in zip(SIDES, (written.good, written.suspect), strict=True):
        ohms = _ohms(text, written.unit)
        if ohms is not None:
            out.append(Reading(pins[0], pins[1], ohms, side, read_on, by, note))
    return tuple(out)


def _ohms(text: str, unit: str) -> float | None:
    """Ohms of what was typed; a bare number takes the unit beside it."""
    factor = _UNITS.get(unit.strip())
    if factor is None:
        return None
    try:
        ohms = parse_ohms(text)
        float(text)
    except ValueError:
        # with a letter of its own, "open", or no ohms at all
        factor = 1.0
        try:
            ohms = parse_ohms(text)
        except ValueError:
            return None
    return None if ohms is None else ohms * factor


def of_entry(entry: Entry) -> tuple[Reading, ...]:
    """All readings of a line that count."""
    return tuple(own for written in entry.readings for own in counted(written, entry.at[:10], entry.author))


def uncounted(case: OpenCase, entry: Entry) -> tuple[Reading, ...]:
    """Those of a line's readings that the case's list lacks; none of a line that was put right.

    Where the same pair was read later, the list has what counts today.
    """
    if any(other.corrects == entry.id for other in case.entries):
        return ()
    return lacking(case.continuity, of_entry(entry))


def lacking(listed: ContinuityList, readings: Iterable[Reading]) -> tuple[Reading, ...]:
    """The readings that a list does not have, nor a later one of the same pins on the same side."""
    return tuple(own for own in readings if not any(_stands_for(row, own, listed) for row in listed.readings))


def _stands_for(row: Reading, own: Reading, listed: ContinuityList) -> bool:
    if row.ohms is None or (row.pair, row.side, row.card_in) != (own.pair, own.side, own.card_in):
        return False
    if own.read_on and row.read_on > own.read_on:
        return True
    return any(_alike(ohms, own.ohms) for ohms in (row.ohms, row.ohms - listed.leads_ohms(row.side)))


def _alike(one: float, other: float | None) -> bool:
    if other is None or math.isinf(one) or math.isinf(other):
        return one == other
    return abs(one - other) <= max(_NEAR_OHMS, _ALIKE * abs(one))


def card_place(row: CardRow) -> str:
    """Where a row of a bench card is read, with what decides the reading: slot empty, or card in and which lead.

    >>> card_place(CardRow("off", "7-B04 to 7-A36", "to ground", "", "", "kohm", state="card 7 in, red lead on B04"))
    '7-B04 to 7-A36, card 7 in, red lead on B04'
    """
    return f"{row.probe}, {row.state}" if row.state else row.probe


def of_card(before: BenchCard, after: BenchCard, read_on: str, by: str) -> tuple[Reading, ...]:
    """What was typed into a card since ``before``, as far as it counts; what the card had in print is none of it."""
    out: list[Reading] = []
    for place, row in enumerate(after.rows):
        old_row = before.rows[place] if place < len(before.rows) else row
        good = row.good if row.good != old_row.good else ""
        was, now = _boxes(before, place), _boxes(after, place)
        suspect = now[0] if len(row.boxes) == 1 and now[:1] and now[:1] != was[:1] else ""
        out += counted(Written(card_place(row), good, suspect, row.unit), read_on, by)
    return tuple(out)


def _boxes(card: BenchCard, place: int) -> Sequence[str]:
    return card.filled[place] if place < len(card.filled) else ()
