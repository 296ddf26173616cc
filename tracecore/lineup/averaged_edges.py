"""Active edges known better than to one sample: each by the mean of the cycle times round it.

An active edge is seen at the next sample, so its time is wrong by up to one sample period, another each time. Where
the clock itself is steady, the mean over some cycles comes nearer to the truth; where it is not, a mean would hide
what the clock does. So the widest window is taken whose residual sampling alone explains.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64

WIDTHS = (2, 8, 32, 128, 512)
"""Half windows that are tried, in cycles."""
_SAMPLE = 200_000
JITTER_PS = 150
"""What an edge may jitter besides: less is not told from sampling."""
FEWEST = 16
_PART = 1 << 16


def averaged_edges_ps(edges_ps: Int64, width: int) -> Int64:
    """Each edge by the mean of the cycle times ``width`` cycles either way: int64[N].

    It is the middle of a straight line through them. Towards the ends, and towards a cycle that is a quarter longer or
    shorter than the others (an edge lost or doubled), the window shrinks, so that it stays centred.

    >>> averaged_edges_ps(np.array([0, 101, 199, 302, 400]), 1).tolist()
    [0, 100, 201, 300, 400]
    """
    return edges_ps + corrections_ps(edges_ps, width)


def corrections_ps(edges_ps: Int64, width: int, at: Int64 | None = None, part: int = _PART) -> Int64:
    """What the mean moves each edge by: int64[N]; with ``at`` int64[K], sorted, that of these edges alone.

    Long rows are worked through in parts, so that little more memory is needed than for the result; parts of which no
    edge is asked for are passed over.
    """
    count = len(edges_ps)
    out = np.zeros(count if at is None else len(at), np.int64)
    if width < 1 or count < 3:
        return out
    usual = float(np.median(np.diff(edges_ps[:_SAMPLE])))
    for start in range(0, count, part):
        stop = min(start + part, count)
        taken = slice(start, stop) if at is None else slice(*at.searchsorted((start, stop)).tolist())
        if taken.start == taken.stop:
            continue
        low, high = max(0, start - width - 1), min(count, stop + width + 1)
        found = _corrected(edges_ps[low:high], width, usual)
        out[taken] = found[start - low : stop - low] if at is None else found[at[taken] - low]
    return out


def _corrected(edges_ps: Int64, width: int, usual: float) -> Int64:
    """The corrections of one part, right but for ``width`` edges at an end that is no end of the row."""
    count = len(edges_ps)
    number = np.arange(count)
    pace = float(edges_ps[-1] - edges_ps[0]) / max(1, count - 1)
    off = (edges_ps - edges_ps[0]).astype(np.float64) - pace * number
    odd = np.flatnonzero(np.abs(np.diff(edges_ps) - usual) > usual / 4)
    half = np.minimum(np.minimum(number - _last_before(odd + 1, count), _next_from(odd, count) - number), width)
    total = np.concatenate(([0.0], np.cumsum(off)))
    mean = (total[number + half + 1] - total[number - half]) / (2 * half + 1)
    return np.asarray(np.rint(mean - off), np.int64)


def _last_before(marks: Int64, count: int) -> NDArray[np.int64]:
    """For each number the last mark up to it, 0 without one."""
    out = np.zeros(count, np.int64)
    out[marks] = marks
    return np.asarray(np.maximum.accumulate(out))


def _next_from(marks: Int64, count: int) -> NDArray[np.int64]:
    """For each number the next mark from it on, the last number without one."""
    out = np.full(count, count - 1)
    out[marks] = marks
    return np.asarray(np.minimum.accumulate(out[::-1])[::-1])


def averaging_width(edges_ps: Int64, period_ps: int) -> int:
    """The widest of ``WIDTHS`` at which the edges stay as near to their mean as sampling every ``period_ps`` explains,
    0 where none does. Some hundred thousand cycles are looked at."""
    edges = edges_ps[:_SAMPLE]
    best = 0
    for width in WIDTHS:
        if len(edges) < 2 * width + FEWEST:
            break
        off = corrections_ps(edges, width)[width : len(edges) - width].astype(np.float64)
        explained = period_ps / np.sqrt(12) * np.sqrt(1 - 1 / (2 * width + 1))
        if float(np.sqrt(np.mean(off**2))) > 1.15 * explained + JITTER_PS:
            break
        best = width
    return best
