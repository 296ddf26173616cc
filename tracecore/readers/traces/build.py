"""One capture of the rows of a file: the grid of its times, where each signal changes, and what a person should know.

Time [ns],A,B              change rows: A changes at 5 ns and 400 ns,
5,0,1                      the last row alone marks no end, so the capture lasts
400,1,1                    one printed digit more, to 401 ns
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from tracecore.capture import AnalogTrace, Capture, DigitalTrace, Int64, UInt8, digital_trace, sample_time_ps
from tracecore.errors import MissingSampleRate, UnknownCapture
from tracecore.quantities import PS_PER_S, format_rate, format_time, group_digits
from tracecore.readers.headings.facts import contradiction, needed_rate
from tracecore.readers.plan.plan import CHANGES, SAMPLED, SCOPE, Plan
from tracecore.readers.refusals import BadRow
from tracecore.readers.rows.read_rows import read_rows
from tracecore.readers.rows.row_text import TimeScale, split_time
from tracecore.readers.rows.rows import Rows
from tracecore.readers.rows.time_log import TimeLog
from tracecore.readers.rows.two_at_once import two_at_once
from tracecore.readers.source import Head, ReadOptions, Source
from tracecore.readers.traces.even_times import SECONDS_ASSUMED, check_base, interval_note
from tracecore.readers.traces.sample_period import Resolution, found_resolution
from tracecore.readers.traces.time_base import GIVE_RATE_OR_TIME, rounded_note, time_base


@dataclass(frozen=True, slots=True)
class _Times:
    """How the times of rows of logic are read: ``unit_ps`` None without a time column in plain numbers, how that is
    ``said``, and the sample rate that is given or stated."""

    scale: TimeScale
    unit_ps: Fraction | None
    said: str
    rate_hz: Fraction | None


def read_by_plan(source: Source, plan: Plan, options: ReadOptions) -> Capture:
    """Reads the rows of a file by the plan of its columns.

    Raises MalformedCapture with line and column for a cell that does not fit, MissingSampleRate and MissingWordBase
    where something more must be said.
    """
    times = _times(source, plan, options)
    rows = read_rows(source, plan, times.scale)
    names = [*(name for name, _, _ in rows.channels), *rows.volts]
    if twice := next((name for name in names if names.count(name) > 1), None) if len(set(names)) < len(names) else None:
        raise UnknownCapture(
            source.path,
            found=f"two channels named {twice!r}",
            expected="names that differ once words are split into bits",
            do="Rename one of the columns, or leave it out.",
        )
    if plan.volts:
        found = _with_volts(source, plan, rows, times, options)
    elif plan.time is not None:
        found = _by_times(source, plan, rows, times, options)
    else:
        found = _by_rate(source, plan, rows, times, options)
    words = tuple(("words split into bits", word) for word in rows.words)
    zero = (("first row at", rows.zero),) if rows.zero else ()
    return replace(found, facts=(*found.facts, *words, *plan.facts, *zero))


# ---- before the rows: how their times are read


def _times(source: Source, plan: Plan, options: ReadOptions) -> _Times:
    time, rate = plan.time, options.sample_rate or plan.rate_hz
    if plan.volts:
        return _Times(TimeScale(), _unit_of_volts(plan, options), "", rate)
    if time is None:
        return _Times(TimeScale(), None, "", needed_rate(source.path, options.sample_rate, plan.rates, *_do(plan)))
    if time.form == "index":
        rate = needed_rate(source.path, options.sample_rate, plan.rates, GIVE_RATE_OR_TIME)
        return _Times(TimeScale(), None, "by the numbers of samples", rate)
    if time.form:
        return _Times(TimeScale(), Fraction(1), "as each row writes them", rate)
    unit, said = _unit(source, plan, options)
    power = len(str(int(unit))) - 1 if unit >= 1 else -3
    checked = rate if plan.layout == SAMPLED else None
    return _Times(TimeScale(power, _printed_ps(source.head(), plan, power), checked), unit, said, rate)


def _do(plan: Plan) -> tuple[str, ...]:
    return (GIVE_RATE_OR_TIME,) if plan.by_cells else ()


def _unit_of_volts(plan: Plan, options: ReadOptions) -> Fraction | None:
    """As for logic; None where nothing is said, and the times may be numbers of samples."""
    time = plan.time
    if time is not None and time.form in ("date", "unit"):
        return Fraction(1)
    if time is None or options.time_unit_ps is not None or time.unit_ps is not None:
        return options.time_unit_ps or (time.unit_ps if time is not None else None)
    return Fraction(PS_PER_S) if time.has_decimals and not plan.unknown_unit else None


def _unit(source: Source, plan: Plan, options: ReadOptions) -> tuple[Fraction, str]:
    """As a person says, as the heading says, or seconds for numbers with decimals, as instruments write them."""
    time = plan.time
    assert time is not None
    if options.time_unit_ps is not None:
        return options.time_unit_ps, f"in units of {format_time(int(options.time_unit_ps))}, as given on opening"
    if time.unit_ps is not None:
        return time.unit_ps, f"in the unit that the heading {(plan.time_heading or time.title)!r} gives"
    if plan.unknown_unit:
        raise MissingSampleRate(
            source.path,
            line=plan.data_line,
            column=time.cell + 1,
            found=f"{plan.unknown_unit[:40]!r} above the times, which names no unit that is known",
            expected="a heading such as 'Time [ns]'",
            do="Correct the unit, or give the unit of time (--time-unit).",
        )
    if time.has_decimals:
        return Fraction(PS_PER_S), "in seconds: no unit is given, and the numbers have decimals"
    raise MissingSampleRate(
        source.path,
        line=plan.data_line + 1,
        column=time.cell + 1,
        found=f"the time {time.cells[0]!r} without a unit",
        expected="a heading such as 'Time [ns]'",
        do="Write the unit into the heading of the time column, or give it (--time-unit).",
    )


def _printed_ps(head: Head, plan: Plan, unit: int) -> int:
    """The finest step that the first rows' times show; stripped zeros make some rows look coarser."""
    finest: int | None = None
    assert plan.time is not None
    for line in range(plan.data_line, min(len(head.lines), plan.data_line + 2000)):
        try:
            scale = split_time(head.cells(line)[plan.time.cell].encode(), unit).scale
        except (BadRow, IndexError):
            continue  # the row itself is reported when it is read
        finest = scale if finest is None else min(finest, scale)
    return int(10 ** max(0, finest or 0))


def _at_rate(source: Source, plan: Plan, rows: Rows, rate: Fraction) -> Rows:
    """Rows of numbers of samples with their times."""
    assert rows.index is not None
    log = TimeLog(source.path, TimeScale(), rows.log.column)
    log.add(_index_times(rows.index, rate), plan.data_line + 1)
    least = int(rows.index.min())
    channels = tuple((name, _index_times(at, rate, least), levels) for name, at, levels in rows.channels)
    return replace(rows, log=log, channels=channels, notes=rows.notes + _index_note(plan, rows.index))


def _index_note(plan: Plan, index: Int64) -> tuple[str, ...]:
    """What to say where numbers of samples are missing among many that go on by one."""
    gaps = np.flatnonzero(np.diff(index) > 1)
    if not 0 < len(gaps) * 20 <= len(index):
        return ()
    line = plan.data_line + 2 + int(gaps[0])
    return (f"The numbers of samples leave some out, first at line {line}: rows may be missing there.",)


def _index_times(index: Int64, rate: Fraction, least: int | None = None) -> Int64:
    """The numbers of samples, none below ``least``, as times; those before the trigger may be below zero."""
    least = min(0, int(index.min()) if least is None else least)
    zero = int(sample_time_ps(np.array([-least], np.int64), rate, 0)[0])
    return np.asarray(sample_time_ps(index - least, rate, 0) - zero)


# ---- rows to traces


def _by_rate(source: Source, plan: Plan, rows: Rows, times: _Times, options: ReadOptions) -> Capture:
    """Each row is a sample; its time is its number over the sample rate, exactly."""
    rate = times.rate_hz
    assert rate is not None
    facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)))
    notes = rows.notes + _override_note(plan, options)
    return _capture(source, options, _sampled(rows, rate, 0), period_ps(rate), SAMPLED, facts, notes)


def _by_times(source: Source, plan: Plan, rows: Rows, times: _Times, options: ReadOptions) -> Capture:
    """Rows with their times. Where a rate is stated and the times keep to it, each is a sample of that rate."""
    time, rate = plan.time, times.rate_hz
    assert time is not None
    if time.form == "index" and rate is not None:
        rows = _at_rate(source, plan, rows, rate)
    log = rows.log
    notes = rows.notes + (() if time.form == "index" else _override_note(plan, options))
    if not time.form and options.time_unit_ps is None and time.unit_ps is None:
        notes += (SECONDS_ASSUMED,)
    checked = log.scale.checked_hz
    agrees = checked is not None and not log.counts
    printed = rows.printed_ps if time.form not in ("", "index") else log.scale.printed_ps
    found = _resolution(plan, log, printed, rate if agrees or checked is None else None)
    if agrees and rate is not None:
        digital = _sampled(rows, rate, log.first_ps)
    else:
        stop = _stop_ps(plan, rows, found.ps)
        digital = {name: _last_of_each_time(at, levels, stop) for name, at, levels in rows.channels}
        notes += (found.note,) if found.note else ()
        notes += _same_times_note(log.same_times) + _off_rate_note(log)
    facts = (("time", times.said), ("resolution", found.how), ("rows", str(rows.count)))
    return _capture(source, options, digital, found.ps, plan.layout, facts, notes)


def _with_volts(source: Source, plan: Plan, rows: Rows, times: _Times, options: ReadOptions) -> Capture:
    """Volts, and logic sampled with them: sample i stands at start + i * interval, the interval being exact."""
    start, interval = time_base(source.path, plan, rows, times.unit_ps, options.sample_rate)
    check_base(source.path, plan.data_line + 1, start, interval, rows.count)
    rate = PS_PER_S / interval
    analog = {name: AnalogTrace(start, interval, volts) for name, volts in rows.volts.items()}
    notes = _interval_notes(plan, interval, times.unit_ps, options)
    notes = rows.notes + notes + rounded_note(plan, rows, times.unit_ps, interval)
    channels = ", ".join(c.name for c in plan.used if c.kind != "time")
    facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)), ("channels", channels))
    return _capture(source, options, _sampled(rows, rate, start), period_ps(rate), SCOPE, facts, notes, analog)


def _capture(
    source: Source,
    options: ReadOptions,
    digital: dict[str, DigitalTrace],
    resolution_ps: int,
    layout: str,
    facts: tuple[tuple[str, str], ...],
    notes: tuple[str, ...],
    analog: dict[str, AnalogTrace] | None = None,
) -> Capture:
    return Capture(
        options.name, digital, analog or {}, resolution_ps, layout, source.path, source.sha256(), facts, notes
    )


def _sampled(rows: Rows, rate: Fraction, start_ps: int) -> dict[str, DigitalTrace]:
    stop = int(sample_time_ps(np.array([rows.count], np.int64), rate, start_ps)[0])
    # the times take the room of the rows' numbers, which nobody needs any more
    placed = two_at_once(lambda c: (c[0], sample_time_ps(c[1], rate, start_ps, out=c[1]), c[2]), rows.channels)
    return {name: DigitalTrace(times, levels, stop) for name, times, levels in placed}


def _stop_ps(plan: Plan, rows: Rows, resolution_ps: int) -> int:
    """A last change row that changes nothing marks the end of the capture and has no duration of its own."""
    last = rows.log.last_ps
    if plan.carried.stop_ps == last:
        return last
    lasts = rows.last_changes or rows.count == 1 or plan.layout != CHANGES
    return last + resolution_ps if lasts else last


def _last_of_each_time(times: Int64, levels: UInt8, stop_ps: int) -> DigitalTrace:
    """Rows may share a printed time; the last of them holds."""
    last = np.concatenate((times[1:] > times[:-1], [True]))
    if last.all():
        return DigitalTrace(times, levels, stop_ps)
    return digital_trace(times[last], levels[last], stop_ps)


def period_ps(rate: Fraction) -> int:
    """One sample period, rounded up."""
    return -(-(PS_PER_S * rate.denominator) // rate.numerator)


def _resolution(plan: Plan, log: TimeLog, printed: int, rate: Fraction | None) -> Resolution:
    """As the file says, one period of the sample rate, or what the times show."""
    if plan.carried.resolution_ps is not None:
        return Resolution(plan.carried.resolution_ps, "as the file says")
    found = found_resolution(log.head, log.tail, printed, "the last printed digit of the times")
    if rate is None:
        return found
    period = period_ps(rate)
    if found.note and found.ps > period:
        return found  # a rate makes no rounded time finer
    return Resolution(period, "one period of the sample rate")


# ---- what is told


def _override_note(plan: Plan, options: ReadOptions) -> tuple[str, ...]:
    twice = contradiction(plan.rates)
    if twice and options.sample_rate is None:
        return (f"The heading states {twice}; the times decide.",)
    given, stated = options.sample_rate, plan.rate_hz
    if given is None or stated is None or given == stated:
        return ()
    return (f"The file states {format_rate(stated)}; the {format_rate(given)} given on opening are taken.",)


def _same_times_note(rows: int) -> tuple[str, ...]:
    if not rows:
        return ()
    count = "1 row has" if rows == 1 else f"{group_digits(rows)} rows have"
    return (f"{count} the same printed time as the row above; the last row of each time is taken.",)


def _off_rate_note(log: TimeLog) -> tuple[str, ...]:
    if log.off_rate_line is None or log.scale.checked_hz is None:
        return ()
    return (
        f"From line {log.off_rate_line} on the times do not keep to the sample rate of "
        f"{format_rate(log.scale.checked_hz)}: the times are taken.",
    )


def _interval_notes(
    plan: Plan, interval_ps: Fraction, unit_ps: Fraction | None, options: ReadOptions
) -> tuple[str, ...]:
    """What the heading states against the times or against itself, and a unit that it does not state."""
    notes: tuple[str, ...] = ()
    stated, time = plan.interval_ps, plan.time
    if options.sample_rate is None:
        twice = contradiction(plan.rates)
        notes = interval_note(None if stated is None else stated / PS_PER_S, interval_ps)
        if twice:
            notes = (f"The heading states {twice}; the times decide.",)
    assumed = time is not None and not time.form and plan.index is None and time.unit_ps is None
    if assumed and unit_ps is not None and options.time_unit_ps is None and stated != interval_ps:
        notes += (SECONDS_ASSUMED,)
    return notes
