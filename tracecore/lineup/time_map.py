"""Times of one side on the other's axis, by the cycles that are matched."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np

from tracecore.capture import Int64
from tracecore.lineup.averaged_edges import corrections_ps
from tracecore.lineup.runs import MatchedRun, run_indices, runs_table, values_of_runs
from tracecore.sorted_times import count_until

__all__ = ["LinedUp", "MatchedRun", "Pairing", "TimeMap", "run_indices"]

_PART = 1 << 15
_MANY = 8  # with more times in all than one in so many edges, all edges are averaged at once


class LinedUp(Protocol):
    """What of a line-up carries times: its runs, both sides' active edges, and over how many cycles either way each
    side's edges may be averaged."""

    @property
    def runs(self) -> Sequence[MatchedRun]: ...
    @property
    def good_edges_ps(self) -> Int64: ...
    @property
    def suspect_edges_ps(self) -> Int64: ...
    @property
    def widths(self) -> tuple[int, int]: ...


class Pairing(NamedTuple):
    """A ``LinedUp`` and nothing more."""

    runs: Sequence[MatchedRun]
    good_edges_ps: Int64
    suspect_edges_ps: Int64
    widths: tuple[int, int] = (0, 0)


class TimeMap:
    """Carries times of the suspect to the good time axis: time since the last matched active edge, kept as it is.

    Each edge is where the mean of the cycle times round it puts it, as far as the line-up's ``widths`` allow: an edge
    by itself is only known to one sample. Delays are never scaled with the clock's ratio: a gate is as slow on a slow
    clock. A time stays in its cycle: one that would pass the next matched good edge is held just before it, and one
    that would come before its own on that. So order is kept; what an inserted cycle shows is held there as a whole.
    """

    def __init__(self, lineup: LinedUp) -> None:
        self._lineup, runs = lineup, runs_table(lineup.runs)
        # the edge behind the last cycle of each run belongs to it
        self._starts, self._lengths = runs[:, :2], runs[:, 2] + 1
        self._good = values_of_runs(lineup.good_edges_ps, runs[:, 0], self._lengths)
        self._suspect = values_of_runs(lineup.suspect_edges_ps, runs[:, 1], self._lengths)
        self._averaged = any(lineup.widths) and len(runs) > 0
        self._all_later: Int64 | None = None
        self._asked = 0

    def to_good_ps(self, suspect_ps: Int64) -> Int64:
        """int64[N] suspect times, sorted, to int64[N] good times, never decreasing."""
        return self._carried(np.asarray(suspect_ps, np.int64), self._suspect, self._good, 1)

    def to_suspect_ps(self, good_ps: Int64) -> Int64:
        """int64[N] good times, sorted, to int64[N] suspect times, never decreasing."""
        return self._carried(np.asarray(good_ps, np.int64), self._good, self._suspect, -1)

    def _carried(self, times: Int64, own: Int64, other: Int64, sign: int) -> Int64:
        if not len(own):
            return times
        self._asked += len(times)
        if self._averaged and self._all_later is None and self._asked * _MANY > len(own):
            self._all_later = self._later_all()
        out = np.empty(len(times), np.int64)
        for start in range(0, len(times), _PART):
            part, found = times[start : start + _PART], out[start : start + _PART]
            index = count_until(own, part) - 1
            if index[0] < 0 or index[-1] >= len(own) - 1:
                found[:] = self._at_ends(part, index, own, other, sign)
                continue
            np.subtract(part, own[index], out=found)
            if self._averaged:
                found += sign * self._later(index)
                np.maximum(found, 0, out=found)
            found += other[index]
            index += 1
            np.minimum(found, other[index] - 1, out=found)
        return out

    def _at_ends(self, part: Int64, index: Int64, own: Int64, other: Int64, sign: int) -> Int64:
        """The same where some times lie before the first edge or behind the last."""
        index = np.clip(index, 0, len(own) - 1)
        since = part - own[index]
        if self._averaged:
            since = np.where(since >= 0, np.maximum(since + sign * self._later(index), 0), since)
        carried = other[index] + since
        following = np.minimum(index + 1, len(own) - 1)
        inside = (following > index) & (part >= own[0])
        return np.asarray(np.where(inside, np.minimum(carried, other[following] - 1), carried))

    def _later(self, index: Int64) -> Int64:
        """By how much the means move the good edge more than the suspect one: for these of the matched edges."""
        if self._all_later is not None:
            return np.asarray(self._all_later[index])
        before = np.cumsum(self._lengths) - self._lengths
        run = before.searchsorted(index, "right") - 1
        good, suspect = self._starts[run].T + (index - before[run])
        edges, widths = (self._lineup.good_edges_ps, self._lineup.suspect_edges_ps), self._lineup.widths
        moved = [corrections_ps(e, w, n) for e, w, n in zip(edges, widths, (good, suspect), strict=True)]
        return np.asarray(moved[0] - moved[1])

    def _later_all(self) -> Int64:
        lineup = self._lineup
        found = values_of_runs(
            corrections_ps(lineup.good_edges_ps, lineup.widths[0]), self._starts[:, 0], self._lengths
        )
        moved = corrections_ps(lineup.suspect_edges_ps, lineup.widths[1])
        found -= values_of_runs(moved, self._starts[:, 1], self._lengths)
        return found
