"""Where one signal of the suspect departs from the good one: in its states, its transitions, its timing.

A cycle diverges where both states are decided and differ, where a transition has no twin, or where its twin
lies outside the tolerance. The earliest such instant is the first divergence.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, DigitalTrace, Int64, UInt8, digital_trace, sorted_union
from tracecore.compare.findings import FirstDivergence, Skew, Ties
from tracecore.compare.lineup import Lineup, TimeMap
from tracecore.compare.transitions import Matching, match_transitions
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
    """One signal, compared. States are those of the matched cycles only: uint8[K], ``first_cycle`` onwards
    in the good capture's numbering."""

    good_states: UInt8
    suspect_states: UInt8
    first_cycle: int
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


def diverge(
    good: DigitalTrace,
    suspect: DigitalTrace,
    good_states: UInt8,
    suspect_states: UInt8,
    lineup: Lineup,
    limits: Limits,
) -> Divergence:
    """Compares one signal over the longest run of matched cycles.

    ``good_states`` and ``suspect_states`` are the whole captures' states a cycle, as ``cycle_states`` gives.
    """
    run = max(lineup.runs, key=lambda r: r.length)
    g = good_states[run.good_start : run.good_start + run.length]
    s = suspect_states[run.suspect_start : run.suspect_start + run.length]
    decided = (g != UNKNOWN) & (s != UNKNOWN)
    timemap = TimeMap(lineup)
    on_good = _on_good(suspect, timemap)
    edges = lineup.good_edges_ps[run.good_start : run.good_start + run.length + 1]
    window = int(edges[0]), int(edges[-1])
    spans = difference_spans(good, on_good, window, limits.tolerance_ps)
    # two boards may straddle the instant of reading by less than the tolerance: that is no difference
    differing = decided & (g != s) & _covered(edges[1:] - limits.good_period_ps, spans)
    good_ps, good_levels = _inside(good, window)
    suspect_ps, suspect_levels = _inside(on_good, window)
    matching = match_transitions(
        good_ps,
        good_levels,
        suspect_ps,
        suspect_levels,
        tolerance_ps=limits.tolerance_ps,
        furthest_ps=limits.furthest_ps,
        narrowest_ps=max(limits.good_period_ps, limits.suspect_period_ps),
    )
    matching = _settled_ends(matching, good_ps, suspect_ps, window, limits)
    ties = Ties(
        good_ps[matching.good],
        suspect_ps[matching.suspect],
        good_ps[matching.moved_good],
        suspect_ps[matching.moved_suspect],
        good_ps[matching.missing],
        suspect_ps[matching.extra],
    )
    instants = _instants(ties, edges, differing, g, s)
    cycles = sorted_union(edges.searchsorted(instants, "right") - 1, np.flatnonzero(differing))
    cycles = cycles[(cycles >= 0) & (cycles < run.length)] + run.good_start
    return Divergence(
        g,
        s,
        run.good_start,
        differing,
        _first(instants, run.good_start, edges, timemap),
        cycles,
        int((~decided).sum()),
        int(decided.sum()),
        matching,
        ties,
        _skew(ties, limits),
        ties.moved_suspect_on_good_ps - ties.moved_good_ps,
        spans,
        on_good,
    )


def _covered(at_ps: Int64, spans: Int64) -> NDArray[np.bool_]:
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


def _inside(trace: DigitalTrace, window: tuple[int, int]) -> tuple[Int64, UInt8]:
    """Known transitions from the first matched edge (closed) to the last (open), with the level each leads to."""
    known = known_transitions(trace)
    a, b = known.times_ps[1:].searchsorted(window, side="left").tolist()
    return known.times_ps[1 + a : 1 + b], known.levels[1 + a : 1 + b]


def _settled_ends(
    matching: Matching, good_ps: Int64, suspect_ps: Int64, window: tuple[int, int], limits: Limits
) -> Matching:
    """A transition without a twin within reach of either end of the matched cycles says nothing: its twin
    may lie just outside."""
    reach = limits.tolerance_ps + abs(matching.delay_ps)

    def keep(index: Int64, times: Int64) -> Int64:
        at = times[index]
        return index[(at >= window[0] + reach) & (at < window[1] - reach)]

    return Matching(
        matching.good,
        matching.suspect,
        matching.moved_good,
        matching.moved_suspect,
        keep(matching.missing, good_ps),
        keep(matching.extra, suspect_ps),
        matching.delay_ps,
    )


def _instants(ties: Ties, edges: Int64, differing: NDArray[np.bool_], g: UInt8, s: UInt8) -> Int64:
    """Good times at which something is wrong, sorted: transitions without a twin, moved ones at the earlier
    of both times, and the first cycle of every stretch of differing states that no transition announces."""
    moved = np.minimum(ties.moved_good_ps, ties.moved_suspect_on_good_ps)
    events = np.concatenate((ties.missing_ps, ties.extra_on_good_ps, moved))
    stretch = np.flatnonzero(differing & ~np.concatenate(([False], differing[:-1])))
    starts = edges[stretch]
    if len(events) and len(starts):
        # a state differs because of an event in its own cycle or before it: only unannounced ones count
        events.sort()
        before = edges[stretch + 1]
        announced = events.searchsorted(before, "right") > 0
        starts = starts[~announced]
    return np.sort(np.concatenate((events, starts)))


def _first(instants: Int64, first_cycle: int, edges: Int64, timemap: TimeMap) -> FirstDivergence | None:
    if not len(instants):
        return None
    at = instants[:1]
    cycle = max(0, int(edges.searchsorted(at, "right")[0]) - 1) + first_cycle
    return FirstDivergence(cycle, int(at[0]), int(timemap.to_suspect_ps(at)[0]))


def _skew(ties: Ties, limits: Limits) -> Skew | None:
    """Suspect minus good over all pairs, near and moved; None where nothing pairs."""
    late = np.concatenate((ties.suspect_on_good_ps - ties.good_ps, ties.moved_suspect_on_good_ps - ties.moved_good_ps))
    if not len(late):
        return None
    size = np.abs(late)
    at95 = int(np.partition(size, int(0.95 * (len(size) - 1)))[int(0.95 * (len(size) - 1))])
    return Skew(int(np.median(late)), at95, int(size.max()), limits.uncertainty_ps, len(late))


def difference_spans(good: DigitalTrace, on_good: DigitalTrace, window: tuple[int, int], least_ps: int) -> Int64:
    """Spans int64[N, 2] in which both levels are known and differ for longer than ``least_ps``; a span is
    [start, stop), spans are sorted and apart."""
    times = sorted_union(good.times_ps, on_good.times_ps)
    a, b = times.searchsorted(window).tolist()
    times = np.concatenate(([window[0]], times[a:b], [window[1]])).astype(np.int64)
    level_good, level_suspect = good.level_at(times[:-1]), on_good.level_at(times[:-1])
    differ = (level_good != level_suspect) & (level_good != UNKNOWN) & (level_suspect != UNKNOWN)
    step = np.diff(np.concatenate(([0], differ.view(np.uint8).astype(np.int8), [0])))
    spans = np.stack((times[np.flatnonzero(step == 1)], times[np.flatnonzero(step == -1)]), axis=1)
    return spans[spans[:, 1] - spans[:, 0] > least_ps]
