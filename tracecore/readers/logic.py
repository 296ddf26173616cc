"""Sampled rows and change rows: logic cells, with a time in front or a sample rate above."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from tracecore.capture import Capture, DigitalTrace, Int64, sample_time_ps
from tracecore.errors import CaptureFileError, MalformedCapture, MissingSampleRate
from tracecore.quantities import PS_PER_S, format_rate, format_time
from tracecore.readers.heading import Heading, read_heading
from tracecore.readers.rows import RowLayout, Rows, printed_unit_ps, read_rows
from tracecore.readers.source import Head, Source

SAMPLED = "sampled rows"
CHANGES = "change rows"


def recognises_sampled(head: Head) -> bool:
    """A row a sample, no time column."""
    heading = read_heading(head)
    return heading is not None and not heading.timed


def recognises_changes(head: Head) -> bool:
    """A time in front of every row."""
    heading = read_heading(head)
    return heading is not None and heading.timed is True


def read_logic(source: Source, name: str, sample_rate: Fraction | None) -> Capture:
    """Reads sampled rows or change rows."""
    head = source.head()
    heading = read_heading(head)
    if heading is None:
        raise MalformedCapture(
            source.path, found="no row of cells that are 0 or 1", expected="logic cells", do="Export the capture again."
        )
    if heading.timed:
        return _with_times(source, head, heading, name)
    rate = sample_rate or heading.rate_hz
    if rate is None:
        raise MissingSampleRate(
            source.path,
            found="rows without a time column and no sample rate above them",
            expected="a line such as '; Samplerate: 24 MHz'",
            do="Give the sample rate with --rate, or in the import dialog.",
        )
    layout = RowLayout(heading.columns, False, 0, head.delimiter.encode(), heading.data_line + 1)
    rows = read_rows(source, layout, _skip(source, heading))
    stop = int(sample_time_ps(np.array([rows.count], np.int64), rate)[0])
    digital = {
        channel: DigitalTrace(sample_time_ps(times, rate), levels, stop)
        for channel, times, levels in zip(heading.names, rows.times, rows.levels, strict=True)
    }
    facts = (("sample rate", format_rate(rate)), ("samples", str(rows.count)))
    return Capture(
        name,
        digital,
        {},
        -(-(PS_PER_S * rate.denominator) // rate.numerator),
        SAMPLED,
        source.path,
        source.sha256(),
        (*facts, *(f for f in heading.facts if f[0] != "sample rate")),
        rows.notes,
    )


def _skip(source: Source, heading: Heading) -> int:
    """Bytes before the first data row."""
    head = source.take_head()
    at = 0
    for _ in range(heading.data_line):
        at = head.index(b"\n", at) + 1
    return at


def _with_times(source: Source, head: Head, heading: Heading, name: str) -> Capture:
    first = head.cells(heading.data_line)[0]
    unit_ps, said = _unit(source, head, heading, first)
    layout = RowLayout(heading.columns, True, _power(unit_ps), head.delimiter.encode(), heading.data_line + 1)
    rows = read_rows(source, layout, _skip(source, heading))
    printed = _printed(head, heading, layout.unit)
    resolution, how = _resolution(rows, printed, heading)
    stop = rows.last_ps + resolution if rows.last_changes or rows.count == 1 else rows.last_ps
    digital = {
        channel: _trace(times, levels, max(stop, rows.last_ps))
        for channel, times, levels in zip(heading.names, rows.times, rows.levels, strict=True)
    }
    notes = rows.notes + _rate_notes(rows, heading, printed)
    facts = (("time", said), ("resolution", how), ("rows", str(rows.count)))
    return Capture(
        name,
        digital,
        {},
        resolution,
        CHANGES if rows.uneven or heading.rate_hz is None else SAMPLED,
        source.path,
        source.sha256(),
        (*facts, *heading.facts),
        notes,
    )


def _trace(times: Int64, levels: np.ndarray, stop: int) -> DigitalTrace:
    """Rows may share a printed time; the last of them holds."""
    last = np.concatenate((times[1:] > times[:-1], [True]))
    times, levels = times[last], levels[last]
    kept = np.concatenate(([True], levels[1:] != levels[:-1]))
    return DigitalTrace(times[kept], levels[kept], stop)


def _unit(source: Source, head: Head, heading: Heading, first: str) -> tuple[Fraction, str]:
    if heading.time_unit_ps is not None:
        return heading.time_unit_ps, f"in the unit of {heading.time_heading!r}"
    shown = [head.cells(i)[0].lower() for i in range(heading.data_line, len(head.lines))]
    if any("." in cell or "e" in cell for cell in shown):
        return Fraction(PS_PER_S), "in seconds: no unit is given, and the numbers have decimals"
    raise CaptureFileError(
        source.path,
        line=heading.data_line + 1,
        column=1,
        found=f"the time {first!r} without a unit",
        expected="a heading such as 'Time [ns]'",
        do="Write the unit into the heading of the time column.",
    )


def _power(unit_ps: Fraction) -> int:
    power = 0
    while 10**power < unit_ps:
        power += 1
    return power


def _printed(head: Head, heading: Heading, unit: int) -> int:
    """The finest step that the first rows' times show; stripped zeros make some rows look coarser."""
    lines = [i for i in range(heading.data_line, len(head.lines)) if head.lines[i].strip()][:2000]
    found = []
    for line in lines:
        try:
            found.append(printed_unit_ps(head.cells(line)[0].encode(), unit))
        except ValueError:
            continue  # the row itself is reported when it is read
    return min(found, default=1)


def _resolution(rows: Rows, printed: int, heading: Heading) -> tuple[int, str]:
    """One sample period: as stated, or the step of which all times are multiples, or the last printed digit."""
    if heading.rate_hz is not None:
        return -(-(PS_PER_S * heading.rate_hz.denominator) // heading.rate_hz.numerator), "as the sample rate states"
    step = lattice_step_ps(rows.first_steps, printed)
    if step is not None:
        return step, f"{format_time(step)}, the step that the times lie on"
    return printed, f"{format_time(printed)}, the last printed digit of the times; the instrument may be coarser"


def lattice_step_ps(steps: Int64, printed: int) -> int | None:
    """The period of which all ``steps`` (int64, ps) are whole multiples to within a printed unit; None if none.

    Euclid's algorithm with a tolerance, refined over all steps.

    >>> lattice_step_ps(np.array([41_667, 83_333, 125_000, 208_333]), 1)
    41667
    """
    real = np.unique(steps[steps > 0])
    if len(real) < 4:
        return None
    slack = 1.5 * printed
    period = float(real[0])
    for value in real[1:400].tolist():
        a, b = max(float(value), period), min(float(value), period)
        while b > 4 * slack:
            a, b = b, abs(a - b * round(a / b))
        period = a
    if period < 8 * printed:
        return None
    for _ in range(3):
        period = float((real * np.round(real / period)).sum() / (np.round(real / period) ** 2).sum())
    near = np.abs(real - np.round(real / period) * period) <= 2 * slack
    return round(period) if near.mean() > 0.99 else None


def _rate_notes(rows: Rows, heading: Heading, printed: int) -> tuple[str, ...]:
    if heading.rate_hz is None or rows.count < 2 or rows.uneven:
        return ()
    expected = int(sample_time_ps(np.array([rows.count - 1], np.int64), heading.rate_hz)[0])
    found = rows.last_ps - rows.first_ps
    if abs(found - expected) <= max(2 * printed, expected // 10_000):
        return ()
    return (
        f"The times cover {format_time(found)}, but {rows.count} rows at {format_rate(heading.rate_hz)} would cover "
        f"{format_time(expected)}: the times are taken.",
    )
