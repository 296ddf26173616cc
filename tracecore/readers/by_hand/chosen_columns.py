"""Rows of which a person said what a column is: read by the plan that this makes, and by nothing the cells look like.

It takes any mixture of logic, words and volts, with the time in any column, several times slower than the readers
that know their layout. A cell that does not fit its kind is an error with its line, as everywhere.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np

from tracecore.capture import AnalogTrace, Capture, DigitalTrace, Int64, sample_time_ps
from tracecore.errors import UnknownCapture
from tracecore.quantities import PS_PER_S, format_rate, format_time
from tracecore.readers.by_hand.chosen_rows import ChosenRows, Planned, read_rows_as_chosen
from tracecore.readers.by_hand.column_plan import as_said, column_plan, none_left
from tracecore.readers.by_hand.raw_columns import RawTable, raw_table
from tracecore.readers.even_times import check_base, check_even
from tracecore.readers.headings.channel_names import check_distinct_bits
from tracecore.readers.headings.scope_shape import ScopeShape
from tracecore.readers.logic.reader import last_of_each_time, period_ps, same_times_note
from tracecore.readers.recognise.known import CHANGES, SAMPLED, SCOPE, known
from tracecore.readers.refusals import bad_row, needed_rate, no_unit
from tracecore.readers.sample_period import Resolution, found_resolution
from tracecore.readers.scope.numbers import ScopeNumbers, printed_unit
from tracecore.readers.scope.reader import plain_interval, time_base
from tracecore.readers.source import Head, ReadOptions, Source


def read_chosen(source: Source, options: ReadOptions) -> Capture:
    """Reads rows by ``options.columns``; a column of which nothing was said is taken as it looks.

    Raises UnknownCapture where a named column is not there, MalformedCapture with line and column for a cell that
    does not fit, MissingSampleRate and MissingWordBase where something more must be said.
    """
    head = source.head()
    table = raw_table(head, options.first_row, options.columns)
    if table is None:
        raise UnknownCapture(
            source.path,
            found="no rows of cells to say columns of",
            expected="rows of cells with a delimiter between them",
            do="Leave the choice of columns out.",
        )
    plan = column_plan(source.path, table, options)
    if not any(p.kind not in ("time", "leave out") for p in plan):
        raise none_left(source.path)
    rows = read_rows_as_chosen(source, head, table, plan)
    names = [n for p in plan for n in _names(p, rows)]
    check_distinct_bits(source.path, names, "Leave one of the columns out, or rename it.")
    time = next((p for p in plan if p.kind == "time"), None)
    if time is not None and time.form == "index":
        rate = _needed_rate(source, table, options)
        rows = replace(rows, notes=rows.notes + _check_index(source, table, time, rows))
        rows = replace(rows, exact_ps=_index_times(rows, rate), printed_ps=1)
    if any(p.kind == "volts" for p in plan):
        found = _with_volts(source, head, table, plan, rows, options, time)
    elif time is not None:
        found = _by_times(source, table, plan, rows, options, time)
    else:
        found = _by_rate(source, table, plan, rows, options)
    facts = found.facts + ((as_said(options),) if options.columns else ())
    facts += (("first row at", rows.zero),) if rows.zero else ()
    return replace(found, facts=facts, notes=rows.notes + found.notes + _left_out_note(table, plan, options))


def _left_out_note(table: RawTable, plan: tuple[Planned, ...], options: ReadOptions) -> tuple[str, ...]:
    """Columns that nobody said to leave out, and that are not blank."""
    said = {table.place(name) for name in options.columns}
    gone = [c.name for c, p in zip(table.columns, plan, strict=True) if p.kind == "leave out" and any(c.cells)]
    gone = [name for name in gone if table.place(name) not in said]
    return (f"Left out, as they hold no logic and no volts: {', '.join(gone[:12])} (--column).",) if gone else ()


def _check_index(source: Source, table: RawTable, time: Planned, rows: ChosenRows) -> tuple[str, ...]:
    """What to say where numbers of samples are missing among many that go on by one. Raises MalformedCapture where one
    is no whole number."""
    odd = rows.times != np.rint(rows.times)
    if odd.any():
        at, do = int(odd.argmax()), "Correct this line, or say another kind of this column (--column)."
        found = f"{rows.times[at]:g} as number of a sample"
        raise bad_row(source.path, table.data_line + 1 + at, found, "whole numbers", time.cell + 1, do)
    gaps = np.flatnonzero(np.diff(rows.times) > 1)
    if not 0 < len(gaps) * 20 <= rows.count:
        return ()
    line = table.data_line + 2 + int(gaps[0])
    return (f"The numbers of samples leave some out, first at line {line}: rows may be missing there.",)


def _index_times(rows: ChosenRows, rate: Fraction) -> Int64:
    """The numbers of samples as times; those before the trigger may be below zero."""
    index = rows.times.astype(np.int64)
    least = min(0, int(index.min()))
    zero = int(sample_time_ps(np.array([-least], np.int64), rate, 0)[0])
    return np.asarray(sample_time_ps(index - least, rate, 0) - zero)


# ---- from rows to traces


def _names(planned: Planned, rows: ChosenRows) -> tuple[str, ...]:
    """Channels that a column makes: one, or one a bit."""
    if planned.kind == "volts" or planned.kind == "logic":
        return (planned.name,)
    if planned.kind != "word" or planned.word is None:
        return ()
    return planned.word.bit_names(rows.changes[planned.cell].width)


def _digital(
    plan: tuple[Planned, ...], rows: ChosenRows, stop_ps: int, at_ps: Callable[[Int64], Int64]
) -> dict[str, DigitalTrace]:
    """Traces of logic and of every bit of a word; rows that share a printed time count as the last of them."""
    found = {}
    for planned in (p for p in plan if p.kind in ("logic", "word")):
        names = _names(planned, rows)
        for name, (index, _, levels) in zip(names, rows.changes[planned.cell].bits(len(names)), strict=True):
            found[name] = last_of_each_time(at_ps(index), levels, stop_ps)
    return found


def _by_rate(
    source: Source, table: RawTable, plan: tuple[Planned, ...], rows: ChosenRows, options: ReadOptions
) -> Capture:
    rate = _needed_rate(source, table, options)

    def at(index: Int64) -> Int64:
        return sample_time_ps(index, rate, 0)

    stop = int(at(np.array([rows.count], np.int64))[0])
    facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)))
    return _capture(source, options, _digital(plan, rows, stop, at), {}, period_ps(rate), SAMPLED, facts)


def _needed_rate(source: Source, table: RawTable, options: ReadOptions) -> Fraction:
    do = "Give the sample rate (--rate), or say which column is the time (--column)."
    return needed_rate(source.path, options.sample_rate, table.rates, do)


def _unit_ps(source: Source, table: RawTable, time: Planned, rows: ChosenRows, options: ReadOptions) -> Fraction:
    """As said, as the heading says, or seconds for numbers with decimals, as instruments write them."""
    if rows.exact_ps is not None:
        return Fraction(1)
    said = time.unit_ps or options.time_unit_ps or table.columns[time.cell].unit_ps
    if said is not None:
        return said
    if any("." in text or "e" in text.lower() for text in rows.first_times):
        return Fraction(PS_PER_S)
    raise no_unit(source.path, table.data_line + 1, time.cell + 1, rows.first_times[0])


def _by_times(
    source: Source, table: RawTable, plan: tuple[Planned, ...], rows: ChosenRows, options: ReadOptions, time: Planned
) -> Capture:
    unit = _unit_ps(source, table, time, rows, options)
    times = rows.times_ps(unit)
    printed = rows.printed_ps
    if rows.exact_ps is None:
        printed = max(1, round(printed_unit([*rows.first_times, rows.last_time]) * unit))
    rate, notes = options.sample_rate or table.rate_hz, same_times_note(int((times[1:] == times[:-1]).sum()))
    if rate is not None and time.form != "index" and not _keeps_to(times, rate, printed):
        notes += (f"The times do not keep to the sample rate of {format_rate(rate)}: the times are taken.",)
        rate = None
    found = found_resolution(times[:50_000], times, printed, "the last printed digit of the times")
    if rate is not None and (not found.note or found.ps <= period_ps(rate)):
        found = Resolution(period_ps(rate), "one period of the sample rate")
    resolution, notes = found.ps, notes + ((found.note,) if found.note else ())
    lasts = rows.count == 1 or any(c.last_row == rows.count - 1 for c in rows.changes.values())
    stop = int(times[-1]) + (resolution if lasts else 0)
    facts = (("time", f"in units of {format_time(int(unit))}"), ("resolution", found.how), ("rows", str(rows.count)))
    digital = _digital(plan, rows, stop, lambda index: times[index])
    return _capture(source, options, digital, {}, resolution, CHANGES, facts, notes)


def _keeps_to(times_ps: Int64, rate_hz: Fraction, printed_ps: int) -> bool:
    """Does every time lie a whole number of periods behind the first, even rows one apart, printing aside?"""
    steps = np.diff(times_ps)
    if len(steps) and int(steps.max() - steps.min()) <= 2 * printed_ps and steps.min() > period_ps(rate_hz) * 3 // 2:
        return False
    periods = np.rint((times_ps - times_ps[0]) * float(rate_hz) / PS_PER_S).astype(np.int64)
    return bool((np.abs(sample_time_ps(periods, rate_hz, int(times_ps[0])) - times_ps) <= printed_ps + 1).all())


def _with_volts(
    source: Source,
    head: Head,
    table: RawTable,
    plan: tuple[Planned, ...],
    rows: ChosenRows,
    options: ReadOptions,
    time: Planned | None,
) -> Capture:
    if time is None:
        start, interval = round(table.start_ps), PS_PER_S / _needed_rate(source, table, options)
    elif rows.exact_ps is not None:
        start, interval = _even_base(source, table, time, rows, options)
    else:
        shape = _shape(head, table, time, time.unit_ps or options.time_unit_ps)
        numbers = ScopeNumbers(
            rows.times, [], rows.first_times[0], rows.last_time, printed_unit([*rows.first_times, rows.last_time])
        )
        start, interval = time_base(source.path, shape, numbers, options.sample_rate or table.rate_hz)
    check_base(source.path, table.data_line + 1, start, interval, rows.count)
    analog = {p.name: AnalogTrace(start, interval, rows.volts[p.cell]) for p in plan if p.kind == "volts"}
    rate = PS_PER_S / interval

    def at(index: Int64) -> Int64:
        return sample_time_ps(index, rate, start)

    stop = int(at(np.array([rows.count], np.int64))[0])
    facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)))
    return _capture(source, options, _digital(plan, rows, stop, at), analog, period_ps(rate), SCOPE, facts)


def _even_base(
    source: Source, table: RawTable, time: Planned, rows: ChosenRows, options: ReadOptions
) -> tuple[int, Fraction]:
    """Start and interval in ps of volts whose times are dates, have a unit each, or are numbers of samples."""
    assert rows.exact_ps is not None
    times = rows.exact_ps
    if time.form == "index":
        check_even(source.path, (table.data_line + 1, time.cell + 1), rows.times, 1.0, 0.0)
        return int(times[0]), PS_PER_S / _needed_rate(source, table, options)
    if len(times) < 2:
        return int(times[0]), PS_PER_S / _needed_rate(source, table, options)
    place = (table.data_line + 1, time.cell + 1)
    mean = Fraction(int(times[-1] - times[0]), len(times) - 1)
    printed, shown = float(rows.printed_ps), times.astype(np.float64)
    check_even(source.path, place, shown, float(mean), printed)
    slack = Fraction(rows.printed_ps, len(times) - 1)
    return int(times[0]), plain_interval(mean, slack, Fraction(1), shown, printed)


def _shape(head: Head, table: RawTable, time: Planned, unit_ps: Fraction | None) -> ScopeShape:
    """What a time base needs to know; start and increment of an index count only where it is the time."""
    # what a heading says wrongly was said right by the person
    shape = known(head).shape
    unit_ps = unit_ps or table.columns[time.cell].unit_ps
    if shape is not None and shape.columns[0] == time.cell:
        return replace(shape, data_line=table.data_line, time_unit_ps=unit_ps)
    decimals = any("." in c or "e" in c.lower() for c in table.columns[time.cell].cells)
    if unit_ps is None and decimals:
        unit_ps = Fraction(PS_PER_S)
    return ScopeShape(table.data_line, (time.cell,), table.width, (), (), unit_ps, None, (), (), ())


def _capture(
    source: Source,
    options: ReadOptions,
    digital: dict[str, DigitalTrace],
    analog: dict[str, AnalogTrace],
    resolution_ps: int,
    reader: str,
    facts: tuple[tuple[str, str], ...],
    notes: tuple[str, ...] = (),
) -> Capture:
    return Capture(options.name, digital, analog, resolution_ps, reader, source.path, source.sha256(), facts, notes)


NAME = "columns by their cells"


def recognises(head: Head) -> bool:
    """Cells that no faster reader takes: dates, times with a unit each, numbers of samples, words for levels, decoded
    text beside logic, counts of a converter, volts whose times the heading states."""
    table = raw_table(head)
    return table is not None and table.special
