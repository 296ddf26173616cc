"""One capture of the rows of a file: the grid of its times, where each signal changes, and what a person should know.

Time [ns],A,B              change rows: A changes at 5 ns and 400 ns,
5,0,1                      the last row alone marks no end, so the capture lasts
400,1,1                    one printed digit more, to 401 ns
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np

from tracecore.capture import AnalogTrace, Capture, DigitalTrace, Int64, UInt8, digital_trace, sample_time_ps
from tracecore.errors import MissingSampleRate, UnknownCapture
from tracecore.quantities import PS_PER_S, format_rate, format_time, group_digits
from tracecore.readers.headings.facts import contradiction, needed_rate
from tracecore.readers.plan.plan import CHANGES, SAMPLED, Plan
from tracecore.readers.refusals import GIVE_RATE, GIVE_RATE_OR_TIME, BadRow
from tracecore.readers.rows.read_rows import check_first_rows, read_rows
from tracecore.readers.rows.row_text import TimeScale, split_time
from tracecore.readers.rows.rows import Rows
from tracecore.readers.rows.time_log import TimeLog
from tracecore.readers.rows.two_at_once import in_halves
from tracecore.readers.source import Head, ReadOptions, Source
from tracecore.readers.traces.sample_period import Resolution, found_resolution
from tracecore.readers.traces.time_base import rounded_note, time_base

_SECONDS_ASSUMED = "No unit of time is given and the times have decimals: they are taken for seconds (--time-unit)."
_LINES_LOOKED_AT = 2000
_FEWEST_STILL, _SHARE_STILL = 5, 0.05


@dataclass(frozen=True, slots=True)
class _Found:
    """What rows come to; ``notes`` stand behind those of the rows themselves. An empty ``layout`` is that of the
    plan."""

    digital: dict[str, DigitalTrace]
    resolution_ps: int
    facts: tuple[tuple[str, str], ...]
    notes: tuple[str, ...] = ()
    analog: dict[str, AnalogTrace] = field(default_factory=dict)
    layout: str = ""


def read_by_plan(source: Source, plan: Plan, options: ReadOptions) -> Capture:
    """Reads the rows of a file by the plan of its columns.

    Raises MalformedCapture with line and column for a cell that does not fit, MissingSampleRate and MissingWordBase
    where something more must be said.
    """
    time, rate = plan.time, options.sample_rate or plan.rate_hz
    try:
        unit_ps, said = _unit(source.path, plan, options)
        if time is None or time.form == "index":
            do = GIVE_RATE_OR_TIME if plan.by_cells or plan.volts else GIVE_RATE
            rate = needed_rate(source.path, options.sample_rate, plan.rates, do)
    except MissingSampleRate:
        # what a person adds does not mend a damaged row
        check_first_rows(source, plan)
        raise
    rows = read_rows(source, plan, _scale(source.head(), plan, unit_ps, rate))
    names = [*(name for name, _, _ in rows.channels), *rows.volts]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise UnknownCapture(
            source.path,
            found=f"two channels named {twice!r}",
            expected="names that differ once words are split into bits",
            do="Rename one of the columns, or leave it out.",
        )
    if plan.volts:
        found = _with_volts(source.path, plan, rows, unit_ps, rate, options)
    elif rate is not None and time is None:
        # each row is a sample; its time is its number over the sample rate, exactly
        facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)))
        found = _Found(_sampled(rows, rate, 0), period_ps(rate), facts, _rate_notes(plan, options))
    else:
        if time is not None and time.form == "index" and rate is not None:
            rows = _at_rate(source.path, plan, rows, rate)
        found = _by_times(plan, rows, said, rate, options)
    words = tuple(("words split into bits", word) for word in rows.words)
    zero = (("first row at", rows.zero),) if rows.zero else ()
    return Capture(
        options.name,
        found.digital,
        found.analog,
        found.resolution_ps,
        found.layout or plan.layout,
        source.path,
        source.sha256(),
        (*found.facts, *words, *plan.facts, *zero),
        (*rows.notes, *found.notes),
    )


# ---- before the rows: how their times are read


def _unit(path: str, plan: Plan, options: ReadOptions) -> tuple[Fraction | None, str]:
    """Picoseconds of one unit of the times, and how that is known: as a person says, as the heading says, or seconds
    for numbers with decimals, as instruments write them. None where the times may be numbers of samples."""
    time = plan.time
    if time is None:
        return None, ""
    if time.form:
        return (None, "by the numbers of samples") if time.form == "index" else (Fraction(1), "as each row writes them")
    if options.time_unit_ps is not None:
        return options.time_unit_ps, f"in units of {format_time(int(options.time_unit_ps))}, as given on opening"
    if time.unit_ps is not None:
        return time.unit_ps, f"in the unit that the heading {(plan.time_heading or time.title)!r} gives"
    if time.has_decimals and not plan.unknown_unit:
        return Fraction(PS_PER_S), "in seconds: no unit is given, and the numbers have decimals"
    if plan.volts:
        return None, ""
    found = f"the time {time.cells[0]!r} without a unit"
    do = "Write the unit into the heading of the time column, or give it (--time-unit)."
    if plan.unknown_unit:
        found = f"{plan.unknown_unit[:40]!r} above the times, which names no unit that is known"
        do = "Correct the unit, or give the unit of time (--time-unit)."
    raise MissingSampleRate(
        path,
        line=plan.data_line + (not plan.unknown_unit),
        column=time.cell + 1,
        found=found,
        expected="a heading such as 'Time [ns]'",
        do=do,
    )


def _seconds_assumed(plan: Plan, options: ReadOptions) -> bool:
    time = plan.time
    return time is not None and not time.form and time.unit_ps is None and options.time_unit_ps is None


def _scale(head: Head, plan: Plan, unit_ps: Fraction | None, rate: Fraction | None) -> TimeScale:
    """How times of logic in plain numbers are read. The finest step that the first rows show is the printed one, as
    stripped zeros make some rows look coarser."""
    time = plan.time
    if plan.volts or time is None or time.form or unit_ps is None:
        return TimeScale()
    power = len(str(int(unit_ps))) - 1 if unit_ps >= 1 else -3
    scales = []
    for line in range(plan.data_line, min(len(head.lines), plan.data_line + _LINES_LOOKED_AT)):
        try:
            scales.append(split_time(head.cells(line)[time.cell].encode(), power).scale)
        except (BadRow, IndexError):
            continue  # the row itself is reported when it is read
    return TimeScale(power, int(10 ** max(0, min(scales, default=0))), rate if plan.layout == SAMPLED else None)


def _at_rate(path: str, plan: Plan, rows: Rows, rate: Fraction) -> Rows:
    """Rows of numbers of samples with their times; those before the trigger may be below zero."""
    assert rows.index is not None
    least = min(0, int(rows.index.min()))
    zero = int(sample_time_ps(np.array([-least], np.int64), rate, 0)[0])

    def times(index: Int64) -> Int64:
        return np.asarray(sample_time_ps(index - least, rate, 0) - zero)

    log = TimeLog(path, TimeScale(), rows.log.column)
    log.add(times(rows.index), plan.data_line + 1)
    gaps, notes = np.flatnonzero(np.diff(rows.index) > 1), rows.notes
    if 0 < len(gaps) * 20 <= len(rows.index):
        line = plan.data_line + 2 + int(gaps[0])
        notes += (f"The numbers of samples leave some out, first at line {line}: rows may be missing there.",)
    channels = tuple((name, times(at), levels) for name, at, levels in rows.channels)
    return replace(rows, log=log, channels=channels, notes=notes)


# ---- rows to traces


def _by_times(plan: Plan, rows: Rows, said: str, rate: Fraction | None, options: ReadOptions) -> _Found:
    """Rows with their times. Where a rate is stated and the times keep to it, each is a sample of that rate."""
    time, log = plan.time, rows.log
    assert time is not None
    notes = () if time.form == "index" else _rate_notes(plan, options)
    if _seconds_assumed(plan, options):
        notes += (_SECONDS_ASSUMED,)
    checked = log.scale.checked_hz
    agrees = checked is not None and not log.counts
    printed = rows.printed_ps if time.form not in ("", "index") else log.scale.printed_ps
    found = _resolution(plan, log, printed, rate if agrees or checked is None else None)
    layout = plan.layout
    if agrees and rate is not None:
        digital = _sampled(rows, rate, log.first_ps)
    else:
        # a last change row that changes nothing marks the end of the capture and has no duration of its own
        lasts = rows.last_changes or rows.count == 1 or plan.layout != CHANGES
        stop = log.last_ps + (found.ps if lasts and plan.carried.stop_ps != log.last_ps else 0)
        digital = {name: _last_of_each_time(at, levels, stop) for name, at, levels in rows.channels}
        if layout == CHANGES and (period := _sample_period(plan, rows, found, printed)) is not None:
            layout = SAMPLED
            how = f"{format_time(period)}, the sample period: each row is so much later"
            found = replace(found, ps=math.ceil(round(period, 1)), how=how)
        notes += (found.note,) if found.note else ()
        if same := log.same_times:
            count = "1 row has" if same == 1 else f"{group_digits(same)} rows have"
            notes += (f"{count} the same printed time as the row above; the last row of each time is taken.",)
        if log.off_rate_line is not None and checked is not None:
            off = f"From line {log.off_rate_line} on the times do not keep to the sample rate of {format_rate(checked)}"
            notes += (f"{off}: the times are taken.",)
    facts = (("time", said), ("resolution", found.how), ("rows", str(rows.count)))
    return _Found(digital, found.ps, facts, notes, layout=layout)


def _sample_period(plan: Plan, rows: Rows, found: Resolution, printed: int) -> Fraction | None:
    """The step, where each row is one after the last, in the whole file, also where nothing changes; else None.

    Rows of changes alone can be as even, of a clock say; and nobody knows what changes in a column that is left out.
    """
    period = rows.log.even_period(printed)
    left_out = any(c.kind == "leave out" and any(c.cells) for c in plan.columns)
    if period is None or left_out or found.note or plan.carried.resolution_ps is not None:
        return None
    if abs(found.ps - period) > printed:
        return None
    changed = np.zeros(rows.count, np.bool_)
    for _, times, _ in rows.channels:
        changed[np.rint((times - rows.log.first_ps) / float(period)).astype(np.int64)] = True
    # a row that changes nothing may mark the trigger or the end
    still = rows.count - int(np.count_nonzero(changed))
    return period if still >= max(_FEWEST_STILL, _SHARE_STILL * rows.count) else None


def _with_volts(
    path: str, plan: Plan, rows: Rows, unit_ps: Fraction | None, rate: Fraction | None, options: ReadOptions
) -> _Found:
    """Volts, and logic sampled with them: sample i stands at start + i * interval, the interval being exact."""
    start, interval = time_base(path, plan, rows, unit_ps, options.sample_rate, rate)
    rate = PS_PER_S / interval
    analog = {name: AnalogTrace(start, interval, volts) for name, volts in rows.volts.items()}
    notes = _rate_notes(plan, options, interval)
    assumed = unit_ps is not None and plan.index is None and _seconds_assumed(plan, options)
    if assumed and plan.interval_ps != interval:
        notes += (_SECONDS_ASSUMED,)
    channels = ", ".join(c.name for c in plan.used if c.kind != "time")
    facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)), ("channels", channels))
    notes += rounded_note(plan, rows, unit_ps, interval)
    return _Found(_sampled(rows, rate, start), period_ps(rate), facts, notes, analog)


def _sampled(rows: Rows, rate: Fraction, start_ps: int) -> dict[str, DigitalTrace]:
    stop = int(sample_time_ps(np.array([rows.count], np.int64), rate, start_ps)[0])

    def place(channels: Sequence[tuple[str, Int64, UInt8]]) -> None:
        for _, places, _ in channels:
            # the times take the room of the rows' numbers, which nobody needs any more
            sample_time_ps(places, rate, start_ps, out=places)

    in_halves(place, rows.channels)
    return {name: DigitalTrace(times, levels, stop) for name, times, levels in rows.channels}


def _last_of_each_time(times: Int64, levels: UInt8, stop_ps: int) -> DigitalTrace:
    """Rows may share a printed time; the last of them holds."""
    last = np.concatenate((times[1:] > times[:-1], [True]))
    if last.all():
        return DigitalTrace(times, levels, stop_ps)
    return digital_trace(times[last], levels[last], stop_ps)


def period_ps(rate: Fraction) -> int:
    """One sample period, rounded up."""
    return math.ceil(PS_PER_S / rate)


def _resolution(plan: Plan, log: TimeLog, printed: int, rate: Fraction | None) -> Resolution:
    """As the file says, one period of the sample rate, or what the times show."""
    if plan.carried.resolution_ps is not None:
        return Resolution(plan.carried.resolution_ps, "as the file says")
    found = found_resolution(log.head, log.tail, printed, "the last printed digit of the times")
    # a rate makes no rounded time finer
    if rate is None or (found.note and found.ps > period_ps(rate)):
        return found
    return Resolution(period_ps(rate), "one period of the sample rate")


def _rate_notes(plan: Plan, options: ReadOptions, interval_ps: Fraction | None = None) -> tuple[str, ...]:
    """What the heading states against itself, against what was given, or against the interval of the times."""
    given, stated = options.sample_rate, plan.rate_hz
    if given is None:
        if twice := contradiction(plan.rates):
            return (f"The heading states {twice}; the times decide.",)
        own = plan.interval_ps
        if own is None or interval_ps is None or own == interval_ps:
            return ()
        states = f"The file states a sample interval of {format_time(own)}"
        return (f"{states}, but its times go in steps of {format_time(interval_ps)}: the times are taken.",)
    if interval_ps is not None or stated is None or given == stated:
        return ()
    return (f"The file states {format_rate(stated)}; the {format_rate(given)} given on opening are taken.",)
