"""Heading rows and preamble of columns of volts: names, units, start and increment, as they stand there.

Record Length,5               a preamble of names and values, with a unit for all
Vertical Units,mV
TIME,CH2                      names, and units below them where they are not in the preamble
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from tracecore.errors import MalformedCapture
from tracecore.quantities import PS_PER_S, time_unit_ps
from tracecore.readers.headings.facts import start_and_increment
from tracecore.readers.headings.titles import (
    KNOWN_VOLTS,
    TYPES,
    VOLT_UNITS,
    are_units,
    distinct,
    is_pair,
    is_unit,
    split_title,
    time_unit_in,
    volts_of,
    wrong_volts,
)
from tracecore.readers.recognise.cells import NUMBER, edits, filled
from tracecore.readers.source import Head, comment_text

_VERTICAL, _HORIZONTAL = "vertical units", "horizontal units"
_DO = "Correct the unit, or say of this column what it is (--column)."


@dataclass(frozen=True, slots=True)
class VoltTitles:
    """``rows`` are the one or two heading rows, names first; ``lines`` are their lines, counted from 0. ``pairs`` are
    the names (in small letters) and values of a preamble, with their lines; ``strays`` are units in it that stand
    behind no name that is known, with line and cell, from 0; ``index`` are start and increment in seconds, from cell
    ``index_at`` on; ``verticals`` the units of volts of a preamble, by cell."""

    rows: tuple[list[str], ...]
    lines: tuple[int, ...]
    pairs: dict[str, tuple[str, int]]
    strays: tuple[tuple[int, int, str], ...]
    index: tuple[Fraction, Fraction] | None
    index_at: int
    verticals: list[str]

    def pair(self, name: str) -> str:
        """The value of a name in the preamble, empty where there is none."""
        return self.pairs.get(name, ("", 0))[0]

    def above(self, column: int) -> list[str]:
        """What stands above a column, the lowest first."""
        return [cells[column] for cells in reversed(self.rows) if column < len(cells)]

    def typed(self, column: int) -> bool:
        """Is a column said to be logic?"""
        return any(text.lower() in TYPES for text in self.above(column))

    def time_unit(self, column: int) -> tuple[Fraction | None, str]:
        """As the heading or the preamble gives it, and the words for a unit that is not known."""
        above, stated = self.above(column), self.pair(_HORIZONTAL)
        found = [*map(time_unit_in, above), (time_unit_ps(stated), stated)]
        if (unit := next((unit for unit, _ in found if unit is not None), None)) is not None:
            return unit, ""
        unknown = [text for _, text in found]
        if len(self.rows) > 1 and self.index is None:
            unknown += above[:1]
        if self.rows and not any(above) and any(self.rows[-1][column:]):
            unknown.append("(blank)")
        unknown += [text for _, _, text in self.strays if text.lower() not in VOLT_UNITS]
        return None, next(filter(None, unknown), "")

    def channels(self, columns: tuple[int, ...]) -> tuple[tuple[str, ...], list[float], list[bool]]:
        """Channel names, factors to volts, and which have a unit of their own."""
        own = self.own_units(columns)
        names, scales = [], []
        for number, column in enumerate(columns[1:]):
            name, scale = self._name_and_scale(column)
            if scale is None and own:
                scale = VOLT_UNITS.get(own[number].lower(), 1.0)
            if not name and len(columns) == 2:
                name = self.pair("source")
            names.append(name or f"CH{number + 1}")
            scales.append(scale)
        common = VOLT_UNITS.get(self.pair(_VERTICAL).lower(), 1.0)
        return distinct(names), [common if s is None else s for s in scales], [s is not None for s in scales]

    def own_units(self, columns: tuple[int, ...]) -> list[str]:
        """One unit a channel, where the preamble gives as many, above the columns or in their order; else none."""
        units = {cell: text for cell, text in enumerate(self.verticals) if text}
        if len(units) < 2:
            return []
        if set(columns[1:]) <= set(units):
            return [units[c] for c in columns[1:]]
        return list(units.values()) if len(units) == len(columns) - 1 else []

    def _name_and_scale(self, column: int) -> tuple[str, float | None]:
        name, scale = "", None
        for text in self.above(column):
            front, unit = split_title(text)
            factor = volts_of(text)
            scale = factor if scale is None else scale
            if len(self.rows) > 1 and (text.lower() in TYPES or (factor is not None and not unit)):
                continue
            name = name or (text if factor is None else front)
        return name, scale

    @property
    def states_volts(self) -> bool:
        """Does the preamble give a unit of volts?"""
        return self.pair(_VERTICAL).lower() in VOLT_UNITS


def volt_titles(table: list[list[str]], lines: list[int], start: int, beside: int) -> VoltTitles:
    """From all lines taken apart, of which those from ``start`` on are rows; ``lines`` are their numbers, from 0.

    The first ``beside`` rows have a preamble in their first cells.
    """
    above = table[:start]
    count = int(bool(above) and not is_pair(above[-1]))
    if count and len(above) > 1 and not is_pair(above[-2]) and are_units(above[-1], above[-2]):
        count = 2
    first = start - count
    pairs: dict[str, tuple[str, int]] = {}
    for k in (*range(first), *range(start, min(len(table), start + beside))):
        cells = table[k]
        if len(cells) > 1 and cells[0] and not NUMBER.fullmatch(cells[0]):
            pairs.setdefault(cells[0].lower(), (cells[1], lines[k]))
    strays = tuple((lines[k], c, text) for k in range(first) for c, text in _strays(table[k]))
    verticals = next((["", *cells[1:]] for cells in above[:first] if cells[0].lower() == _VERTICAL), [])
    rows = tuple(above[first:])
    return VoltTitles(rows, tuple(lines[first:start]), pairs, strays, *start_and_increment(above), verticals)


def _strays(cells: list[str]) -> list[tuple[int, str]]:
    """Units other than V and s, and names of units, that stand elsewhere than in a pair of name and unit."""
    own, known = cells[0].lower(), (_VERTICAL, _HORIZONTAL)
    paired = own in known and len(filled(cells)) == 2
    if paired or (own == _VERTICAL and all(not text or text.lower() in VOLT_UNITS for text in cells[1:])):
        return []
    named = [(c, text) for c, text in enumerate(cells) if any(name in text.lower() for name in known)]
    # units of other things that a preamble states are none, but for the names of units with a letter or two changed
    torn = is_unit(own) or any(k.startswith(own) or k.endswith(own) or edits(own, k) < 3 for k in known)
    if not named and not torn:
        return []
    return named + [
        (c, text)
        for c, text in enumerate(cells)
        if VOLT_UNITS.get(text.lower(), 1.0) != 1.0 or time_unit_ps(text) not in (None, PS_PER_S)
    ]


def wrong_unit(head: Head, titles: VoltTitles, columns: tuple[int, ...]) -> MalformedCapture | None:
    """The error to raise where a unit of volts is not known or names are missing, unless a person says what the columns
    are."""
    for line, cell, found, expected in _problems(head, titles, columns):
        return MalformedCapture(head.path, line=line + 1, column=cell + 1, found=found, expected=expected, do=_DO)
    return None


def _problems(head: Head, titles: VoltTitles, columns: tuple[int, ...]) -> Iterator[tuple[int, int, str, str]]:
    """Line, cell, what was found and what was expected."""
    rows = list(zip(titles.rows, titles.lines, strict=True))
    if rows and titles.index is not None:
        names, values = len(filled(titles.rows[0])), len(filled(titles.rows[-1]))
        if values > names:
            yield titles.lines[-1], names, f"{values} cells below {names} names", "one value below each name"
    short = next(((len(cells), line) for cells, line in rows if 2 <= len(cells) <= columns[-1]), None)
    if short is not None and comment_text(head.lines[short[1]]) is None:
        count, line = short
        yield line, count - 1, f"{count} cells above rows of {columns[-1] + 1}", "one for each column"
    for place, (cells, line) in enumerate(rows):
        for column in (c for c in columns[1:] if c < len(cells)):
            text = cells[column]
            if bad := wrong_volts(text):
                yield line, column, bad, KNOWN_VOLTS
            if place == 1 and text and not is_unit(text):
                yield line, column, f"the unit {text[:40]!r}", KNOWN_VOLTS
        number = next((c for c, text in enumerate(cells) if NUMBER.fullmatch(text) and "." in text), None)
        if number is not None and titles.index is None:
            yield line, number, f"{cells[number][:40]!r} among the names", "names, above rows of their own"
        united = any(volts_of(cells[c]) for c in columns[1:] if c < len(cells))
        for c in (c for c in range(len(cells)) if c not in columns):
            if "bracket" in (bad := wrong_volts(cells[c])):
                yield line, c, bad, KNOWN_VOLTS
            if volts_of(cells[c]) and not united:
                yield line, c, f"{cells[c][:40]!r} above a column without numbers", "it above its numbers"
    if _VERTICAL in titles.pairs:
        value, line = titles.pairs[_VERTICAL]
        several = len(list(filter(None, titles.verticals)))
        if not titles.states_volts:
            yield line, 1, f"{value[:40]!r} as vertical units", KNOWN_VOLTS
        if several > 1 and not titles.own_units(columns):
            yield line, 1, f"{several} units above {len(columns) - 1} channels", "one, or one a channel"
    if not any(volts_of(text) for cells, _ in rows for text in cells):
        for line, cell, text in titles.strays:
            if text.lower() in VOLT_UNITS or _VERTICAL in text.lower():
                found = f"{text[:40]!r} above the rows, which is no unit behind a name that is known"
                yield line, cell, found, "'Vertical Units' and the unit, in two cells"
