"""A printed time and a printed level, taken slowly and plainly: what the fast readings learn from."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from tracecore.capture import UNKNOWN, Int64
from tracecore.readers.refusals import BadRow, shown

_TIME = {
    mark: re.compile(rb"[ \t]*([+-]?)(\d+)(?:" + re.escape(mark) + rb"(\d*))?(?:[eE]([+-]?\d{1,3}))?[ \t]*")
    for mark in (b".", b",")
}
_LARGEST_DIGITS = 18


@dataclass(frozen=True, slots=True)
class TimeScale:
    """How printed times of logic become picoseconds: they are in units of 10**``power`` ps, their last printed digit
    is ``printed_ps``. ``checked_hz`` is a stated rate that they are checked against, None where there is none."""

    power: int = 0
    printed_ps: int = 1
    checked_hz: Fraction | None = None


@dataclass(frozen=True, slots=True)
class TimeText:
    """A printed time: picoseconds, offsets of its digits in the text, power of ten of the last digit, sign."""

    time_ps: int = 0
    digits: tuple[int, ...] = ()
    scale: int = 0
    sign: int = 1


def cell_level(cell: bytes, unknown_allowed: bool) -> int | None:
    """Level of a cell; None where it is neither 0 nor 1 (nor X, Z or empty where those are allowed)."""
    text = cell.strip(b" \t")
    if text in (b"0", b"1"):
        return text[0] - 48
    return UNKNOWN if unknown_allowed and text in (b"", b"x", b"X", b"z", b"Z") else None


def split_time(text: bytes, power: int, decimal: bytes = b".") -> TimeText:
    """A printed time in units of 10**``power`` ps, rounded half up to whole ps. Raises BadRow.

    >>> split_time(b"1.5", 3)
    TimeText(time_ps=1500, digits=(0, 2), scale=2, sign=1)
    """
    match = _TIME[decimal].fullmatch(text)
    if match is None:
        raise BadRow(f"{shown(text)} as time", "a number", 1)
    digits = (*range(*match.span(2)), *(range(*match.span(3)) if match[3] else ()))
    scale = power - len(match[3] or b"") + int(match[4] or 0)
    sign = -1 if match[1] == b"-" else 1
    number = int(match[2] + (match[3] or b""))
    if number and len(str(number)) + scale > _LARGEST_DIGITS:
        raise BadRow(f"{shown(text)} as time", "a time below 10^18 ps (11 days)", 1)
    if scale >= 0:
        size = number * 10**scale if number else 0
    else:
        half = 10**-scale // 2
        size = (number + half) // 10**-scale
    return TimeText(sign * size, digits, scale, sign)


def scaled(number: Int64, scale: int, sign: int) -> Int64:
    """Whole numbers times 10**``scale``, rounded half up; ``number`` may be written over."""
    if scale < 0:
        unit = 10**-scale
        return np.asarray(sign * ((number + unit // 2) // unit))
    if (factor := sign * 10**scale) != 1:
        number *= factor
    return number
