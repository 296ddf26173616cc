"""Transitions and volts as pixel columns: what each column must show so that nothing is lost.

A column holds the times from its left edge (closed) to its right edge (open). Edges are whole picoseconds, so that
no rounding moves a transition from one column to another. No index is built beyond the places of long pauses.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import HIGH, LOW, UNKNOWN, AnalogTrace, Float32, Int64, UInt8
from tracecore.pauses import Pauses

EDGE, BUSY, NO_DATA = 3, 4, 5
"""Further states of a column besides LOW, HIGH and UNKNOWN: one transition, several, outside the capture."""

__all__ = [
    "BUSY",
    "EDGE",
    "HIGH",
    "LOW",
    "NO_DATA",
    "UNKNOWN",
    "SpanColumns",
    "TraceColumns",
    "VoltColumns",
    "column_edges_ps",
    "volt_columns",
]

AT_ONCE = 100_000
"""Below so many transitions the pauses are looked for with the trace."""
FEW = 16
"""Up to this many transitions a column, each is put into its column; above it the pauses tell what is not busy."""

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

    __slots__ = ("_pauses", "_seen", "levels", "start_ps", "stop_ps", "transitions_ps")

    def __init__(self, times_ps: Int64, levels: UInt8, stop_ps: int) -> None:
        self.levels = levels
        self.start_ps = int(times_ps[0])
        self.stop_ps = int(stop_ps)
        # transition j leads from levels[j] to levels[j + 1]
        self.transitions_ps: Int64 = times_ps[1:]
        self._pauses: Pauses | None = None
        if len(self.transitions_ps) < AT_ONCE:
            self.make_ready()
        # a frame asks for the same stretch several times
        self._seen = ((0, 0), (0, 0))

    @property
    def is_ready(self) -> bool:
        """Are the pauses known? Without them a crowded view costs more, and shows the same."""
        return self._pauses is not None

    def make_ready(self) -> None:
        """Looks for the pauses: some ten milliseconds for ten million transitions."""
        # a column that is not busy holds one transition at most: it lies between two that are two apart
        self._pauses = Pauses(self.transitions_ps[:-2], self.transitions_ps[2:])

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
        else:
            places = self._pauses.within(int(np.diff(edges_ps).min()), a - 1, b) if self._pauses is not None else None
            if places is not None:
                out = self._crowded(places, a == 0, b == len(self.transitions_ps), edges_ps)
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

    def _crowded(self, places: Int64, begins: bool, ends: bool, edges_ps: Int64) -> UInt8:
        """All columns are busy but where a pause tells otherwise; does the trace begin, and end, in view?"""
        width, count = len(edges_ps) - 1, len(self.transitions_ps)
        if begins or ends:
            # before the first transition and behind the last one a pause has no end
            places = np.concatenate(([-1] * begins, places, [count - 2, count - 1] * ends)).astype(np.int64)
        around = places[:, None] + np.arange(3)
        before, at, after = _column_of(self.transitions_ps.take(around, mode="clip"), edges_ps).T
        before[places < 0] = -1
        after[places >= count - 2] = width
        at[places == count - 1] = width
        out = np.full(width, BUSY, np.uint8)
        # a pause that begins and ends in other columns leaves those between them still
        first, stop = np.maximum(before + 1, 0), np.minimum(at, width)
        long = np.maximum(stop - first, 0)
        last = np.cumsum(long)
        still = np.arange(last[-1] if len(last) else 0) + np.repeat(first - last + long, long)
        out[still] = np.repeat(self.levels.take(places + 1), long)
        lone = at[(before < at) & (at < after)]
        out[lone[(lone >= 0) & (lone < width)]] = EDGE
        return out


def _column_of(times_ps: Int64, edges_ps: Int64) -> Int64:
    """The column in which each time lies; below 0 and at least ``len(edges_ps) - 1`` outside all of them."""
    step = int(edges_ps[1] - edges_ps[0])
    if step * (len(edges_ps) - 1) == int(edges_ps[-1] - edges_ps[0]) and (np.diff(edges_ps) == step).all():
        return np.asarray((times_ps - edges_ps[0]) // step)
    return np.asarray(edges_ps.searchsorted(times_ps, side="right") - 1)


def _per_column(times_ps: Int64, edges_ps: Int64) -> NDArray[np.intp]:
    """How many of some sorted times lie in each column, all of them within the edges: intp[W]."""
    return np.bincount(_column_of(times_ps, edges_ps), minlength=len(edges_ps) - 1)


class SpanColumns:
    """Spans made ready for drawing: int64[N, 2] (closed, open), sorted and apart, which are not copied.

    >>> spans = SpanColumns(np.array([[3, 5], [20, 21]]))
    >>> spans.mask(np.array([0, 4, 8, 20, 24])).tolist()
    [True, True, False, True]
    """

    __slots__ = ("_pauses", "spans_ps")

    def __init__(self, spans_ps: Int64) -> None:
        self.spans_ps = spans_ps
        self._pauses: Pauses | None = None
        if len(spans_ps) < AT_ONCE:
            self.make_ready()

    @property
    def is_ready(self) -> bool:
        """Are the pauses between the spans known? Without them a crowded view costs more, and shows the same."""
        return self._pauses is not None

    def make_ready(self) -> None:
        """Looks for the pauses."""
        self._pauses = Pauses(self.spans_ps[:-1, 1], self.spans_ps[1:, 0])

    def mask(self, edges_ps: Int64) -> Bool:
        """Which columns a span touches: int64[W+1] increasing to bool[W]. Exact."""
        starts, stops = self.spans_ps[:, 0], self.spans_ps[:, 1]
        a = int(stops.searchsorted(edges_ps[0], side="right"))
        b = int(starts.searchsorted(edges_ps[-1]))
        width = len(edges_ps) - 1
        if b <= a:
            return np.zeros(width, bool)
        if b - a < width:
            # one more where a span begins, one less behind the column in which it ends
            first = np.maximum(_column_of(starts[a:b], edges_ps), 0)
            behind = np.minimum(_column_of(stops[a:b] - 1, edges_ps) + 1, width)
            change = np.bincount(first, minlength=width + 1) - np.bincount(behind, minlength=width + 1)
            return np.asarray(np.cumsum(change[:-1]) > 0)
        places = self._pauses.within(int(np.diff(edges_ps).min()), a, b - 1) if self._pauses is not None else None
        if places is None:
            # touched where more spans have begun before the column's end than have ended by its start
            begun, ended = starts[a:b].searchsorted(edges_ps[1:]), stops[a:b].searchsorted(edges_ps[:-1], side="right")
            return np.asarray(begun > ended)
        # untouched are the columns before the first span, in a pause between two, and behind the last one
        first, last = _column_of(np.array([starts[a], stops[b - 1] - 1]), edges_ps).tolist()
        before = np.concatenate(([-1], _column_of(stops[places] - 1, edges_ps), [last]))
        behind = np.concatenate(([first], _column_of(starts[places + 1], edges_ps), [width]))
        wide = behind - before > 1
        change = np.bincount(before[wide] + 1, minlength=width + 1) - np.bincount(behind[wide], minlength=width + 1)
        return np.asarray(np.cumsum(change[:-1]) == 0)


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
