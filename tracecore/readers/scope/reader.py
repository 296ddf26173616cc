"""Scope columns: volts in even steps of time, in the three shapes that instruments write.

A time column and volt columns under one or two heading rows; a preamble of names and values above the rows or
in the first columns beside them; an index column with start and increment in the heading row.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction
from typing import cast

import numpy as np

from tracecore.capture import AnalogTrace, Capture, DigitalTrace, Float32, sample_time_ps
from tracecore.errors import MissingSampleRate, UnknownCapture
from tracecore.quantities import PS_PER_S, format_rate, format_time
from tracecore.readers.even_times import SECONDS_ASSUMED, check_base, check_even, interval_note, lie_on
from tracecore.readers.headings.heading_facts import contradiction
from tracecore.readers.headings.scope_shape import ScopeShape, is_number
from tracecore.readers.recognise.first_row import END_LINE
from tracecore.readers.recognise.known import SCOPE, known
from tracecore.readers.refusals import GIVE_RATE, bad_row, two_rates, wrong_width
from tracecore.readers.scope.numbers import Float64, ScopeNumbers, read_numbers
from tracecore.readers.source import Head, ReadOptions, Source, split_cells


def read_scope(source: Source, options: ReadOptions) -> Capture:
    """Reads volts as float32; sample i stands at start + i * interval, the interval being exact.

    Raises MalformedCapture with line and column for a cell that is no number, and where the times are not in
    even steps; MissingSampleRate where the first column is an index and no interval is stated.
    """
    head = source.head()
    shape = known(head).volts
    if shape is None:
        raise UnknownCapture(
            source.path, found="no columns of volts", expected="scope columns", do="Export the capture again."
        )
    if shape.wrong_unit is not None:
        raise shape.wrong_unit
    _check_width(head, shape)
    rows = RowsWithEnd(source, head, shape)
    if options.time_unit_ps is not None:
        shape = replace(shape, time_unit_ps=options.time_unit_ps)
    # these rows are a file as far as the numbers are concerned
    numbers = read_numbers(cast(Source, rows), rows.head(), shape)
    start_ps, interval_ps = time_base(source.path, shape, numbers, options.sample_rate)
    check_base(source.path, shape.data_line + 1, start_ps, interval_ps, len(numbers.times))
    analog: dict[str, AnalogTrace] = {}
    digital: dict[str, DigitalTrace] = {}
    for i, (channel, scale) in enumerate(zip(shape.names, shape.scales, strict=True)):
        volts = numbers.volts[i]
        if shape.logic[i]:
            digital[channel] = _logic(source.path, shape, i, volts, start_ps, interval_ps)
            continue
        if scale != 1.0:
            volts = (volts.astype(np.float64) * scale).astype(np.float32)
        analog[channel] = AnalogTrace(start_ps, interval_ps, volts)
    facts = (
        ("sample rate", format_rate(PS_PER_S / interval_ps)),
        ("samples", str(len(numbers.times))),
        ("channels", ", ".join(shape.names)),
    )
    return Capture(
        options.name,
        digital,
        analog,
        -(-interval_ps.numerator // interval_ps.denominator),
        SCOPE,
        source.path,
        source.sha256(),
        (*facts, *shape.facts),
        (
            *rows.notes,
            *_time_notes(shape, interval_ps, options),
            *_rounded_note(shape, numbers, interval_ps),
            *_left_out_note(shape),
        ),
    )


def _time_notes(shape: ScopeShape, interval_ps: Fraction, options: ReadOptions) -> tuple[str, ...]:
    """What the heading states against the times or against itself, and a unit that it does not state."""
    notes: tuple[str, ...] = ()
    if options.sample_rate is None:
        twice = contradiction(shape.rates)
        notes = interval_note(shape.interval_s, interval_ps)
        if twice:
            notes = (f"The heading states {twice}; the times decide.",)
    confirmed = shape.interval_s is not None and shape.interval_s * PS_PER_S == interval_ps
    if shape.unit_assumed and shape.index is None and options.time_unit_ps is None and not confirmed:
        notes += (SECONDS_ASSUMED,)
    return notes


def _rounded_note(shape: ScopeShape, numbers: ScopeNumbers, interval_ps: Fraction) -> tuple[str, ...]:
    """What is assumed where the last printed digit is as coarse as the samples."""
    printed = 0 if shape.index is not None else numbers.printed * (shape.time_unit_ps or 0)
    if printed * 2 <= interval_ps or not interval_ps % printed or shape.interval_s is not None:
        return ()
    shown, every = format_time(printed), format_time(interval_ps)
    return (
        f"The times are rounded to {shown}; a sample every {every} is taken from them all. Give the rate (--rate).",
    )


def _left_out_note(shape: ScopeShape) -> tuple[str, ...]:
    if not shape.left_out:
        return ()
    return (f"Left out, as they hold no logic and no volts: {', '.join(shape.left_out[:12])} (--column).",)


def _check_width(head: Head, shape: ScopeShape) -> None:
    """Raises MalformedCapture where one of the last rows has more numbers than the others have cells."""
    if shape.columns[-1] < shape.width:
        return
    for line in range(shape.data_line, len(head.lines)):
        if len(head.cells(line)) > shape.width:
            raise wrong_width(head.path, line + 1, len(head.cells(line)), f"{shape.width} as in the other rows")


def _logic(
    path: str, shape: ScopeShape, channel: int, cells: Float32, start_ps: int, interval_ps: Fraction
) -> DigitalTrace:
    """A column of 0 and 1 beside volts, sampled with them."""
    wrong = (cells != 0) & (cells != 1)
    if wrong.any():
        at, do = int(wrong.argmax()), "Export the capture again, or write the unit V into the heading of this column."
        found, column = f"{float(cells[at]):g} in a column of logic", shape.columns[channel + 1] + 1
        raise bad_row(path, shape.data_line + at + 1, found, "0 or 1", column, do)
    index = np.concatenate([[0], np.flatnonzero(cells[1:] != cells[:-1]) + 1, [len(cells)]]).astype(np.int64)
    times = sample_time_ps(index, PS_PER_S / interval_ps, start_ps)
    return DigitalTrace(times[:-1], cells[index[:-1]].astype(np.uint8), int(times[-1]))


def time_base(
    path: str, shape: ScopeShape, numbers: ScopeNumbers, sample_rate: Fraction | None
) -> tuple[int, Fraction]:
    """Start in ps and the exact interval in ps."""
    place = shape.data_line + 1, shape.columns[0] + 1
    if shape.index is not None:
        start, increment = shape.index
        if increment <= 0:
            found = f"an increment of {float(increment):g} s"
            raise bad_row(path, shape.data_line, found, "one above zero", do="Export the capture again.")
        check_even(path, place, numbers.times, 1.0, 0.0)
        return _rounded(start * PS_PER_S), increment * PS_PER_S
    stated = 1 / sample_rate if sample_rate is not None else shape.interval_s
    if shape.time_unit_ps is None:
        if stated is None:
            raise MissingSampleRate(
                path,
                line=shape.data_line + 1,
                column=shape.columns[0] + 1,
                found=f"{shape.unknown_unit[:40]!r} above the times, which names no unit that is known"
                if shape.unknown_unit
                else f"{numbers.first_text!r}, which may be an index or a time without a unit",
                expected="a heading such as 'Time (s)', or a sample interval above the rows",
                do="Give the unit (--time-unit) or the sample rate (--rate), or write the unit into the heading.",
            )
        if sample_rate is None and (twice := contradiction(shape.rates)):
            raise two_rates(path, twice)
        steps = np.diff(numbers.times)
        if sample_rate is None or not len(steps) or steps.min() == steps.max() == 1.0:
            check_even(path, place, numbers.times, 1.0, 0.0)
            return 0, stated * PS_PER_S
        # times in a unit that nobody knows: the rate says what one is worth
        mean = (Fraction(numbers.last_text) - Fraction(numbers.first_text)) / len(steps)
        check_even(path, place, numbers.times, float(mean), float(numbers.printed))
        return _rounded(Fraction(numbers.first_text) / mean * stated * PS_PER_S), stated * PS_PER_S
    unit, first = shape.time_unit_ps, Fraction(numbers.first_text)
    if len(numbers.times) == 1:
        if stated is None:
            raise MissingSampleRate(
                path,
                found="one row only, which tells no sample interval",
                expected="two rows or more",
                do=GIVE_RATE,
            )
        return _rounded(first * unit), stated * PS_PER_S
    mean = (Fraction(numbers.last_text) - first) / (len(numbers.times) - 1)
    check_even(path, place, numbers.times, float(mean), float(numbers.printed))
    slack = numbers.printed / (len(numbers.times) - 1)
    if stated is not None and abs(stated * PS_PER_S / unit - mean) <= slack:
        return _rounded(first * unit), stated * PS_PER_S
    return _rounded(first * unit), plain_interval(mean, slack, unit, numbers.times, float(numbers.printed))


def _rounded(value: Fraction) -> int:
    """Rounded half up."""
    return math.floor(value + Fraction(1, 2))


def plain_interval(mean: Fraction, slack: Fraction, unit_ps: Fraction, times: Float64, printed: float) -> Fraction:
    """The interval in ps: the shortest decimal, as interval or as rate, that ``times``, rounded to a printed digit,
    allow; ``mean`` is that of the steps, good to ``slack``.

    >>> plain_interval(Fraction("0.0416667"), Fraction(1, 10**6), Fraction(10**6), np.array([0.0, 0.0416667]), 1e-7)
    Fraction(125000, 3)
    """
    nearest: Fraction | None = None
    centre = float(mean)
    if 4 * printed > centre:
        # where the digits are as coarse as the steps, all times tell more than the first and the last
        centred = np.arange(len(times)) - (len(times) - 1) / 2
        slope = float(centred @ (times - times.mean()) / (centred @ centred))
        centre = slope if abs(slope - centre) < float(slack) else centre
    for digits in range(1, 16):
        for interval in (Fraction(f"{centre:.{digits}g}"), 1 / Fraction(f"{1 / centre:.{digits}g}")):
            if abs(interval - mean) > slack:
                continue
            if lie_on(times, float(interval), printed):
                return interval * unit_ps
            nearest = nearest or interval * unit_ps
    return nearest or mean * unit_ps


class RowsWithEnd:
    """A source without the last row where that may be the front part of a longer one; ``notes`` says so at the end.

    ``340`` may have been ``3400``, and no length of the rows above tells. So a row without a line end counts as whole
    only where a delimiter stands behind its last volt, or where its last cell is logic, one letter that cannot be cut.
    Raises MalformedCapture where no row is left.
    """

    def __init__(self, source: Source, head: Head, shape: ScopeShape) -> None:
        self._source, self._head, self._shape = source, head, shape
        self.path = source.path
        self.notes: tuple[str, ...] = ()
        self._lines = 0
        self._open = b""
        if len(self.head().lines) <= shape.data_line:
            found, do = "one row only, without a line end, which may be cut short", END_LINE
            raise bad_row(source.path, shape.data_line + 1, found, "whole rows of numbers", do=do)

    def head(self) -> Head:
        """The first lines, without a last one that may be cut short."""
        head = self._head
        last = head.lines[-1] if head.whole else ""
        return replace(head, lines=head.lines[:-1]) if last.strip() and not self._is_whole(last) else head

    def skip_lines(self, lines: int) -> int:
        """Bytes of the head that the first ``lines`` lines take up."""
        return self._source.skip_lines(lines)

    def take_head(self) -> bytes:
        """The first whole lines; the next ``read`` goes on behind them."""
        return self._whole_lines(self._source.take_head())

    def read(self, size: int) -> bytes:
        """Whole lines, of about ``size`` bytes; empty at the end of the file."""
        while more := self._source.read(size):
            if lines := self._whole_lines(more):
                return lines
        last, self._open = self._open, b""
        if not last.strip() or self._is_whole(last.decode("latin-1")):
            return last
        self.notes = (f"The last row (line {self._lines + 1}) has no line end, may be cut short, and is left out.",)
        return b""

    def _whole_lines(self, text: bytes) -> bytes:
        cut = text.rfind(b"\n") + 1
        self._lines += int(np.count_nonzero(np.frombuffer(text, np.uint8, cut) == 10))
        # joined once, as copies of large pieces cost as much as reading them
        lines = b"".join((self._open, memoryview(text)[:cut])) if cut else b""
        self._open = text[cut:] if cut else self._open + text
        return lines

    def _is_whole(self, row: str) -> bool:
        shape = self._shape
        cells = split_cells(row, self._head.delimiter, self._head.decimal)
        last = shape.columns[-1]
        if not all(is_number(cells, column) for column in shape.columns):
            return False
        return len(cells) > last + 1 or (shape.logic[-1] and cells[last] in ("0", "1"))
