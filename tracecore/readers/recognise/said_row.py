"""Where a person said that the rows begin: what of the lines above is names and units, and what is passed over.

Samples;24000             a preamble, which is no error whatever stands there
Time [us];CLK;BUS         the nearest line above with as many cells as the rows
0,05;1;3F                 passed over where the rows are said to begin in the line below
0,10;0;3F
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from tracecore.errors import UnknownCapture
from tracecore.quantities import time_unit_ps
from tracecore.readers.headings.titles import TIME_WORD, are_units, is_unit_word, split_title
from tracecore.readers.plan.words import is_word
from tracecore.readers.recognise.cells import LOGIC_CELLS, NUMBER, filled, is_level_word
from tracecore.readers.source import Head, comment_text

_ROWS_LOOKED_AT = 60


def with_first_row(head: Head, said: int) -> Head:
    """The head of a file of which a person said that the first row is in line ``said``, counted from 1, or below it
    where that line is blank, a comment, names or units.

    Lines between the names and that row are blank then, but for one of units; so are those above it where there are no
    names, but for pairs of a name and a value. Raises UnknownCapture where no row stands from that line on.
    """
    lines = [i for i, text in enumerate(head.lines) if text.strip() and comment_text(text) is None]
    above, below = [i for i in lines if i < said - 1], [i for i in lines if i >= said - 1]
    names = _names(head, above, below)
    if len(below) > 1 and _is_heading(head.cells(below[0]), _columns(head, below[1:]), names is not None):
        names = below.pop(0)
    if names is not None and len(below) > 1 and all(map(is_unit_word, head.cells(below[0]))):
        above.append(below.pop(0))
    if not below:
        raise UnknownCapture(
            head.path,
            found=f"no row from line {said} on",
            expected="the first row of data there",
            do="Say another line (--first-row).",
        )
    new = list(head.lines)
    between = [i for i in above if names is None or i > names]
    for i in between:
        cells = head.cells(i)
        kept = i == between[-1] and names is not None and are_units(cells, head.cells(names))
        if names is None:
            kept = len(filled(cells)) == 2 and bool(cells[0]) and not TIME_WORD.fullmatch(cells[0])
        new[i] = new[i] if kept else ""
    return replace(head, lines=tuple(new), first_row=below[0])


def _names(head: Head, above: Sequence[int], below: Sequence[int]) -> int | None:
    """The nearest line above with as many cells as the rows, which is no row; or one of start and increment."""
    columns = _columns(head, below)
    closed = bool(columns) and len(columns) > 1 and not any(columns[-1])
    widths = {len(columns), len(columns) - closed}
    for i in reversed(above):
        cells = head.cells(i)
        increments = {"start", "increment"} <= {cell.lower() for cell in cells}
        if increments or ({len(cells), len(filled(cells))} & widths and not _is_row(cells, columns)):
            units = all(map(is_unit_word, cells)) and any(len(head.cells(j)) == len(cells) for j in above if j < i)
            if not units:
                return i
    return None


def _columns(head: Head, lines: Sequence[int]) -> list[tuple[str, ...]]:
    """The cells of the first rows by columns, of rows as wide as most."""
    rows = [head.cells(i) for i in lines[:_ROWS_LOOKED_AT]]
    if not rows:
        return []
    width = Counter(map(len, rows)).most_common(1)[0][0]
    return list(zip(*(row for row in rows if len(row) == width), strict=True))


def _is_row(cells: Sequence[str], columns: Sequence[tuple[str, ...]]) -> bool:
    """Does each cell, one of them a number, look like those below it?"""
    if not any(NUMBER.fullmatch(cell) or _is_stamp(cell, own) for cell, own in zip(cells, columns, strict=False)):
        return False
    return all(_fits(cell, own) for cell, own in zip(cells, columns, strict=False))


def _is_heading(cells: Sequence[str], columns: Sequence[tuple[str, ...]], named: bool) -> bool:
    """Does a line begin with a name and a unit of time? Or, where no names are above it, are half of its cells, and two
    at least, none of those that stand below them? A damaged row has one or two."""
    if len(cells) not in (len(columns), len(columns) - 1):
        return False
    name, unit = split_title(cells[0])
    if named or (name and time_unit_ps(unit) is not None):
        return bool(name) and time_unit_ps(unit) is not None
    odd = [not _fits(cell, own) for cell, own in zip(cells, columns, strict=False) if cell]
    return sum(odd) >= max(2, len(odd) / 2) and not cells[0][:1].isdecimal()


def _fits(cell: str, below: tuple[str, ...]) -> bool:
    if not cell or NUMBER.fullmatch(cell) or cell in LOGIC_CELLS or _is_stamp(cell, below):
        return True
    if is_level_word(cell):
        return any(map(is_level_word, below))
    return is_word(cell) and any(is_word(b) and not NUMBER.fullmatch(b) and b not in LOGIC_CELLS for b in below)


def _is_stamp(cell: str, below: tuple[str, ...]) -> bool:
    """A date or a number with its unit, as those below."""
    return cell[:1].isdecimal() and not is_word(cell) and all(b[:1].isdecimal() and not is_word(b) for b in below)
