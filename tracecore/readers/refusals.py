"""What more than one reader refuses, in one sentence each: a row that does not fit, and a rate, a unit or a base that
only a person can say."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import TYPE_CHECKING

from tracecore.errors import MalformedCapture, MissingSampleRate, MissingWordBase
from tracecore.readers.headings.heading_facts import StatedRate, contradiction

if TYPE_CHECKING:
    from tracecore.readers.plan.words import WordColumn

CORRECT_LINE = "Export the capture again, or correct this line."
GIVE_RATE = (
    'Give the sample rate, as --rate "24 MHz"; or say --layout "cycle rows" where the board\'s own clock took each row.'
)


class BadRow(ValueError):
    """A row that does not fit: ``column`` counts cells from 1."""

    def __init__(self, found: str, expected: str, column: int | None = None) -> None:
        super().__init__(found)
        self.found, self.expected, self.column = found, expected, column


def shown(text: bytes) -> str:
    """A cell as it is quoted in a sentence."""
    return repr(text[:40].decode("latin-1").strip())


def bad_row(
    path: str, line: int, found: str, expected: str, column: int | None = None, do: str = CORRECT_LINE
) -> MalformedCapture:
    """A row that does not fit; ``line`` and ``column`` (the cell) count from 1."""
    return MalformedCapture(path, line=line, column=column, found=found, expected=expected, do=do)


def wrong_width(path: str, line: int, count: int, wanted: str) -> MalformedCapture:
    """A row of more or fewer cells than are ``wanted``, such as "3 as in the heading"."""
    return bad_row(path, line, f"{count} cell{'s' if count > 1 else ''}", wanted)


def needed_rate(path: str, given: Fraction | None, stated: Sequence[StatedRate], do: str = GIVE_RATE) -> Fraction:
    """The rate that a person gave, or the one that the heading states. Raises MissingSampleRate where it states none,
    or two that differ."""
    if given is not None:
        return given
    if twice := contradiction(stated):
        raise two_rates(path, twice)
    if stated:
        return stated[0].rate_hz
    raise MissingSampleRate(
        path,
        found="rows without a time column and no sample rate above them",
        expected="a line such as '# Sample rate: 24 MHz'",
        do=do,
    )


def two_rates(path: str, found: str) -> MissingSampleRate:
    """A heading that contradicts itself, as ``contradiction`` words it."""
    do = "Say which one holds with --rate."
    return MissingSampleRate(path, found=f"{found} above the rows", expected="one", do=do)


def no_unit(path: str, line: int, column: int, time: str) -> MissingSampleRate:
    """Times without decimals, and without a unit."""
    return MissingSampleRate(
        path,
        line=line,
        column=column,
        found=f"the time {time!r} without a unit",
        expected="a heading such as 'Time [ns]'",
        do="Write the unit into the heading of the time column, or give it (--time-unit).",
    )


def no_base(path: str, line: int, column: int, word: WordColumn) -> MissingWordBase:
    """Words that can be hex, octal or binary."""
    return MissingWordBase(
        path,
        line=line,
        column=column,
        found=f"words such as {word.first!r} under {word.name!r}, which can be hex, octal or binary",
        expected="a prefix such as 0x, or a heading such as 'D[7:0] (hex)'",
        do="Say its base: word_base (--word-base) as hex, octal or binary.",
    )
