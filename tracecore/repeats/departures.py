"""Where one signal of a capture differs from the reference, cycle by cycle, and how far its transitions moved.

The reference is one known-good capture; every other capture of a series, good or suspect, is laid against it, so
that what varies among good ones and what a suspect shows can be told of the same cycles.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64
from tracecore.compare.divergence import Divergence

Bools = NDArray[np.bool_]
Int32 = NDArray[np.int32]


def _none() -> Int64:
    return np.empty(0, np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Departures:
    """One signal against the reference.

    ``cycles`` int64[N] are the reference's cycles that differ, strictly increasing, and ``instants_ps`` int64[N] the
    earliest wrong instant in each, on the reference's clock. ``only_moved`` bool[N] is True where nothing differs but
    the time of transitions; ``trails`` bool[N] where the state is right again and only the transition back from the
    wrong state of the cycle before shows.

    ``moved_cycles``, ``moved_ps`` and ``moved_by_ps`` int64[M] are the transitions that lie further off than the
    tolerance: the cycle that counts for it, the reference's time, and how much later the other comes. ``paired_ps``
    and ``paired_by_ps`` int64[P] are the same of all pairs, sorted by time.
    """

    cycles: Int64
    instants_ps: Int64
    only_moved: Bools
    trails: Bools
    moved_cycles: Int64
    moved_ps: Int64
    moved_by_ps: Int64
    paired_ps: Int64
    paired_by_ps: Int64

    def without_pairs(self) -> Departures:
        """The same without all its pairs, which are as many as the signal has transitions."""
        return replace(self, paired_ps=_none(), paired_by_ps=_none())

    def where(self, keep: Bools) -> Departures:
        """Only the cycles that ``keep`` bool[N] is True for; pairs stay as they are."""
        return replace(
            self,
            cycles=self.cycles[keep],
            instants_ps=self.instants_ps[keep],
            only_moved=self.only_moved[keep],
            trails=self.trails[keep],
        )


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What stays of a good capture's departures of one signal, so that it can be left out again: neither when in the
    cycle they were nor all pairs, and ``cycles`` int32[N]. The other fields are those of ``Departures``."""

    cycles: Int32
    only_moved: Bools
    trails: Bools
    moved_cycles: Int64
    moved_ps: Int64
    moved_by_ps: Int64

    @staticmethod
    def of(found: Departures) -> Kept:
        """These departures, to be kept."""
        # the edges of two thousand million cycles would take 16 GB by themselves: 32 bits count what memory holds
        return Kept(
            found.cycles.astype(np.int32),
            found.only_moved,
            found.trails,
            found.moved_cycles,
            found.moved_ps,
            found.moved_by_ps,
        )

    def departures(self) -> Departures:
        """The departures again, all of them at the reference's time 0 and without pairs."""
        cycles, none = self.cycles.astype(np.int64), _none()
        moved = self.moved_cycles, self.moved_ps, self.moved_by_ps
        return Departures(cycles, np.zeros_like(cycles), self.only_moved, self.trails, *moved, none, none)


def departures(
    found: Divergence, runs: Int64, edges_ps: Int64, level_cycles: Int64, level_instants_ps: Int64
) -> Departures:
    """What ``found`` says of each cycle, and besides it the levels that only the other capture breaks.

    ``runs`` int64[R, 2] are the matched reference cycles [first, stop), ``edges_ps`` int64[K + 1] the reference's
    active edges; ``level_cycles`` and ``level_instants_ps`` int64[L] are the violations' cycles and where they begin
    on the reference's clock.
    """
    unpaired = np.concatenate((found.ties.missing_ps, found.ties.extra_on_good_ps))
    good_ps, other_ps = found.ties.moved_good_ps, found.ties.moved_suspect_on_good_ps
    moved_at = np.minimum(good_ps, other_ps)
    moved_cycles = edges_ps.searchsorted(moved_at, "right") - 1
    events = np.concatenate((unpaired, moved_at, level_instants_ps))
    event_cycles = np.concatenate((edges_ps.searchsorted(unpaired, "right") - 1, moved_cycles, level_cycles))
    only_time = np.zeros(len(events), np.bool_)
    only_time[len(unpaired) : len(unpaired) + len(moved_at)] = True
    run = np.maximum(runs[:, 0].searchsorted(event_cycles, "right") - 1, 0)
    inside = (event_cycles >= runs[run, 0]) & (event_cycles < runs[run, 1])
    events, event_cycles, only_time = events[inside], event_cycles[inside], only_time[inside]

    state = found.good_cycles[found.differing]
    # a state that differs from the cycle before on is wrong from the edge; else from the event that made it so
    goes_on = np.isin(state - 1, state, assume_unique=True) | ~np.isin(state, event_cycles)
    starts = np.where(goes_on, edges_ps[state], np.iinfo(np.int64).max)
    at = np.concatenate((event_cycles, state))
    instants = np.concatenate((events, starts))
    timing = np.concatenate((only_time, np.zeros(len(state), np.bool_)))
    cycles, where = np.unique(at, return_inverse=True)
    earliest = np.full(len(cycles), np.iinfo(np.int64).max)
    np.minimum.at(earliest, where, instants)
    only_moved = np.ones(len(cycles), np.bool_)
    np.logical_and.at(only_moved, where, timing)

    trails = np.isin(cycles - 1, state) & ~np.isin(cycles, state)

    paired, by = found.ties.good_ps, found.ties.suspect_on_good_ps - found.ties.good_ps
    if len(good_ps):
        paired, by = np.concatenate((paired, good_ps)), np.concatenate((by, other_ps - good_ps))
        order = np.argsort(paired, kind="stable")
        paired, by = paired[order], by[order]
    return Departures(
        cycles.astype(np.int64),
        earliest,
        only_moved,
        trails,
        moved_cycles.astype(np.int64),
        good_ps,
        other_ps - good_ps,
        paired,
        by,
    )
