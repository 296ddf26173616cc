"""The lines between a heading and its rows: a row glued to the heading, or a heading torn in two, is refused."""

from __future__ import annotations

import re
from collections.abc import Sequence

from tracecore.errors import MalformedCapture
from tracecore.quantities import time_unit_ps
from tracecore.readers.headings.heading_units import is_unit, time_unit_in
from tracecore.readers.source import Head, comment_text

_INDEX = re.compile(r"time|t|timestamp|x|x-axis|index|sample|sequence", re.IGNORECASE)
_LETTERS = re.compile(r"[^\W\d]*")
_LOOKED_AT = 4
_DO = "Correct it, put a ; before it if it is a comment, or say which line is the first row (--first-row)."


def check_lines_above(head: Head, data_line: int, width: int) -> None:
    """Raises MalformedCapture where the line above rows of ``width`` cells has more cells than they have, or where more
    than one line of units stands between the rows and a heading that begins with a word for time."""
    widths = {width, len(filled(head.cells(data_line)))}
    if head.first_row_said:
        return
    lines = [i for i in range(data_line) if head.lines[i].strip() and comment_text(head.lines[i]) is None]
    if not lines:
        return
    for i in lines:
        if head.lines[i].count('"') % 2 and any(c.strip().startswith('"') for c in head.lines[i].split(head.delimiter)):
            raise _wrong(head, i, "a quote without its pair", "quotes in pairs, or none")
    lines = lines[: -_LOOKED_AT - 1 : -1]
    cells = filled(head.cells(lines[0]))
    names = [name.lower() for name in head.cells(lines[1])] if len(lines) > 1 else []
    if "start" in names and "increment" in names:
        # their values stand behind what the rows hold
        cells = cells[: min(names.index("start"), names.index("increment"))]
    if len(cells) > max(width, 1) and width > 1:
        raise _wrong(head, lines[0], f"{len(cells)} cells above rows of {width}", f"{width} names at most")
    heading = next((k for k, line in enumerate(lines) if _is_heading(head.cells(line), widths)), 0)
    if heading and not (heading == 1 and _is_unit_row(head.cells(lines[0]), head.cells(lines[1]))):
        text = head.lines[lines[0]].strip()[:40]
        raise _wrong(head, lines[0], f"{text!r} between the heading and the rows", "units, or nothing")


def filled(cells: Sequence[str]) -> list[str]:
    """The cells up to the last one that is not blank.

    >>> filled(["A", "", "B", "", ""])
    ['A', '', 'B']
    """
    return list(cells)[: max((i for i, cell in enumerate(cells, start=1) if cell), default=0)]


def _is_heading(cells: list[str], widths: set[int]) -> bool:
    """A word for time or index first, behind it as many names as a row has cells."""
    if (
        not widths & {len(cells), len(filled(cells))}
        or len(cells) < 2
        or any(cell[:1].isdecimal() for cell in cells[1:])
    ):
        return False
    return bool(_INDEX.fullmatch(cells[0])) or (time_unit_in(cells[0])[0] is not None and not is_unit(cells[0]))


def _is_unit_row(cells: list[str], names: list[str]) -> bool:
    """As many cells as names, with a unit among them, or all of letters where the times have none yet; or a unit of
    time alone."""
    if len(filled(cells)) == 1 and time_unit_ps(cells[0].strip("()[]")) is not None:
        return True
    words = [name.lower() for name in names]
    if "start" in words and "increment" in words:
        return True  # their values stand below them
    letters = all(_LETTERS.fullmatch(cell) for cell in cells) and time_unit_in(names[0])[0] is None
    return len(cells) == len(names) and (letters or any(map(is_unit, cells)))


def _wrong(head: Head, line: int, found: str, expected: str) -> MalformedCapture:
    return MalformedCapture(head.path, line=line + 1, found=found, expected=expected, do=_DO)
