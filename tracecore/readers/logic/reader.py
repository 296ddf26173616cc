"""Sampled rows and change rows: logic cells, with a time in front or a sample rate above."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from tracecore.capture import Capture, DigitalTrace, Int64, UInt8, digital_trace, sample_time_ps
from tracecore.errors import MissingSampleRate, UnknownCapture
from tracecore.quantities import PS_PER_S, format_rate, format_time, group_digits
from tracecore.readers.even_times import SECONDS_ASSUMED
from tracecore.readers.headings.channel_names import check_distinct_bits
from tracecore.readers.headings.heading_facts import contradiction
from tracecore.readers.headings.row_heading import Heading
from tracecore.readers.logic.row_sink import Rows
from tracecore.readers.logic.row_text import BadRow, RowLayout, split_time
from tracecore.readers.logic.rows import read_rows
from tracecore.readers.recognise.known import CHANGES, SAMPLED, known
from tracecore.readers.refusals import needed_rate, no_base, no_unit
from tracecore.readers.sample_period import Resolution, found_resolution
from tracecore.readers.source import Head, ReadOptions, Source
from tracecore.readers.words.word_rows import read_word_rows
from tracecore.readers.words.words import BASE_WORDS, WordColumn, with_base


def read_sampled(source: Source, options: ReadOptions) -> Capture:
    """Reads rows of which each is a sample; the time of a row is its number over the sample rate, exactly.

    A time column is checked against the rate. Where the two disagree, the times are taken and a note says so.
    Raises MissingSampleRate, and MalformedCapture with line and column.
    """
    heading = _heading(source)
    if heading.timed:
        return _with_times(source, heading, options, SAMPLED)
    rate = needed_rate(source.path, options.sample_rate, heading.rates)
    layout = RowLayout(heading.columns, False, 0, source.head().delimiter.encode(), heading.data_line + 1)
    rows, heading = _rows(source, heading, layout, options)
    facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)))
    return _capture(
        source,
        options.name,
        _sampled_traces(heading, rows, rate, 0),
        period_ps(rate),
        SAMPLED,
        (*facts, *(f for f in heading.facts if f[0] != "sample rate")),
        rows.notes + _override_note(heading, options),
    )


def read_changes(source: Source, options: ReadOptions) -> Capture:
    """Reads rows with a time in front, at irregular times; the last one may only mark the end.

    Raises MalformedCapture with line and column.
    """
    return _with_times(source, _heading(source), options, CHANGES)


def _heading(source: Source) -> Heading:
    heading = known(source.head()).heading
    if heading is None:
        raise UnknownCapture(
            source.path, found="no row of cells that are 0 or 1", expected="logic cells", do="Export the capture again."
        )
    return heading


def _rows(source: Source, heading: Heading, layout: RowLayout, options: ReadOptions) -> tuple[Rows, Heading]:
    """All rows, and the heading with a name and a column for each bit of a word."""
    skip = source.skip_lines(heading.data_line)
    if not heading.words:
        return read_rows(source, layout, skip), heading
    plan = tuple(None if w is None else with_base(w, options.word_base) for w in heading.words)
    _check_bases(source, heading, plan)
    rows, names = read_word_rows(source, layout, skip, plan, heading.names)
    check_distinct_bits(source.path, names, "Rename one of the columns.")
    said = tuple(("words split into bits", f"{w.name}, {BASE_WORDS[w.base]}") for w in plan if w and w.base)
    return rows, replace(heading, names=names, columns=len(names), facts=said + heading.facts)


def _check_bases(source: Source, heading: Heading, plan: tuple[WordColumn | None, ...]) -> None:
    for column, word in enumerate(plan, 1 + heading.timed):
        if word is not None and word.base is None:
            raise no_base(source.path, heading.data_line + 1, column, word)


def _with_times(source: Source, heading: Heading, options: ReadOptions, reader: str) -> Capture:
    head = source.head()
    unit_ps, said = _time_unit(source, head, heading, options)
    power = len(str(int(unit_ps))) - 1 if unit_ps >= 1 else -3
    printed = _printed_ps(head, heading, power)
    rate = options.sample_rate or heading.rate_hz
    layout = RowLayout(
        heading.columns,
        True,
        power,
        head.delimiter.encode(),
        heading.data_line + 1,
        rate if reader == SAMPLED else None,
        printed,
        head.decimal.encode(),
    )
    rows, heading = _rows(source, heading, layout, options)
    notes = rows.notes + _override_note(heading, options)
    if options.time_unit_ps is None and heading.time_unit_ps is None:
        notes += (SECONDS_ASSUMED,)
    agrees = reader == SAMPLED and rate is not None and rows.off_rate_line is None
    stated = rate if agrees or reader == CHANGES else None
    found = _resolution(rows, printed, stated, heading.carried.resolution_ps)
    resolution = found.ps
    if agrees and rate is not None:
        digital = _sampled_traces(heading, rows, rate, rows.first_ps)
    else:
        digital = _timed_traces(heading, rows, _stop_ps(heading, rows, resolution, ends=reader == CHANGES))
        notes += (found.note,) if found.note else ()
        notes += same_times_note(rows.same_times) + (_off_rate_note(rows, rate) if rate is not None else ())
    facts = (("time", said), ("resolution", found.how), ("rows", str(rows.count)))
    return _capture(source, options.name, digital, resolution, reader, (*facts, *heading.facts), notes)


def _capture(
    source: Source,
    name: str,
    digital: dict[str, DigitalTrace],
    resolution_ps: int,
    reader: str,
    facts: tuple[tuple[str, str], ...],
    notes: tuple[str, ...],
) -> Capture:
    return Capture(name, digital, {}, resolution_ps, reader, source.path, source.sha256(), facts, notes)


def _sampled_traces(heading: Heading, rows: Rows, rate: Fraction, start_ps: int) -> dict[str, DigitalTrace]:
    stop = int(sample_time_ps(np.array([rows.count], np.int64), rate, start_ps)[0])
    # the times take the room of the rows' numbers, which nobody needs any more
    return {
        channel: DigitalTrace(sample_time_ps(index, rate, start_ps, out=index), levels, stop)
        for channel, index, levels in zip(heading.names, rows.index, rows.levels, strict=True)
    }


def _stop_ps(heading: Heading, rows: Rows, resolution_ps: int, *, ends: bool) -> int:
    """``ends``: a last row that changes nothing marks the end of the capture and has no duration of its own."""
    stated = heading.carried.stop_ps
    if stated == rows.last_ps:
        return stated
    lasts = rows.last_changes or rows.count == 1 or not ends
    return rows.last_ps + resolution_ps if lasts else rows.last_ps


def _timed_traces(heading: Heading, rows: Rows, stop_ps: int) -> dict[str, DigitalTrace]:
    return {
        channel: last_of_each_time(times, levels, stop_ps)
        for channel, times, levels in zip(heading.names, rows.times, rows.levels, strict=True)
    }


def last_of_each_time(times: Int64, levels: UInt8, stop_ps: int) -> DigitalTrace:
    """Rows may share a printed time; the last of them holds."""
    last = np.concatenate((times[1:] > times[:-1], [True]))
    if last.all():
        return DigitalTrace(times, levels, stop_ps)
    return digital_trace(times[last], levels[last], stop_ps)


def _time_unit(source: Source, head: Head, heading: Heading, options: ReadOptions) -> tuple[Fraction, str]:
    if options.time_unit_ps is not None:
        return options.time_unit_ps, f"in units of {format_time(int(options.time_unit_ps))}, as given on opening"
    if heading.time_unit_ps is not None:
        return heading.time_unit_ps, f"in the unit that the heading {heading.time_heading!r} gives"
    if heading.unknown_unit:
        raise MissingSampleRate(
            source.path,
            line=heading.data_line,
            column=1,
            found=f"{heading.unknown_unit[:40]!r} above the times, which names no unit that is known",
            expected="a heading such as 'Time [ns]'",
            do="Correct the unit, or give the unit of time (--time-unit).",
        )
    shown = [head.cells(i)[0].lower() for i in range(heading.data_line, len(head.lines))]
    if any("." in cell or "e" in cell for cell in shown):
        return Fraction(PS_PER_S), "in seconds: no unit is given, and the numbers have decimals"
    raise no_unit(source.path, heading.data_line + 1, 1, shown[0])


def _printed_ps(head: Head, heading: Heading, unit: int) -> int:
    """The finest step that the first rows' times show; stripped zeros make some rows look coarser."""
    finest: int | None = None
    for line in range(heading.data_line, min(len(head.lines), heading.data_line + 2000)):
        try:
            scale = split_time(head.cells(line)[0].encode(), unit).scale
        except BadRow:
            continue  # the row itself is reported when it is read
        finest = scale if finest is None else min(finest, scale)
    return int(10 ** max(0, finest or 0))


def period_ps(rate: Fraction) -> int:
    """One sample period, rounded up."""
    return -(-(PS_PER_S * rate.denominator) // rate.numerator)


def _resolution(rows: Rows, printed_ps: int, rate: Fraction | None, carried_ps: int | None) -> Resolution:
    """As the file says, one period of the sample rate, or what the times show."""
    if carried_ps is not None:
        return Resolution(carried_ps, "as the file says")
    found = found_resolution(rows.head, rows.tail, printed_ps, "the last printed digit of the times")
    if rate is None:
        return found
    period = period_ps(rate)
    if found.note and found.ps > period:
        return found  # a rate makes no rounded time finer
    return Resolution(period, "one period of the sample rate")


def _override_note(heading: Heading, options: ReadOptions) -> tuple[str, ...]:
    twice = contradiction(heading.rates)
    if twice and options.sample_rate is None:
        return (f"The heading states {twice}; the times decide.",)
    given, stated = options.sample_rate, heading.rate_hz
    if given is None or stated is None or given == stated:
        return ()
    return (f"The file states {format_rate(stated)}; the {format_rate(given)} given on opening are taken.",)


def same_times_note(rows: int) -> tuple[str, ...]:
    """What to say of rows that share a printed time with the row above."""
    if not rows:
        return ()
    count = "1 row has" if rows == 1 else f"{group_digits(rows)} rows have"
    return (f"{count} the same printed time as the row above; the last row of each time is taken.",)


def _off_rate_note(rows: Rows, rate: Fraction) -> tuple[str, ...]:
    if rows.off_rate_line is None:
        return ()
    return (
        f"From line {rows.off_rate_line} on the times do not keep to the sample rate of {format_rate(rate)}: "
        "the times are taken.",
    )
