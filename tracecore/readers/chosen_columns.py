"""Rows of which a person said what a column is: read by the plan that this makes, and by nothing the cells look like.

It takes any mixture of logic, words and volts, with the time in any column, several times slower than the readers
that know their layout. A cell that does not fit its kind is an error with its line, as everywhere.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import cast

import numpy as np

from tracecore.capture import AnalogTrace, Capture, DigitalTrace, Int64, digital_trace, sample_time_ps
from tracecore.errors import CaptureFileError, MissingSampleRate, MissingWordBase, UnknownCapture
from tracecore.quantities import PS_PER_S, format_rate, format_time, group_digits
from tracecore.readers.chosen_rows import ChosenRows, Planned, read_rows_as_chosen
from tracecore.readers.column_choice import ColumnChoice
from tracecore.readers.lattice import lattice_step_ps
from tracecore.readers.logic import CHANGES, SAMPLED
from tracecore.readers.raw_columns import RawColumn, RawTable, raw_table
from tracecore.readers.scope import NAME as SCOPE
from tracecore.readers.scope import time_base
from tracecore.readers.scope_numbers import ScopeNumbers, printed_unit
from tracecore.readers.scope_shape import ScopeShape, read_shape
from tracecore.readers.source import Head, ReadOptions, Source
from tracecore.readers.words import with_base, word_column


def read_chosen(source: Source, options: ReadOptions) -> Capture:
    """Reads rows by ``options.columns``; a column of which nothing was said is taken as it looks.

    Raises UnknownCapture where a named column is not there, MalformedCapture with line and column for a cell that
    does not fit, MissingSampleRate and MissingWordBase where something more must be said.
    """
    head = source.head()
    table = raw_table(head, options.first_row)
    if table is None:
        raise UnknownCapture(
            source.path,
            found="no rows of cells to say columns of",
            expected="rows of cells with a delimiter between them",
            do="Leave the choice of columns out.",
        )
    plan = _plan(source.path, table, options)
    if not any(p.kind not in ("time", "leave out") for p in plan):
        raise _none_left(source.path)
    rows = read_rows_as_chosen(source, head, table, plan)
    names = [n for p in plan for n in _names(p, rows)]
    if len(set(names)) < len(names):
        twice = next(n for n in names if names.count(n) > 1)
        raise UnknownCapture(
            source.path,
            found=f"two channels named {twice!r}",
            expected="names that differ once words are split into bits",
            do="Leave one of the columns out, or rename it.",
        )
    time = next((p for p in plan if p.kind == "time"), None)
    if any(p.kind == "volts" for p in plan):
        found = _with_volts(source, head, table, plan, rows, options, time)
    elif time is not None:
        found = _by_times(source, table, plan, rows, options, time)
    else:
        found = _by_rate(source, table, plan, rows, options)
    return replace(found, facts=(*found.facts, _as_said(options)), notes=rows.notes + found.notes)


def is_as_it_looks(head: Head, options: ReadOptions) -> bool:
    """Says a person no more than which columns to leave out, factors of volts, and kinds that the file shows anyway?

    Then a reader that knows the layout does the same, faster.
    """
    table = raw_table(head, options.first_row)
    for name, choice in options.columns.items():
        at = table.place(name) if table is not None else None
        if table is None or at is None or choice.base is not None or choice.unit is not None:
            return False
        guess = table.columns[at].guess
        leaves = choice.kind == "leave out" and guess in ("logic", "volts", "leave out")
        if not leaves and (guess == "word" or choice.kind not in (None, guess)):
            return False
    return table is not None


def with_columns(capture: Capture, head: Head, options: ReadOptions) -> Capture:
    """The capture without the columns that are left out, and with the factors of the others. Raises UnknownCapture."""
    table = raw_table(head, options.first_row)
    places = {name: table.place(name) for name in options.columns} if table is not None else {}
    named = {table.columns[at].name: options.columns[n] for n, at in places.items() if table and at is not None}
    gone = {name for name, choice in named.items() if choice.kind == "leave out"}
    factors = {name: choice for name, choice in named.items() if choice.factor is not None}
    digital = {name: trace for name, trace in capture.digital.items() if name not in gone}
    analog = {name: trace for name, trace in capture.analog.items() if name not in gone}
    if not digital and not analog:
        raise _none_left(capture.path)
    kept = replace(capture, digital=digital, analog=analog)
    kept = scaled_columns(kept, factors, capture.path) if factors else kept
    return replace(kept, facts=(*capture.facts, _as_said(options)))


def _none_left(path: str) -> UnknownCapture:
    return UnknownCapture(
        path,
        found="no column of volts, logic or words among those that are left",
        expected="at least one",
        do="Say what one of them is.",
    )


def _as_said(options: ReadOptions) -> tuple[str, str]:
    return "columns as said on opening", ", ".join(f"{name} {c.text}" for name, c in options.columns.items())


def scaled_columns(capture: Capture, columns: Mapping[str, ColumnChoice], path: str) -> Capture:
    """The capture with volts times the factors of their columns. Raises UnknownCapture for a name that is no volts."""
    analog = dict(capture.analog)
    for name, choice in columns.items():
        if name not in analog:
            known = f"the column {name!r}, which is logic" if name in capture.digital else f"no column {name!r}"
            raise _not_there(path, known, tuple(analog) or capture.channels)
        if choice.factor is not None:
            volts = analog[name].volts.astype(np.float64) * float(choice.factor)
            analog[name] = replace(analog[name], volts=volts.astype(np.float32))
    said = ("columns as said on opening", ", ".join(f"{name} {c.text}" for name, c in columns.items()))
    return replace(capture, analog=analog, facts=(*capture.facts, said))


def _not_there(path: str, found: str, names: tuple[str, ...]) -> UnknownCapture:
    listed = ", ".join(names[:12]) + (f" and {len(names) - 12} more" if len(names) > 12 else "")
    return UnknownCapture(path, found=found, expected=f"one of: {listed}", do="Say it of one of these.")


# ---- the plan


def _plan(path: str, table: RawTable, options: ReadOptions) -> tuple[Planned, ...]:
    said: dict[int, ColumnChoice] = {}
    for name, choice in options.columns.items():
        at = table.place(name)
        if at is None:
            raise _not_there(path, f"no column {name!r}", tuple(c.name for c in table.columns))
        said[at] = choice
    timed = [at for at, choice in said.items() if choice.kind == "time"]
    plan = []
    for at, column in enumerate(table.columns):
        choice = said.get(at, ColumnChoice())
        kind = choice.kind or ("volts" if choice.factor is not None else column.guess)
        if kind == "time" and timed and at not in timed:
            kind = column.second_guess
        planned = Planned(at, column.name, kind, column.scale * float(choice.factor or 1), choice.unit)
        if kind == "word":
            planned = _as_words(path, table, column, planned, choice, options)
        plan.append(planned)
    return tuple(plan)


def _as_words(
    path: str, table: RawTable, column: RawColumn, planned: Planned, choice: ColumnChoice, options: ReadOptions
) -> Planned:
    base = cast("int | None", choice.base) or options.word_base
    title = column.title or column.name
    word = word_column(title, list(column.cells), base or 16)
    if word is None:
        raise UnknownCapture(
            path,
            found=f"{_first(column)!r} under {column.name!r}, said to be words",
            expected="words in hex, octal or binary, such as 3F",
            do="Say another kind of this column.",
        )
    plain = word_column(title, list(column.cells))
    evident = plain.base if plain is not None else None
    if base is None and evident is None:
        raise MissingWordBase(
            path,
            line=table.data_line + 1,
            column=planned.cell + 1,
            found=f"words such as {word.first!r} under {column.name!r}, which can be hex, octal or binary",
            expected="a prefix such as 0x, or a heading such as 'D[7:0] (hex)'",
            do="Say its base: word_base (--word-base) as hex, octal or binary.",
        )
    return replace(planned, word=with_base(replace(word, base=base or evident), base))


def _first(column: RawColumn) -> str:
    return next((c for c in column.cells if c), "")


# ---- from rows to traces


def _names(planned: Planned, rows: ChosenRows) -> tuple[str, ...]:
    """Channels that a column makes: one, or one a bit."""
    if planned.kind == "volts" or planned.kind == "logic":
        return (planned.name,)
    if planned.kind != "word" or planned.word is None:
        return ()
    return planned.word.bit_names(rows.width(planned))


def _digital(
    plan: tuple[Planned, ...], rows: ChosenRows, stop_ps: int, at_ps: Callable[[Int64], Int64]
) -> dict[str, DigitalTrace]:
    """Traces of logic and of every bit of a word; rows that share a printed time count as the last of them."""
    found = {}
    for planned in plan:
        if planned.kind not in ("logic", "word"):
            continue
        changes = rows.changes[planned.cell]
        times = at_ps(changes.index)
        last = np.concatenate((times[1:] > times[:-1], [True]))
        names = _names(planned, rows)
        for place, name in enumerate(reversed(names)):
            levels = changes.levels(place)
            found[name] = digital_trace(times[last], levels[last], stop_ps)
    order = [n for p in plan for n in _names(p, rows) if n in found]
    return {name: found[name] for name in order}


def _by_rate(
    source: Source, table: RawTable, plan: tuple[Planned, ...], rows: ChosenRows, options: ReadOptions
) -> Capture:
    rate = _needed_rate(source, table, options)

    def at(index: Int64) -> Int64:
        return sample_time_ps(index, rate, 0)

    stop = int(at(np.array([rows.count], np.int64))[0])
    facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)))
    return _capture(source, options, _digital(plan, rows, stop, at), {}, _period_ps(rate), SAMPLED, facts)


def _needed_rate(source: Source, table: RawTable, options: ReadOptions) -> Fraction:
    rate = options.sample_rate or table.rate_hz
    if rate is None:
        raise MissingSampleRate(
            source.path,
            found="rows without a time column and no sample rate above them",
            expected="a line such as '; Samplerate: 24 MHz'",
            do="Give the sample rate when you open the file, or say which column is the time.",
        )
    return rate


def _unit_ps(source: Source, table: RawTable, time: Planned, rows: ChosenRows, options: ReadOptions) -> Fraction:
    """As said, as the heading says, or seconds for numbers with decimals, as instruments write them."""
    said = time.unit_ps or options.time_unit_ps or table.columns[time.cell].unit_ps
    if said is not None:
        return said
    if any("." in text or "e" in text.lower() for text in rows.first_times):
        return Fraction(PS_PER_S)
    raise MissingSampleRate(
        source.path,
        line=table.data_line + 1,
        column=time.cell + 1,
        found=f"the time {rows.first_times[0]!r} without a unit",
        expected="a heading such as 'Time [ns]'",
        do="Write the unit into the heading of the time column.",
    )


def _by_times(
    source: Source, table: RawTable, plan: tuple[Planned, ...], rows: ChosenRows, options: ReadOptions, time: Planned
) -> Capture:
    unit = _unit_ps(source, table, time, rows, options)
    times = rows.times_ps(unit)
    printed = max(1, round(printed_unit([*rows.first_times, rows.last_time]) * unit))
    rate, notes = options.sample_rate or table.rate_hz, _same_times_note(times)
    if rate is not None and not _keeps_to(times, rate, printed):
        notes += (f"The times do not keep to the sample rate of {format_rate(rate)}: the times are taken.",)
        rate = None
    step = _period_ps(rate) if rate is not None else lattice_step_ps(np.diff(times[:50_000]), printed)
    resolution = step or printed
    lasts = rows.count == 1 or any(int(c.index[-1]) == rows.count - 1 for c in rows.changes.values())
    stop = int(times[-1]) + (resolution if lasts else 0)
    facts = (("time", f"in units of {format_time(int(unit))}"), ("rows", str(rows.count)))
    digital = _digital(plan, rows, stop, lambda index: times[index])
    return _capture(source, options, digital, {}, resolution, CHANGES, facts, notes)


def _same_times_note(times_ps: Int64) -> tuple[str, ...]:
    same = int((times_ps[1:] == times_ps[:-1]).sum())
    if not same:
        return ()
    count = "1 row has" if same == 1 else f"{group_digits(same)} rows have"
    return (f"{count} the same printed time as the row above; the last row of each time is taken.",)


def _keeps_to(times_ps: Int64, rate_hz: Fraction, printed_ps: int) -> bool:
    """Does every time lie a whole number of periods behind the first, even rows one apart, printing aside?"""
    steps = np.diff(times_ps)
    if len(steps) and int(steps.max() - steps.min()) <= 2 * printed_ps and steps.min() > _period_ps(rate_hz) * 3 // 2:
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
        start, interval = 0, PS_PER_S / _needed_rate(source, table, options)
    else:
        shape = _shape(head, table, time, time.unit_ps or options.time_unit_ps)
        numbers = ScopeNumbers(
            rows.times, [], rows.first_times[0], rows.last_time, printed_unit([*rows.first_times, rows.last_time]), ()
        )
        start, interval = time_base(source.path, shape, numbers, options.sample_rate or table.rate_hz)
    analog = {p.name: AnalogTrace(start, interval, rows.volts[p.cell]) for p in plan if p.kind == "volts"}
    rate = PS_PER_S / interval

    def at(index: Int64) -> Int64:
        return sample_time_ps(index, rate, start)

    stop = int(at(np.array([rows.count], np.int64))[0])
    facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)))
    period = -(-interval.numerator // interval.denominator)
    return _capture(source, options, _digital(plan, rows, stop, at), analog, period, SCOPE, facts)


def _shape(head: Head, table: RawTable, time: Planned, unit_ps: Fraction | None) -> ScopeShape:
    """What a time base needs to know; start and increment of an index count only where it is the time."""
    known: ScopeShape | None = None
    with contextlib.suppress(CaptureFileError):
        # what a heading says wrongly was said right by the person
        known = read_shape(head)
    unit_ps = unit_ps or table.columns[time.cell].unit_ps
    if known is not None and known.columns[0] == time.cell:
        return replace(known, data_line=table.data_line, time_unit_ps=unit_ps)
    decimals = any("." in c or "e" in c.lower() for c in table.columns[time.cell].cells)
    if unit_ps is None and decimals:
        unit_ps = Fraction(PS_PER_S)
    return ScopeShape(table.data_line, (time.cell,), table.width, (), (), unit_ps, None, None, (), ())


def _period_ps(rate: Fraction) -> int:
    return -(-(PS_PER_S * rate.denominator) // rate.numerator)


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
