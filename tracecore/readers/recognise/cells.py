"""What a cell can be: a number, a level, a word for one, a time in words.

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
from tracecore.quantities import time_unit_ps
from tracecore.readers.plan.words import is_word

TimeForm = Literal["", "date", "unit", "index"]
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
LOGIC_CELLS = frozenset(("", *"01xXzZ"))
OUT_OF_REACH = "a time out of reach"
_PAIRS = (("l", "h"), ("low", "high"), ("false", "true"))
_DATE = re.compile(
    r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d):(\d\d)(?:[.,](\d{1,12}))?\s*(Z|[+-]\d\d(?::?\d\d)?)?", re.IGNORECASE
)
_YEAR_1 = datetime.datetime(1, 1, 1, tzinfo=datetime.UTC)
_WITH_UNIT = re.compile(r"([+-]?)(\d+)(?:[.,](\d*))?(?:[eE]([+-]?\d{1,2}))?\s*(s|ms|[uµμ]s|ns|ps)")
_DECIMAL = re.compile(r"[+-]?\d+\.\d*(?:[eE][+-]?\d{1,3})?")
_INDEX = re.compile(
    r"(?:n|no\.?|#|index|point|sequence|sample|samples?\s*(?:no\.?|number|index|in buffer|#))\.?", re.IGNORECASE
)
_SURE = 0.9
_MOST_EDITS = 2


def filled(cells: Sequence[str]) -> list[str]:
    """The cells up to the last one that is not blank.

    >>> filled(["A", "", "B", "", ""])
    ['A', '', 'B']
    """
    return list(cells)[: max((i for i, cell in enumerate(cells, start=1) if cell), default=0)]


def level_words(cells: Sequence[str]) -> dict[str, int] | None:
    """The words for low and high in a column, in small letters; None where it is written in other ways.

    >>> level_words(["H", "L", "X", "H"])
    {'l': 0, 'h': 1}
    """
    count = Counter(cell.lower() for cell in cells if cell not in LOGIC_CELLS - {"0", "1"})
    # one or two others are damage, which is told when the column is read
    least = count.total() - max(1, count.total() // 50)
    for low, high in _PAIRS:
        if count and count[low] + count[high] >= max(1, least):
            return {low: 0, high: 1}
    numbers = sorted(filter(is_level_number, count), key=float)
    # both levels are there, each printed in one way: volts that stand still are none
    if sum(count[cell] for cell in numbers) < least or list(map(float, numbers)) != [0.0, 1.0]:
        return None
    return dict(zip(numbers, (0, 1), strict=True))


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
    forms: tuple[tuple[TimeForm, re.Pattern[str]], ...] = (("date", _DATE), ("unit", _WITH_UNIT))
    for form, pattern in forms:
        if sum(bool(pattern.fullmatch(cell)) for cell in cells) >= _SURE * len(cells):
            return form
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
    count = sum(map(bool, cells))
    return 2 * sum(bool(c) and not NUMBER.fullmatch(c) and not is_word(c) for c in cells) > count > 0


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
    match = (_DATE if form == "date" else _WITH_UNIT).fullmatch(cell)
    if match is None:
        raise ValueError(cell)
    if form == "date":
        day, clock, second, decimals, zone = match.groups(default="")
        if int(second) > 60:  # 60 is a leap second, of which datetime knows nothing
            raise ValueError(cell)
        minutes = datetime.datetime.fromisoformat(f"{day}T{clock}{zone.upper() or 'Z'}") - _YEAR_1
        whole = minutes // datetime.timedelta(seconds=1) + int(second)
        return whole * 10**12 + int(decimals.ljust(12, "0")), 12 - len(decimals)
    sign, whole_part, decimals, exponent, unit = match.groups(default="")
    unit_ps = time_unit_ps(unit)
    assert unit_ps is not None
    power = len(str(int(unit_ps))) - 1 - len(decimals) + int(exponent or 0)
    number = int(whole_part + decimals)
    size = number * 10**power if power >= 0 else (number + 10**-power // 2) // 10**-power
    return (-size if sign == "-" else size), max(0, power)


def edits(one: str, other: str) -> int:
    """How many letters changed, put in or taken out make one text of the other; 3 stands for that many or more.

    >>> edits("9.9,9", "9/9,9"), edits("9,9", "9,9,"), edits("9,9", "A,B"), edits("9,9", "Time,A")
    (1, 1, 2, 3)
    """
    far = _MOST_EDITS + 1
    if abs(len(one) - len(other)) > _MOST_EDITS:
        return far
    row = {j: j for j in range(min(len(other), _MOST_EDITS) + 1)}
    for i, letter in enumerate(one, start=1):
        now: dict[int, int] = {}
        for j in range(max(0, i - _MOST_EDITS), min(len(other), i + _MOST_EDITS) + 1):
            same = row.get(j - 1, far) + (letter != other[j - 1]) if j else far
            now[j] = min(same, row.get(j, far) + 1, now.get(j - 1, far) + 1)
        row = now
        if min(row.values()) >= far:
            return far
    return min(far, row[len(other)])
