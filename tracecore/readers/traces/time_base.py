"""Where volts stand: the start and the exact interval of samples in even steps of time."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from tracecore.errors import MissingSampleRate
from tracecore.quantities import PS_PER_S, format_time
from tracecore.readers.headings.facts import needed_rate, one_rate
from tracecore.readers.plan.plan import Column, Plan
from tracecore.readers.refusals import GIVE_RATE, bad_row
from tracecore.readers.rows.blocks import Float64
from tracecore.readers.rows.rows import Rows
from tracecore.readers.traces.even_times import check_even, lie_on, slope_of

GIVE_RATE_OR_TIME = "Give the sample rate (--rate), or say which column is the time (--column)."


def time_base(
    path: str, plan: Plan, rows: Rows, unit_ps: Fraction | None, rate: Fraction | None
) -> tuple[int, Fraction]:
    """Start in ps and the exact interval in ps. ``rate`` is what a person gave.

    Raises MalformedCapture with line and column where the times are not in even steps, MissingSampleRate where the
    first column is an index and no interval is stated.
    """
    time = plan.time
    if time is None:
        return _rounded(plan.start_ps), PS_PER_S / needed_rate(path, rate, plan.rates, GIVE_RATE_OR_TIME)
    shown, place = rows.shown, (plan.data_line + 1, time.cell + 1)
    assert shown is not None
    if plan.index is not None:
        start, increment = plan.index
        if increment <= 0:
            found = f"an increment of {float(increment):g} s"
            raise bad_row(path, plan.data_line, found, "one above zero", do="Export the capture again.")
        check_even(path, place, shown.times, 1.0, 0.0)
        return _rounded(start * PS_PER_S), increment * PS_PER_S
    if time.form == "index":
        interval = PS_PER_S / needed_rate(path, rate, plan.rates, GIVE_RATE_OR_TIME)
        check_even(path, place, shown.times, 1.0, 0.0)
        return _rounded(shown.first * interval), interval
    stated = PS_PER_S / rate if rate is not None else plan.interval_ps
    first, last, count, unit = shown.first, shown.last, len(shown.times), unit_ps
    if unit is None:
        if stated is None:
            raise _no_unit(path, plan, time)
        one_rate(path, rate, plan.rates)
        steps = np.diff(shown.times)
        if rate is None or not len(steps) or steps.min() == steps.max() == 1.0:
            check_even(path, place, shown.times, 1.0, 0.0)
            return 0, stated
        # times in a unit that nobody knows: the rate says what one is worth
        mean = (last - first) / len(steps)
        check_even(path, place, shown.times, float(mean), float(shown.printed))
        return _rounded(first / mean * stated), stated
    if count == 1:
        if stated is None:
            found = "one row only, which tells no sample interval"
            raise MissingSampleRate(path, found=found, expected="two rows or more", do=GIVE_RATE)
        return _rounded(first * unit), stated
    mean = (last - first) / (count - 1)
    check_even(path, place, shown.times, float(mean), float(shown.printed))
    slack = shown.printed / (count - 1)
    if stated is not None and abs(stated / unit - mean) <= slack:
        return _rounded(first * unit), stated
    return _rounded(first * unit), plain_interval(mean, slack, unit, shown.times, float(shown.printed))


def _no_unit(path: str, plan: Plan, time: Column) -> MissingSampleRate:
    found = f"{time.cells[0]!r}, which may be an index or a time without a unit"
    if plan.unknown_unit:
        found = f"{plan.unknown_unit[:40]!r} above the times, which names no unit that is known"
    return MissingSampleRate(
        path,
        line=plan.data_line + 1,
        column=time.cell + 1,
        found=found,
        expected="a heading such as 'Time (s)', or a sample interval above the rows",
        do="Give the unit (--time-unit) or the sample rate (--rate), or write the unit into the heading.",
    )


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
        slope = slope_of(times)
        centre = slope if abs(slope - centre) < float(slack) else centre
    for digits in range(1, 16):
        for interval in (Fraction(f"{centre:.{digits}g}"), 1 / Fraction(f"{1 / centre:.{digits}g}")):
            if abs(interval - mean) > slack:
                continue
            if lie_on(times, float(interval), printed):
                return interval * unit_ps
            nearest = nearest or interval * unit_ps
    return nearest or mean * unit_ps


def rounded_note(plan: Plan, rows: Rows, unit_ps: Fraction | None, interval_ps: Fraction) -> tuple[str, ...]:
    """What is assumed where the last printed digit is as coarse as the samples."""
    printed = Fraction(0)
    if rows.shown is not None and plan.index is None:
        printed = rows.shown.printed * (unit_ps or 0)
    if printed * 2 <= interval_ps or not interval_ps % printed or plan.rates:
        return ()
    shown, every = format_time(printed), format_time(interval_ps)
    return (
        f"The times are rounded to {shown}; a sample every {every} is taken from them all. Give the rate (--rate).",
    )
