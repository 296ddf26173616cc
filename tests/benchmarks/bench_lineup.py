"""Seconds and extra memory of the line-up on long captures.

    .venv/bin/python -m tests.benchmarks.bench_lineup [CYCLES]

Offset: both sides share a long program at an offset of some thousand cycles, one signal stuck. Slips: a wait state of
1 to 4 cycles about every 10 000 cycles, and one signal stuck; the share of cycles that are paired rightly is told.
Condition: every other cycle is left out, so that each run is one cycle long. Times: ten million carried over, with both
sides' edges averaged. Transitions: jitter, a steady skew, one in 10 000 missing and one in 10 000 extra; a second line
has one in 50. Extra memory is what numpy and Python allocate at most while the work runs (tracemalloc), in a run of its
own.
"""

from __future__ import annotations

import sys
import time
import tracemalloc
from collections.abc import Callable
from typing import Any

import numpy as np

from tests.lineup.slipping import partners, program
from tracecore.compare.divergence import matched
from tracecore.compare.transitions import match_transitions
from tracecore.lineup.follower import Stretch
from tracecore.lineup.lineup import find_lineup
from tracecore.lineup.runs import MatchedRun
from tracecore.lineup.time_map import Pairing, TimeMap

SIGNALS = 46


def measured(name: str, work: Callable[[], Any]) -> Any:
    """Runs twice: once for the time, once for the memory."""
    start = time.perf_counter()
    found = work()
    seconds = time.perf_counter() - start
    tracemalloc.start()
    work()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"{name:44s} {seconds:7.2f} s   {peak / 1e6:6.0f} MB", end="   ")
    return found


def states_of(words: np.ndarray) -> np.ndarray:
    """uint8[SIGNALS, N] states of words."""
    out = np.empty((SIGNALS, len(words)), np.uint8)
    for i in range(SIGNALS):
        out[i] = (words >> np.uint64(i)) & np.uint64(1)
    return out


def lined_up(good: np.ndarray, suspect: np.ndarray) -> Callable[[], Any]:
    """The work, on active edges that are there already."""
    edges = [np.arange(s.shape[1] + 1, dtype=np.int64) * 250_000 for s in (good, suspect)]
    names = tuple(f"S{i}" for i in range(SIGNALS))
    return lambda: find_lineup("CLK", "rising", *edges, good, suspect, names)


def bench_offset(cycles: int) -> None:
    words = program(cycles + 5000)
    good, suspect = states_of(words[5000:]), states_of(words[:cycles] & ~np.uint64(8))
    found = measured(f"offset, {cycles:,} cycles", lined_up(good, suspect))
    print(f"offset {found.offset_cycles} ({found.status}), {len(found.slips)} slips")


def bench_slips(cycles: int) -> None:
    words = program(cycles)
    rng = np.random.default_rng(1)
    waits = np.where(rng.random(cycles) < 1e-4, rng.integers(1, 5, cycles), 0)
    source = np.repeat(np.arange(cycles), 1 + waits)
    twin = np.append(True, source[1:] != source[:-1])
    late = words[source]
    late[~twin] ^= np.uint64(1 << 45)
    good, suspect = states_of(words), states_of(late & ~np.uint64(8))
    found = measured(f"slips, {cycles:,} cycles", lined_up(good, suspect))
    runs = [
        Stretch("paired", r.good_start, r.good_start + r.length, r.suspect_start, r.suspect_start + r.length)
        for r in found.runs
    ]
    right = (partners(runs, len(source))[twin] == source[twin]).mean()
    print(f"{len(found.slips)} slips of {(waits > 0).sum()}, {right:.6f} of cycles paired rightly ({found.status})")


def bench_condition(cycles: int) -> None:
    states = states_of(program(cycles))[:16]
    edges = np.arange(cycles + 1, dtype=np.int64) * 250_000
    out, names = np.arange(cycles) % 2 == 0, tuple(f"S{i}" for i in range(16))

    def work() -> Any:
        found = find_lineup("CLK", "rising", edges, edges, states, states, names, left_out=(out, out))
        matched(found)
        return found

    print(f"{len(measured(f'condition, {cycles:,} cycles', work).runs):,} runs")


def bench_times(cycles: int) -> None:
    rng = np.random.default_rng(2)
    good, suspect = (np.cumsum(rng.integers(249_000, 251_000, cycles)) for _ in range(2))
    paired = Pairing((MatchedRun(0, 0, cycles - 1),), good, suspect, (128, 512))
    found = measured(f"times, {cycles:,}", lambda: TimeMap(paired).to_good_ps(suspect + 40_000))
    print(f"up to {np.abs(found - good - 40_000).max():,} ps moved")


def bench_transitions(count: int, rare: float) -> None:
    rng = np.random.default_rng(2)
    good = np.cumsum(rng.integers(40_000, 400_000, count))
    levels = (np.arange(count) % 2).astype(np.uint8)
    pulses = np.flatnonzero(rng.random(count // 2) < rare) * 2
    keep = np.ones(count, np.bool_)
    keep[pulses] = keep[np.minimum(pulses + 1, count - 1)] = False
    at = good[np.flatnonzero(rng.random(count // 2) < rare) * 2] + 15_000
    times = np.concatenate((good[keep] + rng.integers(-3000, 3000, keep.sum()), at, at + 9000)) + 7000
    suspect_levels = np.concatenate((levels[keep], np.ones(len(at)), np.zeros(len(at)))).astype(np.uint8)
    order = np.argsort(times, kind="stable")
    times, suspect_levels = times[order], suspect_levels[order]

    def work() -> Any:
        return match_transitions(good, levels, times, suspect_levels, tolerance_ps=20_000, furthest_ps=300_000)

    found = measured(f"transitions, {count:,}, one in {1 / rare:,.0f} odd", work)
    print(f"{len(found.missing)} missing, {len(found.extra)} extra")


def main() -> None:
    """All of it; the number of cycles may be given."""
    cycles = int(float(sys.argv[1])) if len(sys.argv) > 1 else 10_000_000
    bench_offset(cycles)
    bench_slips(cycles)
    bench_condition(cycles)
    bench_times(cycles)
    bench_transitions(cycles, 1e-4)
    bench_transitions(cycles, 0.02)


if __name__ == "__main__":
    main()
