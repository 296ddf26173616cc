"""What a heading states: the value itself, and what the comments above the rows add to it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from tracecore.quantities import parse_rate_hz
from tracecore.readers.headings.own_comment import NOTHING_CARRIED, Carried, carried
from tracecore.readers.source import Head, split_cells
from tracecore.readers.words.words import WordColumn

_RATE = re.compile(r"sample\s*rate\s*[:=]?\s*([0-9.]+(?:[eE][+-]?\d+)?\s*[kMG]?(?:Hz|S/s))", re.IGNORECASE)
_CHANNELS = re.compile(r"channels?\s*\((\d+)(?:/\d+)?\)\s*:?\s*(.*)", re.IGNORECASE)

# beyond these a rate is a slip of the pen
_SLOWEST_HZ, _FASTEST_HZ = Fraction(1, 10**6), 10**15


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
    rate_hz: Fraction | None
    time_unit_ps: Fraction | None
    time_heading: str
    facts: tuple[tuple[str, str], ...]
    carried: Carried = NOTHING_CARRIED
    words: tuple[WordColumn | None, ...] = ()
    unknown_unit: str = ""


def stated(comments: list[str]) -> tuple[Fraction | None, tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Sample rate in hertz, names of channels, and all facts, as comments state them."""
    rate: Fraction | None = None
    listed: tuple[str, ...] = ()
    facts: list[tuple[str, str]] = []
    for comment in comments:
        if carried(comment) is not None:
            continue
        if match := _RATE.search(comment):
            try:
                found = parse_rate_hz(match[1])
            except ValueError:
                found = Fraction(0)
            if _SLOWEST_HZ <= found <= _FASTEST_HZ:
                rate = found
                facts.append(("sample rate", match[1]))
            else:
                facts.append(("comment", comment[:200]))
        elif match := _CHANNELS.search(comment):
            listed = tuple(n.strip() for n in match[2].split(",") if n.strip())
            facts.append(("channels", f"{match[1]}: {', '.join(listed)}" if listed else match[1]))
        elif comment:
            facts.append(("comment", comment[:200]))
    return rate, listed, tuple(facts)


def commented_title(comment: str, head: Head, cells: int) -> list[list[str]]:
    """The names may stand in the last comment, as some programs write them."""
    names = split_cells(comment, head.delimiter)
    if len(names) != cells or cells < 2 or _RATE.search(comment) or _CHANNELS.search(comment) or carried(comment):
        return []
    return [names]
