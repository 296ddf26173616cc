"""Cells that make a line a row of logic, and lines that look like one and are names."""

from __future__ import annotations

import itertools
import re

from tracecore.readers.source import Head

NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
LOGIC_CELLS = frozenset(("", *"01xXzZ"))
LOOKED_AT = 1000


def is_row(cells: list[str]) -> bool:
    """Numbers in all cells (unknown ones aside), the first one included."""
    return bool(NUMBER.fullmatch(cells[0])) and all(NUMBER.fullmatch(c) or c in LOGIC_CELLS for c in cells)


def is_logic(cells: list[str]) -> bool:
    """Unknown ones among them; the first cell may be a time."""
    if not all(c in LOGIC_CELLS for c in cells[1:]):
        return False
    # a row of blanks and X alone is no row of data
    alone = len(cells) == 1
    return cells[0] in ("0", "1") if alone else bool(NUMBER.fullmatch(cells[0]))


def counts_up(head: Head, line: int) -> bool:
    """Names such as 0,1,2,3 above rows of logic cells."""
    cells = [c for c in head.cells(line) if c]
    if len(cells) < 3 or any(not c.isdecimal() for c in cells) or line + 1 >= len(head.lines):
        return False
    numbers = [int(c) for c in cells]
    return all(b - a == 1 for a, b in itertools.pairwise(numbers)) and is_logic(head.cells(line + 1))


def open_ended(cells: list[str], title: list[str]) -> list[str]:
    """The cells without an empty one behind a trailing delimiter."""
    closed = len(cells) > 1 and not cells[-1] and len(cells) != len(title)
    return cells[:-1] if closed else cells
