"""Cells of the CSV files that the program writes: words in them begin no formula, and come back as they were.

Common spreadsheets work out a cell that begins with one of a few characters, whatever it is meant for, and an
apostrophe before it makes it text (common practice).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable

Cell = str | int | float | None
_FORMULA = re.compile("'*[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]")
"""The last four are the same in the wide letters of East Asia, which some spreadsheets take for them."""
_NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")


def guarded(text: str) -> str:
    """A cell of words for a CSV file: one that a spreadsheet would work out gets an apostrophe before it.

    >>> guarded("=1+1"), guarded("-WAIT"), guarded("-12.5"), guarded("D03")
    ("'=1+1", "'-WAIT", '-12.5', 'D03')
    """
    return f"'{text}" if _FORMULA.match(text) and not _NUMBER.fullmatch(text) else text


def unguarded(cell: str) -> str:
    """What ``guarded`` was given.

    >>> unguarded("'-WAIT"), unguarded("'s"), unguarded("-WAIT")
    ('-WAIT', "'s", '-WAIT')
    """
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def csv_text(columns: Iterable[str], rows: Iterable[Iterable[Cell]], line_end: str = "\n") -> str:
    """A CSV file (RFC 4180 but for ``line_end``): numbers as they are, words guarded, None as an empty cell."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator=line_end)
    writer.writerow(columns)
    for row in rows:
        writer.writerow([guarded(cell) if isinstance(cell, str) else cell for cell in row])
    return out.getvalue()
