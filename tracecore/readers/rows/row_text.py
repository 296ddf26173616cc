"""One row of logic cells taken apart, byte by byte; the slow and plain reading that the fast one learns from."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from tracecore.capture import UNKNOWN
from tracecore.readers.refusals import BadRow, shown

_TIME = {
    mark: re.compile(rb'[ \t]*"?([+-]?)(\d+)(?:' + mark + rb'(\d*))?(?:[eE]([+-]?\d{1,3}))?"?[ \t]*')
    for mark in (rb"\.", rb",")
}
_TIME_BEGUN = {
    mark: re.compile(rb'[ \t]*"?[+-]?(\d+(' + mark + rb'\d*)?([eE][+-]?\d{0,3})?)?"?[ \t]*') for mark in _TIME
}
_LARGEST_DIGITS = 18


@dataclass(frozen=True, slots=True)
class RowLayout:
    """What every data row holds: ``columns`` cells, after a time in units of 10**``unit`` ps where ``timed``.

    ``rate_hz`` is given where the times are to be checked against a stated rate, ``printed_ps`` being their
    last printed digit. ``decimal`` is what stands before the decimals, ``time_cell`` the cell of the time, from 0.
    """

    columns: int
    timed: bool
    unit: int
    delimiter: bytes
    first_line: int
    rate_hz: Fraction | None = None
    printed_ps: int = 1
    decimal: bytes = b"."
    time_cell: int = 0


@dataclass(frozen=True, slots=True)
class TimeText:
    """A printed time: picoseconds, offsets of its digits in the text, power of ten of the last digit, sign."""

    time_ps: int = 0
    digits: tuple[int, ...] = ()
    scale: int = 0
    sign: int = 1


@dataclass(frozen=True, slots=True)
class SplitRow:
    """One row taken apart: its time, levels 0, 1 or 2, and the offset of each cell's letter (-1 where it is empty)."""

    time: TimeText
    levels: tuple[int, ...]
    cells: tuple[int, ...]


def split_row(row: bytes, layout: RowLayout) -> SplitRow:
    """Takes a row apart. Raises BadRow with the cell where it does not fit.

    >>> split_row(b"1.5,0,X", RowLayout(2, True, 3, b",", 1)).levels
    (0, 2)
    """
    check_quotes(row)
    parts = row.rstrip(b"\r").split(layout.delimiter)
    wanted = layout.columns + layout.timed
    if len(parts) == wanted + 1 and not parts[-1].strip(b' \t"'):
        parts.pop()  # a trailing delimiter
    if len(parts) != wanted:
        raise BadRow(f"{len(parts)} cell{'s' if len(parts) > 1 else ''}", f"{wanted} as in the first row")
    time = TimeText()
    start = 0
    if layout.timed:
        time = split_time(parts[0], layout.unit, layout.decimal)
        start = len(parts[0]) + 1
    levels, cells = [], []
    for column, part in enumerate(parts[layout.timed :], start=1 + layout.timed):
        level = cell_level(part, layout.timed)
        if level is None:
            raise BadRow(f"{shown(part)} in a cell", "0 or 1", column)
        levels.append(level)
        letter = part.strip(b' \t"')
        cells.append(start + part.index(letter) if letter else -1)
        start += len(part) + 1
    return SplitRow(time, tuple(levels), tuple(cells))


def check_quotes(row: bytes) -> None:
    """Raises BadRow for a quote without its pair: no cell of a row goes on in the next line."""
    if row.count(b'"') % 2:
        raise BadRow("a quote without its pair", "quotes in pairs, or none")


def cell_level(cell: bytes, unknown_allowed: bool) -> int | None:
    """Level of a cell; None where it is neither 0 nor 1 (nor X, Z or empty where those are allowed)."""
    text = cell.strip(b' \t"')
    if text in (b"0", b"1"):
        return text[0] - 48
    return UNKNOWN if unknown_allowed and text in (b"", b"x", b"X", b"z", b"Z") else None


def split_time(text: bytes, unit: int, decimal: bytes = b".") -> TimeText:
    """A printed time in units of 10**``unit`` ps, rounded half up to whole ps. Raises BadRow."""
    match = _TIME[re.escape(decimal)].fullmatch(text)
    if match is None:
        raise BadRow(f"{shown(text)} as time", "a number", 1)
    digits = (*range(*match.span(2)), *(range(*match.span(3)) if match[3] else ()))
    scale = unit - len(match[3] or b"") + int(match[4] or 0)
    sign = -1 if match[1] == b"-" else 1
    number = int(match[2] + (match[3] or b""))
    if number and len(str(number)) + scale > _LARGEST_DIGITS:
        raise BadRow(f"{shown(text)} as time", "a time below 10^18 ps (11 days)", 1)
    if scale >= 0:
        size = number * 10**scale if number else 0
    else:
        half = 10**-scale // 2
        size = (number + half) // 10**-scale
    return TimeText(sign * size, digits, scale, sign)


def is_cut_short(row: bytes, layout: RowLayout, empty_is_cut: bool) -> bool:
    """Is this the front part of a row that would have fitted? ``empty_is_cut``: an empty last cell counts as cut."""
    parts = row.rstrip(b"\r").split(layout.delimiter)
    wanted = layout.columns + layout.timed
    if len(parts) > wanted or (len(parts) == wanted and (parts[-1].strip() or not empty_is_cut)):
        return False
    shape = (_TIME if len(parts) > 1 else _TIME_BEGUN)[re.escape(layout.decimal)]
    if layout.timed and not shape.fullmatch(parts[0]):
        return False
    cells = parts[layout.timed :]
    whole, last = cells[:-1], cells[-1:]
    return all(cell_level(c, layout.timed) is not None for c in whole) and all(
        cell_level(c, True) is not None or c.strip() == b'"' for c in last
    )
