"""The heading of rows of logic and words: the value itself, the lines above the rows, and what their comments add."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from tracecore.readers.headings.heading_facts import RATE, StatedRate, rate_in
from tracecore.readers.headings.heading_units import unit_of_times
from tracecore.readers.headings.own_comment import NOTHING_CARRIED, Carried, carried
from tracecore.readers.headings.titles import TIME_HEADING
from tracecore.readers.plan.words import WordColumn
from tracecore.readers.recognise.front_times import even_times
from tracecore.readers.source import Head, comment_text, split_cells

_CHANNELS = re.compile(r"channels?\s*\((\d+)(?:/\d+)?\)\s*:?\s*(.*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Heading:
    """``data_line`` counts from 0; ``columns`` are the cells of a row, without the time where ``timed``.

    ``words`` says of each of them whether it is a word of a bus (None: logic); it is empty where all are logic.
    ``unknown_unit`` is what stands above the times where that names no unit that is known.
    """

    data_line: int
    columns: int
    timed: bool
    even: bool
    names: tuple[str, ...]
    rates: tuple[StatedRate, ...]
    time_unit_ps: Fraction | None
    time_heading: str
    facts: tuple[tuple[str, str], ...]
    carried: Carried = NOTHING_CARRIED
    words: tuple[WordColumn | None, ...] = ()
    unknown_unit: str = ""

    @property
    def rate_hz(self) -> Fraction | None:
        """The rate that the heading states first."""
        return self.rates[0].rate_hz if self.rates else None


@dataclass(frozen=True, slots=True)
class Above:
    """The lines above the rows: comments, the others taken apart, and the line of the first row, None without one;
    ``rates``, ``listed`` names of channels and ``facts`` are what the comments state."""

    comments: list[str]
    titles: list[list[str]]
    data_line: int | None
    rates: tuple[StatedRate, ...]
    listed: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]

    def commented_title(self, head: Head, cells: int) -> list[list[str]]:
        """The names may stand in the last comment, as some programs write them."""
        last = self.comments[-1] if self.comments else ""
        names = split_cells(last, head.delimiter)
        if len(names) != cells or cells < 2 or RATE.search(last) or _CHANNELS.search(last) or carried(last):
            return []
        return [names]


def lines_above(head: Head, is_first_row: Callable[[Head, int, list[list[str]]], bool]) -> Above:
    """All lines above the first one that ``is_first_row``, which is given the lines of names so far."""
    comments: list[str] = []
    titles: list[list[str]] = []
    for i, line in enumerate(head.lines):
        if not line.strip():
            continue
        if (comment := comment_text(line)) is not None:
            comments.append(comment)
        elif is_first_row(head, i, titles):
            return Above(comments, titles, i, *_stated(comments))
        else:
            titles.append(head.cells(i))
    return Above(comments, titles, None, *_stated(comments))


def as_heading(
    above: Above,
    data_line: int,
    timed: bool,
    rows: list[list[str]],
    names: tuple[str, ...],
    title: list[str],
    unit_row: list[str],
    words: tuple[WordColumn | None, ...] = (),
) -> Heading:
    """The heading of ``rows``, the first ones, below ``title`` and ``unit_row``."""
    named = bool(title) and bool(TIME_HEADING.fullmatch(title[0]))
    united = timed and (named or len(title) == len(names) + timed)
    unit, unknown = unit_of_times(title, unit_row) if united else (None, "")
    return Heading(
        data_line,
        len(names),
        timed,
        even_times(rows) if timed else True,
        names,
        above.rates,
        unit,
        title[0] if named or unit is not None else "",
        above.facts,
        next((c for c in map(carried, above.comments) if c is not None), NOTHING_CARRIED),
        words,
        unknown,
    )


def _stated(comments: list[str]) -> tuple[tuple[StatedRate, ...], tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Sample rates, names of channels, and all facts, as comments state them."""
    rates: list[StatedRate] = []
    listed: tuple[str, ...] = ()
    facts: list[tuple[str, str]] = []
    for comment in comments:
        if carried(comment) is not None:
            continue
        if RATE.search(comment):
            rate = rate_in(comment)
            rates += [rate] if rate else []
            facts.append(("sample rate", rate.text) if rate else ("comment", comment[:200]))
        elif match := _CHANNELS.search(comment):
            listed = tuple(n.strip() for n in match[2].split(",") if n.strip())
            facts.append(("channels", f"{match[1]}: {', '.join(listed)}" if listed else match[1]))
        elif comment:
            facts.append(("comment", comment[:200]))
    return tuple(rates), listed, tuple(facts)
