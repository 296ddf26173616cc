"""The lines above rows of logic and words, and what the comments among them state."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from tracecore.readers.headings.heading_facts import RATE, StatedRate, rate_in, stated_rates
from tracecore.readers.headings.own_comment import NOTHING_CARRIED, Carried, carried
from tracecore.readers.source import Head, comment_text, split_cells

_CHANNELS = re.compile(r"channels?\s*\((\d+)(?:/\d+)?\)\s*:?\s*(.*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Above:
    """The lines above the rows: comments, the others taken apart, and the line of the first row, None without one;
    ``rates`` are what is stated there, ``listed`` names of channels and ``facts`` what the comments state, ``carried``
    what one of our own does."""

    comments: list[str]
    titles: list[list[str]]
    data_line: int | None
    rates: tuple[StatedRate, ...]
    listed: tuple[str, ...]
    facts: tuple[tuple[str, str], ...]

    @property
    def carried(self) -> Carried:
        """What a comment of our own carries."""
        return next((c for c in map(carried, self.comments) if c is not None), NOTHING_CARRIED)

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
            return Above(comments, titles, i, stated_rates(head, i), *_stated(comments))
        else:
            titles.append(head.cells(i))
    return Above(comments, titles, None, (), *_stated(comments))


def _stated(comments: list[str]) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Names of channels, and all facts, as comments state them."""
    listed: tuple[str, ...] = ()
    facts: list[tuple[str, str]] = []
    for comment in comments:
        if carried(comment) is not None:
            continue
        if RATE.search(comment):
            rate = rate_in(comment)
            facts.append(("sample rate", rate.text) if rate else ("comment", comment[:200]))
        elif match := _CHANNELS.search(comment):
            listed = tuple(n.strip() for n in match[2].split(",") if n.strip())
            facts.append(("channels", f"{match[1]}: {', '.join(listed)}" if listed else match[1]))
        elif comment:
            facts.append(("comment", comment[:200]))
    return listed, tuple(facts)
