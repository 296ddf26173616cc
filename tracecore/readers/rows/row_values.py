"""One row of any cells taken apart by its plan, slowly and plainly; the readings of whole pieces learn from it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from tracecore.readers.plan.plan import Column, Plan
from tracecore.readers.plan.words import split_word
from tracecore.readers.recognise.cells import NUMBER, OUT_OF_REACH, parsed_times
from tracecore.readers.refusals import BadRow
from tracecore.readers.rows.row_text import TimeScale, cell_level, split_time
from tracecore.readers.source import split_cells

_FITS = {"volts": "a number of volts", "time": "a number", "logic": "0 or 1", "word": "a word"}
# beyond that, no float32 holds volts
_LARGEST = 3.4028235e38
_AS_ABOVE = "a time written as in the first row"
_BEGUN = re.compile(r"[+-]?(?:\d*(?:[.,]\d*)?(?:[eE][+-]?\d{0,3})?)?")


class RowValues:
    """How a row is taken apart. ``by_number`` are the cells of plain numbers, ``letters`` the columns of levels,
    ``last`` is the last column that is used, of at least ``needed`` cells; ``gaps`` says whether a level may be
    unknown: where rows are changes, an empty cell is one not known yet. Dates count from ``zero_ps``; ``carriage`` says
    that rows end in CR LF, ``marked`` that lines of capital letters may stand among them."""

    def __init__(self, plan: Plan, scale: TimeScale) -> None:
        self.plan, self.scale = plan, scale
        self.time, self.used = plan.time, plan.used
        self.delimiter = plan.delimiter.encode()
        volts = [c.cell for c in plan.volts]
        shown = [self.time.cell] if volts and self.time is not None and self.time.form in ("", "index") else []
        self.by_number = tuple(sorted(shown + volts))
        self.letters = tuple(c for c in self.used if c.kind == "logic")
        self.gaps = self.time is not None and not volts
        self.last = max(self.used, key=lambda c: c.cell)
        self.needed = max([self.last.cell, *(c.cell for c in plan.columns if any(c.cells))]) + 1
        self.closable = plan.letters
        self.marked = self.closable and self.time is None
        self.zero_ps = 0
        self.carriage = False

    def cells(self, row: bytes) -> list[str]:
        """The cells of a row as text, decimals behind a point."""
        return split_cells(row.decode(self.plan.coding, "replace").rstrip("\r"), self.plan.delimiter, self.plan.decimal)

    def spans(self, cells: Sequence[str] | Sequence[bytes]) -> bool:
        """Has a row as many cells as it may have? One of letters, to which none is lost unseen, may be closed by a
        delimiter or not; any other ends as most do, if it has what is needed."""
        count, columns = len(cells), len(self.plan.columns)
        fits = columns <= count <= columns + 1 if self.closable else self.needed <= count <= self.plan.width
        return fits and not any(cell.strip() for cell in cells[columns:])

    def of_row(self, row: bytes) -> list[Any]:
        """The values of a row, for each column that is used. Raises BadRow."""
        if not row.strip():
            raise BadRow("a blank line", "a row of cells")
        if row.count(b'"') % 2:
            raise BadRow("a quote without its pair", "quotes in pairs, or none")
        if row.endswith(b"\r") != self.carriage:
            raise BadRow("another line end than in the rows before", "CR LF throughout or LF throughout")
        if b"\r" in row.removesuffix(b"\r"):
            raise BadRow("a carriage return amid the row", "line ends behind each row alone")
        cells = self.cells(row)
        # an empty cell at the end of a shorter row may be what a delimiter was lost to
        lost = len(cells) < self.plan.width and not cells[min(self.last.cell, len(cells) - 1)] and not self.closable
        if lost or not self.spans(cells):
            width = len(self.plan.columns) if self.closable else self.plan.width
            raise BadRow(f"{len(cells)} cell{'s' if len(cells) > 1 else ''}", f"{width} as in the other rows")
        return self.of_cells(cells)

    def of_cells(self, cells: Sequence[str]) -> list[Any]:
        """The same of the first cells of a row. Raises BadRow."""
        return [self._value(column, cells[column.cell]) for column in self.used if column.cell < len(cells)]

    def may_go_on(self, cells: Sequence[str]) -> bool:
        """Can these be the cells of the front part of a row, the last one cut?"""
        column = self.plan.columns[len(cells) - 1] if len(cells) <= len(self.plan.columns) else None
        try:
            self.of_cells(cells[:-1])
        except BadRow:
            return False
        if column is None or column.kind in ("word", "leave out") or column.form or column.levels:
            return column is not None
        if column.kind == "logic":
            return cell_level(cells[-1].encode("latin-1", "replace"), True) is not None
        return _BEGUN.fullmatch(cells[-1]) is not None

    def level(self, column: Column, cell: str) -> int | None:
        """The level that a cell stands for; None for any other cell."""
        level = dict(column.levels).get(cell.lower())
        return cell_level(cell.encode("latin-1", "replace"), self.gaps) if level is None else level

    def _value(self, column: Column, cell: str) -> Any:
        """Raises BadRow, which names the column."""
        expected = _FITS[column.kind]
        try:
            if column.cell in self.by_number:
                if NUMBER.fullmatch(cell) is None or abs(float(cell) * column.scale + column.offset) > _LARGEST:
                    raise ValueError
                return float(cell)
            if column.kind == "time":
                return self._time(column, cell)
            if column.word is not None:
                text = cell.encode("latin-1", "replace")
                word = split_word(text, column.word, column.cell + 1, self.gaps)
                return word.value, word.unknown, word.digits
            if (level := self.level(column, cell)) is None:
                raise ValueError
            return level
        except BadRow as bad:
            expected = bad.expected
        except ValueError as odd:
            if column.form:
                expected = "a time within 11 days of the first" if odd.args == (OUT_OF_REACH,) else _AS_ABOVE
        found = f"{cell[:40]!r} in the column {column.name!r}, taken for {column.kind}"
        raise BadRow(found, expected, column.cell + 1)

    def _time(self, column: Column, cell: str) -> tuple[int, int]:
        """Picoseconds, or the number of a sample, and the power of ten of its last digit. Raises BadRow, ValueError."""
        if not column.form:
            return split_time(cell.encode("latin-1", "replace"), self.scale.power).time_ps, 0
        if column.form == "index":
            if NUMBER.fullmatch(cell) is None or (number := Fraction(cell)).denominator > 1:
                raise BadRow("", "the whole number of a sample")
            return number.numerator, 0
        times, finest = parsed_times([cell], column.form, self.zero_ps)
        return int(times[0]), finest
