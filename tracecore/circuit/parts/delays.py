"""Published times of the parts: how long an output may take, and how long an input has to stand still at an edge."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from tracecore.circuit.parts.catalogue import Part, plain_number, sources

NO_FIGURE_PS = 100_000
"""Taken where no figure is in the table: slower than the slowest of plain 74 but one (common practice)."""


@dataclass(frozen=True, slots=True)
class PartTimes:
    """In picoseconds: the longest published delay, setup, hold and shortest pulse. ``settle_of`` is the number whose
    figure ``settle_ps`` is, empty where the table has none; ``source`` is the title of the sheet."""

    settle_ps: int
    setup_ps: int
    hold_ps: int
    pulse_ps: int
    settle_of: str
    source: str


@lru_cache(maxsize=256)
def part_times(number: str, part: Part) -> PartTimes:
    """Times of one number of a part; of the slowest number with the same legs where its own are not in the table.

    ``settle_ps`` is the maximum over all outputs and directions, at the sheet's load (15 pF for most).
    """
    asked = [row for row in _rows() if plain_number(row["part"]) == plain_number(number)]
    same = {plain_number(n) for n in part.numbers}
    rows = asked if _longest(asked) else [row for row in _rows() if plain_number(row["part"]) in same]
    longest = _longest(rows)
    held = rows or asked
    return PartTimes(
        _ps(longest["max"]) if longest else NO_FIGURE_PS,
        _most(held, "tsu"),
        _most(held, "th"),
        _most(held, "tw"),
        longest["part"] if longest else "",
        sources().get(longest["source"].split("+")[0].split(";")[0].strip(), longest["source"]) if longest else "",
    )


@lru_cache(maxsize=1)
def _rows() -> tuple[dict[str, str], ...]:
    text = files(__package__).joinpath("delays.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


def _longest(rows: Iterable[dict[str, str]]) -> dict[str, str] | None:
    delays = [row for row in rows if row["max"] and (row["parameter"].startswith("tP") or row["parameter"] == "ta")]
    return max(delays, key=lambda row: float(row["max"]), default=None)


def _most(rows: Iterable[dict[str, str]], parameter: str) -> int:
    return max((_ps(row["min"]) for row in rows if row["parameter"] == parameter and row["min"]), default=0)


def _ps(nanoseconds: str) -> int:
    return round(float(nanoseconds) * 1000)
