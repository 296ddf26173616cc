"""What stands above the rows of logic cells: comments, names, a sample rate, where the data starts."""

from __future__ import annotations

import functools
import itertools
import re
from collections import Counter
from dataclasses import dataclass
from fractions import Fraction

from tracecore.errors import MalformedCapture
from tracecore.quantities import parse_rate_hz, time_unit_ps
from tracecore.readers.carried import NOTHING_CARRIED, Carried, carried
from tracecore.readers.dump_heading import begins_as_dump
from tracecore.readers.source import Head, comment_text, split_cells
from tracecore.readers.words import WordColumn, is_word, says_volts, word_column

_RATE = re.compile(r"sample\s*rate\s*[:=]?\s*([0-9.]+(?:[eE][+-]?\d+)?\s*[kMG]?(?:Hz|S/s))", re.IGNORECASE)
_CHANNELS = re.compile(r"channels?\s*\((\d+)(?:/\d+)?\)\s*:?\s*(.*)", re.IGNORECASE)
_TIME_HEADING = re.compile(r"(?:time|t|timestamp)\s*[\[(/]?\s*([a-zµμ]*)\s*[\])]?", re.IGNORECASE)
_CELL = re.compile(r"[01xXzZ]?")
NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
TYPES = frozenset(("logic", "digital", "bit", "bool", "boolean"))
_LOOKED_AT = 1000


@dataclass(frozen=True, slots=True)
class Heading:
    """``data_line`` counts from 0; ``columns`` are the cells of a row, without the time where ``timed``.

    ``words`` says of each of them whether it is a word of a bus (None: logic); it is empty where all are logic.
    """

    data_line: int
    columns: int
    timed: bool
    even: bool
    names: tuple[str, ...]
    rate_hz: Fraction | None
    time_unit_ps: Fraction | None
    time_heading: str
    facts: tuple[tuple[str, str], ...]
    carried: Carried = NOTHING_CARRIED
    words: tuple[WordColumn | None, ...] = ()


@functools.lru_cache(maxsize=2)
def read_heading(head: Head) -> Heading | None:
    """None where what stands below the heading is not, for the most part, rows of logic cells."""
    if begins_as_dump(head):
        return None
    return _word_heading(head) or _logic_heading(head)


def _logic_heading(head: Head) -> Heading | None:
    comments, titles, data_line = _above(head)
    rate, listed, facts = _stated(comments)
    if data_line is None:
        return None
    if listed and tuple(head.cells(data_line)) == listed and data_line + 1 < len(head.lines):
        titles.append(head.cells(data_line))  # names such as 0,1 look like a row
        data_line += 1
    rows = [head.cells(i) for i in range(data_line, len(head.lines)) if head.lines[i].strip()][:_LOOKED_AT]
    if not rows or 2 * sum(_is_logic(cells) for cells in rows) <= len(rows):
        return None
    if not titles and comments:
        titles = _commented_title(comments[-1], head, len(rows[0]))
    title, unit_row = _title(titles)
    match = _TIME_HEADING.fullmatch(title[0]) if title else None
    timed = _timed(rows, bool(match))
    cells = _first_row(head, data_line, rows, title)
    columns = len(cells) - timed
    if columns < 1:
        return None
    unit = _unit_ps(match, unit_row if timed else [])
    names = _names(title[timed:], listed, columns)
    return Heading(
        data_line,
        columns,
        timed,
        _even(rows) if timed else True,
        names,
        rate,
        unit,
        title[0] if match else "",
        facts,
        next((c for c in map(carried, comments) if c is not None), NOTHING_CARRIED),
    )


def _unit_ps(time_heading: re.Match[str] | None, unit_row: list[str]) -> Fraction | None:
    unit = time_unit_ps(time_heading[1]) if time_heading and time_heading[1] else None
    return time_unit_ps(unit_row[0].strip("()[]")) if unit is None and unit_row else unit


def _word_heading(head: Head) -> Heading | None:
    """The heading of rows with words in them; None where no column holds any."""
    comments, titles, data_line = _above_words(head)
    if data_line is None:
        return None
    rows = [head.cells(i) for i in range(data_line, len(head.lines)) if head.lines[i].strip()][:_LOOKED_AT]
    rate, listed, facts = _stated(comments)
    if not titles and comments:
        titles = _commented_title(comments[-1], head, len(rows[0]))
    title, unit_row = _title(titles)
    rows = [_open_ended(row, title) for row in rows]
    width = Counter(map(len, rows)).most_common(1)[0][0]
    table = [list(column) for column in zip(*(row for row in rows if len(row) == width), strict=True)]
    match = _TIME_HEADING.fullmatch(title[0]) if title else None
    timed = width > 1 and (bool(match) or _times_in_front(table[0], title, rate, rows))
    names = _names(title[timed:], listed, width - timed)
    if any(says_volts(cell) for cell in (*title[timed:], *unit_row[timed:])):
        return None
    words = tuple(word_column(name, cells) for name, cells in zip(names, table[timed:], strict=True))
    if not any(words) or not all(w or _mostly_logic(c) for w, c in zip(words, table[timed:], strict=True)):
        return None
    _check_title(head, data_line, title, words, table)
    said = next((c for c in map(carried, comments) if c is not None), NOTHING_CARRIED)
    unit = _unit_ps(match, unit_row if timed else [])
    even = _even(rows) if timed else True
    heading = title[0] if match else ""
    return Heading(data_line, width - timed, timed, even, names, rate, unit, heading, facts, said, words)


def _above_words(head: Head) -> tuple[list[str], list[list[str]], int | None]:
    """As ``_above``, where a row may hold words: a cell that begins with a digit makes a row of words and numbers."""
    comments: list[str] = []
    titles: list[list[str]] = []
    for i, line in enumerate(head.lines):
        if not line.strip():
            continue
        if (comment := comment_text(line)) is not None:
            comments.append(comment)
            continue
        cells = head.cells(i)
        digits = any(c[:1].isdecimal() or c[:1] in ("+", "-", "'") for c in cells if c)
        fits = all(not c or is_word(c) or NUMBER.fullmatch(c) for c in cells)
        like_title = bool(titles) and len(cells) == len(titles[-1])
        if (fits and (digits or like_title) and not _counts_up(head, i)) or (digits and like_title):
            return comments, titles, i
        titles.append(cells)
    return comments, titles, None


def _times_in_front(cells: list[str], title: list[str], rate: Fraction | None, rows: list[list[str]]) -> bool:
    """Without a heading that says so: numbers that climb, where no rate is stated and they are surely no words."""
    column = word_column(title[0] if title else "", cells)
    numbers = 2 * sum(bool(NUMBER.fullmatch(c)) for c in cells) > len(cells)
    return rate is None and numbers and not (column and column.sure) and _timed(rows, False)


def _mostly_logic(cells: list[str]) -> bool:
    return 2 * sum(bool(_CELL.fullmatch(c)) for c in cells) > len(cells)


def _check_title(
    head: Head, data_line: int, title: list[str], words: tuple[WordColumn | None, ...], table: list[list[str]]
) -> None:
    """Names such as FF can be a first row of hex words; nobody can tell where the words are as long."""
    if len(title) != len(table) or len(title) != len(words):
        return
    cells = zip(title, words, table, strict=True)
    if not all(is_word(t) and len(t) == len(column[0]) if w else _CELL.fullmatch(t) for t, w, column in cells):
        return
    raise MalformedCapture(
        head.path,
        line=data_line,
        found=f"{title[0]!r} above the rows, which can be a name or a word in hex",
        expected="names that cannot be taken for words, such as 'BUS[7:0]'",
        do="Write such names above the first row.",
    )


def _above(head: Head) -> tuple[list[str], list[list[str]], int | None]:
    """Comments, other lines taken apart, and the line of the first row of data."""
    comments: list[str] = []
    titles: list[list[str]] = []
    for i, line in enumerate(head.lines):
        text = line.strip()
        if not text:
            continue
        if (comment := comment_text(line)) is not None:
            comments.append(comment)
        elif (_is_row(head.cells(i)) and not _counts_up(head, i)) or _is_damaged_row(head.cells(i), titles):
            return comments, titles, i
        else:
            titles.append(head.cells(i))
    return comments, titles, None


def _is_row(cells: list[str]) -> bool:
    """Numbers in all cells (unknown ones aside), the first one included."""
    return bool(NUMBER.fullmatch(cells[0])) and all(NUMBER.fullmatch(c) or _CELL.fullmatch(c) for c in cells)


def _is_damaged_row(cells: list[str], titles: list[list[str]]) -> bool:
    """Below a heading of as many cells: logic cells behind a first one that is no number."""
    if not titles or len(titles[-1]) != len(cells) or len(cells) < 2 or _TIME_HEADING.fullmatch(cells[0]):
        return False
    return all(_CELL.fullmatch(c) for c in cells[1:]) and any(c in ("0", "1") for c in cells[1:])


def _counts_up(head: Head, line: int) -> bool:
    """Names such as 0,1,2,3 above rows of logic cells."""
    cells = [c for c in head.cells(line) if c]
    if len(cells) < 3 or any(not c.isdecimal() for c in cells) or line + 1 >= len(head.lines):
        return False
    numbers = [int(c) for c in cells]
    return all(b - a == 1 for a, b in itertools.pairwise(numbers)) and _is_logic(head.cells(line + 1))


def _is_logic(cells: list[str]) -> bool:
    if not all(_CELL.fullmatch(c) for c in cells[1:]):
        return False
    # a row of blanks and X alone is no row of data
    alone = len(cells) == 1
    return cells[0] in ("0", "1") if alone else bool(NUMBER.fullmatch(cells[0]))


def _first_row(head: Head, line: int, rows: list[list[str]], title: list[str]) -> list[str]:
    """The cells of the first row, without the empty one behind a trailing delimiter.

    Raises MalformedCapture where the heading and the rows below agree against it.
    """
    cells, below = _open_ended(rows[0], title), [_open_ended(row, title) for row in rows[1:3]]
    if len(title) > 1 and below and len(cells) != len(title) and all(len(b) == len(title) for b in below):
        raise MalformedCapture(
            head.path,
            line=line + 1,
            found=f"{len(cells)} cells",
            expected=f"{len(title)} as in the heading",
            do="Export the capture again, or correct this line.",
        )
    return cells


def _open_ended(cells: list[str], title: list[str]) -> list[str]:
    closed = len(cells) > 1 and not cells[-1] and len(cells) != len(title)
    return cells[:-1] if closed else cells


def _timed(rows: list[list[str]], titled: bool) -> bool:
    """Is the first cell a time? ``0,0,1`` can be read both ways: the heading decides, or the rows below."""
    if len(rows[0]) == 1:
        return False
    if titled:
        return True
    first = {cells[0] for cells in rows}
    if first <= {"0", "1"}:
        return False
    # times run upwards; a stray cell that is no 0 or 1 does not make a column of times
    numbers = [float(c) for cells in rows if NUMBER.fullmatch(c := cells[0])]
    climbs = sum(b >= a for a, b in itertools.pairwise(numbers))
    odd = sum(cells[0] not in ("0", "1") for cells in rows)
    return 2 * odd > len(rows) - 2 and climbs >= 0.9 * (len(numbers) - 1)


def _even(rows: list[list[str]]) -> bool:
    """Do the times of the first rows go in steps of one size, printing aside?"""
    shown = [c for cells in rows if NUMBER.fullmatch(c := cells[0])]
    if len(shown) < 3:
        return True
    times = [float(c) for c in shown]
    printed = max(10.0 ** -len(c.partition(".")[2]) if "e" not in c.lower() else 0.0 for c in shown)
    step = (times[-1] - times[0]) / (len(times) - 1)
    slack = max(0.51 * abs(step), 1.01 * printed)
    return sum(abs(b - a - step) > slack for a, b in itertools.pairwise(times)) * 10 <= len(times)


def _stated(comments: list[str]) -> tuple[Fraction | None, tuple[str, ...], tuple[tuple[str, str], ...]]:
    rate: Fraction | None = None
    listed: tuple[str, ...] = ()
    facts: list[tuple[str, str]] = []
    for comment in comments:
        if carried(comment) is not None:
            continue
        if match := _RATE.search(comment):
            try:
                rate = parse_rate_hz(match[1])
            except ValueError:
                facts.append(("comment", comment[:200]))
            else:
                facts.append(("sample rate", match[1]))
        elif match := _CHANNELS.search(comment):
            listed = tuple(n.strip() for n in match[2].split(",") if n.strip())
            facts.append(("channels", f"{match[1]}: {', '.join(listed)}" if listed else match[1]))
        elif comment:
            facts.append(("comment", comment[:200]))
    return rate, listed, tuple(facts)


def _commented_title(comment: str, head: Head, cells: int) -> list[list[str]]:
    """The names may stand in the last comment, as some programs write them."""
    names = split_cells(comment, head.delimiter)
    if len(names) != cells or cells < 2 or _RATE.search(comment) or _CHANNELS.search(comment) or carried(comment):
        return []
    return [names]


def _title(titles: list[list[str]]) -> tuple[list[str], list[str]]:
    """The line of names, and the line of units or types below it if there is one; trailing blanks taken off."""
    lines = []
    for cells in titles:
        while len(cells) > 1 and not cells[-1]:
            cells = cells[:-1]
        lines.append(cells)
    if not lines:
        return [], []
    last = lines[-1]
    # a word that is the same for every column is a type, not a name
    typed = len(last) > 1 and ((len(last) > 2 and len(set(last[1:])) == 1) or len(set(last)) == 1)
    typed = typed or all(word.lower() in TYPES for word in last)
    units = time_unit_ps(last[0].strip("()[]")) is not None
    if (units or typed) and len(lines) > 1 and (len(lines[-2]) == len(last) or (units and len(last) == 1)):
        return lines[-2], last
    return last, []


def _names(own: list[str], listed: tuple[str, ...], columns: int) -> tuple[str, ...]:
    typed = (len(own) > 1 and len(set(own)) == 1) or (bool(listed) and all(word.lower() in TYPES for word in own))
    for names in ((), listed) if typed else (own, listed):
        if len(names) == columns and all(names):
            return _distinct(names)
    return tuple(str(i) for i in range(columns))


def _distinct(names: list[str] | tuple[str, ...]) -> tuple[str, ...]:
    """Names of which none stands twice: a second A becomes A (2)."""
    given: list[str] = []
    for name in names:
        number, own = 1, name
        while own in given:
            number += 1
            own = f"{name} ({number})"
        given.append(own)
    return tuple(given)
