"""How two clocks run against one another, slips taken out.

Cycles that one side has more than the other say nothing of the clocks: time is taken relative to matched cycles alone.
Delays after an edge are never scaled with the ratio of the clocks: a gate is as slow on a slow clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64
from tracecore.lineup.averaged_edges import FEWEST, JITTER_PS, averaging_width
from tracecore.lineup.runs import runs_table
from tracecore.lineup.time_map import LinedUp

_SAMPLE = 200_000
_CURVE_POINTS = 2000
_AS_GOOD = 1.2


@dataclass(frozen=True, slots=True)
class Drift:
    """The suspect's clock against the good one's over all matched edges, slips taken out.

    ``ppm`` is how much longer the suspect's cycle is, in millionths; ``residual_ps`` the root mean square of what a
    straight line leaves within each run of matched cycles, ``floor_ps`` what sampling alone would leave. ``straight``
    where the line is as good as that: two steady clocks. ``good_width`` and ``suspect_width`` are the half windows, in
    cycles, over which each side's edges may be averaged; 0 where they may not. ``good_hz`` is the good clock's rate.
    """

    ppm: float
    residual_ps: int
    floor_ps: int
    straight: bool
    good_width: int
    suspect_width: int
    good_hz: float

    @property
    def suspect_hz(self) -> float:
        """The rate of the suspect's clock."""
        return self.good_hz / (1 + self.ppm / 1e6)


class ClockRatio(NamedTuple):
    """``ppm``: how much longer the suspect's cycle is, in millionths; ``residual_ps``: root mean square of what a
    line leaves of the edges that were looked at."""

    ppm: float
    residual_ps: float


@dataclass(frozen=True, slots=True, eq=False)
class DriftCurve:
    """``cycles`` int64[N] good cycles, ``apart_ps`` int64[N] suspect time less good time of the same cycle, slips
    taken out: each run of matched cycles goes on where the one before it ended."""

    cycles: Int64
    apart_ps: Int64


def drift(lineup: LinedUp, good_period_ps: int, suspect_period_ps: int) -> Drift | None:
    """The drift of a line-up whose captures were sampled every ``..._period_ps``; None with too few matched edges."""
    ratio = clock_ratio(lineup)
    if ratio is None:
        return None
    floor = float(np.hypot(good_period_ps, suspect_period_ps)) / np.sqrt(12)
    widths = (
        averaging_width(lineup.good_edges_ps, good_period_ps),
        averaging_width(lineup.suspect_edges_ps, suspect_period_ps),
    )
    straight = bool(ratio.residual_ps <= _AS_GOOD * floor + JITTER_PS)
    return Drift(round(ratio.ppm, 2), round(ratio.residual_ps), round(floor), straight, *widths, _good_hz(lineup))


def _good_hz(lineup: LinedUp) -> float:
    runs, edges = _runs(lineup), lineup.good_edges_ps
    return float(runs[:, 2].sum()) * 1e12 / max(1, int((edges[runs[:, 0] + runs[:, 2]] - edges[runs[:, 0]]).sum()))


def clock_ratio(lineup: LinedUp) -> ClockRatio | None:
    """One slope through the edges of all runs, each run about its own middle: what a slip inserts or takes away moves
    a run as a whole and does not tell. None with too few matched edges."""
    picked = _picked(lineup, _SAMPLE)
    if picked is None or len(picked.run) < FEWEST:
        return None
    good, suspect = (_about_middle(side, picked.run) for side in (picked.good_ps, picked.suspect_ps))
    length = float(good @ good)
    if not length:
        return None
    slope = float(good @ suspect) / length
    left = suspect - slope * good
    # each run's middle and the slope are drawn from the edges themselves
    free = max(1, len(left) - len(np.unique(picked.run)) - 1)
    return ClockRatio((slope - 1) * 1e6, float(np.sqrt(left @ left / free)))


def drift_curve(lineup: LinedUp, points: int = _CURVE_POINTS) -> DriftCurve | None:
    """Points spread over the matched cycles; None with fewer than two of them."""
    picked = _picked(lineup, points)
    if picked is None or len(picked.run) < 2:
        return None
    runs = _runs(lineup)
    good, suspect = lineup.good_edges_ps, lineup.suspect_edges_ps
    longer = (suspect[runs[:, 1] + runs[:, 2]] - suspect[runs[:, 1]]) - (
        good[runs[:, 0] + runs[:, 2]] - good[runs[:, 0]]
    )
    before = (np.cumsum(longer) - longer)[picked.run]
    return DriftCurve(picked.cycles, np.asarray(before + picked.suspect_ps - picked.good_ps, np.int64))


class _Picked(NamedTuple):
    """Matched cycles spread over all: their good numbers, the run each is in, and the times of their edges since
    their run began, int64 each."""

    cycles: Int64
    run: Int64
    good_ps: Int64
    suspect_ps: Int64


def _runs(lineup: LinedUp) -> Int64:
    return runs_table(lineup.runs)


def _picked(lineup: LinedUp, most: int) -> _Picked | None:
    runs = _runs(lineup)
    count = int(runs[:, 2].sum())
    if not count:
        return None
    before = np.cumsum(runs[:, 2]) - runs[:, 2]
    # some hundred thousand pairs spread over all of them tell as much as all
    at = np.unique(np.linspace(0, count - 1, most).astype(np.int64))
    run = before.searchsorted(at, "right") - 1
    a, b = runs[run, 0] + at - before[run], runs[run, 1] + at - before[run]
    good, suspect = lineup.good_edges_ps, lineup.suspect_edges_ps
    # since the run began: large times would cancel in floating point
    return _Picked(a, run, good[a] - good[runs[run, 0]], suspect[b] - suspect[runs[run, 1]])


def _about_middle(times_ps: Int64, run: Int64) -> NDArray[np.float64]:
    """Times less the mean of their run."""
    count = np.bincount(run)
    mean = np.bincount(run, times_ps.astype(np.float64)) / np.maximum(count, 1)
    return np.asarray(times_ps - mean[run], np.float64)
