"""Cells that say a level or a time in words: H and L, TRUE and FALSE, 0.0 and 1.0; ISO 8601 times; times with a unit
each.

    Time,CLK,BUSY                               Time,CLK
    2031-05-04T10:20:30.000000100+02:00,H,L     12.5 us,TRUE
    2031-05-04T10:20:30.000000350+02:00,L,L     13 us,FALSE
"""

from __future__ import annotations

import datetime
import itertools
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np

from tracecore.capture import Int64
from tracecore.readers.plan.words import is_word
from tracecore.readers.recognise.row_cells import NUMBER

TimeForm = Literal["", "date", "unit", "index"]
_PAIRS = (("l", "h"), ("low", "high"), ("false", "true"))
_DATE = re.compile(
    r"(\d{4})-(\d\d)-(\d\d)[T ](\d\d):(\d\d):(\d\d)(?:[.,](\d{1,12}))?\s*(Z|[+-]\d\d(?::?\d\d)?)?", re.IGNORECASE
)
_WITH_UNIT = re.compile(r"([+-]?)(\d+)(?:[.,](\d*))?(?:[eE]([+-]?\d{1,2}))?\s*(s|ms|[uµμ]s|ns|ps)")
_POWERS = {"s": 12, "ms": 9, "us": 6, "µs": 6, "μs": 6, "ns": 3, "ps": 0}
_DECIMAL = re.compile(r"[+-]?\d+\.\d*(?:[eE][+-]?\d{1,3})?")
_INDEX = re.compile(
    r"(?:n|no\.?|#|index|point|sequence|sample|samples?\s*(?:no\.?|number|index|in buffer|#))\.?", re.IGNORECASE
)
_SURE = 0.9
OUT_OF_REACH = "a time out of reach"


def level_words(cells: Sequence[str]) -> dict[str, int] | None:
    """The words for low and high in a column, in small letters; None where it is written in other ways.

    >>> level_words(["H", "L", "X", "H"])
    {'l': 0, 'h': 1}
    """
    count = Counter(cell.lower() for cell in cells)
    filled = {cell: n for cell, n in count.items() if cell not in ("", "x", "z")}
    # one or two others are damage, which is told when the column is read
    least = sum(filled.values()) - max(1, sum(filled.values()) // 50)
    for low, high in _PAIRS:
        if filled and filled.get(low, 0) + filled.get(high, 0) >= max(1, least):
            return {low: 0, high: 1}
    numbers = {cell for cell in filled if is_level_number(cell)}
    # both levels are there, each printed in one way: volts that stand still are none
    if sum(filled[cell] for cell in numbers) < least or sorted(map(float, numbers)) != [0.0, 1.0]:
        return None
    return {cell: int(float(cell)) for cell in sorted(numbers, key=float)}


def is_level_number(cell: str) -> bool:
    """0 or 1 with decimals."""
    return bool(_DECIMAL.fullmatch(cell)) and float(cell) in (0.0, 1.0)


def is_level_word(cell: str) -> bool:
    """One of the words for low and high."""
    return any(cell.lower() in pair for pair in _PAIRS)


def time_form(title: str, cells: Sequence[str]) -> TimeForm:
    """How the times of a column are written; empty for plain numbers.

    >>> time_form("", ["2031-05-04 10:20:30.5", "2031-05-04 10:20:31"]), time_form("", ["1.5 us", "2 us"])
    ('date', 'unit')
    >>> time_form("Sample", ["7", "8", "9"])
    'index'
    """
    least = _SURE * len(cells)
    if sum(bool(_DATE.fullmatch(cell)) for cell in cells) >= least:
        return "date"
    if sum(bool(_WITH_UNIT.fullmatch(cell)) for cell in cells) >= least:
        return "unit"
    alone = len(cells) == 1 and cells[0].isdecimal()
    return "index" if _INDEX.fullmatch(title) and (alone or counts_rows(cells)) else ""


def counts_rows(cells: Sequence[str]) -> bool:
    """Whole numbers that grow from row to row, a damaged one here and there aside.

    >>> counts_rows(["7", "8", "9"]), counts_rows(["0", "1", "1"]), counts_rows(["0.5", "0.7"])
    (True, False, False)
    """
    whole = [int(cell) for cell in cells if re.fullmatch(r"-?\d{1,15}", cell)]
    grows = sum(b > a for a, b in itertools.pairwise(whole))
    return len(whole) > 1 and len(whole) >= _SURE * len(cells) and grows >= _SURE * (len(whole) - 1)


def is_text(cells: Sequence[str]) -> bool:
    """Are most of the cells that are filled words of a language, as decoded buses have them, and no numbers?

    >>> is_text(["", "READ 0x3F", "", "ACK"]), is_text(["3F", "A0"])
    (True, False)
    """
    filled = [cell for cell in cells if cell]
    odd = [c for c in filled if not NUMBER.fullmatch(c) and not is_word(c)]
    return bool(filled) and 2 * len(odd) > len(filled)


def parsed_times(cells: Iterable[str], form: TimeForm, zero_ps: int) -> tuple[Int64, int]:
    """Picoseconds int64[N] from ``zero_ps`` on of the times of a column, and the power of ten of the finest digit.

    Dates count from the year 1, with the zone taken off. Raises ValueError for a cell that is none, and for a time
    that is 10^18 ps (11 days) away or more.

    >>> times, finest = parsed_times(["1.5 us", "20 ns"], "unit", 0)
    >>> times.tolist(), finest
    ([1500000, 20000], 3)
    """
    taken = [time_ps(cell, form) for cell in cells]
    times = [time - zero_ps for time, _ in taken]
    if max(map(abs, times), default=0) >= 10**18:
        raise ValueError(OUT_OF_REACH)
    return np.array(times, np.int64), min((power for _, power in taken), default=12)


def time_ps(cell: str, form: TimeForm) -> tuple[int, int]:
    """Picoseconds of one such time, and the power of ten of its last digit. Raises ValueError where it is none.

    >>> one, other = time_ps("2031-05-04T10:00:00.25Z", "date"), time_ps("2031-05-04T12:00:00.5+02:00", "date")
    >>> other[0] - one[0]
    250000000000
    """
    return _date(cell) if form == "date" else _with_unit(cell)


def _date(cell: str) -> tuple[int, int]:
    match = _DATE.fullmatch(cell)
    if match is None:
        raise ValueError(cell)
    year, month, day, hour, minute, second = (int(match[i]) for i in range(1, 7))
    if hour > 23 or minute > 59 or second > 60:
        raise ValueError(cell)
    seconds = datetime.date(year, month, day).toordinal() * 86_400 + hour * 3600 + minute * 60 + second
    zone = match[8]
    if zone and zone not in "zZ":
        digits = zone[1:].replace(":", "").ljust(4, "0")
        offset = int(digits[:2]) * 3600 + int(digits[2:]) * 60
        seconds += -offset if zone[0] == "+" else offset
    decimals = match[7] or ""
    return seconds * 10**12 + int(decimals.ljust(12, "0")), 12 - len(decimals)


def _with_unit(cell: str) -> tuple[int, int]:
    match = _WITH_UNIT.fullmatch(cell)
    if match is None:
        raise ValueError(cell)
    decimals = match[3] or ""
    power = _POWERS[match[5]] - len(decimals) + int(match[4] or 0)
    number = int(match[2] + decimals)
    size = number * 10**power if power >= 0 else (number + 10**-power // 2) // 10**-power
    return (-size if match[1] == "-" else size), max(0, power)
