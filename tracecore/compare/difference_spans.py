"""Where the levels of two traces differ, and for how long: spans on one axis."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, DigitalTrace, Int64, sorted_union
from tracecore.sorted_times import count_until

_PART = 1 << 15  # so many stay in the cache from one step to the next


def difference_spans(good: DigitalTrace, on_good: DigitalTrace, windows: Int64, least_ps: int) -> Int64:
    """Spans int64[N, 2] in which both levels are known and differ for longer than ``least_ps``; a span is
    [start, stop), spans are sorted and apart. Only what lies in ``windows`` int64[R, 2], sorted and apart, counts."""
    settled, i, j = _alike_until(good, on_good, int(windows[0, 0]), int(windows[-1, 1]), least_ps)
    if settled >= windows[-1, 1]:
        return np.empty((0, 2), np.int64)
    edges = np.append(windows.ravel(), settled)
    edges.sort()
    times = sorted_union(good.times_ps[i:], on_good.times_ps[j:], edges)
    a, b = times.searchsorted((settled, windows[-1, 1])).tolist()
    times = times[a : b + 1]
    level_good, level_suspect = good.level_at(times[:-1]), on_good.level_at(times[:-1])
    differ = (level_good != level_suspect) & (level_good != UNKNOWN) & (level_suspect != UNKNOWN)
    if len(windows) > 1:
        differ &= covered(times[:-1], windows)
    spans = spans_where(times, differ)
    return spans[spans[:, 1] - spans[:, 0] > least_ps]


def _alike_until(
    good: DigitalTrace, on_good: DigitalTrace, start_ps: int, stop_ps: int, least_ps: int
) -> tuple[int, int, int]:
    """From the start on, how long both make the same transitions, none of them more than ``least_ps`` apart and each
    pair over before the next begins: so nothing differs for longer. And the first entries behind that on either side.
    """
    i, j = (int(t.times_ps.searchsorted(start_ps, "right")) for t in (good, on_good))
    settled = start_ps
    if not i or not j or good.levels[i - 1] != on_good.levels[j - 1]:
        return settled, i, j
    begin = i, j
    while settled < stop_ps:
        count = min(_PART, len(good.times_ps) - i, len(on_good.times_ps) - j)
        a, b = good.times_ps[i : i + count], on_good.times_ps[j : j + count]
        fine = np.abs(a - b) <= least_ps
        fine &= good.levels[i : i + count] == on_good.levels[j : j + count]
        late = np.maximum(a, b)
        fine[1:] &= np.minimum(a, b)[1:] > late[:-1]
        fine[:1] &= min(a[:1].min(initial=stop_ps), b[:1].min(initial=stop_ps)) > settled
        passed = count if fine.all() else int(fine.argmin())
        if passed:
            settled = int(late[passed - 1])
        i, j = i + passed, j + passed
        if passed < _PART:
            break

    def following() -> int:
        return min(int(t.times_ps[k]) if k < len(t.times_ps) else stop_ps for t, k in ((good, i), (on_good, j)))

    if following() <= settled and (i, j) != begin:
        # the last pair's difference touches what begins next: both are one span
        i, j = i - 1, j - 1
        settled = max(start_ps, int(good.times_ps[i - 1]), int(on_good.times_ps[j - 1]))
    return max(settled, min(following(), stop_ps, good.stop_ps, on_good.stop_ps)), i, j


def spans_where(times_ps: Int64, true: NDArray[np.bool_]) -> Int64:
    """Spans int64[N, 2] between neighbouring ``times_ps`` int64[M + 1] for which ``true`` bool[M] holds, joined.

    >>> spans_where(np.array([0, 5, 7, 9]), np.array([True, True, False])).tolist()
    [[0, 7]]
    """
    step = np.diff(np.concatenate(([0], true.view(np.uint8).astype(np.int8), [0])))
    return np.stack((times_ps[np.flatnonzero(step == 1)], times_ps[np.flatnonzero(step == -1)]), axis=1)


def covered(at_ps: Int64, spans: Int64) -> NDArray[np.bool_]:
    """Does each of the sorted instants lie in a span?"""
    if not len(spans):
        return np.zeros(len(at_ps), np.bool_)
    index = count_until(np.ascontiguousarray(spans[:, 0]), at_ps) - 1
    return np.asarray((index >= 0) & (at_ps < spans[np.maximum(index, 0), 1]))
