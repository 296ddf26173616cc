"""Rows with words of a bus, beside logic cells and behind a time where there is one; every byte is checked.

A block of rows is taken apart at once; where anything in it is out of the ordinary, it is read again line by line,
and that reading decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.errors import MalformedCapture
from tracecore.readers.row_sink import Rows, RowSink
from tracecore.readers.row_text import BadRow, RowLayout, cell_level, check_quotes, shown, split_time
from tracecore.readers.source import Source
from tracecore.readers.words import DIGIT_BITS, MOST_BITS, WordColumn, split_word, word_width

UInt64 = npt.NDArray[np.uint64]
BLOCK = 1 << 20
_LONGEST_LINE = 1 << 16
_LEVEL = np.full(256, 255, np.uint8)
_LEVEL[list(b"01")], _LEVEL[list(b"xXzZ")] = (0, 1), UNKNOWN
_UNKNOWN_DIGIT, _NO_DIGIT = 64, 255
_DIGIT = np.full(256, _NO_DIGIT, np.uint8)
_DIGIT[list(b"0123456789")] = range(10)
_DIGIT[list(b"abcdef")] = _DIGIT[list(b"ABCDEF")] = range(10, 16)
_DIGIT[list(b"xXzZ")] = _UNKNOWN_DIGIT
_ALL = np.uint64(2**MOST_BITS - 1)


@dataclass(frozen=True, slots=True)
class Words:
    """One column of one block: values and unknown bits uint64[n], the most digits of a word."""

    value: UInt64
    unknown: UInt64
    digits: int


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of one column of a block: from octet ``starts`` to ``ends`` (open), int64[n] each."""

    octets: UInt8
    starts: Int64
    ends: Int64

    def octet(self, place: int) -> UInt8:
        """Octet ``place`` of each cell; below zero it counts from the end."""
        return self.octets[(self.starts if place >= 0 else self.ends) + place]

    def without(self, count: int) -> Cells:
        return Cells(self.octets, self.starts + count, self.ends)

    def chosen(self, where: Int64) -> Cells:
        return Cells(self.octets, self.starts[where], self.ends[where])

    @property
    def lengths(self) -> Int64:
        return self.ends - self.starts


@dataclass(frozen=True, slots=True)
class EvenCells:
    """The same where all cells are as long: ``planes`` uint8[length, n] holds their first octets, and so on."""

    planes: UInt8

    def octet(self, place: int) -> UInt8:
        return np.asarray(self.planes[place])

    def without(self, count: int) -> EvenCells:
        return EvenCells(self.planes[count:])

    def chosen(self, where: Int64) -> EvenCells:
        return EvenCells(self.planes[:, where])

    @property
    def lengths(self) -> Int64:
        return np.full(self.planes.shape[1], len(self.planes), np.int64)


@dataclass(frozen=True, slots=True)
class Block:
    """Rows taken apart: ``times`` int64[n] or None, ``levels`` uint8[logic columns, n]."""

    times: Int64 | None
    levels: UInt8
    words: list[Words]


@dataclass(slots=True)
class _WordSink:
    """The changes of one word column: rows, times, values and unknown bits."""

    column: WordColumn
    index: list[Int64] = field(default_factory=list)
    times: list[Int64] = field(default_factory=list)
    values: list[UInt64] = field(default_factory=list)
    unknown: list[UInt64] = field(default_factory=list)
    digits: int = 0
    seen: int = 0
    last: tuple[int, int] | None = None

    def add(self, words: Words, times: Int64 | None, first: int) -> bool:
        """Adds rows ``first`` on; did the last of them change?"""
        value, unknown = words.value, words.unknown
        changed = np.empty(len(value), np.bool_)
        changed[1:] = (value[1:] != value[:-1]) | (unknown[1:] != unknown[:-1])
        changed[0] = (int(value[0]), int(unknown[0])) != self.last
        at = np.flatnonzero(changed)
        self.index.append(at + first)
        if times is not None:
            self.times.append(times[at])
        self.values.append(value[at])
        self.unknown.append(unknown[at])
        self.digits = max(self.digits, words.digits)
        self.seen |= int(np.bitwise_or.reduce(value))
        self.last = int(value[-1]), int(unknown[-1])
        return bool(changed[-1])


def read_word_rows(
    source: Source, layout: RowLayout, skip: int, plan: tuple[WordColumn | None, ...], names: tuple[str, ...]
) -> tuple[Rows, tuple[str, ...]]:
    """Reads all rows from byte ``skip`` on, the start of line ``layout.first_line``; rows and names a bit.

    ``plan`` says of each cell behind the time whether it is a word or (None) logic, ``names`` how logic is called.
    Raises MalformedCapture with line, and column (cell) where one is at fault.
    """
    reading = _Reading(source, layout, plan)
    rest = source.take_head()[skip:]
    ended = False
    while not ended:
        piece = source.read(BLOCK)
        ended = not piece
        data = rest + piece
        cut = data.rfind(b"\n") + 1
        if cut:
            reading.block(data[:cut])
        rest = data[cut:]
        if len(rest) > BLOCK + _LONGEST_LINE:
            raise reading.error(BadRow("a line longer than 65 536 bytes", "a row of cells"))
    if rest.strip():
        reading.last(rest)
    return reading.result(names)


class _Reading:
    def __init__(self, source: Source, layout: RowLayout, plan: tuple[WordColumn | None, ...]) -> None:
        self.source, self.layout, self.plan = source, layout, plan
        self.sink = RowSink(source.path, replace(layout, columns=sum(c is None for c in plan)))
        self.words = [_WordSink(c) for c in plan if c is not None]
        self.line = layout.first_line
        self.carriage: bool | None = None
        self.blank: int | None = None
        self.last_changes = False
        self.last_lengths: set[int] = set()
        self.notes: list[str] = []

    def block(self, data: bytes) -> None:
        """Whole lines."""
        if self.blank is not None and data.strip():
            self.line = self.blank
            raise self.error(BadRow("a blank line", "a row of cells"))
        if self.carriage is None:
            self.carriage = data[: data.index(b"\n")].endswith(b"\r")
        taken = split_block(data, self.layout, self.plan, self.carriage)
        if taken is None:
            self._lines(data)
        else:
            self._add(taken)
        if isinstance(self.plan[-1], WordColumn) and len(self.last_lengths) < 2:
            cells = (line.rpartition(self.layout.delimiter)[2] for line in data[-4096:].split(b"\n")[-20:-1])
            self.last_lengths.update(len(cell.strip()) for cell in cells)

    def _add(self, block: Block) -> None:
        first, count = self.sink.count, block.levels.shape[1]
        self.sink.add(block.levels, block.times, self.line)
        changes = [s.add(w, block.times, first) for s, w in zip(self.words, block.words, strict=True)]
        self.last_changes = any(changes)
        self.line += count

    def _lines(self, data: bytes) -> None:
        rows: list[tuple[int, list[int], list[tuple[int, int, int]]]] = []
        bad: BadRow | None = None
        start = self.line
        lines = data[:-1].split(b"\n")
        for at, line in enumerate(lines):
            try:
                if not line.strip():
                    if any(later.strip() for later in lines[at:]):
                        raise BadRow("a blank line", "a row of cells")
                    self.blank = start + at
                    break
                if line.endswith(b"\r") != self.carriage:
                    raise BadRow("another line end than in the rows before", "CR LF throughout or LF throughout")
                rows.append(split_line(line, self.layout, self.plan))
            except BadRow as found:
                bad = found
                break
        if rows:
            self._add(_as_block(rows, self.layout.timed, len(self.words)))
        if bad is not None:
            raise self.error(bad)

    def last(self, line: bytes) -> None:
        """A last row without a line end: left out where it may be cut."""
        if self.blank is not None:
            self.block(line)
        length = len(line.rpartition(self.layout.delimiter)[2].strip())
        # an empty cell of logic is a level not known yet where the row above had none either
        closed = line.count(self.layout.delimiter) == len(self.plan) + self.layout.timed
        if self.plan[-1] is None:
            known = self.sink.last is not None and self.sink.last[-1] < UNKNOWN
            whole = closed or bool(length) or not known
        else:
            whole = closed or self.last_lengths == {length}
        try:
            row = split_line(line, self.layout, self.plan)
        except BadRow as bad:
            if self.sink.count and self._front_part(line):
                whole = False
            else:
                raise self.error(bad) from None
        if not whole and self.sink.count:
            self.notes.append(f"The last row (line {self.line}) may be cut short and is left out.")
            return
        self._add(_as_block([row], self.layout.timed, len(self.words)))

    def _front_part(self, line: bytes) -> bool:
        """Fewer cells than a row, or a last one that is not whole, behind others that fit."""
        timed = self.layout.timed
        parts = line.split(self.layout.delimiter)
        if len(parts) > len(self.plan) + timed:
            return False
        if len(parts) == len(self.plan) + timed:
            last = self.plan[-1]
            text = parts[-1].strip(b' \t"').decode("latin-1")
            return not text or (last is not None and bool(last.prefix) and last.prefix.startswith(text))
        shown_cells = parts[timed:-1]
        try:
            if timed and len(parts) > 1:
                split_time(parts[0], self.layout.unit, self.layout.decimal)
            for i, part in enumerate(shown_cells):
                _cell(part, self.plan[i], i + 1, timed)
        except BadRow:
            return False
        return True

    def error(self, bad: BadRow) -> MalformedCapture:
        return MalformedCapture(
            self.source.path,
            line=self.line,
            column=bad.column,
            found=bad.found,
            expected=bad.expected,
            do="Export the capture again, or correct this line.",
        )

    def result(self, names: tuple[str, ...]) -> tuple[Rows, tuple[str, ...]]:
        rows = self.sink.rows(tuple(self.notes))
        places, levels, called = [], [], []
        logic = zip(rows.times if self.sink.by_time else rows.index, rows.levels, strict=True)
        words = iter(self.words)
        for column, name in zip(self.plan, names, strict=True):
            if column is None:
                place, level = next(logic)
                places.append(place)
                levels.append(level)
                called.append(name)
                continue
            sink = next(words)
            bits = column.bit_names(word_width(column, sink.digits, sink.seen))
            called += bits
            for where, when, level in _bits(sink, len(bits)):
                places.append(when if when is not None and self.sink.by_time else where)
                levels.append(level)
        changes = rows.last_changes or self.last_changes
        index, times = ([], places) if self.sink.by_time else (places, [])
        return replace(rows, index=index, times=times, levels=levels, last_changes=changes), tuple(called)


def _bits(sink: _WordSink, width: int) -> list[tuple[Int64, Int64 | None, UInt8]]:
    """Rows, times and levels of the changes of each bit, most significant first."""
    index, values, unknown = (np.concatenate(part) for part in (sink.index, sink.values, sink.unknown))
    times = np.concatenate(sink.times) if sink.times else None
    # a byte of each word at a time: an eighth of what would have to be moved
    low_first = values.astype("<u8").view(np.uint8).reshape(-1, 8)
    hidden = unknown.astype("<u8").view(np.uint8).reshape(-1, 8) if unknown.any() else None
    found: list[tuple[Int64, Int64 | None, UInt8]] = []
    for bit in range(width - 1, -1, -1):
        level: UInt8 = np.asarray((low_first[:, bit // 8] >> np.uint8(bit % 8)) & np.uint8(1), np.uint8)
        if hidden is not None:
            level[(hidden[:, bit // 8] >> (bit % 8)) & 1 != 0] = UNKNOWN
        keep = np.concatenate(([0], np.flatnonzero(level[1:] != level[:-1]) + 1))
        found.append(
            (np.asarray(index.take(keep), np.int64), None if times is None else times.take(keep), level.take(keep))
        )
    return found


def _as_block(rows: list[tuple[int, list[int], list[tuple[int, int, int]]]], timed: bool, words: int) -> Block:
    times = np.array([time for time, _, _ in rows], np.int64) if timed else None
    levels = np.array([level for _, level, _ in rows], np.uint8).reshape(len(rows), -1).T
    columns = []
    for i in range(words):
        value, unknown, digits = zip(*(word[i] for _, _, word in rows), strict=True)
        columns.append(Words(np.array(value, np.uint64), np.array(unknown, np.uint64), max(digits)))
    return Block(times, np.ascontiguousarray(levels), columns)


def split_line(
    line: bytes, layout: RowLayout, plan: tuple[WordColumn | None, ...]
) -> tuple[int, list[int], list[tuple[int, int, int]]]:
    """One row: time in ps (0 without), levels, and (value, unknown, digits) of each word. Raises BadRow."""
    check_quotes(line)
    parts = line.rstrip(b"\r").split(layout.delimiter)
    wanted = len(plan) + layout.timed
    if len(parts) == wanted + 1 and not parts[-1].strip(b' \t"'):
        parts.pop()  # a trailing delimiter
    if len(parts) != wanted:
        raise BadRow(f"{len(parts)} cell{'s' if len(parts) > 1 else ''}", f"{wanted} as in the first row")
    time = split_time(parts[0], layout.unit, layout.decimal).time_ps if layout.timed else 0
    levels, words = [], []
    for number, (part, column) in enumerate(zip(parts[layout.timed :], plan, strict=True), 1 + layout.timed):
        found = _cell(part, column, number, layout.timed)
        if isinstance(found, int):
            levels.append(found)
        else:
            words.append(found)
    return time, levels, words


def _cell(part: bytes, column: WordColumn | None, number: int, timed: bool) -> int | tuple[int, int, int]:
    if column is not None:
        word = split_word(part, column, number, timed)
        return word.value, word.unknown, word.digits
    level = cell_level(part, timed)
    if level is None:
        raise BadRow(f"{shown(part)} in a cell", "0 or 1", number)
    return level


def split_block(data: bytes, layout: RowLayout, plan: tuple[WordColumn | None, ...], carriage: bool) -> Block | None:
    """Whole lines taken apart at once; None where anything is out of the ordinary."""
    if b'"' in data:
        return None
    cells = _even_cells(data, layout, len(plan) + layout.timed, carriage)
    if cells is None:
        cells = _cells(data, layout, len(plan) + layout.timed, carriage)
    if cells is None:
        return None
    times = _times(cells[0], layout) if layout.timed else None
    if layout.timed and times is None:
        return None
    levels, words = [], []
    for cell, column in zip(cells[layout.timed :], plan, strict=True):
        if column is None:
            level = _LEVEL[cell.octet(0)]
            if (cell.lengths != 1).any() or int(level.max()) > (UNKNOWN if layout.timed else 1):
                return None
            levels.append(level)
        elif (found := _words(cell, column)) is not None:
            words.append(found)
        else:
            return None
    rows = len(cells[0].lengths)
    return Block(times, np.array(levels, np.uint8).reshape(len(levels), rows), words)


def _even_cells(data: bytes, layout: RowLayout, wanted: int, carriage: bool) -> Sequence[Cells | EvenCells] | None:
    """Cells where all rows are as long and have their delimiters where the first one has."""
    first = data[: data.index(b"\n") + 1]
    width, text = len(first), first[: -1 - carriage]
    parts = text.split(layout.delimiter)
    if len(parts) == wanted + 1 and not parts[-1]:
        parts.pop()
    if len(data) % width or len(parts) != wanted or not all(parts) or b"\r" in text:
        return None
    planes = np.ascontiguousarray(np.frombuffer(data, np.uint8).reshape(-1, width).T)
    ends = [at for at in range(width) if first[at] in b"\r\n" + layout.delimiter]
    # what stands between is checked by those who read the cells: no digit is a delimiter
    if any((planes[at] != first[at]).any() for at in ends):
        return None
    found, start = [], 0
    for part in parts:
        blank = part.startswith(b" ")
        if blank and (len(part) == 1 or (planes[start] != 32).any()):
            return None
        found.append(EvenCells(planes[start + blank : start + len(part)]))
        start += len(part) + 1
    return found


def _cells(data: bytes, layout: RowLayout, wanted: int, carriage: bool) -> Sequence[Cells | EvenCells] | None:
    """Cells between the delimiters, wherever these stand; None where a row has more or fewer, or an empty one."""
    octets = np.frombuffer(data, np.uint8)
    marks = np.flatnonzero((octets == 10) | (octets == layout.delimiter[0]))
    each = data.count(layout.delimiter, 0, data.index(b"\n")) + 1
    if each not in (wanted, wanted + 1) or len(marks) % each:
        return None
    ends = np.ascontiguousarray(marks.reshape(-1, each).T)
    if (octets[ends[-1]] != 10).any() or (octets[ends[:-1]] == 10).any():
        return None
    starts = np.empty_like(ends)
    starts[1:] = ends[:-1] + 1
    starts[0, 0], starts[0, 1:] = 0, ends[-1, :-1] + 1
    if ((octets[ends[-1] - 1] == 13) != carriage).any():
        return None
    ends[-1] -= carriage
    if each > wanted and (ends[-1] != starts[-1]).any():
        return None
    starts[:wanted] += octets[starts[:wanted]] == 32
    if (ends[:wanted] <= starts[:wanted]).any():
        return None
    return [Cells(octets, starts[i], ends[i]) for i in range(wanted)]


def _words(cells: Cells | EvenCells, column: WordColumn) -> Words | None:
    if int(cells.lengths.min()) <= len(column.prefix):
        return None
    for place, letter in enumerate(column.prefix.encode()):
        if (cells.octet(place) != letter).any():
            return None
    cells = cells.without(len(column.prefix))
    base, lengths = column.base or 16, cells.lengths
    each, least, most = DIGIT_BITS[base], int(lengths.min()), int(lengths.max())
    if most * each > MOST_BITS:
        return None
    if base != 2 and not column.prefix and most > 1 and _prefixed(cells, least):
        return None
    value = np.zeros(len(lengths), np.uint64)
    unknown: UInt64 | None = None
    for place in range(most):
        # a place in front of a short word is looked up, too, and is no digit
        digit = _DIGIT[cells.octet(-1 - place)]
        if place >= least:
            digit[lengths <= place] = 0
        if int(digit.max()) >= base:
            strange = digit == _UNKNOWN_DIGIT
            if ((digit >= base) & ~strange).any():
                return None
            unknown = np.zeros(len(lengths), np.uint64) if unknown is None else unknown
            unknown[strange] |= np.uint64(((1 << each) - 1) << (each * place))
            digit[strange] = 0
        value |= digit.astype(np.uint64) << np.uint64(each * place)
    if column.bits and (most > -(-len(column.bits) // each) or (value >> np.uint64(len(column.bits) - 1) > 1).any()):
        return None
    if unknown is None:
        return Words(value, np.zeros(len(lengths), np.uint64), most)
    leads = (_DIGIT[cells.octet(0)] == _UNKNOWN_DIGIT) & (lengths * each < MOST_BITS)
    unknown[leads] |= _ALL << (lengths[leads] * each).astype(np.uint64)
    return Words(value, unknown, most)


def _prefixed(cells: Cells | EvenCells, least: int) -> bool:
    """Does any word without a prefix begin with 0x? A single reading says what is wrong with it."""
    if least < 2:
        cells = cells.chosen(np.flatnonzero(cells.lengths > 1))
    return bool(((cells.octet(0) == 48) & ((cells.octet(1) | 32) == 120)).any())


def _times(cells: Cells | EvenCells, layout: RowLayout) -> Int64 | None:
    """Printed times in ps, by texts of one length; each must have its digits where the first of them has."""
    lengths = cells.lengths
    times = np.empty(len(lengths), np.int64)
    counts = np.bincount(np.minimum(lengths, 64))
    for length in np.flatnonzero(counts).tolist():
        alike = counts[length] == len(lengths)
        where = np.empty(0, np.int64) if alike else np.flatnonzero(lengths == length)
        part = cells if alike else cells.chosen(where)
        octets = [part.octet(place) for place in range(length)]
        text = bytes(int(octet[0]) for octet in octets)
        try:
            first = split_time(text, layout.unit, layout.decimal)
        except BadRow:
            return None
        if length > 63 or len(first.digits) + max(0, first.scale) > 18 or first.scale < -18:
            return None
        number = np.zeros(len(octets[0]), np.int64)
        for place, octet in enumerate(octets):
            digit = octet - np.uint8(48)
            if place in first.digits:
                number *= 10
                number += digit
            if int(digit.max()) > 9 if place in first.digits else (octet != text[place]).any():
                return None
        times[slice(None) if alike else where] = first.sign * _scaled(number, first.scale)
    return times


def _scaled(number: Int64, scale: int) -> Int64:
    if scale >= 0:
        return np.asarray(number * 10**scale)
    unit = 10**-scale
    return np.asarray((number + unit // 2) // unit)
