"""Columns of numbers read in pieces, so that memory holds the numbers and not the text as well."""

from __future__ import annotations

import csv
import io
import math
import warnings
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np

from tracecore.capture import Float32
from tracecore.errors import MalformedCapture
from tracecore.readers.headings.scope_shape import ScopeShape, is_number
from tracecore.readers.refusals import bad_row
from tracecore.readers.scope.number_template import NumberRows
from tracecore.readers.source import Head, Source, split_cells

if TYPE_CHECKING:
    from concurrent.futures import Future

PIECE = 1 << 21
# a file whose rows are laid out in too many ways is not tried again and again
_MOST_REFUSED = 1
_TAIL = 1 << 10
Float64 = np.ndarray[Any, np.dtype[np.float64]]


@dataclass(frozen=True, slots=True, eq=False)
class ScopeNumbers:
    """``times`` float64[N] as printed, ``volts`` float32[N] a channel before any unit; first and last time as text.

    ``printed`` is the last printed digit of the largest time, in the unit of the time column.
    """

    times: Float64
    volts: list[Float32]
    first_text: str
    last_text: str
    printed: Fraction


def read_numbers(source: Source, head: Head, shape: ScopeShape) -> ScopeNumbers:
    """Reads all rows. Raises MalformedCapture with line and column for the first cell that is no number."""
    from concurrent.futures import ThreadPoolExecutor

    reading = _Pieces(source, head, shape)
    done: list[list[Any]] = []
    waiting: list[Future[list[Any]]] = []
    # the parser lets go of the interpreter while it works, so two pieces at once take half the time
    with ThreadPoolExecutor(2, "columns") as pool:
        for piece, line in reading.pieces():
            waiting.append(pool.submit(reading.parsed, piece, line))
            if len(waiting) > 2:
                done.append(waiting.pop(0).result())
        done += [future.result() for future in waiting]
    times, *volts = [np.concatenate([piece[i] for piece in done]) for i in range(len(shape.columns))]
    texts = [*reading.first_times, reading.last_time]
    return ScopeNumbers(times, volts, texts[0], texts[-1], printed_unit(texts))


def _paired(piece: bytes) -> bool:
    """Has every line its quotes in pairs?"""
    if b'"' not in piece:
        return True
    letters = np.frombuffer(piece, np.uint8)
    lines = np.flatnonzero(letters == 10).searchsorted(np.flatnonzero(letters == 34))
    return not (np.bincount(lines) % 2).any()


def _solid(text: bytes) -> int:
    """Length without white space at the end; only what may be white is copied."""
    tail = text[-_TAIL:]
    return len(text) - len(tail) + len(tail.rstrip()) if tail.strip() else len(text.rstrip())


class _Pieces:
    def __init__(self, source: Source, head: Head, shape: ScopeShape) -> None:
        self.source, self.head, self.shape = source, head, shape
        column = shape.columns[0]
        rows = [head.cells(i) for i in range(shape.data_line, len(head.lines)) if head.lines[i].strip()][:500]
        self.first_times = [cells[column] for cells in rows if is_number(cells, column)]
        self.last_time = self.first_times[-1]
        # both cost a quarter of the time, and few files need them
        self.spaced = f"{head.delimiter} " in head.lines[shape.data_line]
        self.quoted = '"' in head.lines[shape.data_line]
        self.plain = NumberRows(shape.columns, shape.width, head.delimiter, head.decimal)
        self.refused = 0

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        """Whole lines and the number of the first, without blank lines at the end of the file."""
        text = self.source.take_head()[self.source.skip_lines(self.shape.data_line) :]
        line = self.shape.data_line + 1
        while more := self.source.read(PIECE):
            # trailing blank lines wait for what follows them
            cut = more.rfind(b"\n", 0, _solid(more)) + 1
            if not cut or len(text) + len(more) < PIECE // 2:
                text += more
                continue
            piece = b"".join((text, memoryview(more)[:cut]))
            yield piece, line
            line += int(np.count_nonzero(np.frombuffer(piece, np.uint8) == 10))
            text = more[cut:]
        # a last row that may be cut short has been taken away by the source
        text = text.rstrip()
        last = split_cells(text[text.rfind(b"\n") + 1 :].decode("latin-1"), self.head.delimiter, self.head.decimal)
        if text:
            if is_number(last, self.shape.columns[0]):
                self.last_time = last[self.shape.columns[0]]
            yield text + b"\n", line

    def parsed(self, piece: bytes, line: int) -> list[Any]:
        """The columns of a piece: float64 for the time, float32 for volts."""
        columns = self._columns(piece, line)
        if any(self.shape.logic):
            self._check_logic(piece, line)
        return columns

    def _check_logic(self, piece: bytes, line: int) -> None:
        """A logic cell is one letter, 0 or 1: ``00`` would pass for the number 0, but a cell was damaged."""
        if self._logic_stands_still(piece):
            return
        letters = np.frombuffer(piece, np.uint8)
        marks = np.flatnonzero((letters == ord(self.head.delimiter)) | (letters == 10))
        ends = np.flatnonzero(letters[marks] == 10)
        firsts = np.append(0, ends[:-1] + 1)
        for channel in np.flatnonzero(self.shape.logic).tolist():
            column = self.shape.columns[channel + 1]
            stop = marks[np.minimum(firsts + column, ends)]
            start = marks[np.minimum(firsts + column, ends) - 1] + 1
            length = stop - start - (letters[stop - 1] == 13) - (letters[np.minimum(start, len(letters) - 1)] == 32)
            for row in np.flatnonzero(length != 1).tolist():
                text = piece[int(start[row]) : int(stop[row])].decode("latin-1").strip(' \r\t"')
                if text not in ("0", "1"):
                    raise self._wrong(line + row, f"{text[:40]!r} in a column of logic", "0 or 1", column + 1)

    def _logic_stands_still(self, piece: bytes) -> bool:
        """Do all rows have their delimiters where the first one has, with one letter between them where logic is?"""
        first = piece[: piece.index(b"\n") + 1]
        cells = first.split(self.head.delimiter.encode())
        cells[-1] = cells[-1].removesuffix(b"\n")
        logic = [cells[c] for c, is_logic in zip(self.shape.columns[1:], self.shape.logic, strict=True) if is_logic]
        if len(piece) % len(first) or any(cell not in (b"0", b"1") for cell in logic):
            return False
        rows = np.frombuffer(piece, np.uint8).reshape(-1, len(first))
        marks = [at for at, letter in enumerate(first) if letter in b"\n" + self.head.delimiter.encode()]
        return all(bool((rows[:, at] == first[at]).all()) for at in marks)

    def _columns(self, piece: bytes, line: int) -> list[Any]:
        """The same, looked at as numbers only."""
        if self.refused < _MOST_REFUSED:
            if (plain := self.plain.read(piece)) is not None:
                return [plain[0], *(column.astype(np.float32) for column in plain[1:])]
            self.refused += 1
        return self._by_parser(piece, line)

    def _by_parser(self, piece: bytes, line: int) -> list[Any]:
        """The same for rows whose layout changes all the time, and for those that hold an error."""
        import pandas as pd

        shape = self.shape
        # comparing in numpy counts several times as fast as bytes.count where the letter is frequent
        letters = np.frombuffer(piece, np.uint8)
        rows = int(np.count_nonzero(letters == 10))
        types = {c: np.dtype(np.float32) for c in shape.columns} | {shape.columns[0]: np.dtype(np.float64)}
        try:
            with warnings.catch_warnings():
                # a row that is too long is found by the count of delimiters below
                warnings.simplefilter("ignore", pd.errors.ParserWarning)
                # a number beyond float32 is found below, as it is not finite
                warnings.simplefilter("ignore", RuntimeWarning)
                frame = pd.read_csv(
                    io.BytesIO(piece),
                    header=None,
                    names=list(range(shape.width)),
                    usecols=list(shape.columns) if len(shape.columns) < shape.width else None,
                    index_col=False,
                    sep=self.head.delimiter,
                    decimal=self.head.decimal,
                    dtype=types,
                    skip_blank_lines=False,
                    skipinitialspace=self.spaced,
                    na_filter=False,
                    encoding="latin-1",
                    quoting=csv.QUOTE_MINIMAL if self.quoted else csv.QUOTE_NONE,
                )
        except (ValueError, pd.errors.ParserError):
            raise self._bad_cell(piece, line) or self._unreadable(line) from None
        columns = [frame[c].to_numpy() for c in shape.columns]
        sound = all(np.isfinite(column.min()) and np.isfinite(column.max()) for column in columns)
        even = len(frame) == rows and int(np.count_nonzero(letters == ord(self.head.delimiter))) == rows * (
            shape.width - 1
        )
        if not (sound and even and _paired(piece)) and (bad := self._bad_cell(piece, line)):
            raise bad
        if not sound or len(frame) != rows:
            raise self._unreadable(line)
        return columns

    def _bad_cell(self, piece: bytes, line: int) -> MalformedCapture | None:
        """The first cell that is no number, or the first row that is too short or too long, line by line."""
        needed = self.shape.columns[-1] + 1
        for at, text in enumerate(piece.decode("latin-1").removesuffix("\n").split("\n"), start=line):
            cells = split_cells(text.rstrip("\r"), self.head.delimiter, self.head.decimal)
            if not text.strip():
                return self._wrong(at, "a blank line", "a row of numbers")
            if text.count('"') % 2:
                return self._wrong(at, "a quote without its pair", "quotes in pairs, or none")
            if len(cells) < needed or any(cells[self.shape.width :]):
                count = f"{len(cells)} cell{'s' if len(cells) > 1 else ''}"
                return self._wrong(at, count, f"{self.shape.width} as in the other rows")
            for column in self.shape.columns:
                if not is_number(cells, column) or not math.isfinite(float(cells[column])):
                    return self._wrong(at, repr(cells[column][:40]), "a number", column + 1)
        return None

    def _wrong(self, line: int, found: str, expected: str, column: int | None = None) -> MalformedCapture:
        return bad_row(self.source.path, line, found, expected, column)

    def _unreadable(self, line: int) -> MalformedCapture:
        return self._wrong(line, "rows from here on that cannot be read as numbers", "columns of numbers")


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
