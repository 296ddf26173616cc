"""Transitions and volts as pixel columns: what each column must show so that nothing is lost.

A column holds the times from its left edge (closed) to its right edge (open). Edges are whole picoseconds, so that
no rounding moves a transition from one column to another. No index is built beyond every 16th time and coarser ones.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import HIGH, LOW, UNKNOWN, AnalogTrace, Float32, Int64, UInt8

EDGE, BUSY, NO_DATA = 3, 4, 5
"""Further states of a column besides LOW, HIGH and UNKNOWN: one transition, several, outside the capture."""

__all__ = [
    "BUSY",
    "EDGE",
    "HIGH",
    "LOW",
    "NO_DATA",
    "UNKNOWN",
    "TraceColumns",
    "VoltColumns",
    "column_edges_ps",
    "span_mask",
    "volt_columns",
]

STRIDE, COARSER, LEVELS = 16, 4, 6
"""The finest sub-sample has every 16th transition, each coarser one every fourth of the one before: together a twelfth
of the memory of the transitions."""
AT_ONCE = 100_000
"""Below so many transitions the sub-samples are taken with the trace."""
SOME = 4
"""So many of a sub-sample are wanted in each column."""
FEW = 16
"""Up to this many transitions a column, each is put into its column; above it the sub-sample decides first."""

Bool = NDArray[np.bool_]


def column_edges_ps(t0_ps: int, ps_per_px: int, width: int) -> Int64:
    """The ``width`` + 1 edges of a view: int64[W+1].

    >>> column_edges_ps(100, 10, 3).tolist()
    [100, 110, 120, 130]
    """
    return np.asarray(np.arange(width + 1, dtype=np.int64) * np.int64(ps_per_px) + np.int64(t0_ps))


class TraceColumns:
    """One trace made ready for drawing; arrays as in ``DigitalTrace``, which are not copied.

    >>> trace = TraceColumns(np.array([0, 10, 12]), np.array([0, 1, 0], np.uint8), 20)
    >>> trace.states(np.array([-5, 0, 5, 11, 15, 20, 25])).tolist()
    [5, 0, 3, 3, 0, 5]
    """

    __slots__ = ("_seen", "_subs", "levels", "start_ps", "stop_ps", "transitions_ps")

    def __init__(self, times_ps: Int64, levels: UInt8, stop_ps: int) -> None:
        self.levels = levels
        self.start_ps = int(times_ps[0])
        self.stop_ps = int(stop_ps)
        # transition j leads from levels[j] to levels[j + 1]
        self.transitions_ps: Int64 = times_ps[1:]
        self._subs: tuple[Int64, ...] = ()
        if len(self.transitions_ps) < AT_ONCE:
            self.make_ready()
        # a frame asks for the same stretch several times
        self._seen = ((0, 0), (0, 0))

    @property
    def is_ready(self) -> bool:
        """Are the sub-samples there? Without them a crowded view costs more, and shows the same."""
        return bool(self._subs)

    def make_ready(self) -> None:
        """Takes the sub-samples: some milliseconds for ten million transitions."""
        strides = [STRIDE * COARSER**level for level in range(LEVELS)]
        self._subs = tuple(self.transitions_ps[::stride].copy() for stride in strides)

    def visible(self, start_ps: int, stop_ps: int) -> tuple[int, int]:
        """First (closed) and last (open) index of the transitions from ``start_ps`` (closed) to ``stop_ps`` (open)."""
        asked, found = self._seen
        if asked != (start_ps, stop_ps):
            a, b = self.transitions_ps.searchsorted(np.array((start_ps, stop_ps), np.int64)).tolist()
            found = (a, b)
            self._seen = ((start_ps, stop_ps), found)
        return found

    def states(self, edges_ps: Int64) -> UInt8:
        """State of each column: int64[W+1] increasing to uint8[W]. Exact, in O(W log n).

        EDGE is one transition in the column, BUSY more. NO_DATA is a column that ends before the first entry or
        begins at or after ``stop_ps``; one that the capture fills in part shows what is there.
        """
        width = len(edges_ps) - 1
        a, b = self.visible(int(edges_ps[0]), int(edges_ps[-1]))
        if a == b:
            out = np.full(width, self.levels[a], np.uint8)
        elif b - a < FEW * width:
            counts = _per_column(self.transitions_ps[a:b], edges_ps)
            out = self._settled(a + np.cumsum(counts) - counts, counts)
        elif self.is_ready:
            out = self._crowded(a, b, edges_ps)
        else:
            index = self.transitions_ps.searchsorted(edges_ps)
            out = self._settled(index[:-1], np.diff(index))
        if int(edges_ps[0]) < self.start_ps or int(edges_ps[-1]) > self.stop_ps:
            out[(edges_ps[1:] <= self.start_ps) | (edges_ps[:-1] >= self.stop_ps)] = NO_DATA
        return out

    def _settled(self, first: NDArray[np.intp], count: NDArray[np.intp]) -> UInt8:
        """States of columns whose first transition and their number are known."""
        out = self.levels.take(first)
        out[count == 1] = EDGE
        out[count > 1] = BUSY
        return out

    def _crowded(self, a: int, b: int, edges_ps: Int64) -> UInt8:
        """The sub-sample finds the columns that are busy for certain; only the others are searched."""
        width = len(edges_ps) - 1
        # the coarsest that still has some of its own in a column, so that little memory is read
        level, stride = 0, STRIDE
        while level + 1 < LEVELS and b - a >= SOME * width * stride * COARSER:
            level, stride = level + 1, stride * COARSER
        before = -(-a // stride) + self._subs[level][-(-a // stride) : (b - 1) // stride + 1].searchsorted(edges_ps)
        open_ = np.diff(before) < 2
        out = np.full(width, BUSY, np.uint8)
        columns = np.flatnonzero(open_)
        if len(columns):
            # neighbouring columns share an edge: search each edge once
            wanted = np.zeros(width + 1, bool)
            wanted[:-1] = open_
            wanted[1:] |= open_
            times = edges_ps[wanted]
            if level:
                first = a // STRIDE
                fine = first + self._subs[0][first : (b - 1) // STRIDE + 1].searchsorted(times)
            else:
                fine = before[wanted]
            index = np.zeros(width + 1, np.intp)
            index[wanted] = self._index(times, fine)
            out[columns] = self._settled(index[columns], index[columns + 1] - index[columns])
        return out

    def _index(self, times_ps: Int64, fine: NDArray[np.intp]) -> NDArray[np.intp]:
        """Number of transitions before each time, of which ``fine`` of the finest sub-sample lie before it. They leave
        a stretch of ``STRIDE``, which is halved for all times at once: so the memory is asked for all of them together,
        and not for one after the other."""
        last = len(self.transitions_ps) - 1
        found = np.maximum(fine - 1, 0) * STRIDE
        step = STRIDE // 2
        while step:
            further = np.minimum(found + step, last)
            found = np.where(self.transitions_ps.take(further - 1) < times_ps, further, found)
            step //= 2
        return found + (self.transitions_ps.take(found) < times_ps)


def _per_column(times_ps: Int64, edges_ps: Int64) -> NDArray[np.intp]:
    """How many of some sorted times lie in each column, all of them within the edges: intp[W]."""
    step = int(edges_ps[1] - edges_ps[0])
    if step * (len(edges_ps) - 1) == int(edges_ps[-1] - edges_ps[0]) and (np.diff(edges_ps) == step).all():
        column = (times_ps - edges_ps[0]) // step
    else:
        column = edges_ps.searchsorted(times_ps, side="right") - 1
    return np.bincount(column, minlength=len(edges_ps) - 1)


def span_mask(spans_ps: Int64, edges_ps: Int64) -> Bool:
    """Which columns a span touches: spans int64[N, 2] (closed, open), sorted and apart; edges int64[W+1]; bool[W].

    >>> span_mask(np.array([[3, 5], [20, 21]]), np.array([0, 4, 8, 20, 24])).tolist()
    [True, True, False, True]
    """
    if not len(spans_ps):
        return np.zeros(len(edges_ps) - 1, bool)
    starts, stops = spans_ps[:, 0], spans_ps[:, 1]
    a = int(stops.searchsorted(edges_ps[0], side="right"))
    b = int(starts.searchsorted(edges_ps[-1]))
    width = len(edges_ps) - 1
    if b <= a:
        return np.zeros(width, bool)
    starts, stops = starts[a:b], stops[a:b]
    if b - a < width:
        # one more where a span begins, one less behind the column in which it ends
        first = np.maximum(edges_ps.searchsorted(starts, side="right") - 1, 0)
        behind = np.minimum(edges_ps.searchsorted(stops), width)
        change = np.bincount(first, minlength=width + 1) - np.bincount(behind, minlength=width + 1)
        return np.asarray(np.cumsum(change[:-1]) > 0)
    # touched where more spans have begun before the column's end than have ended by its start
    return np.asarray(starts.searchsorted(edges_ps[1:]) > stops.searchsorted(edges_ps[:-1], side="right"))


BLOCK = 256


def _blocks(volts: Float32) -> tuple[Float32, Float32]:
    """Lowest and highest of each block of 256 samples, the last one perhaps shorter."""
    whole = len(volts) // BLOCK * BLOCK
    table = volts[:whole].reshape(-1, BLOCK)
    low, high = table.min(1), table.max(1)
    if whole < len(volts):
        low, high = np.append(low, volts[whole:].min()), np.append(high, volts[whole:].max())
    return low, high


def volt_columns(
    volts: Float32, index_edges: Int64, blocks: tuple[Float32, Float32] | None = None
) -> tuple[Float32, Float32]:
    """Lowest and highest volts of each column, exact: float32[N], int64[W+1] not decreasing within 0 to N.

    Column i holds the samples from ``index_edges[i]`` (closed) to ``index_edges[i + 1]`` (open); one without samples
    gives NaN. ``blocks`` are the extremes of each 256 samples, made here where they are not given.

    >>> low, high = volt_columns(np.array([1, 5, 2, 4], np.float32), np.array([0, 2, 2, 4]))
    >>> low.tolist(), high.tolist()
    ([1.0, nan, 2.0], [5.0, nan, 4.0])
    """
    edges = np.clip(np.asarray(index_edges, np.int64), 0, len(volts))
    if int(np.diff(edges).min(initial=0)) < BLOCK:
        return _extremes(volts, edges, np.minimum), _extremes(volts, edges, np.maximum)
    low, high = blocks if blocks is not None else _blocks(volts)
    return _by_blocks(volts, edges, low, np.minimum, np.inf), _by_blocks(volts, edges, high, np.maximum, -np.inf)


def _extremes(volts: Float32, edges: Int64, extreme: np.ufunc) -> Float32:
    """Extremes of each column straight from the samples."""
    out = np.full(len(edges) - 1, np.nan, np.float32)
    filled = edges[1:] > edges[:-1]
    if filled.any():
        starts = edges[:-1][filled]
        out[filled] = extreme.reduceat(volts[: int(edges[-1])], starts)
    return out


def _by_blocks(volts: Float32, edges: Int64, blocks: Float32, extreme: np.ufunc, never: float) -> Float32:
    """Each column as whole blocks, and the parts of a block left and right of its edges."""
    cut = np.minimum(edges // BLOCK, len(blocks) - 1)
    places = cut[:, None] * BLOCK + np.arange(BLOCK)
    around = volts.take(places, mode="clip")
    inside = places < len(volts)
    before = np.where(inside & (places < edges[:, None]), around, np.float32(never))
    after = np.where(inside & (places >= edges[:, None]), around, np.float32(never))
    left, right = extreme.reduce(before, axis=1), extreme.reduce(after, axis=1)
    out = np.asarray(extreme(right[:-1], left[1:]), np.float32)
    first, stop = cut[:-1] + 1, cut[1:]
    whole = stop > first
    if whole.any():
        pairs = np.stack((first[whole], stop[whole]), axis=1).ravel()
        out[whole] = extreme(out[whole], extreme.reduceat(blocks, pairs)[::2])
    return out


class VoltColumns:
    """One trace in volts made ready for drawing; 1/128 more memory, the samples are not copied."""

    __slots__ = ("_blocks", "trace")

    def __init__(self, trace: AnalogTrace) -> None:
        self.trace = trace
        self._blocks = _blocks(trace.volts)

    def index_edges(self, edges_ps: Int64) -> Int64:
        """Index of the first sample at or after each edge, from 0 to N: int64[W+1], exact."""
        period = Fraction(self.trace.interval_ps)
        # sample i lies at floor(i * period + 1/2) after the start, hence the half
        start, double, half = self.trace.start_ps, 2 * period.numerator, period.denominator
        wanted = [-(-(2 * (edge - start) - 1) * half // double) for edge in edges_ps.tolist()]
        count = len(self.trace.volts)
        return np.array([min(max(i, 0), count) for i in wanted], np.int64)

    def extremes(self, edges_ps: Int64) -> tuple[Float32, Float32]:
        """Lowest and highest volts in each column: int64[W+1] to two float32[W], NaN where no sample lies."""
        return volt_columns(self.trace.volts, self.index_edges(edges_ps), self._blocks)
