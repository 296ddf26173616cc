"""A file in pieces of whole lines, so that memory holds the numbers and not the text as well.

A last row without a line end may be the front part of a longer one: ``340`` may have been ``3400``, and no length of
the rows above tells. It is left out, and told, unless no letter of it can be missing.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator

import numpy as np

from tracecore.errors import MalformedCapture
from tracecore.readers.recognise.cell_forms import time_ps
from tracecore.readers.recognise.first_row import END_LINE
from tracecore.readers.refusals import CORRECT_LINE, BadRow, bad_row
from tracecore.readers.rows.row_values import RowValues
from tracecore.readers.source import Source

PIECE = 1 << 21
_TAIL = 1 << 10
_FIRST = 500
_SAY = "Say another kind of this column (--column), or correct this line."


def counted(piece: bytes, letter: bytes) -> int:
    """How often a letter stands in a piece."""
    # comparing in numpy counts several times as fast as bytes.count where the letter is frequent
    return int(np.count_nonzero(np.frombuffer(piece, np.uint8) == letter[0]))


def _solid(text: bytes) -> int:
    """Length without white space at the end; only what may be white is copied."""
    tail = text[-_TAIL:]
    return len(text) - len(tail) + len(tail.rstrip()) if tail.strip() else len(text.rstrip())


def _ended(text: bytes) -> bytes:
    """Whole lines without blank ones at the end."""
    # a tab may be the delimiter behind the last cell
    solid = text.rstrip(b"\r\n ")
    end = b"\r\n" if b"\r" in text[len(solid) :].partition(b"\n")[0] else b"\n"
    return solid + end if solid else b""


class Pieces:
    """Yields whole lines, the number of the first and how many they are, without blank lines at the end of the file.
    Keeps the first times and the last one as texts, the date of the first, and what to tell of the last row."""

    def __init__(self, source: Source, values: RowValues) -> None:
        self.source, self.values, self.plan = source, values, values.plan
        self.first_times: list[str] = []
        self.last_time = self.zero = ""
        self.notes: tuple[str, ...] = ()
        self._lengths: set[int] = set()

    def __iter__(self) -> Iterator[tuple[bytes, int, int]]:
        text = self.source.take_head()[self.source.skip_lines(self.plan.data_line) :]
        line = self.plan.data_line + 1
        while more := self.source.read(PIECE):
            # blank lines at the end wait for what follows them
            cut = more.rfind(b"\n", 0, _solid(more)) + 1
            if not cut or len(text) + len(more) < PIECE // 2:
                text += more
                continue
            # joined once, as copies of large pieces cost as much as reading them
            piece = b"".join((text, memoryview(more)[:cut]))
            self._look(piece)
            rows = counted(piece, b"\n")
            yield piece, line, rows
            line += rows
            text = more[cut:]
        if text := self._without_cut_row(text, line):
            self._look(text)
            yield text, line, counted(text, b"\n")
        elif not self.first_times:
            found = "one row only, without a line end, which may be cut short"
            raise bad_row(self.source.path, line, found, "whole rows", do=END_LINE)

    def wrong(self, line: int, bad: BadRow) -> MalformedCapture:
        """The error for a row."""
        do = CORRECT_LINE if bad.column is None else _SAY
        return bad_row(self.source.path, line, bad.found, bad.expected, bad.column, do)

    def _look(self, piece: bytes) -> None:
        time, last = self.values.time, self.values.last
        cell = time.cell if time is not None else 0
        if not self.first_times:
            self.values.carriage = piece[: piece.index(b"\n")].endswith(b"\r")
            rows = [self.values.cells(row) for row in piece.split(b"\n", _FIRST)[:_FIRST] if row.strip()]
            self.first_times = [cells[cell] for cells in rows if cell < len(cells)] or [""]
            if time is not None and time.form == "date":
                # a damaged one is told when the row is read
                with contextlib.suppress(ValueError):
                    self.values.zero_ps, self.zero = time_ps(self.first_times[0], "date")[0], self.first_times[0]
        cells = self.values.cells(piece[piece.rfind(b"\n", 0, -1) + 1 : -1])
        self.last_time = cells[cell] if cell < len(cells) else ""
        if last.kind == "word" and len(self._lengths) < 2:
            rows = [self.values.cells(row) for row in piece[-4096:].split(b"\n")[-20:-1]]
            self._lengths.update(len(cells[last.cell]) for cells in rows if len(cells) > last.cell)

    def _without_cut_row(self, text: bytes, line: int) -> bytes:
        """The last lines, with a line end, without a row that may be cut short."""
        if text.endswith(b"\n") or not text.strip():
            return _ended(text)
        at = text.rfind(b"\n") + 1
        line += text.count(b"\n", 0, at)
        if at:
            self._look(text[:at])
        end = b"\r\n" if self.values.carriage else b"\n"
        cells = self.values.cells(text[at:])
        # a delimiter may stand behind the last cell of this row alone
        row = text[at:].removesuffix(self.plan.delimiter.encode()) if len(cells) > self.plan.width else text[at:]
        misfit = self._misfit(row + end[:-1])
        wrong = len(cells) > self.plan.width or self._misfit(cells[:-1]) is not None
        if misfit is not None and wrong and row.count(b'"') % 2 == 0:
            raise self.wrong(line, misfit)
        if misfit is None and self._is_whole(cells, text[:at]):
            return text[:at] + row + end
        self.notes += (f"The last row (line {line}) has no line end, may be cut short, and is left out.",)
        return _ended(text[:at])

    def _misfit(self, row: bytes | list[str]) -> BadRow | None:
        """What is wrong with a row, or with the first cells of one."""
        try:
            if isinstance(row, bytes):
                self.values.of_row(row)
            else:
                self.values.of_cells(row)
        except BadRow as bad:
            return bad
        return None

    def _is_whole(self, cells: list[str], above: bytes) -> bool:
        """Does a delimiter stand behind the last cell, or is that logic, or a word as long as all others?"""
        last = self.values.last
        if len(cells) > last.cell + 1:
            return True
        if last.kind == "word":
            return self._lengths == {len(cells[last.cell])}
        if last.kind != "logic" or cells[last.cell]:
            return last.kind == "logic"
        # an empty cell is a level not known yet only where the row above had none either
        row = self.values.cells(above[above.rfind(b"\n", 0, -1) + 1 : -1])
        return len(row) == len(cells) and not row[last.cell]
