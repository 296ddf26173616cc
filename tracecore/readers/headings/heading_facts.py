"""What a heading states: sample rates, start and increment; and the lines above rows of logic and words."""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from tracecore.quantities import PS_PER_S, parse_rate_hz, time_unit_ps
from tracecore.readers.headings.own_comment import NOTHING_CARRIED, Carried, carried
from tracecore.readers.recognise.row_cells import NUMBER
from tracecore.readers.source import Head, comment_text, split_cells

RATE = re.compile(r"sample\s*rate\s*[:=]?\s*([0-9.]+(?:[eE][+-]?\d+)?\s*[kMG]?(?:Hz|S/s))", re.IGNORECASE)

_CHANNELS = re.compile(r"channels?\s*\((\d+)(?:/\d+)?\)\s*:?\s*(.*)", re.IGNORECASE)
# beyond these a rate is a slip of the pen
_SLOWEST_HZ, _FASTEST_HZ = Fraction(1, 10**6), 10**15
_INTERVAL = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*([A-Za-zµμ]*)\s*")


@dataclass(frozen=True, slots=True)
class StatedRate:
    """A sample rate as a heading states it, as rate or as interval; ``text`` is how it stands there."""

    rate_hz: Fraction
    text: str


def rate_in(comment: str) -> StatedRate | None:
    """The sample rate that a comment states.

    >>> rate_in("Samplerate: 24 MHz").text
    '24 MHz'
    """
    match = RATE.search(comment)
    return _within_reach(match[1]) if match else None


def _within_reach(text: str) -> StatedRate | None:
    try:
        rate = parse_rate_hz(text)
    except ValueError:
        return None
    return StatedRate(rate, text) if _SLOWEST_HZ <= rate <= _FASTEST_HZ else None


def rate_of_pair(key: str, value: str, unit: str = "") -> StatedRate | None:
    """The sample rate that a name and its value in a preamble state; ``unit`` is what stands in the cell behind.

    >>> rate_of_pair("Sample Interval", "4.0E-03", "us").rate_hz
    Fraction(250000000, 1)
    >>> rate_of_pair("Sample Rate", "10 MHz").text
    '10 MHz'
    """
    words = key.lower().replace(" ", "").replace("_", "")
    if words == "samplerate":
        return _within_reach(value if not unit else f"{value} {unit}") or _within_reach(value)
    match = _INTERVAL.fullmatch(value)
    if "interval" not in words or match is None or Fraction(match[1]) <= 0:
        return None
    behind = unit if not match[2] and time_unit_ps(unit) is not None else ""
    unit_ps = time_unit_ps(match[2] or behind or "s")
    if unit_ps is None:
        return None
    text = f"every {match[1]} {match[2] or behind or 's'}"
    return StatedRate(PS_PER_S / (Fraction(match[1]) * unit_ps), text)


def said_pair(comment: str, head: Head) -> list[str]:
    """The cells of a comment; ``Sample interval: 4 ns`` is a name and its value."""
    cells = split_cells(comment, head.delimiter, head.decimal)
    name, mark, value = comment.partition(":")
    return [name.strip(), value.strip()] if len(cells) == 1 and mark else cells


def stated_rates(head: Head, lines: int) -> tuple[StatedRate, ...]:
    """All sample rates that the first ``lines`` lines state, in comments or as a name and its value."""
    found = []
    for line, text in enumerate(head.lines[:lines]):
        comment = comment_text(text)
        cells = head.cells(line) if comment is None else said_pair(comment, head)
        rate = rate_in(comment or "")
        # a rate without a unit in a comment is one torn in two
        if rate is None and len(cells) > 1 and (comment is None or "interval" in cells[0].lower()):
            rate = rate_of_pair(*cells[:3])
        found += [rate] if rate is not None else []
    return tuple(found)


def contradiction(rates: Sequence[StatedRate]) -> str:
    """In words what a heading states against itself; empty where all its rates are one, printing aside.

    >>> contradiction([StatedRate(Fraction(10), "10 Hz"), StatedRate(Fraction(20), "20 Hz")])
    'two sample rates: 10 Hz and 20 Hz'
    """
    other = next((r for r in rates[1:] if abs(r.rate_hz / rates[0].rate_hz - 1) > Fraction(1, 1000)), None)
    return f"two sample rates: {rates[0].text} and {other.text}" if other else ""


def start_and_increment(above: list[list[str]]) -> tuple[tuple[Fraction, Fraction] | None, int]:
    """Start and increment where a heading names them in its last cells, and the first of these cells.

    >>> start_and_increment([["X", "CH1", "Start", "Increment"], ["", "Volt", "-1.2E-03", "2.0E-06"]])[1]
    2
    """
    for names, values in itertools.pairwise(above):
        words = [name.lower() for name in names]
        if "start" in words and "increment" in words:
            start, increment = words.index("start"), words.index("increment")
            if max(start, increment) < len(values) and all(NUMBER.fullmatch(values[c]) for c in (start, increment)):
                return (Fraction(values[start]), Fraction(values[increment])), min(start, increment)
    return None, 0


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
