"""Heading rows and preamble of columns of volts: names, units, start and increment, interval, as they stand there."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from tracecore.errors import MalformedCapture
from tracecore.quantities import PS_PER_S, time_unit_ps
from tracecore.readers.headings.heading_facts import start_and_increment
from tracecore.readers.headings.heading_units import (
    KNOWN_VOLTS,
    VOLT_UNITS,
    bracketed,
    is_unit,
    time_unit_in,
    unknown_volts,
)
from tracecore.readers.headings.names import TYPES, distinct
from tracecore.readers.recognise.first_row import edits
from tracecore.readers.recognise.lines_above import filled
from tracecore.readers.recognise.row_cells import NUMBER
from tracecore.readers.source import Head, comment_text

_TIME_WORD = re.compile(r"\b(time|t|second|seconds|x-axis)\b", re.IGNORECASE)
_VERTICAL, _HORIZONTAL = "vertical units", "horizontal units"
_DO = "Correct the unit, or say of this column what it is (--column)."


@dataclass(frozen=True, slots=True)
class ScopeTitles:
    """``rows`` are the one or two heading rows, names first; ``lines`` are their lines, counted from 0. ``pairs`` are
    the names (in small letters) and values of a preamble, ``strays`` are units in it that stand behind no name that is
    known, with line and cell, from 0; ``index`` are start and increment in seconds."""

    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]
    pairs: dict[str, str]
    pair_lines: dict[str, int]
    strays: tuple[tuple[int, int, str], ...]
    index: tuple[Fraction, Fraction] | None
    index_at: int = 0
    verticals: tuple[str, ...] = ()

    def said(self, column: int) -> list[str]:
        """What stands above a column, the lowest first."""
        return [cells[column] for cells in reversed(self.rows) if column < len(cells)]

    def typed(self, column: int) -> bool:
        """Is a column said to be logic?"""
        return any(text.lower() in TYPES for text in self.said(column))

    def time_unit(self, rows: list[list[str]], column: int) -> tuple[Fraction | None, str, bool]:
        """As the heading or the preamble gives it, the words for a unit that is not known, and whether it is assumed.

        Seconds are for numbers with decimals where nothing is said, as instruments write them.
        """
        found = [time_unit_in(text) for text in self.said(column)]
        stated = self.pairs.get(_HORIZONTAL, "")
        known = [unit for unit in (*(unit for unit, _ in found), time_unit_ps(stated)) if unit is not None]
        if known:
            return known[0], "", False
        unknown = [text for _, text in found] + [stated]
        if len(self.rows) > 1 and self.index is None:
            unknown += self.said(column)[:1]
        if self.rows and not any(self.said(column)) and any(self.rows[-1][column:]):
            unknown.append("(blank)")
        unknown += [text for _, _, text in self.strays if text.lower() not in VOLT_UNITS]
        if any(unknown):
            return None, next(filter(None, unknown)), False
        decimals = any("." in cells[column] or "e" in cells[column].lower() for cells in rows if column < len(cells))
        return Fraction(PS_PER_S) if decimals else None, "", decimals

    def channels(self, columns: tuple[int, ...]) -> tuple[tuple[str, ...], tuple[float, ...], tuple[bool, ...]]:
        """Channel names, factors to volts, and which have a unit of their own."""
        names: list[str] = []
        scales: list[float] = []
        united: list[bool] = []
        common = VOLT_UNITS.get(self.pairs.get(_VERTICAL, "").lower(), 1.0)
        by_column = self.own_units(columns)
        for number, column in enumerate(columns[1:], start=1):
            name, scale = self._name_and_scale(column)
            if scale is None and by_column:
                scale = VOLT_UNITS.get(by_column[number - 1].lower(), 1.0)
            if not name and len(columns) == 2:
                name = self.pairs.get("source", "")
            names.append(name or f"CH{number}")
            scales.append(common if scale is None else scale)
            united.append(scale is not None)
        return distinct(names), tuple(scales), tuple(united)

    def own_units(self, columns: tuple[int, ...]) -> tuple[str, ...]:
        """One unit a channel, where the preamble gives as many, above the columns or in their order; else none."""
        units = {cell: text for cell, text in enumerate(self.verticals) if text}
        if len(units) < 2:
            return ()
        if set(columns[1:]) <= set(units):
            return tuple(units[c] for c in columns[1:])
        return tuple(units.values()) if len(units) == len(columns) - 1 else ()

    def _name_and_scale(self, column: int) -> tuple[str, float | None]:
        name, scale = "", None
        for text in self.said(column):
            front, word = bracketed(text)
            factor = VOLT_UNITS.get(word.lower())
            if factor is not None:
                scale = factor if scale is None else scale
            if text.lower() in TYPES and len(self.rows) > 1:
                text = ""
            elif factor is not None and (front != text or len(self.rows) > 1):
                text = front if front != text else ""
            name = name or text
        return name, scale

    @property
    def states_volts(self) -> bool:
        """Does the preamble give a unit of volts?"""
        return self.pairs.get(_VERTICAL, "").lower() in VOLT_UNITS


def scope_titles(table: list[list[str]], lines: list[int], start: int, beside: int) -> ScopeTitles:
    """From all lines taken apart, of which those from ``start`` on are rows; ``lines`` are their numbers, from 0.

    The first ``beside`` rows have a preamble in their first cells.
    """
    above = table[:start]
    count = 0
    if above and not _is_pair(above[-1]):
        under = len(above) > 1 and len(above[-2]) >= max(2, len(above[-1]) - 2)
        valued = len(above) > 1 and start_and_increment(above[-2:])[0] is not None
        count = 2 if valued or (under and _are_units(above[-1], above[-2])) else 1
    first = start - count
    pairs: dict[str, str] = {}
    places: dict[str, int] = {}
    for k in (*range(first), *range(start, min(len(table), start + beside))):
        cells = table[k]
        if len(cells) > 1 and cells[0] and not NUMBER.fullmatch(cells[0]):
            pairs.setdefault(cells[0].lower(), cells[1])
            places.setdefault(cells[0].lower(), lines[k])
    strays = tuple((lines[k], c, text) for k in range(first) for c, text in _strays(table[k]))
    rows = tuple(map(tuple, above[first:]))
    verticals = next((("", *cells[1:]) for cells in above[:first] if cells[0].lower() == _VERTICAL), ())
    return ScopeTitles(rows, tuple(lines[first:start]), pairs, places, strays, *start_and_increment(above), verticals)


def _strays(cells: list[str]) -> list[tuple[int, str]]:
    """Units other than V and s, and names of units, that stand elsewhere than in a pair of name and unit."""
    own = cells[0].lower()
    if own in (_VERTICAL, _HORIZONTAL) and len(filled(cells)) == 2:
        return []
    if own == _VERTICAL and all(not text or text.lower() in VOLT_UNITS for text in cells[1:]):
        return []  # one unit a channel
    named = [
        (c, text) for c, text in enumerate(cells) if any(name in text.lower() for name in (_VERTICAL, _HORIZONTAL))
    ]
    if not named and not _is_torn(own):
        return []  # units of other things that a preamble states
    return named + [
        (c, text)
        for c, text in enumerate(cells)
        if VOLT_UNITS.get(text.lower(), 1.0) != 1.0 or time_unit_ps(text) not in (None, PS_PER_S)
    ]


def _is_torn(name: str) -> bool:
    """Can this be a part of the names of units, or one of them with a letter or two changed?"""
    known = (_VERTICAL, _HORIZONTAL)
    return is_unit(name) or any(k.startswith(name) or k.endswith(name) or edits(name, k) < 3 for k in known)


def wrong_unit(head: Head, titles: ScopeTitles, columns: tuple[int, ...]) -> MalformedCapture | None:
    """The error to raise where a unit of volts is not known or names are missing, unless a person says what the columns
    are."""

    def wrong(line: int, column: int, found: str, expected: str = KNOWN_VOLTS) -> MalformedCapture:
        return MalformedCapture(head.path, line=line + 1, column=column + 1, found=found, expected=expected, do=_DO)

    names, values = (len(filled(cells)) for cells in (titles.rows[0], titles.rows[-1])) if titles.rows else (0, 0)
    if titles.index is not None and values > names:
        return wrong(titles.lines[-1], names, f"{values} cells below {names} names", "one value below each name")
    short = next((k for k, cells in enumerate(titles.rows) if 2 <= len(cells) <= columns[-1]), None)
    if short is not None and comment_text(head.lines[titles.lines[short]]) is None:
        count = len(titles.rows[short])
        return wrong(
            titles.lines[short], count - 1, f"{count} cells above rows of {columns[-1] + 1}", "one for each column"
        )
    for cells, line in zip(titles.rows, titles.lines, strict=True):
        own_row = len(titles.rows) > 1 and line == titles.lines[-1]
        for column in (c for c in columns[1:] if c < len(cells)):
            text = cells[column]
            if bad := unknown_volts(text):
                return wrong(line, column, bad)
            if own_row and text and not is_unit(text):
                return wrong(line, column, f"the unit {text[:40]!r}")
        number = next((c for c, text in enumerate(cells) if NUMBER.fullmatch(text) and "." in text), None)
        if number is not None and titles.index is None:
            return wrong(line, number, f"{cells[number][:40]!r} among the names", "names, above rows of their own")
        others = [c for c in range(len(cells)) if c not in columns]
        if torn := next((c for c in others if "bracket" in unknown_volts(cells[c])), None):
            return wrong(line, torn, unknown_volts(cells[torn]))
        astray = next((c for c in others if _volts(cells[c])), None)
        if astray is not None and not any(_volts(cells[c]) for c in columns[1:] if c < len(cells)):
            return wrong(line, astray, f"{cells[astray][:40]!r} above a column without numbers", "it above its numbers")
    for key, value in titles.pairs.items():
        line = titles.pair_lines[key]
        if key == _VERTICAL and value.lower() not in VOLT_UNITS:
            return wrong(line, 1, f"{value[:40]!r} as vertical units")
        several = [text for text in titles.verticals if text]
        if key == _VERTICAL and len(several) > 1 and not titles.own_units(columns):
            return wrong(line, 1, f"{len(several)} units above {len(columns) - 1} channels", "one, or one a channel")
    if not any(_volts(text) for cells in titles.rows for text in cells):
        stray = next((s for s in titles.strays if s[2].lower() in VOLT_UNITS or _VERTICAL in s[2].lower()), None)
        if stray is not None:
            found = f"{stray[2][:40]!r} above the rows, which is no unit behind a name that is known"
            return wrong(stray[0], stray[1], found, "'Vertical Units' and the unit, in two cells")
    return None


def _volts(text: str) -> bool:
    return bracketed(text)[1].lower() in VOLT_UNITS


def _is_pair(cells: list[str]) -> bool:
    """``Sample Interval,4e-09`` or ``Vertical Units,V``, but neither ``TIME,CH1`` nor ``second,Volt``."""
    filled = [cell for cell in cells if cell]
    if cells[0][:1] in ("(", "["):
        return False  # a unit, known or not
    if len(filled) != 2 or not cells[0] or _TIME_WORD.search(cells[0]):
        return len(filled) == 1 and len(cells) > 1 and bool(cells[0]) and not is_unit(cells[0])
    return bool(NUMBER.fullmatch(cells[1])) or (is_unit(filled[1]) and not is_unit(filled[0]))


def _are_units(cells: list[str], names: list[str]) -> bool:
    """A row of units: one of them is known, and the row is not one of names that begins with a word for time.

    A unit that is not known is refused later, which a row of names would not be.
    """
    if _is_pair(names) or (_TIME_WORD.search(cells[0]) and time_unit_ps(cells[0].strip("()[]")) is None):
        return False
    return any(is_unit(cell) for cell in cells if cell and not NUMBER.fullmatch(cell))
