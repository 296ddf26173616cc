"""Where one signal of the suspect departs from the good one: in its states, its transitions, its timing.

A cycle diverges where both states are decided and differ, where a transition has no twin, or where its twin
lies outside the tolerance. The earliest such instant is the first divergence.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, DigitalTrace, Int64, UInt8, digital_trace, sorted_union
from tracecore.compare.difference_spans import covered, difference_spans
from tracecore.compare.findings import FirstDivergence, Skew, Ties
from tracecore.compare.pulse_draws import Beat, Sampled, beat, draws_of_their_own
from tracecore.compare.pulse_places import hazy_in_place, pulses, strange_pulses
from tracecore.compare.transitions import Matching, match_transitions
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.runs import run_indices, runs_table, values_of_runs
from tracecore.lineup.time_map import TimeMap
from tracecore.measure.clock import known_transitions

BOARD_ALLOWANCE_PS = 10_000
"""What two sound boards' parts may differ by. Common practice: a few gates' spread."""

_PART = 1 << 15  # so many stay in the cache from one step to the next

_NONE, _NOWHERE = np.empty(0, np.int64), np.empty((0, 2), np.int64)
_NOWHERE.flags.writeable = False


@dataclass(frozen=True, slots=True)
class Limits:
    """What counts as the same time; the periods are one sample period of either side. ``in_step`` says of the good and
    of the suspect side whether its sampling keeps step with its clock."""

    tolerance_ps: int
    furthest_ps: int
    good_period_ps: int
    suspect_period_ps: int
    in_step: tuple[bool, bool] = (False, False)

    @property
    def feigned_ps(self) -> int:
        """How far all transitions may seem shifted together by sampling that keeps step with a clock."""
        return self.in_step[0] * self.good_period_ps + self.in_step[1] * self.suspect_period_ps

    @property
    def uncertainty_ps(self) -> int:
        """What one pair of transitions of two captures reads to: the sum of both sample periods."""
        return self.good_period_ps + self.suspect_period_ps

    @property
    def narrowest_ps(self) -> int:
        """A pulse that reads no longer may have slipped between two samples of the other side: it reads up to one of
        its own periods longer than it is, and it may be shorter there by what two sound boards differ by."""
        return self.uncertainty_ps + BOARD_ALLOWANCE_PS - 1

    @property
    def reach_ps(self) -> int:
        """How far in the cycle a pulse may be from a transition of its signal to be part of it."""
        return self.tolerance_ps + BOARD_ALLOWANCE_PS


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
    doubtful_on_good_ps: Int64
    """Spans int64[N, 2] in which an unseen pulse may make the difference, so that nothing is told of them."""
    strange_pulses: tuple[Int64, Int64] = (_NOWHERE, _NOWHERE)
    """Short pulses of the good and of the suspect side where in the cycle the other side never moves: int64[N, 2], when
    each begins and ends on the good axis."""
    double_pulses: tuple[Int64, Int64] = (_NOWHERE, _NOWHERE)
    """The same of pulses that may be two short ones."""
    hazy_in_place: int = 0
    """How many of the pairs that may be early or late are where in the cycle either side moves so in other cycles."""
    draws: tuple[Int64, Int64] = (_NONE, _NONE)
    """Which of the short pulses of either side are draws of their own; a loop may make one of them many times."""

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
    each run on either side's own axis; ``starts`` int64[R, 2] and ``lengths`` int64[R] the runs themselves. ``nowhere``
    bool[K] is False throughout, one row for all signals that do not differ; ``numbers`` int64 counts from 0, one row
    for all whose transitions pair one to one."""

    cycles: Int64
    starts: Int64
    lengths: Int64
    starts_ps: Int64
    stops_ps: Int64
    windows: Int64
    suspect_windows: Int64
    timemap: TimeMap
    beats: tuple[Beat, Beat]
    nowhere: NDArray[np.bool_]
    numbers: Int64

    def suspect_cycles(self, at: Int64) -> Int64:
        """The suspect's numbers of some of the matched cycles, by where these stand among them."""
        begin = np.cumsum(self.lengths) - self.lengths
        run = begin.searchsorted(at, "right") - 1
        return np.asarray(self.starts[run, 1] + at - begin[run], np.int64)


def matched(lineup: Lineup, most: int = 0) -> Matched:
    """What every signal needs of a line-up; no signal has more than ``most`` transitions, as far as that is known."""
    table = runs_table(lineup.runs)
    at, lengths = table[:, :2], table[:, 2]
    nowhere = np.zeros(int(lengths.sum()), np.bool_)
    numbers = np.arange(most)
    nowhere.flags.writeable = numbers.flags.writeable = False
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
        (beat(good), beat(suspect)),
        nowhere,
        numbers,
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
    compared = int(np.count_nonzero(np.maximum(g, s) < UNKNOWN))
    carried = pairing.timemap.to_good_ps(suspect.times_ps)
    on_good = _on_good(suspect, carried, pairing.timemap)
    good_ps, good_levels = _inside(good, pairing.windows)
    suspect_ps, suspect_levels = _inside(suspect, pairing.suspect_windows, pairing.timemap, carried)
    matching = match_transitions(
        good_ps,
        good_levels,
        suspect_ps,
        suspect_levels,
        tolerance_ps=limits.tolerance_ps,
        furthest_ps=limits.furthest_ps,
        narrowest_ps=limits.narrowest_ps,
        periods_ps=(limits.good_period_ps, limits.suspect_period_ps),
        in_step=all(limits.in_step),
    )
    matching = _settled_ends(matching, good_ps, suspect_ps, pairing, limits)
    doubtful = _doubtful(matching, good_ps, suspect_ps)
    spans = difference_spans(good, on_good, pairing.windows, limits.tolerance_ps)
    spans = _less_doubtful(spans, doubtful)
    differing = pairing.nowhere
    if len(spans):
        # two boards may straddle the instant of reading by less than the tolerance: that is no difference
        differing = (g != UNKNOWN) & (s != UNKNOWN) & (g != s)
        at = np.flatnonzero(differing)
        differing[at] = covered(pairing.stops_ps[at] - limits.good_period_ps, spans)
    if len(matching.good) == len(good_ps) == len(suspect_ps) <= len(pairing.numbers):
        every = pairing.numbers[: len(good_ps)]
        matching = replace(matching, good=every, suspect=every)
    sides = (good_ps, good_levels), (suspect_ps, suspect_levels)
    ties = Ties(
        _taken(good_ps, matching.good),
        _taken(suspect_ps, matching.suspect),
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
        len(g) - compared,
        compared,
        matching,
        ties,
        _skew(ties, limits),
        ties.moved_suspect_on_good_ps - ties.moved_good_ps,
        spans,
        on_good,
        doubtful,
        strange_pulses(matching, (good_ps, suspect_ps), pairing.starts_ps, limits.reach_ps),
        (pulses(matching.double_pulses[0], good_ps), pulses(matching.double_pulses[1], suspect_ps)),
        hazy_in_place(matching, *sides, pairing.starts_ps, limits.tolerance_ps),
        _draws(matching, good_ps, suspect_ps, pairing, limits),
    )


def _doubtful(matching: Matching, good_ps: Int64, suspect_ps: Int64) -> Int64:
    """Where an unseen pulse may make the difference: int64[N, 2] on the good axis, by their begins."""
    a, b = good_ps[matching.hazy[0]], suspect_ps[matching.hazy[1]]
    windows = [np.stack((np.minimum(a, b), np.maximum(a, b)), axis=1)]
    for begins, own in zip(matching.double_pulses, (good_ps, suspect_ps), strict=True):
        windows.append(np.stack((own[begins], own[begins + 1]), axis=1))
    every = np.concatenate(windows)
    return np.asarray(every[np.argsort(every[:, 0])], np.int64)


def _less_doubtful(spans: Int64, doubtful: Int64) -> Int64:
    """Spans of difference int64[N, 2] less those that lie within doubtful ones."""
    if not len(spans) or not len(doubtful):
        return spans
    at = np.maximum(doubtful[:, 0].searchsorted(spans[:, 0], "right") - 1, 0)
    explained = (spans[:, 0] >= doubtful[at, 0]) & (spans[:, 1] <= doubtful[at, 1])
    return np.asarray(spans[~explained], np.int64)


def _draws(
    matching: Matching, good_ps: Int64, suspect_ps: Int64, pairing: Matched, limits: Limits
) -> tuple[Int64, Int64]:
    """Which short pulses of the good and of the suspect side are draws of their own."""
    found: list[Int64] = []
    periods = limits.good_period_ps, limits.suspect_period_ps
    for side, (begins, own) in enumerate(zip(matching.short_pulses, (good_ps, suspect_ps), strict=True)):
        if limits.in_step[1 - side]:
            # its samples are taken at one moment of all cycles, whatever the program does: `one_sided` knows of that
            found.append(np.arange(len(begins)))
            continue
        ends = pulses(begins, own)
        at = pairing.starts_ps.searchsorted(ends[:, 0], "right") - 1
        if side:
            ends = pairing.timemap.to_suspect_ps(ends.ravel()).reshape(-1, 2)
        seen = [
            Sampled(*each)
            for each in zip(pairing.beats, (pairing.cycles[at], pairing.suspect_cycles(at)), periods, strict=True)
        ]
        found.append(draws_of_their_own(ends, seen[side], seen[1 - side]))
    return found[0], found[1]


def _taken(values: Int64, index: Int64) -> Int64:
    """The values at ``index``, increasing; the row itself where it is all of them."""
    return values if len(index) == len(values) else values[index]


def _on_good(suspect: DigitalTrace, times: Int64, timemap: TimeMap) -> DigitalTrace:
    """The suspect on the good axis, where its entries are at ``times``."""
    stop = max(int(timemap.to_good_ps(np.array([suspect.stop_ps]))[0]), int(times[-1]))
    # two transitions squeezed onto one instant before a clock edge: the later level holds
    last = np.append(times[1:] > times[:-1], True)
    if last.all():
        return DigitalTrace(times, suspect.levels, stop)
    return digital_trace(times[last], suspect.levels[last], stop)


def _inside(
    trace: DigitalTrace, windows: Int64, timemap: TimeMap | None = None, carried: Int64 | None = None
) -> tuple[Int64, UInt8]:
    """Known transitions from the start (closed) to the stop (open) of each run, with the level each leads to; with
    ``timemap`` on the good axis, where ``carried`` are the entries of the trace."""
    known = known_transitions(trace)
    first, stop = (1 + known.times_ps[1:].searchsorted(windows, side="left")).T
    times = values_of_runs(known.times_ps, first, stop - first)
    levels = values_of_runs(known.levels, first, stop - first)
    if timemap is None:
        return times, levels
    if carried is not None and known is trace:
        times = values_of_runs(carried, first, stop - first)
    else:
        times = timemap.to_good_ps(times)
    if bool((times[1:] > times[:-1]).all()):
        return times, levels
    keep = run_indices(first[:, None], stop - first)[0]
    run = np.repeat(np.arange(len(first)), stop - first)
    before = known.levels[keep - 1]
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
    outside. Behind a slip that reach is the first cycle, which may undo what the slip did; so of two that pair across
    two runs, or both in such a cycle, neither is late."""
    if not len(matching.missing) and not len(matching.extra) and not len(matching.moved_good):
        return matching
    reach = limits.tolerance_ps + abs(matching.delay_ps)
    start, stop = pairing.windows[:, 0] + reach, pairing.windows[:, 1] - reach
    if len(start) > 1:
        cycle = int(np.median(pairing.stops_ps - pairing.starts_ps))
        start[1:] = np.maximum(start[1:], pairing.windows[1:, 0] + cycle)
        matching = _less_across(matching, good_ps, suspect_ps, pairing, start)

    def keep(index: Int64, times: Int64) -> Int64:
        at = times[index]
        run = _run_of(at, pairing)
        return index[(at >= start[run]) & (at < stop[run])]

    return replace(matching, missing=keep(matching.missing, good_ps), extra=keep(matching.extra, suspect_ps))


def _run_of(at_ps: Int64, pairing: Matched) -> Int64:
    """In which run each instant lies."""
    return np.maximum(pairing.windows[:, 0].searchsorted(at_ps, "right") - 1, 0)


def _less_across(matching: Matching, good_ps: Int64, suspect_ps: Int64, pairing: Matched, start: Int64) -> Matching:
    """Late or early pairs that lie in two runs, or both before ``start`` in theirs, are no pairs."""
    a, b = good_ps[matching.moved_good], suspect_ps[matching.moved_suspect]
    run_a, run_b = _run_of(a, pairing), _run_of(b, pairing)
    apart = (run_a != run_b) | ((a < start[run_a]) & (b < start[run_b]) & (run_a > 0))
    if not apart.any():
        return matching
    return replace(
        matching,
        moved_good=matching.moved_good[~apart],
        moved_suspect=matching.moved_suspect[~apart],
        missing=np.sort(np.append(matching.missing, matching.moved_good[apart])),
        extra=np.sort(np.append(matching.extra, matching.moved_suspect[apart])),
    )


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
    parts = [(ties.suspect_on_good_ps, ties.good_ps), (ties.moved_suspect_on_good_ps, ties.moved_good_ps)]
    count = sum(len(good) for _, good in parts)
    if not count:
        return None
    # a delay is rarely so long that it needs more than half the room
    narrow = limits.furthest_ps + limits.tolerance_ps < 1 << 31
    late: NDArray[np.signedinteger] = np.empty(count, np.int32 if narrow else np.int64)
    at = 0
    for suspect, good in parts:
        for start in range(0, len(good), _PART):
            own = suspect[start : start + _PART] - good[start : start + _PART]
            late[at : at + len(own)], at = own, at + len(own)
    least, most = int(late.min()), int(late.max())
    if least == most:
        return Skew(least, abs(least), abs(least), limits.uncertainty_ps, count)
    middle = int(np.median(late).item())
    np.abs(late, out=late)
    at95 = int(0.95 * (count - 1))
    late.partition(at95)
    return Skew(middle, int(late[at95]), max(-least, most), limits.uncertainty_ps, count)
