"""The table of divergences as CSV (RFC 4180: comma, quotes where needed, CR LF, a heading line)."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from app.harmless import cell

if TYPE_CHECKING:
    from tracecore.comparison import Comparison
    from tracecore.lineup.lineup import Lineup

COLUMNS = (
    "signal",
    "slot",
    "pin",
    "fault_mode",
    "first_cycle",
    "last_cycle",
    "cycles",
    "good_ps",
    "suspect_ps",
)
"""``first_cycle`` and ``last_cycle`` are good cycles, both included; ``good_ps`` and ``suspect_ps`` are the times of
the active edge that begins the first one, each on its own side's clock."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Consecutive good cycles at which one signal diverges, first and last included."""

    first: int
    last: int

    @property
    def cycles(self) -> int:
        """How many cycles it lasts."""
        return self.last - self.first + 1


def stretches(cycles: np.ndarray) -> Iterator[Stretch]:
    """Increasing int64[N] cycle numbers as stretches of consecutive ones.

    >>> [(s.first, s.last) for s in stretches(np.array([3, 4, 9]))]
    [(3, 4), (9, 9)]
    """
    if len(cycles):
        for part in np.split(cycles, np.flatnonzero(np.diff(cycles) > 1) + 1):
            yield Stretch(int(part[0]), int(part[-1]))


def divergences_csv(comparison: Comparison) -> str:
    """One row for each stretch of each signal, signals in the sheet's order."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for s in comparison.signals:
        for stretch in stretches(s.diverging_cycles):
            good_ps, suspect_ps = _edge_times(comparison.lineup, stretch.first)
            cycles = stretch.first, stretch.last, stretch.cycles
            names = map(cell, (s.signal, s.slot, s.pin, s.fault_mode or ""))
            writer.writerow((*names, *cycles, good_ps, suspect_ps))
    return out.getvalue()


def _edge_times(lineup: Lineup, cycle: int) -> tuple[int | str, int | str]:
    """Times of the active edge that begins a good cycle on both sides; empty where a side has none."""
    for run in lineup.runs:
        if run.good_start <= cycle < run.good_start + run.length:
            partner = cycle - run.good_start + run.suspect_start
            return int(lineup.good_edges_ps[cycle]), int(lineup.suspect_edges_ps[partner])
    return "", ""
