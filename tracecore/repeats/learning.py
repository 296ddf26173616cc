"""Compared pairs in, learnt tolerance out: known-good boards teach, and a suspect's pair loses what varies among them.

The reference is the first known-good board. Every other board, good or suspect, is compared with it, so that all of
them speak of the same cycles.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64, sorted_union
from tracecore.compare.capture_signals import CaptureSignals
from tracecore.compare.difference_spans import covered, spans_where
from tracecore.compare.divergence import BOARD_ALLOWANCE_PS, Divergence
from tracecore.compare.findings import FirstDivergence, Ties
from tracecore.compare.pair import LinedUp, PairFindings
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.time_map import TimeMap
from tracecore.measure.clock import known_transitions
from tracecore.measure.cycle_count import counting_signals
from tracecore.repeats.departures import Departures, departures
from tracecore.repeats.learned_variation import LearnedVariation, ToleranceLearner


def learner_for(reference: CaptureSignals, clock: str, edges_ps: Int64) -> ToleranceLearner:
    """A learner that knows the reference; ``edges_ps`` int64[K + 1] are the edges that count its cycles."""
    counting = counting_signals(clock, reference.traces) or ()
    signals = tuple(s for s in reference.traces if s not in counting)
    states = dict(zip(signals, reference.states(signals, edges_ps, keep=True), strict=True))
    known = {s: known_transitions(reference.traces[s]) for s in signals}
    transitions = {s: (t.times_ps[1:], t.levels[1:]) for s, t in known.items()}
    return ToleranceLearner(reference.capture.name, states, transitions, reference.capture.resolution_ps)


def teach(learner: ToleranceLearner | None, lined: LinedUp, name: str) -> dict[str, float]:
    """Adds a good board that is lined up with the reference, one signal at a time; the signals that it differs on, with
    ``share_wrong`` of each.

    Without a learner only these are found. One that may lie a pass off must not be added: laid against the wrong pass
    it would make everything look as if it varied.
    """
    if learner is not None:
        learner.begin(name, covered_runs(lined.lineup), lined.limits.tolerance_ps)
    wrong: dict[str, float] = {}
    for one in lined.one_by_one():
        wrong.update((signal, share_wrong(one, signal)) for signal in one.all_wrong)
        if learner is not None:
            for signal, departs in departed(one):
                learner.learn(signal, departs)
    return wrong


def share_wrong(pair: PairFindings, signal: str) -> float:
    """In which share of the matched cycles a signal differs, those that were let off included."""
    found = pair.found[signal]
    cycles = len(found.cycles) + len(pair.let_off.get(signal, ()))
    cycles = max(cycles, len(pair.fresh(signal)), len(pair.missed_cycles(signal)))
    return cycles / max(1, len(found.good_cycles))


def covered_runs(lineup: Lineup) -> Int64:
    """The cycles of the reference that are matched, as int64[R, 2] of [first, stop)."""
    return np.array([(r.good_start, r.good_start + r.length) for r in lineup.runs], np.int64).reshape(-1, 2)


def departed(pair: PairFindings) -> Iterator[tuple[str, Departures]]:
    """Where each signal of a pair departs from the reference, by the cycles of the latter."""
    runs = covered_runs(pair.lineup)
    for signal, divergence in pair.found.items():
        if not divergence.compared and not len(divergence.ties.good_ps):
            # unknown throughout, as of a lead that fell off: it neither agrees nor differs
            continue
        fresh = pair.fresh(signal)
        cycles = np.array([v.cycle for v in fresh], np.int64)
        starts = TimeMap(pair.lineup).to_good_ps(np.array([v.start_ps for v in fresh], np.int64))
        yield signal, departures(divergence, runs, pair.lineup.good_edges_ps, cycles, starts)


def less_what_varies(
    pair: PairFindings, tolerance: LearnedVariation, reported: dict[str, Departures] | None = None
) -> PairFindings:
    """The pair without what good boards do too; it keeps for each signal the cycles that were let off, and how far its
    transitions stray on the average. What is left of each signal is entered in ``reported``."""
    if not pair.lineup:
        return pair
    less, shifts = replace(pair, found=dict(pair.found), let_off={}, noisy=tolerance.noisy), {}
    for signal, departs in departed(pair):
        rest = tolerance.reported(signal, departs, pair.limits.tolerance_ps)
        less = without(less, signal, departs, rest)
        leeway = tolerance.signals.get(signal)
        if leeway is not None and leeway.envelope is not None:
            pairs = departs.paired_ps, departs.paired_by_ps
            shifts[signal] = leeway.envelope.shifts(*pairs, BOARD_ALLOWANCE_PS, pair.limits.feigned_ps)
        if reported is not None:
            reported[signal] = rest.without_pairs()
    return replace(less, shifts=shifts)


def without(pair: PairFindings, signal: str, departs: Departures, reported: Departures) -> PairFindings:
    """The pair less those departures of one signal that are not ``reported``."""
    if len(reported.cycles) == len(departs.cycles):
        return pair
    off = np.setdiff1d(departs.cycles, reported.cycles, assume_unique=True)
    found = _less(pair.found[signal], off, reported, pair.lineup)
    return replace(pair, found={**pair.found, signal: found}, let_off={**pair.let_off, signal: off})


def _less(found: Divergence, let_off: Int64, reported: Departures, lineup: Lineup) -> Divergence:
    """One signal without the cycles that are let off."""
    edges = lineup.good_edges_ps

    def kept(times_ps: Int64) -> NDArray[np.bool_]:
        return ~np.isin(edges.searchsorted(times_ps, "right") - 1, let_off)

    ties, matching = found.ties, found.matching
    missing, extra = kept(ties.missing_ps), kept(ties.extra_on_good_ps)
    moved = kept(np.minimum(ties.moved_good_ps, ties.moved_suspect_on_good_ps))
    good_ps = np.concatenate((ties.good_ps, ties.moved_good_ps[~moved]))
    suspect_ps = np.concatenate((ties.suspect_on_good_ps, ties.moved_suspect_on_good_ps[~moved]))
    order = np.argsort(good_ps, kind="stable")
    cycles = np.setdiff1d(found.cycles, let_off, assume_unique=True)
    differing = found.differing.copy()
    differing[found.good_cycles.searchsorted(let_off)] = False
    return replace(
        found,
        differing=differing,
        first=_first(cycles, reported, lineup),
        cycles=cycles,
        matching=replace(matching, missing=matching.missing[missing], extra=matching.extra[extra]),
        ties=Ties(
            good_ps[order],
            suspect_ps[order],
            ties.moved_good_ps[moved],
            ties.moved_suspect_on_good_ps[moved],
            ties.missing_ps[missing],
            ties.extra_on_good_ps[extra],
        ),
        moved_by_ps=found.moved_by_ps[moved],
        spans_on_good_ps=_outside(found.spans_on_good_ps, edges, let_off, cycles),
    )


def _first(cycles: Int64, reported: Departures, lineup: Lineup) -> FirstDivergence | None:
    if not len(cycles):
        return None
    at = reported.instants_ps[reported.cycles.searchsorted(cycles[:1])]
    return FirstDivergence(int(cycles[0]), int(at[0]), int(TimeMap(lineup).to_suspect_ps(at)[0]))


def _outside(spans: Int64, edges_ps: Int64, let_off: Int64, wrong: Int64) -> Int64:
    """What of the spans int64[N, 2] lies outside the cycles that are let off. A wrong level goes on into the next
    cycle until the signal moves there: that piece goes too, unless the cycle is ``wrong`` by itself."""
    if not len(spans):
        return spans
    quiet = sorted_union(let_off, np.setdiff1d(let_off + 1, wrong))
    quiet = quiet[quiet + 1 < len(edges_ps)]
    windows = np.stack((edges_ps[quiet], edges_ps[quiet + 1]), axis=1)
    times = sorted_union(np.sort(spans.ravel()), np.sort(windows.ravel()))
    return spans_where(times, covered(times[:-1], spans) & ~covered(times[:-1], windows))
