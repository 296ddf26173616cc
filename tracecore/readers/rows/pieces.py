"""A file in pieces of whole lines, so that memory holds the numbers and not the text as well.

A last row without a line end may be the front part of a longer one: ``340`` may have been ``3400``, and no length of
the rows above tells. It is left out, and told, unless no letter of it can be missing.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterator

import numpy as np

from tracecore.capture import UNKNOWN
from tracecore.errors import MalformedCapture
from tracecore.readers.recognise.cells import time_ps
from tracecore.readers.refusals import CORRECT_LINE, END_LINE, BadRow, bad_row
from tracecore.readers.rows.row_values import RowValues
from tracecore.readers.source import Source

PIECE = 2 << 20
LONGEST_LINE = 1 << 20
_TAIL = 1 << 10
_FIRST = 500
_SAY = "Say another kind of this column (--column), or correct this line."
_MARKER = re.compile(rb'^[ \t",;]*[A-Z]{2}[A-Z0-9_ -]*[ \t",;\r]*\n', re.MULTILINE)


def without_markers(piece: bytes) -> tuple[bytes, list[tuple[int, str]]]:
    """Rows without the lines of capital letters among them, and these lines, each with the rows before it.

    >>> without_markers(b"0,1\\nTRIGGER,\\n1,1\\n")
    (b'0,1\\n1,1\\n', [(1, 'TRIGGER')])
    """
    if np.frombuffer(piece, np.uint8).max(initial=0) < ord("A"):
        return piece, []
    kept, markers, at, rows = [], [], 0, 0
    for found in _MARKER.finditer(piece):
        kept.append(piece[at : found.start()])
        rows += kept[-1].count(b"\n")
        markers.append((rows, found[0].strip(b' \t\r\n",;')[:40].decode()))
        at = found.end()
    return b"".join([*kept, piece[at:]]), markers


class Pieces:
    """Yields whole lines, without blank ones at the end of the file. Keeps the first times and the last one as texts,
    the date of the first, and what is wrong with the last row."""

    def __init__(self, source: Source, values: RowValues) -> None:
        self.source, self.values, self.plan = source, values, values.plan
        self.first_times: list[str] = []
        self.last_time = self.zero = ""
        self._begun = self._cut = False
        self._hollow = self._delimiters = 0
        self._misfit: BadRow | None = None
        self._last_row = b""
        self._lengths: set[int] = set()

    def __iter__(self) -> Iterator[bytes]:
        text = self.source.take_head()[self.source.skip_lines(self.plan.data_line) :]
        width = 1
        # where rows are as long as the last one, a piece ends with a row, and nothing of it need be copied
        while more := self.source.read(PIECE + -(len(text) + PIECE) % width):
            # blank lines, and rows of delimiters, at the end wait for what follows them
            solid = self._solid(more)
            cut = (more.find(b"\n", solid) + 1 or more.rfind(b"\n", 0, solid) + 1) if solid else 0
            if not cut or len(text) + len(more) < PIECE // 2:
                text += more
                if len(text) - text.rfind(b"\n") > LONGEST_LINE:
                    self._misfit = BadRow(f"a line longer than {LONGEST_LINE} bytes", "a row of cells")
                    text = text[: text.rfind(b"\n") + 1]
                    break
                continue
            # joined once, as copies of large pieces cost as much as reading them
            piece = b"".join((text, memoryview(more)[:cut])) if text or cut < len(more) else more
            self._look(piece)
            yield piece
            text, width = more[cut:], len(self._last_row) + 1
        if text := self._without_cut_row(text):
            self._look(text)
            yield text

    def wrong(self, line: int, bad: BadRow) -> MalformedCapture:
        """The error for a row."""
        do = CORRECT_LINE if bad.column is None else _SAY
        return bad_row(self.source.path, line, bad.found, bad.expected, bad.column, do)

    def end(self, line: int) -> tuple[str, ...]:
        """What to tell of the last row, which stands at ``line``, once all before it are read. Raises MalformedCapture
        where it is wrong."""
        line += self._hollow
        if self._misfit is not None:
            raise self.wrong(line, self._misfit)
        if not self._begun:
            found = "one row only, without a line end, which may be cut short"
            raise bad_row(self.source.path, line, found, "whole rows", do=END_LINE)
        notes: tuple[str, ...] = ()
        if self._delimiters:
            rows_are = "1 row that holds" if self._delimiters == 1 else f"{self._delimiters} rows that hold"
            notes += (f"At the end {rows_are} delimiters alone: left out.",)
        if self._cut:
            notes += (f"The last row (line {line}) has no line end, may be cut short, and is left out.",)
        return notes

    def _look(self, piece: bytes) -> None:
        time, last = self.values.time, self.values.last
        cell = time.cell if time is not None else 0
        if not self._begun:
            self._begun = True
            self.values.carriage = piece[: piece.index(b"\n")].endswith(b"\r")
            rows = [self.values.cells(row) for row in piece.split(b"\n", _FIRST)[:_FIRST] if time and row.strip()]
            self.first_times = [cells[cell] for cells in rows if cell < len(cells)] or [""]
            if time is not None and time.form == "date":
                # a damaged one is told when the row is read
                with contextlib.suppress(ValueError):
                    self.values.zero_ps, self.zero = time_ps(self.first_times[0], "date")[0], self.first_times[0]
        self._last_row = piece[piece.rfind(b"\n", 0, -1) + 1 : -1]
        if time is not None:
            cells = self.values.cells(self._last_row)
            self.last_time = cells[cell] if cell < len(cells) else ""
        if last.kind == "word" and len(self._lengths) < 2:
            rows = [self.values.cells(row) for row in piece[-4096:].split(b"\n")[-20:-1]]
            self._lengths.update(len(cells[last.cell]) for cells in rows if len(cells) > last.cell)

    def _without_cut_row(self, text: bytes) -> bytes:
        """The last lines, with a line end, without a row that may be cut short."""
        at = text.rfind(b"\n") + 1
        above = self._filled(text[:at])
        if not text[at:].strip():
            return above
        if above:
            self._look(above)
        end = b"\r\n" if self.values.carriage else b"\n"
        row = text[at:].removesuffix(end[:-1])
        cells = self.values.cells(row)
        if len(cells) > self.plan.width and not self.values.closable:
            # a delimiter may stand behind the last cell of this row alone
            row = row.removesuffix(self.values.delimiter)
        misfit = None
        try:
            self.values.of_row(row + end[:-1])
        except BadRow as bad:
            misfit = bad
        if self.values.marked and _MARKER.fullmatch(row + b"\n"):
            misfit = None
        elif misfit is None and not self._is_whole(cells):
            self._cut = True
        elif misfit is not None and (row.count(b'"') % 2 or (b"\r" not in row and self.values.may_go_on(cells))):
            self._cut, misfit = True, None
        self._misfit = misfit
        return above if self._cut or misfit is not None else text[:at] + row + end

    def _solid(self, text: bytes) -> int:
        """Length without what rows that hold nothing consist of, at the end; only what may be that is copied."""
        nothing, tail = self.values.delimiter + b' \t\r\n"', text[-_TAIL:]
        whole = len(text) - len(tail) + len(tail.rstrip(nothing))
        return whole if tail.strip(nothing) else len(text.rstrip(nothing))

    def _filled(self, text: bytes) -> bytes:
        """Whole lines without those at the end that are blank or hold delimiters alone."""
        solid = self._solid(text)
        end = text.find(b"\n", solid) + 1 if solid else 0
        if text.count(b'"', end) % 2:
            end = len(text)  # a quote without its pair is damage
        hollow = text[end:].split(b"\n")
        self._hollow, self._delimiters = len(hollow) - 1, sum(bool(line.strip()) for line in hollow)
        return text[:end]

    def _is_whole(self, cells: list[str]) -> bool:
        """Does a delimiter stand behind the last cell, or is that logic, or a word as long as all others?"""
        last = self.values.last
        if len(cells) > last.cell + 1:
            return True
        if last.kind == "word":
            return self._lengths == {len(cells[last.cell])}
        if last.kind != "logic" or cells[last.cell]:
            return last.kind == "logic"
        # an empty cell is a level not known yet only where none was known in the row above either
        row = self.values.cells(self._last_row)
        alike = len(row) == len(cells) or (self.values.closable and len(row) > last.cell)
        return alike and self.values.level(last, row[last.cell]) == UNKNOWN
