"""What stands above the rows of logic cells: comments, names, a sample rate, where the data starts."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass
from fractions import Fraction

from tracecore.quantities import parse_rate_hz, time_unit_ps
from tracecore.readers.source import Head

_RATE = re.compile(r"sample\s*rate\s*[:=]?\s*([0-9.]+\s*[kMG]?(?:Hz|S/s))", re.IGNORECASE)
_CHANNELS = re.compile(r"channels?\s*\((\d+)(?:/\d+)?\)\s*:?\s*(.*)", re.IGNORECASE)
_TIME_HEADING = re.compile(r"(?:time|t|timestamp)\s*[\[(]?\s*([a-zµμ]*)\s*[\])]?", re.IGNORECASE)
_CELL = re.compile(r"[01xXzZ]?")
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_COMMENT = ";#/%!"


@dataclass(frozen=True, slots=True)
class Heading:
    """``data_line`` counts from 0. ``timed`` is None where the first data row can be taken both ways."""

    data_line: int
    columns: int
    timed: bool | None
    names: tuple[str, ...]
    rate_hz: Fraction | None
    time_unit_ps: Fraction | None
    time_heading: str
    facts: tuple[tuple[str, str], ...]


def read_heading(head: Head) -> Heading | None:
    """None where no row of logic cells stands in the first lines."""
    data_line = next((i for i, _ in enumerate(head.lines) if _is_data(head, i)), None)
    if data_line is None:
        return None
    cells = _row(head, data_line)
    above = [line.strip() for line in head.lines[:data_line]]
    comments = [line.lstrip(_COMMENT).strip() for line in above if line[:1] in _COMMENT]
    titles = [head.cells(i) for i, line in enumerate(above) if line and line[0] not in _COMMENT]
    rate, listed, facts = _stated(comments)
    title = titles[-1] if titles else []
    if title and not title[-1] and len(title) == len(cells) + 1:
        title = title[:-1]
    heading, unit = "", None
    match = _TIME_HEADING.fullmatch(title[0]) if title else None
    if match:
        heading, unit = title[0], time_unit_ps(match[1]) if match[1] else None
    timed = _timed(head, data_line, cells, bool(match))
    names = _names(title, listed, len(cells) - bool(timed), bool(timed))
    return Heading(data_line, len(cells) - bool(timed), timed, names, rate, unit, heading, facts)


def _row(head: Head, line: int) -> list[str]:
    cells = head.cells(line)
    return cells[:-1] if len(cells) > 1 and not cells[-1] and _closed(head, line) else cells


def _closed(head: Head, line: int) -> bool:
    """Does a trailing delimiter close the row? Only where the heading above has one cell less or one too."""
    above = next((head.cells(i) for i in range(line - 1, -1, -1) if head.lines[i].strip()), [])
    return len(above) < 2 or not above[-1] or len(above) == len(head.cells(line)) - 1


def _is_data(head: Head, line: int) -> bool:
    text = head.lines[line]
    if not text.strip() or text.lstrip()[0] in _COMMENT:
        return False
    cells = _row(head, line)
    if not all(_CELL.fullmatch(c) for c in cells[1:]):
        return False
    if len(cells) == 1:
        return cells[0] in ("0", "1")
    # a row of blanks and X alone is no row of data
    return bool(_NUMBER.fullmatch(cells[0])) and any(c in ("0", "1") for c in cells[1:])


def _timed(head: Head, line: int, cells: list[str], titled: bool) -> bool | None:
    if len(cells) == 1:
        return False
    if titled or cells[0] not in ("0", "1"):
        return True
    rows = [i for i in range(line, len(head.lines)) if head.lines[i].strip()][:2000]
    first = {head.cells(i)[0] for i in rows}
    if first <= {"0", "1"}:
        return False
    # times run upwards; a stray cell that is no 0 or 1 does not make a column of times
    numbers = [c for c in (head.cells(i)[0] for i in rows) if _NUMBER.fullmatch(c)]
    climbing = len(numbers) > 2 and all(float(a) <= float(b) for a, b in itertools.pairwise(numbers))
    return climbing and len(first) > 2


def _stated(comments: list[str]) -> tuple[Fraction | None, tuple[str, ...], tuple[tuple[str, str], ...]]:
    rate: Fraction | None = None
    listed: tuple[str, ...] = ()
    facts: list[tuple[str, str]] = []
    for comment in comments:
        if match := _RATE.search(comment):
            rate = parse_rate_hz(match[1])
            facts.append(("sample rate", match[1]))
        elif match := _CHANNELS.match(comment):
            listed = tuple(n.strip() for n in match[2].split(",") if n.strip())
            facts.append(("channels", match[1]))
        elif comment:
            facts.append(("comment", comment[:200]))
    return rate, listed, tuple(facts)


def _names(title: list[str], listed: tuple[str, ...], columns: int, timed: bool) -> tuple[str, ...]:
    own = title[timed:] if title else []
    # a word that is the same for every column is a type, not a name
    if len(own) == columns and all(own) and len(set(own)) == columns:
        return tuple(own)
    if len(listed) == columns and len(set(listed)) == columns:
        return listed
    return tuple(str(i) for i in range(columns))
