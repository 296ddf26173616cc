"""Rows by a plan of their columns: every distinct cell of logic or words is read once, plainly; numbers by pandas."""

from __future__ import annotations

import csv
import io
import math
import warnings
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import numpy as np

from tracecore.capture import UNKNOWN, Float32, Int64
from tracecore.errors import MalformedCapture
from tracecore.quantities import time_unit_ps
from tracecore.readers.by_hand.column_choice import Kind
from tracecore.readers.by_hand.raw_columns import RawTable
from tracecore.readers.headings.logic_heading import NUMBER
from tracecore.readers.logic.row_text import BadRow, cell_level, shown
from tracecore.readers.recognise.cell_forms import OUT_OF_REACH, TimeForm, parsed_times, time_ps
from tracecore.readers.source import Head, Source, split_cells
from tracecore.readers.words.word_sink import Cell, WordSink
from tracecore.readers.words.words import MOST_BITS, WordColumn, split_word

if TYPE_CHECKING:
    import pandas as pd

_PIECE = 1 << 21
_FIRST = 500
_FITS = {"volts": "a number of volts", "time": "a number", "logic": "0 or 1", "word": "a word"}
Float64 = np.ndarray[Any, np.dtype[np.float64]]


@dataclass(frozen=True, slots=True)
class Planned:
    """What one column is taken for: cell ``cell`` (from 0) of a row; ``scale`` takes its numbers to volts; ``unit`` is
    that of a time, as said; ``word`` says how words come apart. ``form``, ``levels`` and ``offset`` as in
    RawColumn."""

    cell: int
    name: str
    kind: Kind
    scale: float = 1.0
    unit: str | None = None
    word: WordColumn | None = None
    form: TimeForm = ""
    levels: tuple[tuple[str, int], ...] = ()
    offset: float = 0.0

    @property
    def unit_ps(self) -> Fraction | None:
        """The unit said of a time in ps."""
        return time_unit_ps(self.unit) if self.unit else None


@dataclass(frozen=True, slots=True, eq=False)
class ChosenRows:
    """All rows. ``times`` float64[N] as printed, empty without a time column; ``volts`` float32[N] and ``changes`` by
    cell; the first times and the last one as text. Of times that are no plain numbers ``exact_ps`` are picoseconds from
    the first row on, which was at ``zero``, ``printed_ps`` their last digit."""

    count: int
    times: Float64
    volts: dict[int, Float32]
    changes: dict[int, WordSink]
    first_times: tuple[str, ...]
    last_time: str
    notes: tuple[str, ...]
    exact_ps: Int64 | None = None
    printed_ps: int = 1
    zero: str = ""

    def times_ps(self, unit_ps: Fraction) -> Int64:
        """Whole picoseconds; exact while a time has no more than fifteen digits."""
        if self.exact_ps is not None:
            return self.exact_ps
        places = max((len(t.partition(".")[2]) for t in self.first_times if "e" not in t.lower()), default=0)
        exponents = any("e" in t.lower() for t in self.first_times)
        scale = unit_ps / 10**places
        if exponents or places > 12 or scale.denominator > 1:
            return np.rint(self.times * float(unit_ps)).astype(np.int64)
        return np.rint(self.times * 10.0**places).astype(np.int64) * int(scale)


def read_rows_as_chosen(source: Source, head: Head, table: RawTable, plan: tuple[Planned, ...]) -> ChosenRows:
    """Reads all rows. Raises MalformedCapture with line and column for the first cell that does not fit its kind."""
    reading = _Reading(source, head, table, plan)
    for piece, line in reading.pieces():
        reading.take(piece, line)
    return reading.rows()


class _Reading:
    def __init__(self, source: Source, head: Head, table: RawTable, plan: tuple[Planned, ...]) -> None:
        self.source, self.head, self.table = source, head, table
        self.plan = tuple(p for p in plan if p.kind != "leave out")
        self.time = next((p for p in plan if p.kind == "time"), None)
        self.count = 0
        self.notes: list[str] = []
        self.times: list[Float64] = []
        self.volts: dict[int, list[Float32]] = {p.cell: [] for p in plan if p.kind == "volts"}
        self.changes = {p.cell: WordSink(p.word) for p in plan if p.kind in ("logic", "word")}
        self.first_times: list[str] = []
        self.last_time = ""
        self.worded = self.time is not None and self.time.form in ("date", "unit")
        self.exact: list[Int64] = []
        self.zero_ps: int | None = None
        self.zero = ""
        self.finest = 12
        self.letters = {p.cell: p.word is not None or bool(p.levels) for p in self.plan}

    # ---- pieces of whole lines

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        text = self.source.take_head()[self.source.skip_lines(self.table.data_line) :]
        line = self.table.data_line + 1
        while more := self.source.read(_PIECE):
            # blank lines at the end wait for what follows them
            cut = more.rfind(b"\n", 0, len(more.rstrip())) + 1
            if not cut:
                text += more
                continue
            piece = text + more[:cut]
            yield piece, line
            line += piece.count(b"\n")
            text = more[cut:]
        text = self._without_cut_row(text, line)
        if text:
            yield text, line
        elif not self.count:
            raise self._wrong(line, "no whole row", "rows of cells")

    def _without_cut_row(self, text: bytes, line: int) -> bytes:
        """The last lines, with a line end. 3.2 may have been 3.25: without a line end only logic is whole."""
        whole, text = text.endswith(b"\n"), text.rstrip()
        at = text.rfind(b"\n") + 1
        cells = self._cells(text[at:])
        last = max(p.cell for p in self.plan)
        letter = any(p.cell == last and p.kind == "logic" for p in self.plan)
        sure = len(cells) >= self.table.width and (letter or len(cells) > last + 1) and self._misfit(cells) is None
        if sure and letter and len(cells) == last + 1 and not cells[last]:
            # an empty cell is a level not known yet only where the row above had none either
            above = self._cells(text[text.rfind(b"\n", 0, max(0, at - 1)) + 1 : max(0, at - 1)])
            sure = len(above) == len(cells) and not above[last]
        if text and not whole and not sure:
            number = line + text.count(b"\n")
            self.notes.append(f"The last row (line {number}) has no line end, may be cut short, and is left out.")
            text = text[:at].rstrip()
        return text + b"\n" if text else b""

    def _cells(self, row: bytes) -> list[str]:
        return split_cells(row.decode(self.head.coding, "replace").rstrip("\r"), self.head.delimiter, self.head.decimal)

    # ---- a piece to values

    def take(self, piece: bytes, line: int) -> None:
        frame = self._frame(piece, line)
        rows = len(frame)
        try:
            for planned in self.plan:
                self._take_column(planned, frame[planned.cell])
        except ValueError:
            raise self._first_misfit(piece, line) or self._unreadable(line) from None
        if self.time is not None:
            self._check_forwards(line)
            self._keep_times(piece)
        self.count += rows

    def _frame(self, piece: bytes, line: int) -> pd.DataFrame:
        plain = ("volts",) if self.worded else ("volts", "time")
        kinds: dict[int, Any] = {p.cell: np.float64 if p.kind in plain else "category" for p in self.plan}
        if self.worded and self.time is not None:
            kinds[self.time.cell] = "str"
        cells: list[int] = sorted(kinds)
        frame = self._parsed(piece, line, kinds, cells)
        # categories that look like numbers are made numbers, and 0x10, 010 and 10 must not be one
        numbers = [c for c in cells if kinds[c] == "category" and frame[c].cat.categories.dtype.kind in "iufb"]
        again = [c for c in numbers if self.letters[c] or frame[c].cat.categories.dtype.kind not in "iu"]
        if again:
            texts = self._parsed(piece, line, dict.fromkeys(again, "str"), again)
            for c in again:
                frame[c] = texts[c].astype("category")
        lines = piece.count(b"\n")
        even = piece.count(self.head.delimiter.encode()) == lines * (self.table.width - 1)
        if (not even or len(frame) != lines) and (wrong := self._first_misfit(piece, line)):
            raise wrong
        if len(frame) != lines:
            raise self._unreadable(line)
        return frame

    def _parsed(self, piece: bytes, line: int, kinds: Mapping[int, Any], cells: list[int]) -> pd.DataFrame:
        import pandas as pd

        try:
            with warnings.catch_warnings():
                # a row that is too long is found by the count of delimiters
                warnings.simplefilter("ignore", pd.errors.ParserWarning)
                return pd.read_csv(
                    io.BytesIO(piece),
                    header=None,
                    names=list(range(self.table.width)),
                    usecols=cells,
                    index_col=False,
                    sep=self.head.delimiter,
                    decimal=self.head.decimal,
                    dtype=dict(kinds),
                    skip_blank_lines=False,
                    skipinitialspace=True,
                    na_filter=False,
                    encoding=self.head.coding,
                    quoting=csv.QUOTE_MINIMAL if b'"' in piece else csv.QUOTE_NONE,
                )
        except (ValueError, pd.errors.ParserError):
            raise self._first_misfit(piece, line) or self._unreadable(line) from None

    def _take_column(self, planned: Planned, column: pd.Series[Any]) -> None:
        """Raises ValueError where a cell does not fit."""
        if planned.kind == "time" and self.worded:
            self._take_words_of_time(column, planned.form)
            return
        if planned.kind in ("volts", "time"):
            numbers = column.to_numpy(np.float64)
            if not (np.isfinite(numbers.min()) and np.isfinite(numbers.max())):
                raise ValueError("a number that is none")
            if planned.kind == "time":
                self.times.append(numbers)
            else:
                self.volts[planned.cell].append((numbers * planned.scale + planned.offset).astype(np.float32))
            return
        texts = [str(text).encode("latin-1") for text in column.cat.categories]
        cells = [self._digits(planned, text) for text in texts]
        self.changes[planned.cell].add_cells(column.cat.codes.to_numpy(), cells, self.count)

    def _take_words_of_time(self, column: pd.Series[Any], form: TimeForm) -> None:
        """Raises ValueError where one is none."""
        cells = [str(cell).strip() for cell in column]
        if self.zero_ps is None:
            first = time_ps(cells[0], form)[0]
            self.zero_ps, self.zero = (first, cells[0]) if form == "date" else (0, "")
        times, finest = parsed_times(cells, form, self.zero_ps)
        self.finest = min(self.finest, finest)
        self.exact.append(times)
        self.times.append(times.astype(np.float64))

    def _digits(self, planned: Planned, text: bytes) -> Cell:
        """Value, unknown bits and digits of a cell of logic or words. Raises BadRow."""
        if planned.word is not None:
            word = split_word(text, planned.word, planned.cell + 1, self.time is not None)
            return word.value, word.unknown, word.digits
        level = dict(planned.levels).get(text.strip(b' \t"').decode("latin-1").lower())
        if level is None:
            level = cell_level(text, self.time is not None)
        if level is None:
            raise BadRow(shown(text), _FITS["logic"], planned.cell + 1)
        return (0, (1 << MOST_BITS) - 1, 1) if level == UNKNOWN else (level, 0, 1)

    def _check_forwards(self, line: int) -> None:
        held: Sequence[np.ndarray[Any, Any]] = self.exact or self.times
        times = held[-1]
        if len(held) > 1:
            times = np.concatenate((held[-2][-1:], times))
            line -= 1
        back = np.diff(times) < 0
        if back.any():
            assert self.time is not None
            at = line + int(back.argmax()) + 1
            found = f"a time before that of the row above, in the column {self.time.name!r}"
            raise self._wrong(at, found, "times that never run backwards", self.time.cell + 1)

    def _keep_times(self, piece: bytes) -> None:
        assert self.time is not None
        if not self.first_times:
            self.first_times = [self._cells(row)[self.time.cell] for row in piece.split(b"\n", _FIRST)[:_FIRST] if row]
        self.last_time = self._cells(piece[piece.rfind(b"\n", 0, -1) + 1 : -1])[self.time.cell]

    def rows(self) -> ChosenRows:
        empty = np.empty(0, np.float64)
        return ChosenRows(
            self.count,
            np.concatenate(self.times) if self.times else empty,
            {cell: np.concatenate(parts) for cell, parts in self.volts.items()},
            self.changes,
            tuple(self.first_times),
            self.last_time,
            tuple(self.notes),
            np.concatenate(self.exact) if self.exact else None,
            10**self.finest,
            self.zero,
        )

    # ---- what is wrong

    def _first_misfit(self, piece: bytes, line: int) -> MalformedCapture | None:
        """The first line of the piece that does not fit, looked at one by one."""
        for at, row in enumerate(piece.removesuffix(b"\n").split(b"\n"), start=line):
            if not row.strip():
                return self._wrong(at, "a blank line", "a row of cells")
            if row.count(b'"') % 2:
                return self._wrong(at, "a quote without its pair", "quotes in pairs, or none")
            cells = self._cells(row)
            misfit = self._misfit(cells)
            if misfit is not None:
                return self._wrong(at, *misfit)
        return None

    def _misfit(self, cells: list[str]) -> tuple[str, str, int | None] | None:
        """What was found, what was expected, and the cell from 1; None where the row fits."""
        wide = self.table.width
        if len(cells) != wide:
            return f"{len(cells)} cell{'s' if len(cells) > 1 else ''}", f"{wide} as in the other rows", None
        for planned in self.plan:
            cell = cells[planned.cell]
            column = planned.cell + 1
            if planned.kind == "time" and self.worded:
                try:
                    own = time_ps(cell, planned.form)[0]
                    parsed_times([cell], planned.form, own if self.zero_ps is None else self.zero_ps)
                except ValueError as odd:
                    reach = "a time within 11 days of the first" if odd.args == (OUT_OF_REACH,) else ""
                    return self._found(planned, cell), reach or "a time written as in the first row", column
                continue
            if planned.kind in ("volts", "time"):
                if NUMBER.fullmatch(cell) is None or not math.isfinite(float(cell)):
                    return self._found(planned, cell), _FITS[planned.kind], column
                continue
            try:
                self._digits(planned, cell.encode("latin-1", "replace"))
            except BadRow as bad:
                return self._found(planned, cell), bad.expected, column
        return None

    def _found(self, planned: Planned, cell: str) -> str:
        return f"{cell[:40]!r} in the column {planned.name!r}, taken for {planned.kind}"

    def _wrong(self, line: int, found: str, expected: str, column: int | None = None) -> MalformedCapture:
        return MalformedCapture(
            self.source.path,
            line=line,
            column=column,
            found=found,
            expected=expected,
            do="Say another kind of this column (--column), or correct this line." if column else "Correct this line.",
        )

    def _unreadable(self, line: int) -> MalformedCapture:
        return self._wrong(line, "rows from here on that cannot be read", "rows that fit what was said of the columns")
