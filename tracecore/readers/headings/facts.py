"""What the lines above the rows state: sample rates, start and increment, names of channels, facts.

; Channels (2/8): D1, D3          names and a rate in comments
; Samplerate: 10 MHz
Sample Interval,4.0E-09           or as a name and its value
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from tracecore.errors import MissingSampleRate
from tracecore.quantities import PS_PER_S, parse_rate_hz, time_unit_ps
from tracecore.readers.headings.own_comment import NOTHING_CARRIED, Carried, carried
from tracecore.readers.recognise.cells import NUMBER
from tracecore.readers.refusals import GIVE_RATE
from tracecore.readers.source import Head, comment_text, split_cells

_RATE = re.compile(r"sample\s*rate\s*[:=]?\s*([0-9.]+(?:[eE][+-]?\d+)?\s*[kMG]?(?:Hz|S/s))", re.IGNORECASE)
_CHANNELS = re.compile(r"channels?\s*\((\d+)(?:/\d+)?\)\s*:?\s*(.*)", re.IGNORECASE)
_INTERVAL = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*([A-Za-zµμ]*)\s*")
# beyond these a rate is a slip of the pen
_SLOWEST_HZ, _FASTEST_HZ = Fraction(1, 10**6), 10**15


# ---- sample rates


@dataclass(frozen=True, slots=True)
class StatedRate:
    """A sample rate as a heading states it, as rate or as interval; ``text`` is how it stands there."""

    rate_hz: Fraction
    text: str


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
    words = re.sub("[ _]", "", key.lower())
    if words == "samplerate":
        return _within_reach(f"{value} {unit}".strip()) or _within_reach(value)
    match = _INTERVAL.fullmatch(value)
    if "interval" not in words or match is None or Fraction(match[1]) <= 0:
        return None
    shown = match[2] or (unit if time_unit_ps(unit) is not None else "s")
    unit_ps = time_unit_ps(shown)
    rate = PS_PER_S / (Fraction(match[1]) * unit_ps) if unit_ps else Fraction(0)
    return StatedRate(rate, f"every {match[1]} {shown}") if _SLOWEST_HZ <= rate <= _FASTEST_HZ else None


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
        match = _RATE.search(comment or "")
        rate = _within_reach(match[1]) if match else None
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


def one_rate(path: str, given: Fraction | None, stated: Sequence[StatedRate]) -> Fraction | None:
    """The rate that a person gave, or the one that the heading states. Raises MissingSampleRate where it states two
    that differ."""
    if given is None and (twice := contradiction(stated)):
        found, do = f"{twice} above the rows", "Say which one holds with --rate."
        raise MissingSampleRate(path, found=found, expected="one", do=do)
    return stated[0].rate_hz if given is None and stated else given


def needed_rate(path: str, given: Fraction | None, stated: Sequence[StatedRate], do: str = GIVE_RATE) -> Fraction:
    """The same; raises MissingSampleRate where there is none, too."""
    if (rate := one_rate(path, given, stated)) is not None:
        return rate
    found = "rows without a time column and no sample rate above them"
    raise MissingSampleRate(path, found=found, expected="a line such as '# Sample rate: 24 MHz'", do=do)


def start_and_increment(above: Sequence[list[str]]) -> tuple[tuple[Fraction, Fraction] | None, int]:
    """Start and increment where a heading names them in its last cells, and the first of these cells.

    >>> start_and_increment([["X", "CH1", "Start", "Increment"], ["", "Volt", "-1.2E-03", "2.0E-06"]])[1]
    2
    """
    for names, values in itertools.pairwise(above):
        words = [name.lower() for name in names]
        if "start" in words and "increment" in words:
            at = words.index("start"), words.index("increment")
            if max(at) < len(values) and all(NUMBER.fullmatch(values[c]) for c in at):
                return (Fraction(values[at[0]]), Fraction(values[at[1]])), min(at)
    return None, 0


# ---- all lines above rows of logic and words


@dataclass(frozen=True, slots=True)
class Above:
    """The lines above the rows: comments, the others taken apart, and the line of the first row."""

    comments: list[str]
    titles: list[list[str]]
    data_line: int

    @classmethod
    def of(cls, head: Head, data_line: int) -> Above:
        """Those of rows from line ``data_line``, from 0, on."""
        above = [(i, comment_text(line)) for i, line in enumerate(head.lines[:data_line]) if line.strip()]
        comments = [comment for _, comment in above if comment is not None]
        return cls(comments, [head.cells(i) for i, comment in above if comment is None], data_line)

    @property
    def carried(self) -> Carried:
        """What a comment of our own carries."""
        return next(filter(None, map(carried, self.comments)), NOTHING_CARRIED)

    @property
    def listed(self) -> tuple[str, ...]:
        """Names of channels that a comment lists."""
        lists = [match[2].split(",") for text in self.comments if (match := _CHANNELS.search(text))]
        return tuple(name.strip() for name in lists[-1] if name.strip()) if lists else ()

    @property
    def facts(self) -> tuple[tuple[str, str], ...]:
        """What the comments state."""
        return tuple(_fact(text) for text in self.comments if text and carried(text) is None)

    def commented_title(self, head: Head, cells: int) -> list[list[str]]:
        """The names may stand in the last comment, as some programs write them."""
        last = self.comments[-1] if self.comments else ""
        names = split_cells(last, head.delimiter)
        if len(names) != cells or cells < 2 or _RATE.search(last) or _CHANNELS.search(last) or carried(last):
            return []
        return [names]


def _fact(comment: str) -> tuple[str, str]:
    if (match := _RATE.search(comment)) and (rate := _within_reach(match[1])):
        return "sample rate", rate.text
    if not match and (match := _CHANNELS.search(comment)):
        names = ", ".join(name.strip() for name in match[2].split(",") if name.strip())
        return "channels", f"{match[1]}: {names}" if names else match[1]
    return "comment", comment[:200]
