"""A place in the captures as a person types it: a cycle, or a time with its unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tracecore.quantities import group_digits, parse_time_ps

Side = Literal["good", "suspect"]


@dataclass(frozen=True, slots=True)
class Place:
    """A cycle, or a time from the start of the capture in picoseconds, counted on one side; the other one is None."""

    side: Side
    cycle: int | None = None
    time_ps: int | None = None


def parse_place(text: str, side: Side) -> Place:
    """A place as typed. Raises ValueError, in a sentence, where it is none.

    >>> parse_place("1 004", "good").cycle
    1004
    >>> parse_place("2.5 us", "suspect").time_ps
    2500000
    """
    plain = "".join(text.replace("\u2212", "-").split())
    digits = plain.removeprefix("cycle").replace("\u202f", "")
    if digits.isdecimal():
        return Place(side, cycle=int(digits))
    try:
        return Place(side, time_ps=round(parse_time_ps(text)))
    except ValueError:
        raise ValueError(
            f"{text!r} is no cycle and no time. Type a cycle, such as 1004, or a time, such as 2.5 us."
        ) from None


def outside(cycle: int, cycles: int) -> str:
    """Said of a cycle that is not there."""
    return f"There is no cycle {group_digits(cycle)}: they go from 0 to {group_digits(cycles - 1)}"
