"""Rows of any cells, by their plan: volts, times, logic and words in any column, beside text that is left out.

    Time,CLK,Decoded,D (hex)
    2031-05-04T10:20:30.000000100Z,H,READ,3F
    2031-05-04T10:20:30.000000350Z,L,,A0

A piece of the file is taken apart at once: columns of numbers by their layout or by pandas, letters and words by the
bytes between the delimiters. Where anything in a piece is out of the ordinary it is read again line by line, plainly,
and that reading decides, or names the first cell that does not fit.
"""

from __future__ import annotations

import csv
import io
import math
import warnings
from dataclasses import dataclass, field
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np

from tracecore.capture import Float32, Int64, UInt8
from tracecore.readers.plan.plan import Plan
from tracecore.readers.plan.words import BASE_WORDS
from tracecore.readers.recognise.cell_forms import parsed_times
from tracecore.readers.refusals import BadRow
from tracecore.readers.rows.cell_block import Words, levels_of, split_block, times_of, unquoted, worded_levels, words_of
from tracecore.readers.rows.number_template import NumberRows
from tracecore.readers.rows.pieces import Pieces, counted
from tracecore.readers.rows.row_text import RowLayout
from tracecore.readers.rows.row_values import RowValues
from tracecore.readers.rows.rows import Rows, ShownTimes
from tracecore.readers.rows.time_log import TimeLog
from tracecore.readers.rows.word_sink import WordSink
from tracecore.readers.source import Source

if TYPE_CHECKING:
    from concurrent.futures import Future

# a file whose rows are laid out in too many ways is not tried again and again
_MOST_REFUSED = 1


@dataclass(slots=True)
class _Block:
    """Rows taken apart: numbers and the ``times`` in ps by which logic alone goes, levels and words by their cell."""

    count: int
    numbers: dict[int, Any] = field(default_factory=dict)
    times: Int64 | None = None
    levels: dict[int, UInt8] = field(default_factory=dict)
    words: dict[int, Words] = field(default_factory=dict)
    finest: int = 12


def read_cells(source: Source, plan: Plan, layout: RowLayout) -> Rows:
    """Reads all rows. ``layout`` says how plain times of logic become picoseconds. Raises MalformedCapture with line
    and column for the first cell that does not fit."""
    reading = _Reading(source, plan, layout)
    waiting: list[Future[_Block]] = []
    pieces = iter(reading.pieces)
    first, more = next(pieces, None), next(pieces, None)
    if first is not None and more is None:
        reading.add(reading.decoded(*first))
    elif first is not None and more is not None:
        from concurrent.futures import ThreadPoolExecutor

        # the parser lets go of the interpreter while it works, so two pieces at once take half the time
        with ThreadPoolExecutor(2, "columns") as pool:
            waiting += [pool.submit(reading.decoded, *first), pool.submit(reading.decoded, *more)]
            for piece in pieces:
                waiting.append(pool.submit(reading.decoded, *piece))
                reading.add(waiting.pop(0).result())
            for future in waiting:
                reading.add(future.result())
    return reading.result()


def _paired(piece: bytes) -> bool:
    """Has every line its quotes in pairs?"""
    letters = np.frombuffer(piece, np.uint8)
    lines = np.flatnonzero(letters == 10).searchsorted(np.flatnonzero(letters == 34))
    return not (np.bincount(lines) % 2).any()


def _finite(block: _Block) -> bool:
    return all(np.isfinite(numbers.min()) and np.isfinite(numbers.max()) for numbers in block.numbers.values())


class _Reading:
    def __init__(self, source: Source, plan: Plan, layout: RowLayout) -> None:
        self.source, self.plan, self.layout = source, plan, layout
        self.values = RowValues(plan, layout)
        self.pieces = Pieces(source, self.values)
        self.delimiter = plan.delimiter.encode()
        self.by_number = self.values.by_number
        self.others = tuple(c for c in plan.used if c.cell not in self.by_number)
        letters = tuple(c.cell for c in self.others if c.kind == "logic" and not c.levels)
        self.columns = tuple(sorted(self.by_number + letters)) if plan.volts else ()
        self.template: NumberRows | None = None
        if self.columns:
            self.template = NumberRows(self.columns, plan.width, plan.delimiter, plan.decimal, letters)
        self.refused = self.count = 0
        self.sinks = {c.cell: WordSink(c.word) for c in plan.bits}
        self.numbers: dict[int, list[Any]] = {cell: [] for cell in self.by_number}
        self.times: list[Int64] = []
        self.finest = 12
        self.last_changes = False

    # ---- a piece to values, at once

    def decoded(self, piece: bytes, line: int, rows: int) -> _Block:
        """The values of a piece, whatever thread asks. Raises MalformedCapture."""
        plain = unquoted(piece) if self.others else piece
        block = self._at_once(plain, rows) if plain is not None else None
        return self._line_by_line(piece, line) if block is None else block

    def _at_once(self, piece: bytes, rows: int) -> _Block | None:
        block = _Block(rows)
        ends = counted(piece, b"\r") if b"\r" in piece else 0
        if ends != (block.count if self.values.carriage else 0):
            return None
        if self.template is not None and self.refused < _MOST_REFUSED:
            if (plain := self.template.read(piece)) is not None and len(self.columns) == len(self.plan.used):
                found = dict(zip(self.columns, plain, strict=True))
                block.numbers = {cell: self._scaled(cell, found[cell]) for cell in self.by_number}
                block.levels = {c.cell: found[c.cell].astype(np.uint8) for c in self.others}
                return block if _finite(block) else None
            self.refused += 1
        if self.by_number and not self._parsed(piece, block):
            return None
        return block if not self.others or self._split(piece, block) else None

    def _scaled(self, cell: int, numbers: Any) -> Any:
        column = self.plan.columns[cell]
        if column.kind == "time":
            return numbers
        if column.scale != 1.0 or column.offset:
            numbers = numbers * column.scale + column.offset
        with np.errstate(over="ignore"):
            return numbers.astype(np.float32)

    def _parsed(self, piece: bytes, block: _Block) -> bool:
        """Columns of numbers by pandas; False where one of them is none, or rows differ in cells."""
        import pandas as pd

        exact = {c.cell for c in self.plan.columns if c.kind == "time" or c.scale != 1.0 or c.offset}
        try:
            with warnings.catch_warnings():
                # a row that is too long is found by the count of delimiters below
                warnings.simplefilter("ignore", pd.errors.ParserWarning)
                # a number beyond float32 is found below, as it is not finite
                warnings.simplefilter("ignore", RuntimeWarning)
                frame = pd.read_csv(
                    io.BytesIO(piece),
                    header=None,
                    names=list(range(self.plan.width)),
                    usecols=list(self.by_number) if len(self.by_number) < self.plan.width else None,
                    index_col=False,
                    sep=self.plan.delimiter,
                    decimal=self.plan.decimal,
                    dtype={c: np.dtype(np.float64 if c in exact else np.float32) for c in self.by_number},
                    skip_blank_lines=False,
                    # both cost a quarter of the time, and few files need them
                    skipinitialspace=self.delimiter + b" " in piece[: piece.index(b"\n")],
                    quoting=csv.QUOTE_MINIMAL if b'"' in piece else csv.QUOTE_NONE,
                    na_filter=False,
                    encoding="utf-8" if piece.isascii() else "latin-1",
                )
        except (ValueError, pd.errors.ParserError):
            return False
        block.numbers = {c: self._scaled(c, frame[c].to_numpy()) for c in self.by_number}
        if not _finite(block):
            return False
        if len(frame) != block.count or counted(piece, self.delimiter) != block.count * (self.plan.width - 1):
            return False
        return b'"' not in piece or _paired(piece)

    def _split(self, piece: bytes, block: _Block) -> bool:
        """Columns of letters, words and times by their bytes; False where one does not fit."""
        cells = split_block(piece, self.values)
        if cells is None:
            return False
        for column in self.others:
            own = cells[column.cell]
            if column.kind == "time":
                if column.form in ("", "index"):
                    block.times = times_of(own, self.layout, whole=column.form == "index")
                else:
                    try:
                        taken = parsed_times(own.texts(self.plan.coding), column.form, self.values.zero_ps)
                    except ValueError:
                        return False
                    block.times, block.finest = taken
                if block.times is None:
                    return False
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
                block.levels[column.cell] = level
        return True

    # ---- a piece to values, line by line

    def _line_by_line(self, piece: bytes, line: int) -> _Block:
        rows = []
        for at, row in enumerate(piece.removesuffix(b"\n").split(b"\n"), start=line):
            try:
                rows.append(self.values.of_row(row))
            except BadRow as bad:
                raise self.pieces.wrong(at, bad) from None
        block = _Block(len(rows))
        for column, values in zip(self.plan.used, zip(*rows, strict=True), strict=True):
            if column.cell in self.by_number:
                block.numbers[column.cell] = self._scaled(column.cell, np.array(values, np.float64))
            elif column.kind == "time":
                times, finest = zip(*values, strict=True)
                block.times, block.finest = np.array(times, np.int64), min(finest)
            elif column.kind == "logic":
                block.levels[column.cell] = np.array(values, np.uint8)
            else:
                value, unknown, digits = zip(*values, strict=True)
                block.words[column.cell] = Words(np.array(value, np.uint64), np.array(unknown, np.uint64), max(digits))
        return block

    # ---- all values

    def add(self, block: _Block) -> None:
        """Blocks are given one after the other."""
        for cell, numbers in block.numbers.items():
            self.numbers[cell].append(numbers)
        if block.times is not None:
            self.times.append(block.times)
            self.finest = min(self.finest, block.finest)
        changes = [self.sinks[c].add_levels(levels, self.count) for c, levels in block.levels.items()]
        changes += [self.sinks[c].add(words, self.count) for c, words in block.words.items()]
        self.last_changes = any(changes)
        self.count += block.count

    def result(self) -> Rows:
        names: list[str] = []
        index: list[Int64] = []
        levels: list[UInt8] = []
        for column in self.plan.bits:
            sink = self.sinks[column.cell]
            own = (column.name,) if column.word is None else column.word.bit_names(sink.width)
            names += own
            for where, level in sink.bits(len(own)):
                index.append(where)
                levels.append(level)
        volts: dict[str, Float32] = {c.name: np.concatenate(self.numbers[c.cell]) for c in self.plan.volts}
        words = ((c.word.name, BASE_WORDS[c.word.base]) for c in self.plan.bits if c.word and c.word.base)
        return Rows(
            self.count,
            tuple(names),
            np.concatenate(index or [np.empty(0, np.int64)]),
            np.concatenate(levels or [np.empty(0, np.uint8)]),
            np.cumsum([0, *map(len, index)]),
            self.last_changes,
            TimeLog(self.source.path, self.layout),
            volts,
            self._shown(),
            np.concatenate(self.times) if self.times else None,
            self.pieces.zero,
            10**self.finest,
            tuple(f"{name}, {base}" for name, base in words),
            self.pieces.notes,
        )

    def _shown(self) -> ShownTimes | None:
        time, pieces = self.plan.time, self.pieces
        if time is None or time.cell not in self.numbers:
            return None
        printed = printed_unit([*pieces.first_times, pieces.last_time])
        return ShownTimes(np.concatenate(self.numbers[time.cell]), pieces.first_times[0], pieces.last_time, printed)


def printed_unit(texts: list[str]) -> Fraction:
    """The last printed digit of the times.

    Where all have the same number of significant digits (1.234E-05), it is that of the largest time; elsewhere
    it is the finest that is seen, as zeros at the end may have been left away.

    >>> printed_unit(["1.00E-06", "2.00E-05"]) == Fraction(1, 10**7)
    True
    """
    scales, lengths, largest = [], set(), Fraction(0)
    for text in texts:
        mantissa, _, exponent = text.lower().partition("e")
        scale = int(exponent or 0) - len(mantissa.partition(".")[2])
        digits = mantissa.lstrip("+-").replace(".", "").lstrip("0")
        scales.append(scale)
        if digits:
            lengths.add(len(digits))
            largest = max(largest, abs(Fraction(text)))
    if len(lengths) == 1 and largest:
        place = math.floor(math.log10(largest)) - lengths.pop() + 1
        return Fraction(10) ** max(place, min(scales))
    return Fraction(10) ** min(scales)
