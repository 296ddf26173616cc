"""Where each cycle of both captures went, and how long each capture goes on outside its active edges.

What was not compared is part of the answer: a suspect whose clock stops agrees up to there and no further.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, Protocol

import numpy as np

from tracecore.capture import Int64
from tracecore.lineup.runs import MatchedRun, runs_table
from tracecore.lineup.slips import Slip

Span = tuple[int, int]
"""Start (closed) and stop (open), or before and behind."""


class Uncovered(NamedTuple):
    """Picoseconds of a capture that no matched cycle covers, at one of its ends: ``whole_ps`` to the nearest matched
    cycle, of which ``edgeless_ps`` to the nearest active edge."""

    whole_ps: int
    edgeless_ps: int


@dataclass(frozen=True, slots=True)
class SideCoverage:
    """The cycles of one side. ``slipped`` are inserted ones of the suspect, missing ones of the good side; ``before``
    and ``after`` lie outside all that was followed; ``left_out`` are taken out by a condition, anywhere.

    ``head`` and ``tail`` are the ends of the capture; a side without matched cycles is all head.
    ``cycle_ps`` is this side's usual cycle, 1 where there is none; ``period_ps`` its sample period, 0 if not known.
    """

    total: int
    before: int
    matched: int
    slipped: int
    diverged: int
    unsure: int
    after: int
    left_out: int
    head: Uncovered
    tail: Uncovered
    cycle_ps: int
    period_ps: int

    @property
    def closes(self) -> bool:
        """Is every cycle counted once?"""
        counts = (self.before, self.matched, self.slipped, self.diverged, self.unsure, self.after, self.left_out)
        return min(counts) >= 0 and sum(counts) == self.total

    @property
    def outside(self) -> int:
        """Cycles before and behind all that was followed."""
        return self.before + self.after

    @property
    def edgeless_cycles(self) -> tuple[float, float]:
        """How many usual cycles long the capture is before its first active edge and behind its last."""
        return self.head.edgeless_ps / self.cycle_ps, self.tail.edgeless_ps / self.cycle_ps

    def samples(self, length_ps: int) -> int:
        """A length in samples of this side; 0 where its period is not known."""
        return length_ps // self.period_ps if self.period_ps else 0


class Coverage(NamedTuple):
    """Both sides."""

    good: SideCoverage
    suspect: SideCoverage


class Covering(Protocol):
    """What of a line-up says which cycles are covered."""

    @property
    def runs(self) -> Sequence[MatchedRun]: ...
    @property
    def slips(self) -> tuple[Slip, ...]: ...
    @property
    def good_edges_ps(self) -> Int64: ...
    @property
    def suspect_edges_ps(self) -> Int64: ...
    @property
    def left_out(self) -> tuple[int, int]: ...
    @property
    def outside(self) -> tuple[Span, Span] | None: ...
    @property
    def spans_ps(self) -> tuple[Span, Span] | None: ...
    @property
    def periods_ps(self) -> tuple[int, int]: ...


def coverage(lineup: Covering) -> Coverage:
    """The cycles and ends of both captures, counted."""
    table = runs_table(lineup.runs)
    return Coverage(_side(lineup, table, 0), _side(lineup, table, 1))


def _side(lineup: Covering, table: Int64, side: int) -> SideCoverage:
    edges = (lineup.good_edges_ps, lineup.suspect_edges_ps)[side]
    total = max(0, len(edges) - 1)
    slipped, diverged, unsure = (
        sum((slip.missing, slip.inserted)[side] for slip in lineup.slips if slip.kind in kinds)
        for kinds in (("inserted", "missing"), ("diverged",), ("unsure",))
    )
    before, after = (lineup.outside or _outside(lineup, table))[side]
    matched, left_out = int(table[:, 2].sum()), lineup.left_out[side]
    cycle_ps = int(np.median(np.diff(edges))) if total else 1
    head, tail = _ends(lineup, edges, table[:, (side, 2)], side)
    counts = total, before, matched, slipped, diverged, unsure, after, left_out
    return SideCoverage(*counts, head, tail, cycle_ps, lineup.periods_ps[side])


def _outside(lineup: Covering, table: Int64) -> tuple[Span, Span]:
    """The cycles before and behind all runs and slips, where no cycle is left out."""
    totals = [max(0, len(edges) - 1) for edges in (lineup.good_edges_ps, lineup.suspect_edges_ps)]
    spans = [((a, a + n), (b, b + n)) for a, b, n in (*table[:1].tolist(), *table[-1:].tolist())]
    for s in (*lineup.slips[:1], *lineup.slips[-1:]):
        good, suspect = s.good_cycle, s.suspect_cycle
        spans.append(((good, good + s.missing), (suspect, suspect + s.inserted)))
    if not spans:
        return (totals[0], 0), (totals[1], 0)
    good_side, suspect_side = (
        (min(span[side][0] for span in spans), totals[side] - max(span[side][1] for span in spans)) for side in (0, 1)
    )
    return good_side, suspect_side


def _ends(lineup: Covering, edges: Int64, runs: Int64, side: int) -> tuple[Uncovered, Uncovered]:
    """Both ends of a capture; nothing where its span is not known."""
    if lineup.spans_ps is None:
        return Uncovered(0, 0), Uncovered(0, 0)
    start, stop = lineup.spans_ps[side]
    if not len(edges):
        return Uncovered(stop - start, stop - start), Uncovered(0, 0)
    head, tail = int(edges[0]) - start, stop - int(edges[-1])
    if not len(runs):
        return Uncovered(stop - start, head), Uncovered(tail, tail)
    first, last = int(edges[runs[0, 0]]), int(edges[runs[-1].sum()])
    return Uncovered(first - start, head), Uncovered(stop - last, tail)
