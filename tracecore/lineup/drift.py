"""How two clocks run against one another, slips taken out.

Cycles that one side has more than the other say nothing of the clocks: time is taken relative to matched cycles alone.
Delays after an edge are never scaled with the ratio of the clocks: a gate is as slow on a slow clock.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64, sorted_union
from tracecore.lineup.averaged_edges import FEWEST, JITTER_PS, averaging_width
from tracecore.lineup.runs import runs_table
from tracecore.lineup.time_map import LinedUp

_SAMPLE = 200_000
_PART = 1 << 20
_CURVE_POINTS = 2000
_AS_GOOD = 1.2
_ROUNDS, _FAR = 3, 6.0


@dataclass(frozen=True, slots=True)
class Drift:
    """The suspect's clock against the good one's over all matched edges, slips taken out.

    ``ppm`` is how much longer the suspect's cycle is, in millionths; ``residual_ps`` the root mean square of what a
    straight line leaves within each run of matched cycles, ``floor_ps`` what sampling alone would leave. ``straight``
    where the line is as good as that: two steady clocks. ``good_width`` and ``suspect_width`` are the half windows, in
    cycles, over which each side's edges may be averaged; 0 where they may not. ``good_hz`` is the good clock's rate.
    ``odd_cycles`` of the good and of the suspect side last unlike the others and do not count (pauses, lost edges).
    """

    ppm: float
    residual_ps: int
    floor_ps: int
    straight: bool
    good_width: int
    suspect_width: int
    good_hz: float
    odd_cycles: tuple[int, int] = (0, 0)

    @property
    def suspect_hz(self) -> float:
        """The rate of the suspect's clock."""
        return self.good_hz / (1 + self.ppm / 1e6)


class ClockRatio(NamedTuple):
    """``ppm``: how much longer the suspect's cycle is, in millionths; ``residual_ps``: root mean square of what a
    line leaves of the edges that were looked at; ``odd``: how many cycles of the good and of the suspect side last
    unlike the others and were left out (pauses, lost edges), and ``odd_ps`` by how much they are longer than usual."""

    ppm: float
    residual_ps: float
    odd: tuple[int, int]
    odd_ps: tuple[int, int]


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
    # a line-up that may average has looked at the same edges with the same periods
    good, suspect = lineup.widths
    widths = (
        good or averaging_width(lineup.good_edges_ps, good_period_ps),
        suspect or averaging_width(lineup.suspect_edges_ps, suspect_period_ps),
    )
    straight = bool(ratio.residual_ps <= _AS_GOOD * floor + JITTER_PS)
    hz = _good_hz(lineup, ratio.odd_ps[0])
    return Drift(round(ratio.ppm, 2), round(ratio.residual_ps), round(floor), straight, *widths, hz, ratio.odd)


def _good_hz(lineup: LinedUp, odd_ps: int) -> float:
    """The good clock's rate over all matched cycles, as if its odd ones were as long as the others."""
    runs, edges = _runs(lineup), lineup.good_edges_ps
    lasts = int((edges[runs[:, 0] + runs[:, 2]] - edges[runs[:, 0]]).sum()) - odd_ps
    return float(runs[:, 2].sum()) * 1e12 / max(1, lasts)


def clock_ratio(lineup: LinedUp) -> ClockRatio | None:
    """One slope through the edges of all stretches of steady cycles, each about its own middle: what a slip inserts, or
    a pause adds, moves a stretch as a whole and does not tell. None with too few matched edges.

    A cycle that lasts unlike the others on either side (a pause, a lost edge) ends a stretch. Edges far off the line
    are left out and it is drawn again; without any this is least squares.
    """
    picked = _picked(lineup, _SAMPLE)
    if picked is None or len(picked.run) < FEWEST:
        return None
    runs = _runs(lineup)
    good_odd, suspect_odd = _matched_odd(runs, 0, lineup.good_edges_ps), _matched_odd(runs, 1, lineup.suspect_edges_ps)
    begins = np.sort(np.concatenate((np.cumsum(runs[:, 2]) - runs[:, 2], good_odd.at + 1, suspect_odd.at + 1)))
    part = np.unique(begins.searchsorted(picked.at, "right"), return_inverse=True)[1]
    kept = np.ones(len(part), np.bool_)
    for _ in range(_ROUNDS):
        good, suspect = (_about_middle(side, part, kept) for side in (picked.good_ps, picked.suspect_ps))
        length = float(good[kept] @ good[kept])
        if not length:
            return None
        slope = float(good[kept] @ suspect[kept]) / length
        left = suspect - slope * good
        # 1.4826 median deviations are a standard deviation where errors are normal
        near = np.abs(left) <= _FAR * max(1.0, 1.4826 * float(np.median(np.abs(left[kept]))))
        if bool((near == kept).all()):
            break
        kept = near
    # each stretch's middle and the slope are drawn from the edges themselves
    free = max(1, int(kept.sum()) - len(np.unique(part[kept])) - 1)
    residual = float(np.sqrt(left[kept] @ left[kept] / free))
    odd = len(good_odd.at), len(suspect_odd.at)
    return ClockRatio((slope - 1) * 1e6, residual, odd, (good_odd.longer_ps, suspect_odd.longer_ps))


class _Odd(NamedTuple):
    """Which of the matched cycles are odd, int64, and by how much they are longer than usual, in all."""

    at: Int64
    longer_ps: int


def _matched_odd(runs: Int64, side: int, edges: Int64) -> _Odd:
    """Which of the matched cycles, counted in a row, last unlike the others on one side: by more than a quarter of the
    usual cycle from all but one in a hundred, so that a clock that stretches every so often has no odd cycles."""
    at = np.random.default_rng(0).integers(0, len(edges) - 1, 4096)
    low, usual, high = np.percentile(edges[at + 1] - edges[at], (1, 50, 99)).tolist()
    found = []
    for start in range(0, len(edges) - 1, _PART):
        lasts = np.diff(edges[start : start + _PART + 1])
        found.append(start + np.flatnonzero((lasts > high + usual / 4) | (lasts < low - usual / 4)))
    odd = np.concatenate(found)
    run = np.maximum(runs[:, side].searchsorted(odd, "right") - 1, 0)
    within = odd - runs[run, side]
    before = np.cumsum(runs[:, 2]) - runs[:, 2]
    kept = (within >= 0) & (within < runs[run, 2])
    longer = edges[odd[kept] + 1] - edges[odd[kept]] - round(usual)
    return _Odd(np.asarray((before[run] + within)[kept], np.int64), int(longer.sum()))


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
    """Matched cycles spread over all: which of the matched ones, their good numbers, the run each is in, and the times
    of their edges since their run began, int64 each."""

    at: Int64
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
    at = sorted_union(np.linspace(0, count - 1, most).astype(np.int64))
    run = before.searchsorted(at, "right") - 1
    a, b = runs[run, 0] + at - before[run], runs[run, 1] + at - before[run]
    good, suspect = lineup.good_edges_ps, lineup.suspect_edges_ps
    # since the run began: large times would cancel in floating point
    return _Picked(at, a, run, good[a] - good[runs[run, 0]], suspect[b] - suspect[runs[run, 1]])


def _about_middle(times_ps: Int64, part: Int64, kept: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Times less the mean of those that are kept in their part."""
    count = np.bincount(part, kept)
    mean = np.bincount(part, times_ps * kept.astype(np.float64)) / np.maximum(count, 1)
    return np.asarray(times_ps - mean[part], np.float64)
