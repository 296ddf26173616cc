"""The rows of a file, by their plan: volts, times, logic and words in any column, beside text that is left out.

    Time,CLK,Decoded,D (hex)
    2031-05-04T10:20:30.000000100Z,H,READ,3F
    2031-05-04T10:20:30.000000350Z,L,,A0

A piece of the file is taken apart at once: by the layout that its rows share as bytes; else columns of numbers as JSON,
letters and words by the bytes between the delimiters. Where anything in a piece is out of the ordinary it is read again
line by line, plainly, and that reading decides, or names the first cell that does not fit.
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import numpy as np

from tracecore.capture import Int64
from tracecore.readers.plan.plan import Plan
from tracecore.readers.plan.words import BASE_WORDS
from tracecore.readers.recognise.cells import parsed_times
from tracecore.readers.refusals import BadRow
from tracecore.readers.rows.blocks import Block, changes_of
from tracecore.readers.rows.cell_block import (
    Cells,
    Words,
    levels_of,
    split_block,
    times_of,
    unquoted,
    worded_levels,
    words_of,
)
from tracecore.readers.rows.number_text import NumberText
from tracecore.readers.rows.pieces import Pieces, without_markers
from tracecore.readers.rows.row_template import TemplateRows
from tracecore.readers.rows.row_text import TimeScale
from tracecore.readers.rows.row_values import RowValues
from tracecore.readers.rows.rows import Rows, ShownTimes
from tracecore.readers.rows.sinks import RowSink, WordSink
from tracecore.readers.rows.time_log import TimeLog
from tracecore.readers.rows.two_at_once import two_at_once
from tracecore.readers.source import Source

# bytes, just below the 32 MB up to which glibc learns
_FREED = 31 << 20


def read_rows(source: Source, plan: Plan, scale: TimeScale) -> Rows:
    """Reads all rows. ``scale`` says how plain times of logic become picoseconds. Raises MalformedCapture with line
    and column for the first cell that does not fit."""
    reading = _Reading(source, plan, scale)
    # glibc gives the memory of each piece back to the system, and asks for it again for the next piece, unless a
    # larger block was freed before: that took a sixth of the time
    np.empty(_FREED, np.uint8)
    for block in two_at_once(reading.decoded, reading.pieces):
        reading.add(block)
    return reading.result()


def check_first_rows(source: Source, plan: Plan) -> None:
    """Raises MalformedCapture for the first of the first lines that does not fit, whatever its time is worth."""
    head, values = source.head(), RowValues(plan, TimeScale())
    pieces = Pieces(source, values)
    # the last line may be cut
    for line, text in enumerate(head.lines[plan.data_line : -1], start=plan.data_line + 1):
        row = text.encode(plan.coding)
        if not row.strip() or (values.marked and without_markers(row + b"\n")[1]):
            continue
        try:
            values.of_row(row)
        except BadRow as bad:
            raise pieces.wrong(line, bad) from bad


class _Reading:
    def __init__(self, source: Source, plan: Plan, scale: TimeScale) -> None:
        self.plan = plan
        self.values = RowValues(plan, scale)
        self.pieces = Pieces(source, self.values)
        self.by_number = self.values.by_number
        self.others = tuple(c for c in self.values.used if c.cell not in self.by_number)
        plain = all(not c.levels and c.form in ("", "index") for c in self.others)
        self.template = TemplateRows(self.values) if plain else None
        self.number_text = NumberText(self.values)
        self.line = plan.data_line + 1
        self.count = 0
        self.log = TimeLog(source.path, scale, plan.time.cell + 1 if plan.time is not None else 0)
        self.levels = RowSink()
        self.words = {c.cell: WordSink(c.word) for c in self.values.used if c.word is not None}
        self.numbers: dict[int, list[Any]] = {cell: [] for cell in self.by_number}
        self.times: list[Int64] = []
        self.markers: list[str] = []
        self.finest = 12
        self.last_changes = False

    # ---- a piece to values, at once

    def decoded(self, piece: bytes) -> Block:
        """The values of a piece, whatever thread asks."""
        rows, markers = without_markers(piece) if self.values.marked else (piece, [])
        plain = unquoted(rows, self.values.delimiter)
        block = self._at_once(plain) if plain else None
        block = self._line_by_line(rows) if block is None else block
        block.markers = markers
        return block

    def _at_once(self, piece: bytes) -> Block | None:
        if self.template is not None and (block := self.template.read(piece)) is not None:
            return block if self._scaled(block) else None
        if len(self.by_number) == self.plan.width and (numbers := self.number_text.of_rows(piece)) is not None:
            block = Block(len(numbers), dict(zip(self.by_number, numbers.T, strict=True)))
            return block if self._scaled(block) else None
        cells = split_block(piece, self.values)
        if cells is None:
            return None
        block = Block(len(cells[0].starts))
        if self.by_number:
            numbers = self.number_text.of_cells([cells[cell] for cell in self.by_number])
            if numbers is None:
                return None
            block.numbers = dict(zip(self.by_number, numbers.T, strict=True))
        return block if self._scaled(block) and self._taken(cells, block) else None

    def _scaled(self, block: Block) -> bool:
        """Makes printed numbers times and volts; False where one is beyond float32."""
        for cell, numbers in block.numbers.items():
            column = self.plan.columns[cell]
            if column.kind == "volts" and (column.scale != 1.0 or column.offset):
                numbers = numbers * column.scale + column.offset
            with np.errstate(over="ignore"):
                kind = np.float64 if column.kind == "time" else np.float32
                block.numbers[cell] = np.ascontiguousarray(numbers, kind)
        return all(np.isfinite(part.min()) and np.isfinite(part.max()) for part in block.numbers.values())

    def _taken(self, cells: list[Cells], block: Block) -> bool:
        """Columns of letters, words and times by their bytes; False where one does not fit."""
        levels = []
        for column in self.others:
            own = cells[column.cell]
            if column.kind == "time" and column.form in ("", "index"):
                if (times := times_of(own, self.values)) is None:
                    return False
                block.times = times
            elif column.kind == "time":
                try:
                    taken = parsed_times(own.texts(self.plan.coding), column.form, self.values.zero_ps)
                except ValueError:
                    return False
                block.times, block.finest = taken
            elif column.word is not None:
                if (words := words_of(own, column.word)) is None:
                    return False
                block.words[column.cell] = words
            else:
                level = levels_of(own, self.values.gaps)
                if column.levels:
                    level = worded_levels(own, dict(column.levels), self.values.gaps)
                if level is None:
                    return False
                levels.append(level)
        block.changes = changes_of(np.array(levels)) if levels else None
        return True

    # ---- a piece to values, line by line

    def _line_by_line(self, piece: bytes) -> Block:
        rows, wrong = [], None
        for row in piece.removesuffix(b"\n").split(b"\n") if piece else ():
            try:
                rows.append(self.values.of_row(row))
            except BadRow as bad:
                wrong = bad
                break
        block, levels = Block(len(rows), wrong=wrong), []
        for column, values in zip(self.values.used, zip(*rows, strict=True), strict=bool(rows)):
            if column.cell in self.by_number:
                block.numbers[column.cell] = np.array(values, np.float64)
            elif column.kind == "time":
                times, finest = zip(*values, strict=True)
                block.times, block.finest = np.array(times, np.int64), min(finest)
            elif column.kind == "logic":
                levels.append(values)
            else:
                value, unknown, digits = zip(*values, strict=True)
                block.words[column.cell] = Words(
                    np.arange(len(rows)), np.array(value, np.uint64), np.array(unknown, np.uint64), max(digits)
                )
        block.changes = changes_of(np.array(levels, np.uint8)) if levels else None
        self._scaled(block)
        return block

    # ---- all values

    def add(self, block: Block) -> None:
        """Blocks are given one after the other. Raises MalformedCapture for the first row that does not fit."""
        if block.times is not None:
            self.log.add(block.times, self.line)
            self.finest = min(self.finest, block.finest)
            if self.plan.keeps_times:
                self.times.append(block.times)
        for cell, numbers in block.numbers.items():
            self.numbers[cell].append(numbers)
        changed = [self.words[c].add(words, self.count, block) for c, words in block.words.items()]
        if block.changes is not None:
            self.levels.add(block.changes, block.times)
            changed.append(self.levels.last_changes)
        self.last_changes = any(changed) if block.count else self.last_changes
        self.markers += [f"{text} in line {self.line + at + i}" for i, (at, text) in enumerate(block.markers)]
        self.count += block.count
        if block.wrong is not None:
            before = sum(at <= block.count for at, _ in block.markers)
            raise self.pieces.wrong(self.line + block.count + before, block.wrong)
        self.line += block.count + len(block.markers)

    def result(self) -> Rows:
        """What all blocks come to. Raises MalformedCapture where the last row is wrong."""
        notes = self.pieces.end(self.line)
        if self.markers:
            more = "" if len(self.markers) < 4 else f" and {len(self.markers) - 3} more"
            notes += (f"Marker rows without cells are left out: {', '.join(self.markers[:3])}{more}.",)
        by_time, channels = self.log.counts and not self.plan.volts, []
        levels = iter(self.levels.channels(by_time))
        for column in self.plan.bits:
            if column.word is None:
                channels.append((column.name, *next(levels)))
            else:
                bits = self.words[column.cell].bits(by_time)
                names = column.word.bit_names(len(bits))
                channels += [(name, *bit) for name, bit in zip(names, bits, strict=True)]
        words = ((c.word.name, BASE_WORDS[c.word.base]) for c in self.plan.bits if c.word and c.word.base)
        return Rows(
            self.count,
            tuple(channels),
            self.last_changes,
            self.log,
            {c.name: np.concatenate(self.numbers.pop(c.cell)) for c in self.plan.volts},
            self._shown(),
            np.concatenate(self.times) if self.times and not self.plan.volts else None,
            self.pieces.zero,
            10**self.finest,
            tuple(f"{name}, {base}" for name, base in words),
            notes,
        )

    def _shown(self) -> ShownTimes | None:
        time, first, last = self.plan.time, self.pieces.first_times, self.pieces.last_time
        if time is None or not self.plan.volts:
            return None
        if time.cell not in self.numbers:
            times = np.concatenate(self.times)
            ends = Fraction(int(times[0])), Fraction(int(times[-1]))
            return ShownTimes(times.astype(np.float64), *ends, Fraction(10**self.finest))
        printed = printed_unit([*first, last])
        return ShownTimes(np.concatenate(self.numbers.pop(time.cell)), Fraction(first[0]), Fraction(last), printed)


def printed_unit(texts: list[str]) -> Fraction:
    """The last printed digit of the times.

    Where all have the same number of significant digits (1.234E-05), it is that of the largest time; elsewhere
    it is the finest that is seen, as zeros at the end may have been left away.

    >>> printed_unit(["1.00E-06", "2.00E-05"]) == Fraction(1, 10**7)
    True
    """
    scales, lengths, largest = [], set(), 0.0
    for text in texts:
        mantissa, _, exponent = text.lower().partition("e")
        scale = int(exponent or 0) - len(mantissa.partition(".")[2])
        digits = mantissa.lstrip("+-").replace(".", "").lstrip("0")
        scales.append(scale)
        if digits:
            lengths.add(len(digits))
            largest = max(largest, abs(float(text)))
    if len(lengths) == 1 and largest:
        place = math.floor(math.log10(largest)) - lengths.pop() + 1
        return Fraction(10) ** max(place, min(scales))
    return Fraction(10) ** min(scales)
