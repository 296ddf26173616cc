"""The columns of a file as they stand, before it is decided what they are: names, first cells, a guess at the kind.

It never refuses a file for what its cells hold, so that a person can see them and say what they are.
"""

from __future__ import annotations

import contextlib
import itertools
import re
from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from tracecore.errors import CaptureFileError
from tracecore.quantities import PS_PER_S, time_unit_ps
from tracecore.readers.by_hand.column_choice import Kind
from tracecore.readers.dump.declarations import begins_as_dump
from tracecore.readers.headings.channel_names import free_name
from tracecore.readers.headings.heading_facts import StatedRate, rate_in, rate_of_pair, start_and_increment
from tracecore.readers.headings.heading_units import COUNTS, VOLT_UNITS, is_unit
from tracecore.readers.headings.logic_heading import NUMBER, TYPES, Heading
from tracecore.readers.headings.scope_shape import ScopeShape
from tracecore.readers.recognise.cell_forms import (
    TimeForm,
    counts_rows,
    is_level_number,
    is_level_word,
    is_text,
    level_words,
    time_form,
)
from tracecore.readers.recognise.known import known
from tracecore.readers.recognise.lines_above import filled
from tracecore.readers.source import Head, comment_text, split_cells
from tracecore.readers.words.words import word_column

_BIT = re.compile(r"[01xXzZ]?")
_LOOKED_AT = 400
_FEWEST_ROWS = 3
RADIXES = frozenset(("hex", "hexadecimal", "bin", "binary", "oct", "octal", "dec", "decimal"))
_PER_COUNT = ("voltspercount", "vcount", "ymult", "ymultiplier", "yincrement", "voltscount")
_ORIGIN = ("yzero", "yorigin", "offsetvolts", "offsetv", "voltoffset", "voltsoffset")
_REFERENCE = ("yoff", "yoffset", "yreference", "zerocount")
_TIME = re.compile(r"(time|t|timestamp|second|seconds|x-axis)\b.*", re.IGNORECASE)
_INDEX_TITLE = re.compile(r"x|n|no\.?|#|index|point|sequence|samples?\b.*", re.IGNORECASE)
_BRACKET = re.compile(r"(.*?)\s*[\[(]\s*([A-Za-zµμ]+)\s*[\])]\s*")


@dataclass(frozen=True, slots=True)
class RawColumn:
    """``name`` is how a person names it, ``title`` what stands above it with the unit below. ``scale`` takes its
    numbers to volts by the unit that stands there; ``unit_ps`` is that of a time, None where none stands there;
    ``cells`` are its first ones. ``form`` says how times are written, ``levels`` which words
    stand for 0 and 1; ``offset`` in volts goes on top of a number times its scale, where it is ``counted``."""

    name: str
    title: str
    guess: Kind
    scale: float
    unit_ps: Fraction | None
    cells: tuple[str, ...]
    form: TimeForm = ""
    levels: tuple[tuple[str, int], ...] = ()
    offset: float = 0.0
    counted: bool = False

    @property
    def second_guess(self) -> Kind:
        """What a column guessed to be the time is where another one is said to be."""
        match = _BRACKET.fullmatch(self.title)
        timed = _TIME.fullmatch(self.title) or (match and time_unit_ps(match[2]) is not None)
        return "leave out" if timed or not any("." in cell for cell in self.cells) else "volts"


@dataclass(frozen=True, slots=True)
class RawTable:
    """``data_line`` counts from 0; every row has ``width`` cells, those of an open end included. ``start_ps`` is the
    time of the first row where no column says it; ``volts_alone`` says that it stands above volts without an index,
    below ``named`` names."""

    data_line: int
    width: int
    columns: tuple[RawColumn, ...]
    rates: tuple[StatedRate, ...]
    start_ps: Fraction = Fraction(0)
    volts_alone: bool = False
    named: int = 0

    @property
    def rate_hz(self) -> Fraction | None:
        """The rate that the heading states first."""
        return self.rates[0].rate_hz if self.rates else None

    @property
    def special(self) -> bool:
        """Is a cell written in a way that no faster reader takes, or the time stated beside volts?"""
        few = len(self.columns[0].cells) < _FEWEST_ROWS
        if few and self.columns[0].form != "index" and not self.volts_alone:
            return False  # a heading without rows must not pass for a row of its own
        shapes = any(c.form or c.levels or c.counted for c in self.columns)
        texts = any(c.guess == "leave out" and is_text(c.cells) for c in self.columns)
        logic = any(c.guess in ("logic", "word") for c in self.columns)
        timed = any(c.guess == "time" for c in self.columns) or self.rate_hz is not None
        return shapes or (texts and logic and timed) or self.volts_alone

    def place(self, name: str) -> int | None:
        """The place, from 0, of the column of that name, or that title with or without its unit."""
        titles = [c.title for c in self.columns]
        for texts in ([c.name for c in self.columns], titles, [_plain_name(t) for t in titles]):
            if name in texts:
                return texts.index(name)
        return None


def raw_table(head: Head, first_row: int | None = None, names: Iterable[str] = ()) -> RawTable | None:
    """The columns of a file; None for a value change dump and for a file without rows of two alike.

    ``first_row`` is the line of the first row, counted from 1, where a person said it. A line that holds all the
    ``names`` that were said is the heading, whatever the line below it looks like.
    """
    said = first_row, frozenset(names)
    if said not in head.found:
        head.found[said] = _raw_table(head, *said)
    found: RawTable | None = head.found[said]
    return found


def _raw_table(head: Head, first_row: int | None, said: frozenset[str]) -> RawTable | None:
    if begins_as_dump(head):
        return None
    heading, shape = _known(head)
    taken = heading or shape
    lines = [i for i, line in enumerate(head.lines) if line.strip() and comment_text(line) is None]
    table = {i: head.cells(i) for i in lines[: 2 * _LOOKED_AT]}
    if not table:
        return None
    start = taken.data_line if taken else _first_row(table)
    start = first_row - 1 if first_row else min(_below_names(table, said, start), _with_damaged(table, start))
    pairs = itertools.pairwise(lines[: len(table)])
    values = next((b for a, b in pairs if start_and_increment([table[a], table[b]])[0] is not None), None)
    if not first_row and values is not None:
        start = min((i for i in table if i > values), default=start)
    if taken is not None and start < taken.data_line:
        heading = shape = None
    rows = [cells for i, cells in table.items() if i >= start]
    if not rows:
        return None
    width = Counter(map(len, rows)).most_common(1)[0][0]
    rows = [cells for cells in rows if len(cells) == width]
    above = [head.cells(i) for i in range(start) if head.lines[i].strip()]
    index, index_at = start_and_increment(above)
    firsts = [row[0] for row in rows[:_LOOKED_AT]]
    # a damaged number makes no volts of an index
    titled = any(_INDEX_TITLE.fullmatch(cells[0]) for cells in above[-2:])
    stated = index is not None and not titled and not counts_rows(firsts)
    closed = width > 1 and not stated and all(not cells[-1] for cells in rows)
    count = width - closed
    titles = [cells for i, cells in table.items() if i < start]
    if index is not None:
        titles = [(cells[:index_at] + [""] * count)[:count] for cells in titles]
    names, units = _titles(titles, head, start, count)
    if stated:
        heading = shape = None  # start and increment stand above volts alone
    if any(unit.lower() in RADIXES for unit in units):
        heading = None  # its names are those of radixes
    columns = _with_still_levels(_columns(rows, names, units, count, heading, shape))
    if stated:  # a blank cell, or a volt that looks like a level, makes nothing else of a column of volts
        volts = [unit.strip("()[] ").lower() in VOLT_UNITS for unit in units]
        columns = [
            replace(c, guess="volts", levels=())
            if v or (c.title and c.guess == "leave out" and not is_text(c.cells))
            else c
            for c, v in zip(columns, volts, strict=True)
        ]
    begin, rates = _time_stated(head, start, above)
    named = index_at if index is not None else 0
    return RawTable(start, width, tuple(_counted(columns, above)), rates, begin, stated, named)


def _known(head: Head) -> tuple[Heading | None, ScopeShape | None]:
    """What the readers take it for, where one of them does."""
    with contextlib.suppress(CaptureFileError):
        if (heading := known(head).logic) is not None:
            return heading, None
    return None, known(head).shape


def _first_row(table: dict[int, list[str]]) -> int:
    """The first line as wide as the last ones with mostly numbers or words in it; else the one below the first."""
    last = list(table.values())[-60:]
    width = Counter(map(len, last)).most_common(1)[0][0]
    wide = [i for i, cells in table.items() if abs(len(cells) - width) <= 1]
    for i in wide:
        filled = [c for c in table[i] if c]
        if 2 * sum(_like_data(c) for c in filled) > len(filled):
            return i
    return wide[1] if len(wide) > 1 else wide[0]


def _below_names(table: dict[int, list[str]], names: Collection[str], start: int) -> int:
    """The line below the one that holds all the names, and below its units; ``start`` where there is none above."""
    above = [i for i in table if i < start]
    for place, i in enumerate(above):
        titles = {*table[i], *map(_plain_name, table[i])}
        if names and titles.issuperset(names):
            below = [
                j for j in (*above[place + 1 :], start) if not all(_is_unit(cell) for cell in table.get(j, ["row"]))
            ]
            return below[0] if below else start
    return start


def _with_damaged(table: dict[int, list[str]], start: int) -> int:
    """Where rows begin, those included that a damaged cell made look like a heading below the heading proper."""
    above = [i for i in table if i < start]
    while len(above) > 1 and start in table:
        filled = [cell for cell in table[above[-1]] if cell]
        titled = len(table[above[-2]]) == len(table[start])
        like = 2 * sum(_like_data(c) for c in filled) - len(filled)
        if not titled or like < 0 or (not like and not filled[0][0].isdecimal()):
            break
        start = above.pop()
    return start


def _like_data(cell: str) -> bool:
    return cell[0].isdecimal() or cell[0] in "+-." or bool(_BIT.fullmatch(cell)) or is_level_word(cell)


def _titles(above: list[list[str]], head: Head, start: int, count: int) -> tuple[list[str], list[str]]:
    """Names and units above the rows, blank where there are none."""
    fitting = [cells[:count] for cells in above if count <= len(cells) and not any(cells[count : count + 1])]
    blank = [""] * count
    if not fitting:
        comments = [said for line in head.lines[:start] if (said := comment_text(line)) is not None]
        names = split_cells(comments[-1], head.delimiter) if comments else []
        return (names, blank) if len(names) == count > 1 else (blank, blank)
    if len(fitting) > 1 and all(_is_unit(cell) or cell.lower() == "sequence" for cell in fitting[-1]):
        return fitting[-2], fitting[-1]
    return fitting[-1], blank


def _is_unit(cell: str) -> bool:
    word = cell.strip("()[] ").lower()
    known = word in VOLT_UNITS or word in TYPES or word in RADIXES or word in COUNTS
    return not word or known or time_unit_ps(word) is not None


def _columns(
    rows: list[list[str]],
    names: Sequence[str],
    units: Sequence[str],
    count: int,
    heading: Heading | None,
    shape: ScopeShape | None,
) -> list[RawColumn]:
    found: list[RawColumn] = []
    taken: set[str] = set()
    levelled = all(_is_level(cell) for row in rows[:_LOOKED_AT] for cell in row[1:count])
    if shape is not None and levelled and all(_is_level(row[0]) for row in rows[:_LOOKED_AT]):
        shape = None  # no column of times
    for i in range(count):
        cells = [row[i] for row in rows[:_LOOKED_AT]]
        title = " ".join(part for part in (names[i], units[i]) if part)
        kind = _guess(i, title, cells, heading, shape)
        name = _given_name(i, heading, shape) or _plain_name(names[i]) or ("time" if kind == "time" else "")
        unit = _unit(names[i], units[i])
        if time_unit_ps(unit) is not None:
            name = _plain_name(name)  # a time is no channel, whose name would hold the unit
        name = free_name(name or f"column {i + 1}", taken)
        taken.add(name)
        scale = VOLT_UNITS.get(unit.lower(), 1.0)
        if shape is not None and i in shape.columns[1:]:
            scale = shape.scales[shape.columns.index(i) - 1]
        unit_ps = time_unit_ps(unit)
        if shape is not None and i == shape.columns[0]:
            unit_ps = shape.time_unit_ps
        form: TimeForm = ""
        levels = level_words(cells) if unit.lower() not in VOLT_UNITS and kind != "word" else None
        if shape is None and (i == 0 or kind == "time"):
            form = time_form(_plain_name(names[i]), cells)
        if form:
            kind = "time"
        elif levels and (shape is None or levelled):
            kind = "logic"
        elif is_text(cells):
            kind = "leave out"
        own = tuple(levels.items()) if levels and kind == "logic" else ()
        found.append(RawColumn(name, title, kind, scale, unit_ps, tuple(cells), form, own))
    return found


def _with_still_levels(columns: list[RawColumn]) -> list[RawColumn]:
    """A column that stands still at 0.0 or 1.0 is logic where another one takes both, written alike, and no unit stands
    above it."""
    written = {word for c in columns if c.guess == "logic" for word in c.levels if "." in word[0]}
    return [
        replace(c, guess="logic", levels=tuple(sorted(written)))
        if c.guess == "volts"
        and not is_unit(_unit(c.title, ""))
        and {cell.lower() for cell in c.cells} <= {w for w, _ in written}
        else c
        for c in columns
    ]


def _plain_name(title: str) -> str:
    """The title without a unit behind it.

    >>> _plain_name("CH1 (mV)"), _plain_name("D[7:0] (hex)"), _plain_name("Q (spare)")
    ('CH1', 'D[7:0] (hex)', 'Q (spare)')
    """
    match = _BRACKET.fullmatch(title)
    return match[1] if match and match[1] and _is_unit(match[2]) else title


def _unit(name: str, below: str) -> str:
    """The unit in the row of units, or in brackets behind the name, or the name itself where it is one."""
    if below.strip("()[] "):
        return below.strip("()[] ")
    match = _BRACKET.fullmatch(name)
    return match[2] if match else name.strip("()[] ")


def _given_name(i: int, heading: Heading | None, shape: ScopeShape | None) -> str:
    """As the readers name the channel, where they do."""
    if heading is not None and 0 <= i - heading.timed < len(heading.names):
        return heading.names[i - heading.timed]
    if shape is not None and i in shape.columns[1:]:
        return shape.names[shape.columns.index(i) - 1]
    return ""


def _guess(i: int, title: str, cells: list[str], heading: Heading | None, shape: ScopeShape | None) -> Kind:
    """As the readers take it, where they do; else by its title and what most of its cells look like."""
    if heading is not None:
        if heading.timed and i == 0:
            return "time"
        at = i - heading.timed
        return "word" if at < len(heading.words) and heading.words[at] else "logic"
    if shape is not None:
        if i not in shape.columns:
            return "leave out"
        at = shape.columns.index(i)
        return "time" if at == 0 else "logic" if shape.logic[at - 1] else "volts"
    numbers = 2 * sum(bool(NUMBER.fullmatch(c)) for c in cells) > len(cells)
    if i == 0 and numbers and _TIME.fullmatch(title):
        return "time"
    if 2 * sum(bool(_BIT.fullmatch(c)) for c in cells) > len(cells):
        return "logic" if any(cells) else "leave out"
    column = word_column(title, cells)
    if column is not None and column.sure:
        return "word"
    return "volts" if numbers else "leave out"


def _time_stated(head: Head, start: int, above: list[list[str]]) -> tuple[Fraction, tuple[StatedRate, ...]]:
    """When the first row was taken, in ps, and the sample rates that comments and a preamble state."""
    index, _ = start_and_increment(above)
    if index is not None:
        return index[0] * PS_PER_S, (StatedRate(1 / index[1], "the increment"),) if index[1] > 0 else ()
    said = [rate_in(comment_text(line) or "") for line in head.lines[:start]]
    pairs = [rate_of_pair(c[0], c[1], c[2] if len(c) > 2 else "") for c in above if len(c) > 1]
    return Fraction(0), tuple(rate for rate in (*said, *pairs) if rate is not None)


def _is_level(cell: str) -> bool:
    """0 or 1, with or without decimals, or unknown."""
    return bool(_BIT.fullmatch(cell)) or is_level_number(cell)


def _counted(columns: list[RawColumn], above: list[list[str]]) -> list[RawColumn]:
    """The columns, those of whole numbers as counts of a converter where a preamble says what a count is worth.

    Volts are (count - reference) * volts a count + origin, as IEEE Std 488.2 instruments state it (common practice).
    """
    stated = {
        "".join(c for c in cells[0].lower() if c.isalnum()): filled(cells[1:]) for cells in above if len(cells) > 1
    }
    whole = [c for c in columns if c.guess == "volts" and all(re.fullmatch(r"[+-]?\d+", cell) for cell in c.cells)]

    def values(keys: tuple[str, ...], default: float) -> list[float]:
        """One a column, or the same for all; empty where neither is stated."""
        texts: list[str] = next((stated[key] for key in keys if key in stated), [])
        numbers = [float(text) for text in texts if NUMBER.fullmatch(text)]
        if len(numbers) == 1 or not texts:
            return (numbers or [default]) * len(whole)
        return numbers if len(numbers) == len(whole) else []

    if not any(key in stated for key in _PER_COUNT):
        return columns
    scales, origins, references = values(_PER_COUNT, 1.0), values(_ORIGIN, 0.0), values(_REFERENCE, 0.0)
    counted = {
        c.name: replace(c, scale=scale, offset=origin - reference * scale, counted=True)
        for c, scale, origin, reference in zip(whole, scales, origins, references, strict=False)
    }
    return [counted.get(c.name, c) for c in columns]
