"""How two clocks run against one another, and what sampling alone does to the times of their edges.

An active edge is seen at the next sample, so its time is wrong by up to one sample period, another each time. Where
the clock itself is steady, the mean over some cycles comes nearer to the truth; where it is not, a mean would hide
what the clock does. So the widest window is taken whose residual sampling alone explains. Delays after an edge are
never scaled with the ratio of the clocks: a gate is as slow on a slow clock.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tracecore.capture import Int64
from tracecore.compare.lineup import Lineup

WIDTHS = (2, 8, 32, 128, 512)
"""Half windows that are tried, in cycles."""
_SAMPLE = 200_000
_JITTER_PS = 150
_FEWEST = 16


@dataclass(frozen=True, slots=True)
class Drift:
    """The suspect's clock against the good one's over all matched edges.

    ``ppm`` is how much longer the suspect's cycle is, in millionths; ``residual_ps`` the root mean square of what a
    straight line leaves, ``floor_ps`` what sampling alone would leave. ``straight`` where the line is as good as
    that: two steady clocks, and no slip. ``good_width`` and ``suspect_width`` are the half windows, in cycles, over
    which each side's edges may be averaged; 0 where they may not.
    """

    ppm: float
    residual_ps: int
    floor_ps: int
    straight: bool
    good_width: int
    suspect_width: int


def drift(lineup: Lineup, good_period_ps: int, suspect_period_ps: int) -> Drift | None:
    """The drift of a line-up whose captures were sampled every ``..._period_ps``; None with too few matched edges."""
    if lineup.matched_cycles < _FEWEST:
        return None
    starts = np.array([(r.good_start, r.suspect_start) for r in lineup.runs], np.int64)
    lengths = np.array([r.length for r in lineup.runs], np.int64)
    before = np.cumsum(lengths) - lengths
    # some hundred thousand pairs spread over all of them tell as much as all
    at = np.unique(np.linspace(0, lineup.matched_cycles - 1, _SAMPLE).astype(np.int64))
    run = before.searchsorted(at, "right") - 1
    good = lineup.good_edges_ps[starts[run, 0] + at - before[run]]
    suspect = lineup.suspect_edges_ps[starts[run, 1] + at - before[run]]
    # from the first edge on: large times would cancel in floating point
    x, y = (good - good[0]).astype(np.float64), (suspect - suspect[0]).astype(np.float64)
    slope = float((x - x.mean()) @ (y - y.mean()) / max(1.0, float((x - x.mean()) @ (x - x.mean()))))
    left = y - slope * x
    residual = float(left.std())
    floor = float(np.hypot(good_period_ps, suspect_period_ps)) / np.sqrt(12)
    widths = (
        averaging_width(lineup.good_edges_ps, good_period_ps),
        averaging_width(lineup.suspect_edges_ps, suspect_period_ps),
    )
    straight = residual <= 1.2 * floor + _JITTER_PS
    return Drift(round((slope - 1) * 1e6, 2), round(residual), round(floor), straight, *widths)


def averaged_edges_ps(edges_ps: Int64, width: int) -> Int64:
    """Each edge by the mean of the cycle times ``width`` cycles either way: int64[N].

    It is the middle of a straight line through them. Towards the ends, and towards a cycle that is a quarter longer or
    shorter than the others (an edge lost or doubled), the window shrinks, so that it stays centred.

    >>> averaged_edges_ps(np.array([0, 101, 199, 302, 400]), 1).tolist()
    [0, 100, 201, 300, 400]
    """
    count = len(edges_ps)
    if width < 1 or count < 3:
        return edges_ps
    number = np.arange(count)
    pace = float(edges_ps[-1] - edges_ps[0]) / (count - 1)
    off = (edges_ps - edges_ps[0]).astype(np.float64) - pace * number
    cycle = np.diff(edges_ps)
    odd = np.flatnonzero(np.abs(cycle - np.median(cycle)) > np.median(cycle) / 4)
    first = np.zeros(count, np.int64)
    first[odd + 1] = odd + 1
    first = np.maximum.accumulate(first)
    last = np.full(count, count - 1)
    last[odd] = odd
    last = np.minimum.accumulate(last[::-1])[::-1]
    half = np.minimum(np.minimum(number - first, last - number), width)
    total = np.concatenate(([0.0], np.cumsum(off)))
    mean = (total[number + half + 1] - total[number - half]) / (2 * half + 1)
    return np.asarray(edges_ps + np.rint(mean - off).astype(np.int64))


def averaging_width(edges_ps: Int64, period_ps: int) -> int:
    """The widest of ``WIDTHS`` at which the edges stay as near to their mean as sampling every ``period_ps`` explains,
    0 where none does. Some hundred thousand cycles are looked at."""
    edges = edges_ps[:_SAMPLE]
    best = 0
    for width in WIDTHS:
        if len(edges) < 2 * width + _FEWEST:
            break
        off = (edges - averaged_edges_ps(edges, width))[width : len(edges) - width].astype(np.float64)
        explained = period_ps / np.sqrt(12) * np.sqrt(1 - 1 / (2 * width + 1))
        if float(np.sqrt(np.mean(off**2))) > 1.15 * explained + _JITTER_PS:
            break
        best = width
    return best
