"""Where volts stand: the start and the exact interval of samples in even steps of time.

Time (us),A (V)               the mean step of the times is good to a printed digit over all of them: the interval
0.0000000,0.25                is the shortest decimal, or that of the shortest rate, that all times allow; here
0.0416667,0.30                24 MHz, which is 125000/3 ps
"""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np

from tracecore.errors import MalformedCapture, MissingSampleRate
from tracecore.quantities import PS_PER_S, format_time
from tracecore.readers.headings.facts import one_rate
from tracecore.readers.plan.plan import Plan
from tracecore.readers.refusals import GIVE_RATE, bad_row
from tracecore.readers.rows.blocks import Float64
from tracecore.readers.rows.rows import Rows
from tracecore.readers.traces.even_times import check_even, lie_on, slope_of

_LARGEST_PS = 10**18


def time_base(
    path: str, plan: Plan, rows: Rows, unit_ps: Fraction | None, given: Fraction | None, rate: Fraction | None
) -> tuple[int, Fraction]:
    """Start in ps and the exact interval in ps. ``given`` is the rate that a person gave, ``rate`` that or the stated
    one.

    Raises MalformedCapture with line and column where the times are not in even steps, MissingSampleRate where the
    first column is an index and no interval is stated.
    """
    start, interval = _start_and_interval(path, plan, rows, unit_ps, given, rate)
    last = abs(start) + interval * rows.count
    if interval < Fraction(1, 1000) or last >= _LARGEST_PS:
        raise MalformedCapture(
            path,
            line=plan.data_line + 1,
            found=f"samples every {_seconds(interval)} up to {_seconds(last)}",
            expected="steps of 1 fs or more, and times below 10^18 ps (11 days)",
            do="Correct the interval or the times, or export the capture again.",
        )
    return math.floor(start + Fraction(1, 2)), interval


def _start_and_interval(
    path: str, plan: Plan, rows: Rows, unit: Fraction | None, given: Fraction | None, rate: Fraction | None
) -> tuple[Fraction, Fraction]:
    time, shown, stated = plan.time, rows.shown, PS_PER_S / rate if rate is not None else None
    if time is None or shown is None:
        assert stated is not None
        return plan.start_ps, stated
    first, count, printed = shown.first, len(shown.times), shown.printed
    place = plan.data_line + 1, time.cell + 1
    if plan.index is not None:
        start, increment = plan.index
        if increment <= 0:
            found = f"an increment of {float(increment):g} s"
            raise bad_row(path, plan.data_line, found, "one above zero", do="Export the capture again.")
        check_even(path, place, shown.times, 1.0, 0.0)
        return start * PS_PER_S, increment * PS_PER_S
    if unit is None:
        if stated is None:
            found = f"{time.cells[0]!r}, which may be an index or a time without a unit"
            if plan.unknown_unit:
                found = f"{plan.unknown_unit[:40]!r} above the times, which names no unit that is known"
            raise MissingSampleRate(
                path,
                line=place[0],
                column=place[1],
                found=found,
                expected="a heading such as 'Time (s)', or a sample interval above the rows",
                do="Give the unit (--time-unit) or the sample rate (--rate), or write the unit into the heading.",
            )
        one_rate(path, given, plan.rates)
        if time.form == "index" or given is None or bool((np.diff(shown.times) == 1.0).all()):
            check_even(path, place, shown.times, 1.0, 0.0)
            return first * stated if time.form == "index" else Fraction(0), stated
    if count == 1:
        if stated is None or unit is None:
            found = "one row only, which tells no sample interval"
            raise MissingSampleRate(path, found=found, expected="two rows or more", do=GIVE_RATE)
        return first * unit, stated
    mean, slack = (shown.last - first) / (count - 1), printed / (count - 1)
    check_even(path, place, shown.times, float(mean), float(printed))
    if unit is None and stated is not None:
        unit = stated / mean  # nobody knows it: the rate says what one is worth
    assert unit is not None
    if stated is not None and abs(stated / unit - mean) <= slack:
        return first * unit, stated
    return first * unit, plain_interval(mean, slack, unit, shown.times, float(printed))


def _seconds(time_ps: Fraction) -> str:
    # beyond that no double holds it
    return f"{float(time_ps / PS_PER_S):.6g} s" if time_ps < 10**300 else "more than 1e+288 s"


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
