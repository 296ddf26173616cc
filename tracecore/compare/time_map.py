"""Times of one side on the other's axis, by the cycles that are matched."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from tracecore.capture import Int64


@dataclass(frozen=True, slots=True)
class MatchedRun:
    """``length`` cycles that pair one to one from good cycle ``good_start`` and suspect cycle ``suspect_start`` on."""

    good_start: int
    suspect_start: int
    length: int


class LinedUp(Protocol):
    """What of a line-up carries times: its runs and both sides' active edges."""

    @property
    def runs(self) -> tuple[MatchedRun, ...]: ...
    @property
    def good_edges_ps(self) -> Int64: ...
    @property
    def suspect_edges_ps(self) -> Int64: ...


class TimeMap:
    """Carries times of the suspect to the good time axis: time since the last matched active edge, kept as it is.

    Delays are never scaled with the clock's ratio: a gate is as slow on a slow clock. A time that would pass
    the next matched good edge is held just before it, so that order is kept across the edge; what an inserted
    cycle shows is held there as a whole.
    """

    def __init__(self, lineup: LinedUp) -> None:
        starts = [np.array([r.good_start, r.suspect_start]) for r in lineup.runs]
        at = run_indices(np.array(starts, np.int64).reshape(-1, 2), [r.length + 1 for r in lineup.runs])
        self._good: Int64 = lineup.good_edges_ps[at[0]]
        self._suspect: Int64 = lineup.suspect_edges_ps[at[1]]

    def to_good_ps(self, suspect_ps: Int64) -> Int64:
        """int64[N] suspect times, sorted, to int64[N] good times, never decreasing."""
        return _carried(np.asarray(suspect_ps, np.int64), self._suspect, self._good)

    def to_suspect_ps(self, good_ps: Int64) -> Int64:
        """int64[N] good times, sorted, to int64[N] suspect times, never decreasing."""
        return _carried(np.asarray(good_ps, np.int64), self._good, self._suspect)


def _carried(times: Int64, own: Int64, other: Int64) -> Int64:
    if not len(own):
        return times
    index = np.clip(own.searchsorted(times, side="right") - 1, 0, len(own) - 1)
    carried = other[index] + (times - own[index])
    following = np.minimum(index + 1, len(own) - 1)
    inside = (following > index) & (times >= own[0])
    return np.asarray(np.where(inside, np.minimum(carried, other[following] - 1), carried))


def run_indices(starts: Int64, lengths: Sequence[int]) -> Int64:
    """Numbers of each run in a row, from each of its starts: int64[len(starts[0]), sum(lengths)].

    >>> run_indices(np.array([[0, 2], [5, 9]]), [2, 3]).tolist()
    [[0, 1, 5, 6, 7], [2, 3, 9, 10, 11]]
    """
    count = np.asarray(lengths, np.int64)
    within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return np.asarray(np.repeat(starts.T, count, axis=1) + within, np.int64)
