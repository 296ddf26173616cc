"""Rows with words of a bus, beside logic cells and behind a time where there is one; every byte is checked.

A block of rows is taken apart at once; where anything in it is out of the ordinary, it is read again line by line,
and that reading decides.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tracecore.capture import UNKNOWN
from tracecore.errors import MalformedCapture
from tracecore.readers.logic.row_sink import Rows, RowSink
from tracecore.readers.logic.row_text import BadRow, RowLayout, cell_level, check_quotes, shown, split_time
from tracecore.readers.refusals import bad_row
from tracecore.readers.source import Source
from tracecore.readers.words.word_block import Block, Words, split_block
from tracecore.readers.words.word_sink import WordSink
from tracecore.readers.words.words import WordColumn, split_word

BLOCK = 1 << 20
_LONGEST_LINE = 1 << 16


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
        self.words = [WordSink(c) for c in plan if c is not None]
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
        return bad_row(self.source.path, self.line, bad.found, bad.expected, bad.column)

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
            bits = column.bit_names(sink.width)
            called += bits
            for where, when, level in sink.bits(len(bits)):
                places.append(when if when is not None and self.sink.by_time else where)
                levels.append(level)
        changes = rows.last_changes or self.last_changes
        index, times = ([], places) if self.sink.by_time else (places, [])
        return replace(rows, index=index, times=times, levels=levels, last_changes=changes), tuple(called)


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
