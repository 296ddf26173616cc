"""Rows of logic cells, with or without a time in front, to transitions; every byte is checked.

One idea carries it: a row is compared with a template that holds for each byte a lowest value and an allowed
range (a digit of the time: from '0', 9; a cell: from '0', 1; any other byte: itself, 0). Many rows of one width
form a matrix for free, and the differences to the lowest values are already the digits and levels. Where the
layout changes (a digit more, a sign, an exponent) the row is read by a regular expression and makes a new
template, or an error that names its line. Where it changes all the time, the lines of a block are
grouped by template.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.errors import MalformedCapture
from tracecore.readers.source import Source

BLOCK = 1 << 20
LONGEST_LINE = 1 << 16
_LARGEST_PS = 10**18
_TIME = re.compile(rb'[ \t]*"?([+-]?)(\d+)(?:\.(\d*))?(?:[eE]([+-]?\d{1,3}))?"?[ \t]*')
_MARKER = re.compile(rb"[A-Za-z][A-Za-z0-9_-]*")
_UNKNOWN_CELLS = (b"", b"x", b"X", b"z", b"Z")


@dataclass(frozen=True, slots=True)
class RowLayout:
    """What every data row holds: ``columns`` cells, after a time in units of 10**``unit`` ps where ``timed``."""

    columns: int
    timed: bool
    unit: int
    delimiter: bytes
    first_line: int


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """All rows of a file. ``times`` are row numbers, or picoseconds where the rows carry a time; channel c changes
    at ``times[c]`` to ``levels[c]``, the first entry being the first row. ``last_changes`` says whether
    the last row changed anything."""

    times: list[Int64]
    levels: list[UInt8]
    count: int
    first_ps: int
    last_ps: int
    last_changes: bool
    uneven: bool
    first_steps: Int64
    notes: tuple[str, ...]


class BadRow(ValueError):
    """A row that does not fit: ``column`` counts cells from 1."""

    def __init__(self, found: str, expected: str, column: int | None = None) -> None:
        super().__init__(found)
        self.found, self.expected, self.column = found, expected, column


@dataclass(frozen=True, slots=True)
class _Split:
    """One row taken apart: time in ps, levels, and where digits and cells stand (offset in the row)."""

    time_ps: int
    levels: tuple[int, ...]
    digits: tuple[int, ...]
    scale: int
    sign: int
    cells: tuple[int, ...]


def split_row(row: bytes, layout: RowLayout) -> _Split:
    """Takes a row apart. Raises BadRow with the cell where it does not fit."""
    body = row.rstrip(b"\r")
    parts = body.split(layout.delimiter)
    starts = [0]
    for part in parts[:-1]:
        starts.append(starts[-1] + len(part) + 1)
    wanted = layout.columns + layout.timed
    if len(parts) == wanted + 1 and not parts[-1].strip():
        parts, starts = parts[:-1], starts[:-1]  # a trailing delimiter
    if len(parts) != wanted:
        raise BadRow(f"{len(parts)} cells", f"{wanted} as in the rows before")
    time_ps, scale, sign = 0, 0, 1
    digits: tuple[int, ...] = ()
    if layout.timed:
        time_ps, digits, scale, sign = _split_time(parts[0], layout.unit)
    levels: list[int] = []
    cells: list[int] = []
    for i, (part, start) in enumerate(zip(parts[layout.timed :], starts[layout.timed :], strict=True)):
        cell = part.strip(b' \t"')
        if cell in (b"0", b"1"):
            levels.append(cell[0] - 48)
            cells.append(start + part.index(cell))
        elif layout.timed and cell in _UNKNOWN_CELLS:
            levels.append(UNKNOWN)
        else:
            raise BadRow(f"{_shown(part)} in a cell", "0 or 1", i + 1 + layout.timed)
    return _Split(time_ps, tuple(levels), digits, scale, sign, tuple(cells))


def _split_time(text: bytes, unit: int) -> tuple[int, tuple[int, ...], int, int]:
    match = _TIME.fullmatch(text)
    if match is None:
        raise BadRow(f"{_shown(text)} as time", "a number", 1)
    digits = (*range(*match.span(2)), *(range(*match.span(3)) if match[3] else ()))
    scale = unit - len(match[3] or b"") + int(match[4] or 0)
    sign = -1 if match[1] == b"-" else 1
    number = int(match[2] + (match[3] or b""))
    if scale > 30 or (number and len(str(number)) + scale > 18):
        raise BadRow(f"{_shown(text)} as time", "a time below 10^18 ps (11 days)", 1)
    size = number * 10**scale if scale >= 0 else (number + 10**-scale // 2) // 10**-scale if scale > -40 else 0
    return sign * size, digits, scale, sign


def _shown(text: bytes) -> str:
    return repr(text[:40].decode("latin-1").strip())


class _Template:
    """The layout of one row with its line end."""

    def __init__(self, row: bytes, split: _Split) -> None:
        low = np.frombuffer(row + b"\n", np.uint8).copy()
        span = np.zeros_like(low)
        digits, cells = list(split.digits), list(split.cells)
        low[digits], span[digits] = 48, 9
        low[cells], span[cells] = 48, 1
        self.width = len(low)
        self.row_low, self.row_span = low, span
        self.digits, self.scale, self.sign = split.digits, split.scale, split.sign
        step = set(np.diff(cells).tolist())
        # evenly spaced cells are taken by a slice, which costs no copy
        even = len(cells) < 2 or len(step) == 1
        self.cells: slice | list[int] = slice(cells[0], cells[-1] + 1, step.pop() if step else 1) if even else cells
        # leading zeros aside, a digit string this long may exceed the range
        self.safe = len(digits) + max(0, split.scale) <= 18
        self._low = self._span = low[:0]

    def tiles(self, size: int) -> tuple[UInt8, UInt8]:
        if len(self._low) < size:
            count = max(size, BLOCK) // self.width + 1
            self._low, self._span = np.tile(self.row_low, count), np.tile(self.row_span, count)
        return self._low[:size], self._span[:size]

    def times_ps(self, digits: UInt8) -> Int64:
        times = np.zeros(len(digits), np.int64)
        for place in self.digits:
            times *= 10
            times += digits[:, place]
        if self.scale >= 0:
            times *= self.sign * 10**self.scale
        elif self.scale < -18:
            times[:] = 0
        else:
            unit = 10**-self.scale
            times = self.sign * ((times + unit // 2) // unit)
        return times


class _Sink:
    """Collects transitions; remembers the last levels and the last time between blocks."""

    def __init__(self, path: str, layout: RowLayout) -> None:
        self.path, self.layout = path, layout
        self.times: list[list[Int64]] = [[] for _ in range(layout.columns)]
        self.levels: list[list[UInt8]] = [[] for _ in range(layout.columns)]
        self.count = 0
        self.last: UInt8 | None = None
        self.first_ps = self.last_ps = 0
        self.last_changes = False
        self.step: int | None = None
        self.uneven = False
        self.first_steps: list[Int64] = []

    def add(self, levels: UInt8, times: Int64 | None, line: int) -> None:
        """``levels`` uint8[columns, n]; ``times`` int64[n] or None."""
        n = levels.shape[1]
        if times is not None:
            self._check_times(times, line)
        changed = np.empty(levels.shape, np.bool_)
        np.not_equal(levels[:, 1:], levels[:, :-1], out=changed[:, 1:])
        if self.last is None:
            changed[:, 0] = True
        else:
            np.not_equal(levels[:, 0], self.last, out=changed[:, 0])
        self.last = levels[:, -1].copy()
        self.last_changes = bool(changed[:, -1].any())
        where = np.flatnonzero(changed)
        if len(where):
            cut = where.searchsorted(np.arange(len(levels) + 1) * n).tolist()
            for channel in range(len(levels)):
                if cut[channel] < cut[channel + 1]:
                    row = where[cut[channel] : cut[channel + 1]] - channel * n
                    self.times[channel].append(times.take(row) if times is not None else row + self.count)
                    self.levels[channel].append(levels[channel].take(row))
        self.count += n

    def _check_times(self, times: Int64, line: int) -> None:
        if self.count == 0:
            self.first_ps = self.last_ps = int(times[0])
        steps = np.diff(times, prepend=self.last_ps)
        if int(steps.min()) < 0:
            at = int((steps < 0).argmax())
            raise MalformedCapture(
                self.path,
                line=line + at,
                column=1,
                found="a time before that of the row above",
                expected="times that never run backwards",
                do="Export the capture again, or cut the file here.",
            )
        real = steps[1:] if self.count == 0 else steps
        if len(real):
            self.step = int(real[0]) if self.step is None else self.step
            # one printed unit either way is rounding, not unevenness
            self.uneven = self.uneven or bool((np.abs(real - self.step) > max(1000, abs(self.step) // 100)).any())
            if sum(map(len, self.first_steps)) < 50_000:
                self.first_steps.append(real[:50_000].copy())
        self.last_ps = int(times[-1])


class _Buffer:
    """A window over the file: bytes ``at`` to ``have`` are unread."""

    def __init__(self, source: Source, skip: int) -> None:
        self.source = source
        self.data = np.empty(BLOCK + LONGEST_LINE + 2, np.uint8)
        self.view = memoryview(self.data)  # type: ignore[arg-type]
        first = source.take_head()[skip:]
        self.view[: len(first)] = first
        self.at, self.have, self.ended, self.open_end = 0, len(first), False, False

    def refill(self) -> None:
        rest = self.have - self.at
        self.data[:rest] = self.data[self.at : self.have]
        self.at, self.have = 0, rest
        while self.have < len(self.data) - 2 and not self.ended:
            piece = self.source.read(len(self.data) - 2 - self.have)
            self.view[self.have : self.have + len(piece)] = piece
            self.have += len(piece)
            if not piece:
                self.ended = True
                if self.have and self.data[self.have - 1] != 10:
                    self.data[self.have] = 10
                    self.have += 1
                    self.open_end = True

    def line_end(self) -> int:
        """Length of the next line without its end, or -1 where it is not whole yet."""
        window = self.data[self.at : min(self.have, self.at + LONGEST_LINE)]
        ends = np.flatnonzero(window == 10)
        return int(ends[0]) if len(ends) else -1

    def only_blank(self, at: int) -> bool:
        if bytes(self.view[at : self.have]).strip():
            return False
        while piece := (b"" if self.ended else self.source.read(BLOCK)):
            if piece.strip():
                return False
        return True


def read_rows(source: Source, layout: RowLayout, skip: int) -> Rows:
    """Reads all rows from byte ``skip`` of the file on, which must be the start of line ``layout.first_line``.

    Raises MalformedCapture with line, and column (cell) where one is at fault.
    """
    reading = _Reading(source, layout, skip)
    reading.run()
    return reading.result()


class _Reading:
    def __init__(self, source: Source, layout: RowLayout, skip: int) -> None:
        self.source, self.layout = source, layout
        self.buffer = _Buffer(source, skip)
        self.sink = _Sink(source.path, layout)
        self.line = layout.first_line
        self.template: _Template | None = None
        self.markers = 0
        self.carriage: bool | None = None
        self.notes: list[str] = []
        self.room = np.empty(len(self.buffer.data), np.uint8)
        self.wrong = np.empty(len(self.buffer.data), np.bool_)

    def run(self) -> None:
        buffer = self.buffer
        while True:
            buffer.refill()
            if buffer.at >= buffer.have or not self._block():
                break

    def _block(self) -> bool:
        """Works through what is in the buffer; False at the end of the file."""
        buffer = self.buffer
        while True:
            rows, fitting = self._matrix()
            if fitting == rows and rows and not buffer.ended:
                return True  # the rest of the block is a part of a row, most often
            length = buffer.line_end()
            if length < 0:
                if buffer.have - buffer.at >= LONGEST_LINE:
                    raise self._error(BadRow("a line longer than 65 536 bytes", "a row of cells"))
                return not buffer.ended
            if not self._single(length):
                return False
            if buffer.at >= buffer.have:
                return not buffer.ended
            if fitting < 64 < rows:
                self._grouped()

    def _matrix(self) -> tuple[int, int]:
        """Rows of the current template at the front of the buffer: how many would fit in, how many do fit."""
        if self.template is None:
            return 0, 0
        buffer, width = self.buffer, self.template.width
        rows = (buffer.have - buffer.at) // width
        if buffer.open_end and rows * width == buffer.have - buffer.at:
            rows -= 1  # the last line has no end of its own and is looked at alone
        if rows <= 0:
            return 0, 0
        size = rows * width
        low, span = self.template.tiles(size)
        room, wrong = self.room[:size], self.wrong[:size]
        np.subtract(buffer.data[buffer.at : buffer.at + size], low, out=room)
        np.greater(room, span, out=wrong)
        fitting = int(wrong.argmax()) // width if wrong.any() else rows
        if fitting:
            matrix = room[: fitting * width].reshape(fitting, width)
            times = self.template.times_ps(matrix) if self.layout.timed else None
            self.sink.add(np.ascontiguousarray(matrix[:, self.template.cells].T), times, self.line)
            self.line += fitting
            buffer.at += fitting * width
        return rows, fitting

    def _single(self, length: int) -> bool:
        """Reads one line by itself and makes it the template; False where only blank lines follow."""
        buffer = self.buffer
        row = bytes(buffer.view[buffer.at : buffer.at + length])
        last_open = buffer.open_end and buffer.at + length + 1 == buffer.have
        if not row.strip():
            if buffer.only_blank(buffer.at):
                buffer.at, buffer.ended = buffer.have, True
                return False
            raise self._error(BadRow("a blank line", "a row of cells"))
        if _MARKER.fullmatch(row.strip()) and row.strip().lower() not in (b"x", b"z"):
            self.markers += 1
            self._skip(length)
            return True
        try:
            split = self._split(row, last_open)
        except BadRow as bad:
            if last_open and self.sink.count:
                self.notes.append(f"The last row (line {self.line}) is cut short and is left out.")
                buffer.at = buffer.have
                return False
            raise self._error(bad) from None
        times = np.array([split.time_ps], np.int64) if self.layout.timed else None
        self.sink.add(np.array(split.levels, np.uint8)[:, None], times, self.line)
        if len(split.cells) == self.layout.columns and not last_open:
            made = _Template(row, split)
            self.template = made if made.safe else None
        self._skip(length)
        return True

    def _split(self, row: bytes, last_open: bool) -> _Split:
        ends_so = row.endswith(b"\r")
        if self.carriage is None:
            self.carriage = ends_so
        if ends_so != self.carriage and not last_open:
            raise BadRow("another line end than in the rows before", "CR LF throughout or LF throughout")
        return split_row(row, self.layout)

    def _skip(self, length: int) -> None:
        self.buffer.at += length + 1
        self.line += 1

    def _error(self, bad: BadRow) -> MalformedCapture:
        return MalformedCapture(
            self.source.path,
            line=self.line,
            column=bad.column,
            found=bad.found,
            expected=bad.expected,
            do="Export the capture again, or correct this line.",
        )

    def _grouped(self) -> None:
        """All whole lines of the buffer, grouped by template, for files whose layout changes all the time."""
        buffer = self.buffer
        ends = np.flatnonzero(buffer.data[buffer.at : buffer.have] == 10) + buffer.at
        if buffer.open_end:
            ends = ends[:-1]
        if len(ends) < 64:
            return
        starts = np.concatenate(([buffer.at], ends[:-1] + 1))
        widths = ends - starts + 1
        count = len(ends)
        levels = np.empty((count, self.layout.columns), np.uint8)
        times = np.empty(count, np.int64)
        left = np.arange(count)
        while len(left):
            first = int(left[0])
            row = bytes(buffer.view[int(starts[first]) : int(ends[first])])
            try:
                split = self._split(row, False)
                template = _Template(row, split)
                if len(split.cells) != self.layout.columns or not template.safe:
                    raise BadRow("", "")
            except BadRow:
                count = first  # this line is looked at alone, with its own sentence
                break
            same = widths[left] == template.width
            group = left[same]
            matrix = np.lib.stride_tricks.sliding_window_view(buffer.data, template.width)[starts[group]]
            matrix = matrix - template.row_low
            fits = ~(matrix > template.row_span).any(1)
            good = group[fits]
            levels[good] = matrix[fits][:, template.cells]
            if self.layout.timed:
                times[good] = template.times_ps(matrix[fits])
            same[np.flatnonzero(same)[~fits]] = False
            left = left[~same]
        if count:
            done = np.ascontiguousarray(levels[:count].T)
            self.sink.add(done, times[:count] if self.layout.timed else None, self.line)
            buffer.at = int(ends[count - 1]) + 1
            self.line += count
        self.template = None

    def result(self) -> Rows:
        sink = self.sink
        if self.markers:
            self.notes.append(f"{self.markers} marker rows without cells are left out.")
        steps = np.concatenate(sink.first_steps) if sink.first_steps else np.empty(0, np.int64)
        return Rows(
            [np.concatenate(t) for t in sink.times if t],
            [np.concatenate(v) for v in sink.levels if v],
            sink.count,
            sink.first_ps,
            sink.last_ps,
            sink.last_changes,
            sink.uneven,
            steps,
            tuple(self.notes),
        )


def printed_unit_ps(cell: bytes, unit: int) -> int:
    """The smallest step that the printed time can show, in ps, at least 1."""
    _, _, scale, _ = _split_time(cell, unit)
    return int(10 ** max(0, scale))
