"""Are the printed times of samples in even steps? Rounding of the last digit passes, a damaged digit does not."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from tracecore.errors import MalformedCapture
from tracecore.quantities import PS_PER_S, format_time

Float64 = np.ndarray[Any, np.dtype[np.float64]]
SECONDS_ASSUMED = "No unit of time is given and the times have decimals: they are taken for seconds (--time-unit)."
_LARGEST_PS = 10**18
_STEPS_LOOKED_AT = 100_000
# what is worked on at once stays in the cache
_BLOCK = 1 << 15


@dataclass(slots=True)
class _Found:
    """Of all times: the least step, the farthest off the line, how many steps jump, how many times are bent."""

    least: float = np.inf
    farthest: float = 0.0
    jumps: int = 0
    bends: int = 0


def check_even(path: str, place: tuple[int, int], times: Float64, step: float, printed: float) -> None:
    """Each of the ``times`` float64[N] lies on the line of ``step`` through the first one, rounding aside.

    ``place`` is line and column of the first time, counted from 1, ``printed`` the last printed digit.
    Even steps that are rounded differ by one digit from each other, so a time between two steps that differ by two
    was damaged, unless many are like that. Raises MalformedCapture with line and column.

    >>> check_even("", (2, 1), np.array([0.0, 0.02, 0.03, 0.05, 0.06]), 0.015, 0.01)
    >>> check_even("c.csv", (2, 1), np.array([0.0, 0.01, 0.03, 0.03, 0.04]), 0.01, 0.01)
    Traceback (most recent call last):
    tracecore.errors.MalformedCapture: c.csv, line 4, column 1: found a step of 0.02 in the time column; ...
    """

    def wrong(at: int, found: str, expected: str) -> MalformedCapture:
        do = "Export the capture again without gaps."
        return MalformedCapture(path, line=place[0] + at, column=place[1], found=found, expected=expected, do=do)

    count = len(times) - 1
    if count < 1:
        return
    every = count // _STEPS_LOOKED_AT + 1
    # that of many steps tells as much as that of all
    usual = float(np.median(times[1::every] - times[:-1:every]))
    found = _look(times, step, usual, 1.5 * printed)
    if found.least < 0:
        at = int((np.diff(times) < 0).argmax()) + 1
        raise wrong(at, "a time before that of the row above", "times that never run backwards")
    if step <= 0:
        raise wrong(1, "the same time as in the row above", "times that go on")
    # what doubles cannot hold is no gap either
    slack = max(2 * printed, 0.02 * step) + 4 * float(np.spacing(np.abs(times[[0, -1]]).max()))
    # a step of two units among a hundred of one is rounding where it comes often, and a gap where it is rare
    rare = count >= 20 and 0 < found.jumps <= max(1, count // 200) and usual > 0.99 * printed
    bent = printed > 0 and 0 < found.bends <= max(3, count // 200)
    if not (rare or bent or found.farthest > slack):
        return
    steps = np.diff(times)
    jump = np.abs(steps - usual)
    # a time that is bent has a long step before it and a short one behind it: the first one leads to it
    at = int((jump >= 0.999 * jump.max()).argmax())
    raise wrong(at + 1, f"a step of {steps[at]:.6g} in the time column", f"even steps of {usual:.6g}")


def interval_note(stated_s: Fraction | None, interval_ps: Fraction) -> tuple[str, ...]:
    """What to say where a preamble states another interval than the times show.

    >>> interval_note(Fraction(5, 10**9), Fraction(4000))
    ('The file states a sample interval of 5 ns, but its times go in steps of 4 ns: the times are taken.',)
    """
    if stated_s is None or stated_s * PS_PER_S == interval_ps:
        return ()
    stated, shown = format_time(stated_s * PS_PER_S), format_time(interval_ps)
    return (
        f"The file states a sample interval of {stated}, but its times go in steps of {shown}: the times are taken.",
    )


def check_base(path: str, line: int, start_ps: int, interval_ps: Fraction, count: int) -> None:
    """Raises MalformedCapture where times are beyond what is counted in whole ps, or samples nearer than 1 fs."""
    last = abs(start_ps) + interval_ps * count
    if interval_ps >= Fraction(1, 1000) and last < _LARGEST_PS:
        return
    raise MalformedCapture(
        path,
        line=line,
        found=f"samples every {_seconds(interval_ps)} up to {_seconds(last)}",
        expected="steps of 1 fs or more, and times below 10^18 ps (11 days)",
        do="Correct the interval or the times, or export the capture again.",
    )


def _seconds(time_ps: Fraction) -> str:
    # beyond that no double holds it
    return f"{float(time_ps / PS_PER_S):.6g} s" if time_ps < 10**300 else "more than 1e+288 s"


def _look(times: Float64, step: float, usual: float, bend: float) -> _Found:
    found, line = _Found(), step * np.arange(_BLOCK)
    for at in range(0, len(times), _BLOCK):
        # a step and a bend reach into the next block
        block = times[at : at + _BLOCK + 2]
        off = block[:_BLOCK] - (times[0] + step * at)
        off -= line[: len(off)]
        found.farthest = max(found.farthest, float(off.max()), -float(off.min()))
        steps = np.diff(block)
        if not len(steps):
            continue
        least, most = float(steps.min()), float(steps.max())
        found.least = min(found.least, least)
        if most - least > bend:
            found.bends += int((np.abs(np.diff(steps)) > bend).sum())
        if max(most - usual, usual - least) > 0.5 * usual:
            found.jumps += int((np.abs(steps[:_BLOCK] - usual) > 0.5 * usual).sum())
    return found
