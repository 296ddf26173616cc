"""What stands above or beside columns of volts: names, units, a preamble, where the data starts."""

from __future__ import annotations

import functools
import itertools
import re
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from tracecore.quantities import PS_PER_S, parse_rate_hz, time_unit_ps
from tracecore.readers.dump_heading import begins_as_dump
from tracecore.readers.first_row import check_first_row, check_whole
from tracecore.readers.logic_row import NUMBER
from tracecore.readers.source import Head, comment_text, split_cells
from tracecore.readers.titles import TYPES

VOLT_UNITS = {
    "v": 1.0,
    "volt": 1.0,
    "volts": 1.0,
    "mv": 1e-3,
    "millivolt": 1e-3,
    "millivolts": 1e-3,
    "uv": 1e-6,
    "µv": 1e-6,
    "μv": 1e-6,
    "kv": 1e3,
}
_UNIT = re.compile(r"[\[(]\s*([A-Za-zµμ]+)\s*[\])]")
_TIME_WORD = re.compile(r"\b(time|t|second|seconds|x-axis)\b", re.IGNORECASE)
_LOOKED_AT = 500


@dataclass(frozen=True, slots=True)
class ScopeShape:
    """``columns`` are the cells that hold numbers in every data row, the time (or index) first; a row has ``width``.

    ``index`` is start and increment in seconds where the heading gives them. ``time_unit_ps`` is None where
    the first column is not known to be a time. ``interval_s`` is the interval that a preamble states. ``logic`` says
    which channels are logic beside volts: cells that are 0 or 1 where the others have decimals, and no unit.
    """

    data_line: int
    columns: tuple[int, ...]
    width: int
    names: tuple[str, ...]
    scales: tuple[float, ...]
    time_unit_ps: Fraction | None
    index: tuple[Fraction, Fraction] | None
    interval_s: Fraction | None
    facts: tuple[tuple[str, str], ...]
    logic: tuple[bool, ...]


@functools.lru_cache(maxsize=2)
def read_shape(head: Head) -> ScopeShape | None:
    """None where the file does not hold a heading and even columns of numbers that are not all 0 or 1."""
    lines = [i for i, line in enumerate(head.lines) if line.strip()][: 2 * _LOOKED_AT]
    if len(lines) < 2 or begins_as_dump(head):
        return None
    comments = {k: said for k, i in enumerate(lines) if (said := comment_text(head.lines[i])) is not None}
    table = [_said(comments[k], head) if k in comments else head.cells(i) for k, i in enumerate(lines)]
    columns = _number_columns([cells for k, cells in enumerate(table) if k not in comments])
    data = (k for k, cells in enumerate(table) if k not in comments and _is_data(cells, columns))
    start = next(data, None) if len(columns) > 1 else None
    if start is None:
        return None
    above, rows = table[:start], table[start:]
    index = _index_heading(above)
    if index is not None:
        columns = tuple(c for c in columns if c < len([name for name in above[-1] if name]) - 2)
    beside = columns[0] >= 2 if columns else False
    titles, pairs = _titles_and_pairs(above, rows[:60] if beside else [])
    if len(columns) < 2 or not (titles or pairs):
        return None
    names, scales, united = _channels(titles, pairs, columns)
    stated = any(united) or pairs.get("vertical units", "").lower() in VOLT_UNITS
    if not (stated or _like_volts(rows, columns)):
        return None
    logic = _logic_columns(rows, columns, united, titles)
    unit = _time_unit(titles, pairs, rows, columns[0])
    width = Counter(len(cells) for cells in rows).most_common(1)[0][0]
    check_first_row(head, lines[start])
    check_whole(head, lines[start], titles[0] if titles else ())
    facts = tuple((key, value) for key, value in pairs.items() if value)[:30]
    return ScopeShape(lines[start], columns, width, names, scales, unit, index, _interval_s(pairs), facts, logic)


def _said(comment: str, head: Head) -> list[str]:
    """A comment as a row of the preamble: ``Sample interval: 4 ns`` is a name and its value."""
    cells = split_cells(comment, head.delimiter, head.decimal)
    name, mark, value = comment.partition(":")
    return [name.strip(), value.strip()] if len(cells) == 1 and mark else cells


def is_number(cells: list[str], column: int) -> bool:
    """Does this cell exist and hold a decimal number?"""
    return column < len(cells) and bool(NUMBER.fullmatch(cells[column]))


def _number_columns(table: list[list[str]]) -> tuple[int, ...]:
    """Columns that hold numbers in most of the later rows; a damaged cell here and there takes none away."""
    sample = table[-min(60, max(2, len(table) // 2)) :]
    if not sample:
        return ()
    widest = max(len(cells) for cells in sample)
    return tuple(c for c in range(widest) if 2 * sum(is_number(cells, c) for cells in sample) >= len(sample))


def _is_data(cells: list[str], columns: tuple[int, ...]) -> bool:
    """A number as time; or volts alone, as a damaged time must not make a heading of its row."""
    if is_number(cells, columns[0]):
        return True
    return len(columns) > 2 and all(is_number(cells, c) and "." in cells[c] for c in columns[1:]) and bool(cells[0])


def _logic_columns(
    rows: list[list[str]], columns: tuple[int, ...], united: tuple[bool, ...], titles: list[list[str]]
) -> tuple[bool, ...]:
    """A column of 0 and 1 is logic where another one has decimals, which an instrument prints alike for all volts."""
    found, decimals = [], False
    for column, unit in zip(columns[1:], united, strict=True):
        cells = [cells[column] for cells in rows[:_LOOKED_AT] if column < len(cells)]
        typed = any(column < len(words) and words[column].lower() in TYPES for words in titles)
        bits = sum(cell in ("0", "1") for cell in cells)
        found.append(typed or (not unit and 10 * bits >= 9 * len(cells)))
        decimals = decimals or 2 * sum("." in cell or "e" in cell.lower() for cell in cells) > len(cells)
    return tuple(logic and decimals for logic in found)


def _like_volts(rows: list[list[str]], columns: tuple[int, ...]) -> bool:
    lines = rows[:_LOOKED_AT]
    volts = sum(any(is_number(cells, c) and cells[c] not in ("0", "1") for c in columns[1:]) for cells in lines)
    # a stray 2 among logic cells is a damaged logic file, not a scope's
    return 2 * volts > len(lines)


def _index_heading(above: list[list[str]]) -> tuple[Fraction, Fraction] | None:
    """Start and increment where the heading names them in its last cells."""
    for names, values in itertools.pairwise(above):
        words = [name.lower() for name in names]
        if "start" in words and "increment" in words:
            start, increment = words.index("start"), words.index("increment")
            if is_number(values, start) and is_number(values, increment):
                return Fraction(values[start]), Fraction(values[increment])
    return None


def _titles_and_pairs(above: list[list[str]], beside: list[list[str]]) -> tuple[list[list[str]], dict[str, str]]:
    """The one or two heading rows, and the preamble's names and values, above them or beside the data."""
    titles: list[list[str]] = []
    if above and not _is_pair(above[-1]):
        titles.append(above[-1])
        if len(above) > 1 and _is_units(above[-1]) and len(above[-2]) >= len(above[-1]) - 2:
            titles.insert(0, above[-2])
    pairs: dict[str, str] = {}
    for cells in above[: len(above) - len(titles)] + beside:
        if len(cells) > 1 and cells[0] and not is_number(cells, 0):
            pairs.setdefault(cells[0].lower(), cells[1])
    return titles, pairs


def _is_pair(cells: list[str]) -> bool:
    """``Sample Interval,4e-09`` or ``Vertical Units,V``, but neither ``TIME,CH1`` nor ``second,Volt``."""
    filled = [cell for cell in cells if cell]
    if len(filled) != 2 or not cells[0] or _TIME_WORD.search(cells[0]):
        return len(filled) == 1 and len(cells) > 1 and bool(cells[0]) and not _unit_word(cells[0])
    return is_number(cells, 1) or (_unit_word(filled[1]) and not _unit_word(filled[0]))


def _is_units(cells: list[str]) -> bool:
    filled = [cell for cell in cells[1:] if cell and not NUMBER.fullmatch(cell)]
    return bool(filled) and all(_unit_word(cell) for cell in filled)


def _unit_word(text: str) -> bool:
    word = text.strip("()[]").strip()
    return word.lower() in VOLT_UNITS or word.lower() in TYPES or time_unit_ps(word) is not None


def _time_unit(titles: list[list[str]], pairs: dict[str, str], rows: list[list[str]], column: int) -> Fraction | None:
    """As the heading or the preamble gives it; seconds for numbers with decimals, as instruments write them."""
    texts = [cells[column] for cells in reversed(titles) if column < len(cells)]
    for text in texts:
        match = _UNIT.search(text)
        unit = time_unit_ps(match[1] if match else text)
        if unit is not None:
            return unit
    stated = pairs.get("horizontal units")
    if stated and time_unit_ps(stated) is not None:
        return time_unit_ps(stated)
    decimals = any("." in cells[column] or "e" in cells[column].lower() for cells in rows if column < len(cells))
    return Fraction(PS_PER_S) if decimals else None


def _interval_s(pairs: dict[str, str]) -> Fraction | None:
    for key, value in pairs.items():
        number = value.split(" ")[0]
        if "interval" in key and NUMBER.fullmatch(number) and Fraction(number) > 0:
            word = value[len(number) :].strip() or "s"
            unit = time_unit_ps(word)
            return Fraction(number) * unit / PS_PER_S if unit is not None else None
        if key.replace(" ", "") == "samplerate":
            try:
                return 1 / parse_rate_hz(value)
            except ValueError:
                continue
    return None


def _channels(
    titles: list[list[str]], pairs: dict[str, str], columns: tuple[int, ...]
) -> tuple[tuple[str, ...], tuple[float, ...], tuple[bool, ...]]:
    """Channel names, factors to volts, and which have a unit of their own, from the heading rows or the preamble."""
    names: list[str] = []
    scales: list[float] = []
    united: list[bool] = []
    common = VOLT_UNITS.get(pairs.get("vertical units", "").lower(), 1.0)
    for number, column in enumerate(columns[1:], start=1):
        name, scale = "", None
        for cells in reversed(titles):
            text = cells[column] if column < len(cells) else ""
            match = _UNIT.search(text)
            factor = VOLT_UNITS.get((match[1] if match else text).lower())
            if factor is not None:
                scale = factor if scale is None else scale
            if text.lower() in TYPES and len(titles) > 1:
                text = ""
            elif factor is not None and (match or len(titles) > 1):
                text = text[: match.start()].strip() if match else ""
            name = name or text
        if not name and len(columns) == 2:
            name = pairs.get("source", "")
        names.append(name if name and name not in names else f"CH{number}")
        scales.append(common if scale is None else scale)
        united.append(scale is not None)
    return tuple(names), tuple(scales), tuple(united)
