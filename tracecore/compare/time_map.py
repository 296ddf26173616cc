"""Times of one side on the other's axis, by the cycles that are matched."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple, Protocol

import numpy as np

from tracecore.capture import Int64
from tracecore.compare.averaged_edges import corrections_ps
from tracecore.compare.runs import MatchedRun, run_indices, runs_table, values_of_runs

__all__ = ["LinedUp", "MatchedRun", "Pairing", "TimeMap", "run_indices"]

_PART = 1 << 18


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
        runs = runs_table(lineup.runs)
        # the edge behind the last cycle of each run belongs to it
        good, suspect, lengths = runs[:, 0], runs[:, 1], runs[:, 2] + 1
        self._good = values_of_runs(lineup.good_edges_ps, good, lengths)
        self._suspect = values_of_runs(lineup.suspect_edges_ps, suspect, lengths)
        self._later: Int64 | None = None
        if any(lineup.widths) and len(runs):
            self._later = values_of_runs(corrections_ps(lineup.good_edges_ps, lineup.widths[0]), good, lengths)
            moved = corrections_ps(lineup.suspect_edges_ps, lineup.widths[1])
            self._later -= values_of_runs(moved, suspect, lengths)

    def to_good_ps(self, suspect_ps: Int64) -> Int64:
        """int64[N] suspect times, sorted, to int64[N] good times, never decreasing."""
        return _carried(np.asarray(suspect_ps, np.int64), self._suspect, self._good, self._later, 1)

    def to_suspect_ps(self, good_ps: Int64) -> Int64:
        """int64[N] good times, sorted, to int64[N] suspect times, never decreasing."""
        return _carried(np.asarray(good_ps, np.int64), self._good, self._suspect, self._later, -1)


def _carried(times: Int64, own: Int64, other: Int64, later: Int64 | None, sign: int) -> Int64:
    if not len(own):
        return times
    out = np.empty(len(times), np.int64)
    for start in range(0, len(times), _PART):
        out[start : start + _PART] = _carried_part(times[start : start + _PART], own, other, later, sign)
    return out


def _carried_part(times: Int64, own: Int64, other: Int64, later: Int64 | None, sign: int) -> Int64:
    index = np.clip(own.searchsorted(times, side="right") - 1, 0, len(own) - 1)
    since = times - own[index]
    if later is not None:
        since = np.where(since >= 0, np.maximum(since + sign * later[index], 0), since)
    carried = other[index] + since
    following = np.minimum(index + 1, len(own) - 1)
    inside = (following > index) & (times >= own[0])
    return np.asarray(np.where(inside, np.minimum(carried, other[following] - 1), carried))
