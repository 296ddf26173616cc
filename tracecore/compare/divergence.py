"""Where one signal of the suspect departs from the good one: in its states, its transitions, its timing.

A cycle diverges where both states are decided and differ, where a transition has no twin, or where its twin
lies outside the tolerance. The earliest such instant is the first divergence.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, DigitalTrace, Int64, UInt8, digital_trace, sorted_union
from tracecore.compare.findings import FirstDivergence, Skew, Ties
from tracecore.compare.transitions import Matching, match_transitions
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.runs import run_indices, runs_table, values_of_runs
from tracecore.lineup.time_map import TimeMap
from tracecore.measure.clock import known_transitions


@dataclass(frozen=True, slots=True)
class Limits:
    """What counts as the same time. ``guard_ps`` are one sample period of the good and of the suspect."""

    tolerance_ps: int
    furthest_ps: int
    good_period_ps: int
    suspect_period_ps: int

    @property
    def uncertainty_ps(self) -> int:
        """What one pair of transitions of two captures reads to: the sum of both sample periods."""
        return self.good_period_ps + self.suspect_period_ps


@dataclass(frozen=True, slots=True, eq=False)
class Divergence:
    """One signal, compared. States are those of the matched cycles only, uint8[K]; ``good_cycles`` int64[K] are
    their numbers in the good capture, increasing (without slips one row of numbers)."""

    good_states: UInt8
    suspect_states: UInt8
    good_cycles: Int64
    differing: NDArray[np.bool_]
    first: FirstDivergence | None
    cycles: Int64
    undecided: int
    compared: int
    matching: Matching
    ties: Ties
    skew: Skew | None
    moved_by_ps: Int64
    spans_on_good_ps: Int64
    suspect_on_good: DigitalTrace

    @property
    def first_cycle(self) -> int:
        """The first matched good cycle."""
        return int(self.good_cycles[0])

    def index_of(self, cycle: int) -> int:
        """Where a good cycle, or the next matched one, stands among the matched ones."""
        return int(self.good_cycles.searchsorted(cycle))


@dataclass(frozen=True, slots=True, eq=False)
class Matched:
    """The matched cycles of a line-up: ``cycles`` int64[K] are their good numbers; ``starts_ps`` and ``stops_ps``
    int64[K] where each begins and ends on the good axis; ``windows`` and ``suspect_windows`` int64[R, 2] the span of
    each run on either side's own axis; ``starts`` int64[R, 2] and ``lengths`` int64[R] the runs themselves."""

    cycles: Int64
    starts: Int64
    lengths: Int64
    starts_ps: Int64
    stops_ps: Int64
    windows: Int64
    suspect_windows: Int64
    timemap: TimeMap


def matched(lineup: Lineup) -> Matched:
    """What every signal needs of a line-up."""
    table = runs_table(lineup.runs)
    at, lengths = table[:, :2], table[:, 2]
    good, suspect = lineup.good_edges_ps, lineup.suspect_edges_ps
    return Matched(
        run_indices(at[:, :1], lengths)[0],
        at,
        lengths,
        values_of_runs(good, at[:, 0], lengths),
        values_of_runs(good, at[:, 0] + 1, lengths),
        np.stack((good[at[:, 0]], good[at[:, 0] + lengths]), axis=1),
        np.stack((suspect[at[:, 1]], suspect[at[:, 1] + lengths]), axis=1),
        TimeMap(lineup),
    )


def diverge(
    good: DigitalTrace,
    suspect: DigitalTrace,
    good_states: UInt8,
    suspect_states: UInt8,
    pairing: Matched,
    limits: Limits,
) -> Divergence:
    """Compares one signal over all matched cycles.

    ``good_states`` and ``suspect_states`` are the whole captures' states a cycle, as ``cycle_states`` gives.
    """
    g = values_of_runs(good_states, pairing.starts[:, 0], pairing.lengths)
    s = values_of_runs(suspect_states, pairing.starts[:, 1], pairing.lengths)
    decided = (g != UNKNOWN) & (s != UNKNOWN)
    on_good = _on_good(suspect, pairing.timemap)
    spans = difference_spans(good, on_good, pairing.windows, limits.tolerance_ps)
    # two boards may straddle the instant of reading by less than the tolerance: that is no difference
    differing = decided & (g != s) & covered(pairing.stops_ps - limits.good_period_ps, spans)
    good_ps, good_levels = _inside(good, pairing.windows)
    suspect_ps, suspect_levels = _inside(suspect, pairing.suspect_windows, pairing.timemap)
    matching = match_transitions(
        good_ps,
        good_levels,
        suspect_ps,
        suspect_levels,
        tolerance_ps=limits.tolerance_ps,
        furthest_ps=limits.furthest_ps,
        narrowest_ps=max(limits.good_period_ps, limits.suspect_period_ps),
    )
    matching = _settled_ends(matching, good_ps, suspect_ps, pairing, limits)
    ties = Ties(
        good_ps[matching.good],
        suspect_ps[matching.suspect],
        good_ps[matching.moved_good],
        suspect_ps[matching.moved_suspect],
        good_ps[matching.missing],
        suspect_ps[matching.extra],
    )
    instants = _instants(ties, pairing, differing)
    at = pairing.starts_ps.searchsorted(instants, "right") - 1
    index = sorted_union(at[(at >= 0) & (instants < pairing.stops_ps[at])], np.flatnonzero(differing))
    return Divergence(
        g,
        s,
        pairing.cycles,
        differing,
        _first(instants, pairing),
        pairing.cycles[index],
        int((~decided).sum()),
        int(decided.sum()),
        matching,
        ties,
        _skew(ties, limits),
        ties.moved_suspect_on_good_ps - ties.moved_good_ps,
        spans,
        on_good,
    )


def covered(at_ps: Int64, spans: Int64) -> NDArray[np.bool_]:
    """Does each of the sorted instants lie in a span?"""
    if not len(spans):
        return np.zeros(len(at_ps), np.bool_)
    index = spans[:, 0].searchsorted(at_ps, side="right") - 1
    return np.asarray((index >= 0) & (at_ps < spans[np.maximum(index, 0), 1]))


def _on_good(suspect: DigitalTrace, timemap: TimeMap) -> DigitalTrace:
    times = timemap.to_good_ps(np.append(suspect.times_ps, suspect.stop_ps))
    # two transitions squeezed onto one instant before a clock edge: the later level holds
    last = np.concatenate((times[1:-1] > times[:-2], [True])) if len(times) > 2 else np.array([True])
    kept, levels = times[:-1][last], suspect.levels[last]
    return digital_trace(kept, levels, max(int(times[-1]), int(kept[-1])))


def _inside(trace: DigitalTrace, windows: Int64, timemap: TimeMap | None = None) -> tuple[Int64, UInt8]:
    """Known transitions from the start (closed) to the stop (open) of each run, with the level each leads to; with
    ``timemap`` on the good axis."""
    known = known_transitions(trace)
    first, stop = (1 + known.times_ps[1:].searchsorted(windows, side="left")).T
    keep = run_indices(first[:, None], stop - first)[0]
    times, levels = known.times_ps[keep], known.levels[keep]
    if timemap is None:
        return times, levels
    run = np.repeat(np.arange(len(first)), stop - first)
    before = known.levels[keep - 1]
    times = timemap.to_good_ps(times)
    # two transitions squeezed onto one instant before a clock edge: the later level holds
    held = np.append((times[1:] > times[:-1]) | (run[1:] > run[:-1]), len(times) > 0)[: len(times)]
    kept = np.flatnonzero(held)
    # what it leads from is the level kept before it, or at the start of a run what stood there
    same_run = np.append(False, run[kept][1:] == run[kept][:-1])[: len(kept)]
    began = np.maximum.accumulate(np.where(np.append(True, run[1:] > run[:-1])[: len(run)], np.arange(len(run)), 0))
    previous = np.where(same_run, np.append(0, levels[kept][:-1])[: len(kept)], before[began[kept]])
    moves = kept[levels[kept] != previous]
    return times[moves], levels[moves]


def _settled_ends(matching: Matching, good_ps: Int64, suspect_ps: Int64, pairing: Matched, limits: Limits) -> Matching:
    """A transition without a twin within reach of either end of a run says nothing: its twin may lie just
    outside. Behind a slip that reach is the first cycle, which may undo what the slip did."""
    reach = limits.tolerance_ps + abs(matching.delay_ps)
    start, stop = pairing.windows[:, 0] + reach, pairing.windows[:, 1] - reach
    cycle = int(np.median(pairing.stops_ps - pairing.starts_ps))
    start[1:] = np.maximum(start[1:], pairing.windows[1:, 0] + cycle)

    def keep(index: Int64, times: Int64) -> Int64:
        at = times[index]
        run = np.maximum(pairing.windows[:, 0].searchsorted(at, "right") - 1, 0)
        return index[(at >= start[run]) & (at < stop[run])]

    return replace(matching, missing=keep(matching.missing, good_ps), extra=keep(matching.extra, suspect_ps))


def _instants(ties: Ties, pairing: Matched, differing: NDArray[np.bool_]) -> Int64:
    """Good times at which something is wrong, sorted: transitions without a twin, moved ones at the earlier
    of both times, and the first cycle of every stretch of differing states that no transition announces."""
    moved = np.minimum(ties.moved_good_ps, ties.moved_suspect_on_good_ps)
    events = np.concatenate((ties.missing_ps, ties.extra_on_good_ps, moved))
    stretch = np.flatnonzero(differing & ~np.concatenate(([False], differing[:-1])))
    starts = pairing.starts_ps[stretch]
    if len(events) and len(starts):
        # a state differs because of an event in its own cycle or before it: only unannounced ones count
        announced = pairing.stops_ps[stretch] > events.min()
        starts = starts[~announced]
    return np.sort(np.concatenate((events, starts)))


def _first(instants: Int64, pairing: Matched) -> FirstDivergence | None:
    if not len(instants):
        return None
    at = instants[:1]
    cycle = int(pairing.cycles[max(0, int(pairing.starts_ps.searchsorted(at, "right")[0]) - 1)])
    return FirstDivergence(cycle, int(at[0]), int(pairing.timemap.to_suspect_ps(at)[0]))


def _skew(ties: Ties, limits: Limits) -> Skew | None:
    """Suspect minus good over all pairs, near and moved; None where nothing pairs."""
    late = np.concatenate((ties.suspect_on_good_ps - ties.good_ps, ties.moved_suspect_on_good_ps - ties.moved_good_ps))
    if not len(late):
        return None
    size = np.abs(late)
    at95 = int(np.partition(size, int(0.95 * (len(size) - 1)))[int(0.95 * (len(size) - 1))])
    return Skew(int(np.median(late)), at95, int(size.max()), limits.uncertainty_ps, len(late))


def difference_spans(good: DigitalTrace, on_good: DigitalTrace, windows: Int64, least_ps: int) -> Int64:
    """Spans int64[N, 2] in which both levels are known and differ for longer than ``least_ps``; a span is
    [start, stop), spans are sorted and apart. Only what lies in ``windows`` int64[R, 2], sorted and apart, counts."""
    times = sorted_union(good.times_ps, on_good.times_ps, windows[:, 0], np.sort(windows[:, 1]))
    a, b = times.searchsorted((windows[0, 0], windows[-1, 1])).tolist()
    times = times[a : b + 1]
    level_good, level_suspect = good.level_at(times[:-1]), on_good.level_at(times[:-1])
    differ = (level_good != level_suspect) & (level_good != UNKNOWN) & (level_suspect != UNKNOWN)
    if len(windows) > 1:
        differ &= covered(times[:-1], windows)
    spans = spans_where(times, differ)
    return spans[spans[:, 1] - spans[:, 0] > least_ps]


def spans_where(times_ps: Int64, true: NDArray[np.bool_]) -> Int64:
    """Spans int64[N, 2] between neighbouring ``times_ps`` int64[M + 1] for which ``true`` bool[M] holds, joined.

    >>> spans_where(np.array([0, 5, 7, 9]), np.array([True, True, False])).tolist()
    [[0, 7]]
    """
    step = np.diff(np.concatenate(([0], true.view(np.uint8).astype(np.int8), [0])))
    return np.stack((times_ps[np.flatnonzero(step == 1)], times_ps[np.flatnonzero(step == -1)]), axis=1)
