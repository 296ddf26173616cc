"""What one signal's comparison works out in bulk, worked out once more step by step, on random pairs.

Clocks are even, wandering or pause; the suspect is a shifted copy that jitters, loses transitions, stands still halfway
or has slips; some signals are unknown now and then. The draws reach the short ways (all alike, one to one) and the long
ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from tests import oracles
from tracecore.capture import UNKNOWN, DigitalTrace, Int64, digital_trace
from tracecore.compare.difference_spans import difference_spans
from tracecore.compare.divergence import Limits, diverge, matched
from tracecore.compare.transitions import match_transitions
from tracecore.lineup.runs import MatchedRun
from tracecore.lineup.time_map import Pairing, TimeMap
from tracecore.measure.clock import cycle_states


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """One random pair of traces with the edges of both clocks."""

    good: DigitalTrace
    suspect: DigitalTrace
    lineup: Pairing
    limits: Limits
    shift_ps: int


def drawn(seed: int) -> Drawn:
    rng = np.random.default_rng(seed)
    cycles, period = int(rng.integers(2, 60)), int(rng.integers(20, 120))
    wander = period // 4 if seed % 3 else 0
    steps = period + rng.integers(-wander, wander + 1, cycles)
    if seed % 4 == 0:
        steps[rng.integers(0, cycles, 2)] += period * int(rng.integers(1, 30))
    edges = 1_000 + np.cumsum(steps)
    good = _trace(rng, edges, seed % 5 == 0)
    shift = int(rng.integers(0, 3_000))
    suspect = _copy(rng, good, shift, seed)
    other = edges + shift + rng.integers(-2, 3, cycles)
    runs = [MatchedRun(0, 0, cycles - 1)]
    if seed % 3 == 0 and cycles >= 30:
        runs = [MatchedRun(1, 0, cycles // 3), MatchedRun(cycles // 3 + 3, cycles // 3 + 1, cycles // 2)]
    return Drawn(good, suspect, Pairing(runs, edges, other), Limits(int(rng.integers(5, period)), period, 2, 3), shift)


def _trace(rng: np.random.Generator, edges: Int64, unknown: bool) -> DigitalTrace:
    start, span = int(edges[0]) - int(rng.integers(-100, 200)), int(edges[-1] - edges[0]) + 300
    times = np.unique(np.append(start, start + rng.integers(1, span, int(rng.integers(0, 3 * len(edges))))))
    levels = rng.integers(0, 3 if unknown else 2, len(times)).astype(np.uint8)
    return digital_trace(times, levels, int(times[-1]) + int(rng.integers(0, span // 10 + 2)))


def _copy(rng: np.random.Generator, good: DigitalTrace, shift: int, seed: int) -> DigitalTrace:
    count = len(good.times_ps)
    times = good.times_ps + shift + (rng.integers(-3, 4, count) if seed % 2 else 0)
    kept = rng.random(count) > (0.05 if seed % 3 else 0)
    kept[0] = True
    times, levels = times[kept], good.levels[kept].copy()
    order = np.argsort(times, kind="stable")
    times, levels = times[order], levels[order]
    if seed % 7 == 0 and len(times) > 20:
        levels[len(levels) // 2 :] = 0
    last = np.append(times[1:] > times[:-1], True)
    return digital_trace(times[last], levels[last], max(int(times[-1]), good.stop_ps + shift))


PAIRS = [drawn(seed) for seed in range(120)]


def test_the_state_of_each_cycle_is_the_plain_one() -> None:
    for pair in PAIRS:
        edges = pair.lineup.good_edges_ps
        assert cycle_states(pair.good, edges, 3).tolist() == oracles.states(pair.good, edges.tolist(), 3)


def test_times_are_carried_edge_by_edge() -> None:
    for seed, pair in enumerate(PAIRS):
        edges, twins = _matched_edges(pair)
        rng = np.random.default_rng(seed)
        at = np.sort(rng.integers(twins[0] - 300, twins[-1] + 300, 50))
        timemap = TimeMap(pair.lineup)
        assert timemap.to_good_ps(at).tolist() == [oracles.carried(t, twins, edges) for t in at.tolist()]
        at = at - pair.shift_ps
        assert timemap.to_suspect_ps(at).tolist() == [oracles.carried(t, edges, twins) for t in at.tolist()]


def test_spans_of_difference_are_those_seen_at_every_instant() -> None:
    for seed, pair in enumerate(PAIRS):
        windows = matched(pair.lineup).windows
        shifted = digital_trace(pair.suspect.times_ps - pair.shift_ps, pair.suspect.levels, pair.suspect.stop_ps)
        found = difference_spans(pair.good, shifted, windows, seed % 9).tolist()
        assert found == oracles.difference_spans(pair.good, shifted, windows.tolist(), seed % 9)


def test_a_difference_that_touches_the_next_one_is_one_span() -> None:
    levels = np.array([0, 1, 0], np.uint8)
    good = DigitalTrace(np.array([0, 10, 20]), levels, 40)
    late = DigitalTrace(np.array([0, 12, 20]), levels, 40)
    later = DigitalTrace(np.array([0, 10, 13]), levels, 40)
    assert difference_spans(good, late, np.array([[0, 40]]), 0).tolist() == [[10, 12]]
    assert difference_spans(good, late, np.array([[0, 40]]), 2).tolist() == []
    assert difference_spans(good, later, np.array([[0, 40]]), 2).tolist() == [[13, 20]]


def test_a_signal_compared_in_bulk_is_compared_rightly() -> None:
    for pair in PAIRS:
        pairing, limits = matched(pair.lineup), pair.limits
        states = (
            cycle_states(pair.good, pair.lineup.good_edges_ps, limits.good_period_ps),
            cycle_states(pair.suspect, pair.lineup.suspect_edges_ps, limits.suspect_period_ps),
        )
        found = diverge(pair.good, pair.suspect, *states, pairing, limits)
        own, other = _states_of_runs(pair, *states)
        assert found.good_states.tolist() == own
        assert found.compared == sum(UNKNOWN not in both for both in zip(own, other, strict=True))
        assert found.undecided == len(own) - found.compared
        assert found.differing.tolist() == _differing(pair, own, other, found.doubtful_on_good_ps.tolist())
        good_ps = _transitions(pair, of_suspect=False)
        suspect_ps = _transitions(pair, of_suspect=True)
        every = np.sort(np.concatenate((found.ties.good_ps, found.ties.moved_good_ps)))
        assert set(every.tolist()) <= set(good_ps)
        late = [
            *(found.ties.suspect_on_good_ps - found.ties.good_ps).tolist(),
            *(found.ties.moved_suspect_on_good_ps - found.ties.moved_good_ps).tolist(),
        ]
        assert set(found.ties.suspect_on_good_ps.tolist()) <= set(suspect_ps)
        if late:
            size = sorted(abs(by) for by in late)
            assert found.skew is not None
            assert found.skew.median_ps == int(np.median(late))
            assert (found.skew.p95_ps, found.skew.max_ps) == (size[int(0.95 * (len(size) - 1))], size[-1])


def test_transitions_that_pair_one_to_one_are_paired_as_any_others() -> None:
    """The short way where all are alike, against the same with a stranger far behind, which takes the long way."""
    up_down = np.resize(np.array([1, 0], np.uint8), 60)
    for seed in range(20):
        rng = np.random.default_rng(seed)
        good = np.cumsum(rng.integers(40, 90, 60))
        suspect = good + rng.integers(-9, 10, 60)
        limits = {"tolerance_ps": 10, "furthest_ps": 60}
        short = match_transitions(good, up_down, suspect, up_down, **limits)
        stranger = np.append(good, good[-1] + 10_000), np.append(up_down, np.uint8(1))
        long = match_transitions(*stranger, suspect, up_down, **limits)
        assert short.good.tolist() == long.good.tolist() == short.suspect.tolist() == long.suspect.tolist()
        assert short.delay_ps == long.delay_ps
        assert long.missing.tolist() == [60]


def _matched_edges(pair: Drawn) -> tuple[list[int], list[int]]:
    good, suspect = pair.lineup.good_edges_ps.tolist(), pair.lineup.suspect_edges_ps.tolist()
    edges, twins = [], []
    for run in pair.lineup.runs:
        edges += good[run.good_start : run.good_start + run.length + 1]
        twins += suspect[run.suspect_start : run.suspect_start + run.length + 1]
    return edges, twins


def _states_of_runs(pair: Drawn, good: np.ndarray, suspect: np.ndarray) -> tuple[list[int], list[int]]:
    own, other = [], []
    for run in pair.lineup.runs:
        own += good[run.good_start : run.good_start + run.length].tolist()
        other += suspect[run.suspect_start : run.suspect_start + run.length].tolist()
    return own, other


def _on_good(pair: Drawn) -> list[tuple[int, int]]:
    """The suspect's entries on the good axis; of those squeezed onto one instant the last."""
    edges, twins = _matched_edges(pair)
    at: dict[int, int] = {}
    for time, level in zip(pair.suspect.times_ps.tolist(), pair.suspect.levels.tolist(), strict=True):
        at[oracles.carried(time, twins, edges)] = level
    return list(at.items())


def _differing(pair: Drawn, own: list[int], other: list[int], unsure: list[list[int]]) -> list[bool]:
    """Both decided and different, and read inside a difference that lasts and that no unseen pulse makes."""
    edges, twins = _matched_edges(pair)
    entries = _on_good(pair)
    stop = max(oracles.carried(pair.suspect.stop_ps, twins, edges), entries[-1][0])
    times, levels = (np.array(column) for column in zip(*entries, strict=True))
    shifted = digital_trace(times.astype(np.int64), levels.astype(np.uint8), stop)
    windows = matched(pair.lineup).windows.tolist()
    spans = oracles.difference_spans(pair.good, shifted, windows, pair.limits.tolerance_ps)
    spans = [(a, b) for a, b in spans if not any(low <= a and b <= high for low, high in unsure)]
    ends: list[int] = []
    for run in pair.lineup.runs:
        ends += pair.lineup.good_edges_ps[run.good_start + 1 : run.good_start + run.length + 1].tolist()
    read = [end - pair.limits.good_period_ps for end in ends]
    return [
        g != s and UNKNOWN not in (g, s) and any(a <= at < b for a, b in spans)
        for g, s, at in zip(own, other, read, strict=True)
    ]


def _transitions(pair: Drawn, *, of_suspect: bool) -> list[int]:
    """Times, on the good axis, at which the known level changes."""
    edges, twins = _matched_edges(pair)
    trace = pair.suspect if of_suspect else pair.good
    known = [(t, v) for t, v in zip(trace.times_ps.tolist(), trace.levels.tolist(), strict=True) if v != UNKNOWN]
    moves = [time for (_, before), (time, level) in pairwise(known) if level != before]
    return [oracles.carried(t, twins, edges) for t in moves] if of_suspect else moves
