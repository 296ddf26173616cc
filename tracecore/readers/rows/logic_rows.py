"""Rows of logic cells, with or without a time in front, to transitions; every byte is checked.

    0,1,0,1              rows of one template: each cell a letter 0 or 1, each other byte as in the first row
    0,1,1,1
    0.000000125,X,1      with a time, whose digits may change, and with a level that is not known yet

One row is read by itself and makes a template; many rows of one width form a matrix for free and are compared
with it at once. Where the layout changes (a digit more, a sign, an exponent, an unknown cell) the next row is read
by itself again and makes a new template, or an error that names its line. Where it changes all the
time, the lines are grouped by template.
"""

from __future__ import annotations

import re

import numpy as np

from tracecore.capture import UInt8
from tracecore.errors import MalformedCapture
from tracecore.readers.hashed_file import HASHED_LATER
from tracecore.readers.refusals import BadRow, bad_row
from tracecore.readers.rows.row_sink import RowSink
from tracecore.readers.rows.row_template import BLOCK, RowTemplate
from tracecore.readers.rows.row_text import RowLayout, SplitRow, is_cut_short, split_row
from tracecore.readers.rows.rows import Rows
from tracecore.readers.source import Source

LONGEST_LINE = 1 << 16
_MARGIN = 2 * LONGEST_LINE
_MARKER = re.compile(rb"[A-Z]{2}[A-Z0-9_ -]*")
_FEW = 64
_MOST_GROUPED = 8192


def read_rows(source: Source, layout: RowLayout, names: tuple[str, ...]) -> Rows:
    """Reads all rows from line ``layout.first_line`` on, of one channel for each of the ``names``.

    Raises MalformedCapture with line, and column (cell) where one is at fault.
    """
    reading = _Reading(source, layout, source.skip_lines(layout.first_line - 1))
    while reading.buffer.refill() and reading.block():
        pass
    return reading.result(names)


class _Buffer:
    """A window over the file: bytes ``at`` to ``have`` are unread, those from ``low`` on were read before them.

    Rooms take turns, as the hash of a room goes on while the next one is filled.
    """

    def __init__(self, source: Source, skip: int) -> None:
        self.source = source
        self._rooms = [np.empty(_MARGIN + BLOCK + 2, np.uint8) for _ in range(HASHED_LATER + 1)]
        self._enter(self._rooms[0])
        first = source.take_head()[skip:]
        self.low = self.at = _MARGIN - len(first)
        self.have = _MARGIN
        self.view[self.at : self.have] = first
        self.ended = self.open_end = False

    def _enter(self, room: UInt8) -> None:
        self.data = room
        self.view = memoryview(room)  # type: ignore[arg-type]

    def refill(self) -> bool:
        """Moves what is unread, and the line before it, into another room that is filled up; False at the end."""
        self._rooms.append(self._rooms.pop(0))
        start = max(self.low, self.at - LONGEST_LINE)
        rest = self.data[start : self.have]
        self.low, self.have = _MARGIN - len(rest), _MARGIN
        self.at += self.low - start
        room = self._rooms[0]
        room[self.low : self.have] = rest
        self._enter(room)
        while self.have < len(self.data) - 2 and not self.ended:
            count = self.source.read_into(self.view[self.have : len(self.data) - 2])
            self.have += count
            if not count:
                self._end()
        return self.at < self.have

    def _end(self) -> None:
        self.ended = True
        if self.have > self.at and self.data[self.have - 1] != 10:
            self.data[self.have] = 10
            self.have += 1
            self.open_end = True

    @property
    def whole(self) -> int:
        """End of the lines that have an end of their own."""
        if not self.open_end:
            return self.have
        before = bytes(self.view[self.at : self.have - 1]).rfind(b"\n")
        return self.at + before + 1

    def line_length(self) -> int:
        """Length of the next line without its end, or -1 where it is not whole yet."""
        for window in (512, LONGEST_LINE + 1):
            ends = np.flatnonzero(self.data[self.at : min(self.have, self.at + window)] == 10)
            if len(ends):
                return int(ends[0])
        return -1

    def only_blank(self) -> bool:
        """Is there nothing but white space up to the end of the file?"""
        if bytes(self.view[self.at : self.have]).strip():
            return False
        while not self.ended:
            piece = self.source.read(BLOCK)
            self.ended = not piece
            if piece.strip():
                return False
        return True


class _Reading:
    def __init__(self, source: Source, layout: RowLayout, skip: int) -> None:
        self.source, self.layout = source, layout
        self.buffer = _Buffer(source, skip)
        self.sink = RowSink(source.path, layout)
        self.line = layout.first_line
        self.template: RowTemplate | None = None
        self.follows = False  # is the line before the unread ones a row of the template?
        self.reach = _FEW  # rows that are tried at once: more while they fit, few after one that does not
        self.carriage: bool | None = None
        self.markers: list[str] = []
        self.notes: list[str] = []
        # eight bytes more than rows can take, as changes are looked for in words of eight
        self.room = np.empty(len(self.buffer.data) + 8, np.uint8)
        self.other = np.empty(len(self.buffer.data), np.uint8)

    def block(self) -> bool:
        """Works through what is in the buffer; False at the end of the file."""
        buffer = self.buffer
        misses = 0
        while buffer.at < buffer.have:
            tried, fitting = self._matrix()
            if tried and fitting == tried:
                misses = 0
                continue
            length = buffer.line_length()
            if length < 0:
                if buffer.have - buffer.at > LONGEST_LINE:
                    raise self._error(BadRow("a line longer than 65 536 bytes", "a row of cells"))
                return not buffer.ended
            if not self._single(length):
                return False
            misses = misses + 1 if fitting < _FEW else 0
            if misses > 3:
                misses = 0
                self._grouped()
        return not buffer.ended

    def _matrix(self) -> tuple[int, int]:
        """Rows of the template at the front of the buffer: how many were tried, how many fit."""
        template, buffer = self.template, self.buffer
        if template is None:
            return 0, 0
        width = template.width
        tried = min(self.reach, (buffer.whole - buffer.at) // width)
        if tried <= 0:
            return 0, 0
        size = tried * width
        data = buffer.data[buffer.at : buffer.at + size]
        room, other = self.room[:size], self.other[:size]
        by_change = self.follows and not self.layout.timed and buffer.at - buffer.low >= width
        if by_change:
            before = buffer.data[buffer.at - width : buffer.at - width + size]
            fitting = template.changes(data, before, room, other)
        else:
            fitting = template.differences(data, room, other.view(np.bool_))
        if fitting:
            matrix = room[: fitting * width].reshape(fitting, width)
            if not by_change:
                times = template.times_ps(matrix) if self.layout.timed else None
                self.sink.add(template.levels(matrix), times, self.line, binary=template.binary)
            elif (few := template.few_changes(self.room, fitting)) is not None:
                self.sink.add_few_changes(*few, fitting)
            else:
                self.sink.add_changes(template.levels(matrix))
            self._advance(fitting * width, fitting)
        self.follows = fitting > 0 or self.follows
        self.reach = self.reach * 8 if fitting == tried else _FEW
        return tried, fitting

    def _single(self, length: int) -> bool:
        """Reads one line by itself and makes it the template; False where nothing more follows."""
        buffer = self.buffer
        row = bytes(buffer.view[buffer.at : buffer.at + length])
        last_open = buffer.open_end and buffer.at + length + 1 == buffer.have
        self.follows = False
        if not row.strip() and self._only_blank():
            return False
        marker = row.strip(b' \t\r"' + self.layout.delimiter)
        if not self.layout.timed and _MARKER.fullmatch(marker):
            self.markers.append(f"{marker[:40].decode('latin-1')} in line {self.line}")
            self._advance(length + 1, 1)
            return True
        if last_open and self.sink.count and self._cut_short(row):
            return False
        try:
            split = self._split(row, last_open)
        except BadRow as bad:
            raise self._error(bad) from None
        times = np.array([split.time.time_ps], np.int64) if self.layout.timed else None
        self.sink.add(np.array(split.levels, np.uint8)[:, None], times, self.line)
        template = RowTemplate(row, split)
        self.template = template if template.fast else None
        self.follows = self.template is not None
        self._advance(length + 1, 1)
        return True

    def _only_blank(self) -> bool:
        if not self.buffer.only_blank():
            raise self._error(BadRow("a blank line", "a row of cells"))
        self.buffer.at, self.buffer.ended = self.buffer.have, True
        return True

    def _cut_short(self, row: bytes) -> bool:
        # an empty last cell is a level not known yet where the row before had none either
        known = self.sink.last is not None and int(self.sink.last[-1]) < 2
        if not is_cut_short(row, self.layout, known):
            return False
        self.notes.append(f"The last row (line {self.line}) is cut short and is left out.")
        self.buffer.at = self.buffer.have
        return True

    def _split(self, row: bytes, last_open: bool) -> SplitRow:
        ends_so = row.endswith(b"\r")
        if self.carriage is None and not last_open:
            self.carriage = ends_so
        if ends_so != self.carriage and not last_open:
            raise BadRow("another line end than in the rows before", "CR LF throughout or LF throughout")
        return split_row(row, self.layout)

    def _advance(self, size: int, lines: int) -> None:
        self.buffer.at += size
        self.line += lines

    def _error(self, bad: BadRow) -> MalformedCapture:
        return bad_row(self.source.path, self.line, bad.found, bad.expected, bad.column)

    def _grouped(self) -> None:
        """Many whole lines, grouped by template, for files whose layout changes all the time.

        The first line that makes no fast template ends the group; it is read by itself afterwards.
        """
        buffer, columns = self.buffer, self.layout.columns
        ends = np.flatnonzero(buffer.data[buffer.at : buffer.whole] == 10)[:_MOST_GROUPED] + buffer.at
        if len(ends) < _FEW:
            return
        starts = np.concatenate(([buffer.at], ends[:-1] + 1))
        levels = np.empty((columns, len(ends)), np.uint8)
        times = np.empty(len(ends), np.int64)
        left = np.arange(len(ends))
        for _ in range(_FEW):
            if not len(left):
                break
            row = bytes(buffer.view[int(starts[left[0]]) : int(ends[left[0]])])
            try:
                template = RowTemplate(row, self._split(row, False))
            except BadRow:
                break
            if not template.fast:
                break
            group = left[(ends - starts)[left] == template.width - 1]
            matrix = np.lib.stride_tricks.sliding_window_view(buffer.data, template.width)[starts[group]]
            matrix -= template.low
            fits = template.fits(matrix)
            fitting, good = matrix[fits], group[fits]
            levels[:, good] = template.levels(fitting)
            if self.layout.timed:
                times[good] = template.times_ps(fitting)
            left = np.setdiff1d(left, good, assume_unique=True)
        count = int(left[0]) if len(left) else len(ends)
        if count:
            done = np.ascontiguousarray(levels[:, :count])
            self.sink.add(done, times[:count] if self.layout.timed else None, self.line)
            self._advance(int(ends[count - 1]) + 1 - buffer.at, count)
            self.template, self.follows = None, False

    def result(self, names: tuple[str, ...]) -> Rows:
        if self.markers:
            more = "" if len(self.markers) < 4 else f" and {len(self.markers) - 3} more"
            self.notes.append(f"Marker rows without cells are left out: {', '.join(self.markers[:3])}{more}.")
        return self.sink.rows(names, tuple(self.notes))
