"""Are the printed times of samples in even steps? Rounding of the last digit passes, a damaged digit does not."""

from __future__ import annotations

import bisect
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracecore.errors import MalformedCapture

Float64 = np.ndarray[Any, np.dtype[np.float64]]
_STEPS_LOOKED_AT = 100_000
# what is worked on at once stays in the cache
_BLOCK = 1 << 15
# so many rows show where rounded times jump
_FEWEST_TO_JUMP = 40
# a gap of less than a printed digit shows some rows later
_DELAY = 16
_BEHIND = 100


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
    if printed > 0 and count >= _FEWEST_TO_JUMP and (rare or bent or found.farthest > 0.5 * printed):
        if _is_rounding(times, printed):
            return
        if gap := gap_at(times, printed):
            at, missing, step = gap
            rows = "a row" if abs(missing) == 1 else f"{abs(missing)} rows"
            lost = "stood twice" if missing < 0 else "were missing"
            raise wrong(at, f"times that go on as if {rows} {lost} before this one", f"even steps of {step:.6g}")
    if not (rare or bent or found.farthest > slack):
        return
    steps = np.diff(times)
    jump = np.abs(steps - usual)
    # a time that is bent has a long step before it and a short one behind it: the first one leads to it
    at = int((jump >= 0.999 * jump.max()).argmax())
    raise wrong(at + 1, f"a step of {steps[at]:.6g} in the time column", f"even steps of {usual:.6g}")


def gap_at(times: Float64, printed: float) -> tuple[int, int, float] | None:
    """The row from which on even times are late by whole steps, the rows that are missing there (below zero: too many),
    and the step; None where no such gap explains the times.

    Rounding keeps all times within one printed unit of some line. The rows up to the first one that no line of those
    before it reaches are taken; a gap is where the rows behind lie on that line once it is closed.

    >>> lost = np.round(np.delete(np.arange(400), 250) * 0.016667, 2)
    >>> gap_at(lost, 0.01)[:2]
    (250, 1)
    """
    if len(times) < _FEWEST_TO_JUMP or printed <= 0:
        return None
    within = _within(times, printed)
    if (end := _even_until(times, within)) is None:
        return None
    if end >= len(times) // 2:
        return _gap_near(times, end, within)
    # few rows tell no step: the others do, looked at from the end
    back = -times[::-1]
    found = _gap_near(back, _even_until(back, within) or len(times), within)
    return None if found is None else (len(times) - found[0], *found[1:])


def _gap_near(times: Float64, end: int, within: float) -> tuple[int, int, float] | None:
    """The gap at or shortly before row ``end``, up to which the rows lie on a line."""
    if end < _FEWEST_TO_JUMP // 2:
        return None
    first = max(1, end - _DELAY)
    step = float((times[first - 1] - times[0]) / (first - 1)) if first > 1 else 0.0
    steps = np.diff(times[first - 1 : end + 1])
    if step <= 0 or not len(steps):
        return None
    at = first + int(np.abs(steps - step).argmax())
    reach = min(len(times), at + _BEHIND)
    for missing in (round(float(times[at] - times[at - 1]) / step) - 1 + more for more in (0, 1, -1)):
        closed = np.concatenate((times[:at], times[at:reach] - missing * step))
        if missing and _even_until(closed, within) is None:
            return at, missing, step
    return None


def _even_until(times: Float64, within: float) -> int | None:
    """The first row that lies on no line with all rows before it to ``within``; None where all do."""
    turned, size, at, high, low, off = _band(times)
    if float(turned.max() - turned.min()) <= within:
        return None
    good = _last_within(at, high, low, within)
    rows = np.arange(good * size, min(len(times), (good + 1) * size))
    at = np.concatenate((at[:good], rows))
    high, low = np.concatenate((high[:good], off[rows])), np.concatenate((low[:good], off[rows]))
    return int(rows[min(len(rows) - 1, max(0, _last_within(at, high, low, within) - good))])


def _is_rounding(times: Float64, printed: float) -> bool:
    """Do the times lie as rounding lays them, within a digit of a line and most of them amid that band? A digit that
    is off among exact times leaves all but one at an edge of it."""
    turned = _band(times)[0]
    low, high = float(turned.min()), float(turned.max())
    edge = 0.05 * printed
    amid = np.count_nonzero((turned > low + edge) & (turned < high - edge))
    return high - low <= _within(times, printed) and 2 * int(amid) > len(turned)


def _band(times: Float64) -> tuple[Float64, int, Float64, Float64, Float64, Float64]:
    """How far each time is off the line that lies best among them; the rows of a block, and of each block its place and
    how far its times lie above and below the line through the ends; how far each time does."""
    count = len(times)
    off = times - times[0] - np.arange(count) * ((times[-1] - times[0]) / (count - 1))
    # the farthest times of a block stand for all: a line that fits turns by next to nothing within it
    size = max(1, count // 2000)
    cuts = np.arange(0, count, size)
    at, high, low = cuts.astype(np.float64), np.maximum.reduceat(off, cuts), np.minimum.reduceat(off, cuts)
    return off - _span(at, high, low)[1] * np.arange(count), size, at, high, low, off


def _last_within(at: Float64, high: Float64, low: Float64, within: float) -> int:
    """How many of the first places lie on a line together."""
    return bisect.bisect(
        range(1, len(at)), within, lo=1, key=lambda count: _span(at[:count], high[:count], low[:count])[0]
    )


def _span(at: Float64, high: Float64, low: Float64) -> tuple[float, float]:
    """The width of the narrowest band that holds all of ``low`` to ``high``, and its turn."""
    reach = float(high.max() - low.min()) / max(1.0, float(at[-1] - at[0])) * 4
    left, right = -reach, reach

    def width(turn: float) -> float:
        return float((high - turn * at).max() - (low - turn * at).min())

    for _ in range(50):
        third = (right - left) / 3
        if width(left + third) < width(right - third):
            right -= third
        else:
            left += third
    turn = (left + right) / 2
    return width(turn), turn


def lie_on(times: Float64, step: float, printed: float) -> bool:
    """Are the ``times`` float64[N] those of even samples of this step, each rounded to a printed digit?

    >>> times = np.round(np.arange(80) * 0.064, 1)
    >>> lie_on(times, 0.064, 0.1), lie_on(times, 0.065, 0.1)
    (True, False)
    """
    low, high, line = 0.0, 0.0, step * np.arange(_BLOCK)
    for at in range(0, len(times), _BLOCK):
        off = times[at : at + _BLOCK] - (times[0] + step * at)
        off -= line[: len(off)]
        low, high = min(low, float(off.min())), max(high, float(off.max()))
    return high - low <= _within(times, printed)


def slope_of(times: Float64) -> float:
    """The step of the line that lies best among ``times`` float64[N], by least squares.

    >>> slope_of(np.array([0.0, 1.0, 3.0]))
    1.5
    """
    count, total = len(times), 0.0
    for at in range(0, count, _BLOCK):
        block = times[at : at + _BLOCK] - times[0]
        total += float((np.arange(at, at + len(block)) - (count - 1) / 2) @ block)
    return total / (count * (count * count - 1) / 12)


def _within(times: Float64, printed: float) -> float:
    """How far rounded times, which doubles hold, can be apart from one line."""
    return 1.02 * printed + 4 * float(np.spacing(np.abs(times[[0, -1]]).max()))


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
