"""Seconds and extra memory of learning from several known-good captures.

    .venv/bin/python -m tests.benchmarks.bench_repeats [CYCLES [CAPTURES]]

A board of 46 signals at 4 MHz, sampled at 100 MHz, that varies as a sound one does: a bus of 8 bits that nobody drives
in a quarter of the cycles, where each bit of each cycle has a chance of its own to read high, the same in every run and
mostly near 0 or 1; and two strobes from outside that end a cycle later now and then. All other signals do the same in
every run, about 0.2 transitions a cycle and signal. Each run begins a few cycles later than the one before, and all its
transitions stray by a sample or two. The last capture is a sound suspect. Wall and processor seconds come from a first
run of each line; extra memory, what numpy and Python allocate at most beside the captures (tracemalloc), from a second.
"""

from __future__ import annotations

import sys
import time
import tracemalloc
from collections.abc import Callable
from typing import Any

import numpy as np

from tracecore.capture import Capture, DigitalTrace, UInt8, digital_trace
from tracecore.capture_series import SeriesRequest, read_against, reference
from tracecore.comparison import CompareRequest, compare

SIGNALS, BUS, STEP, STROBES = 46, 8, 20, 2
PERIOD_PS, SAMPLE_PS = 250_000, 10_000
LATER = 3


class Board:
    """What the machine does in every run: ``states`` uint8[SIGNALS, cycles], and ``chances`` float32[BUS, N] of a bit
    to read high in each of the ``idle`` cycles int64[N], in which nobody drives the bus."""

    def __init__(self, cycles: int) -> None:
        rng = np.random.default_rng(1)
        count = np.arange(cycles)
        rates = np.concatenate((np.full(STEP, 0.3), np.linspace(0.01, 0.25, SIGNALS - STEP)))
        self.states = np.array([(np.cumsum(rng.random(cycles) < rate) % 2).astype(np.uint8) for rate in rates])
        for bit in range(2):
            self.states[STEP + bit] = (count >> bit) & 1
        self.idle = np.flatnonzero(count % 4 == 2)
        self.chances = rng.beta(0.25, 0.25, (BUS, len(self.idle))).astype(np.float32)

    def capture(self, run: int) -> Capture:
        """One run: what the machine does, from ``LATER`` cycles later each time, with what varies drawn afresh."""
        rng = np.random.default_rng((2, run))
        states = self.states.copy()
        states[:BUS, self.idle] = rng.random(self.chances.shape, np.float32) < self.chances
        for row in states[BUS : BUS + STROBES]:
            ends = np.flatnonzero((row[:-1] == 1) & (row[1:] == 0)) + 1
            row[ends[(ends % 7 == 0) & (rng.random(len(ends)) < 0.5)]] = 1
        states = states[:, run * LATER :]
        cycles = states.shape[1] - 1  # what the first column holds is there before the first edge
        edges = np.arange(cycles, dtype=np.int64) * PERIOD_PS + PERIOD_PS
        stop = (cycles + 2) * PERIOD_PS
        half = np.stack((edges, edges + PERIOD_PS // 2), axis=1).ravel()
        levels = np.append(np.uint8(0), np.tile(np.array([1, 0], np.uint8), cycles))
        traces = {"CLK": digital_trace(np.append(0, half), levels, stop)}
        for i, row in enumerate(states):
            traces[f"S{i:02d}"] = _moving(row, edges, stop, rng)
        return Capture(f"run {run}", traces, {}, SAMPLE_PS, "built")


def _moving(row: UInt8, edges: np.ndarray, stop_ps: int, rng: np.random.Generator) -> DigitalTrace:
    at = np.flatnonzero(row[1:] != row[:-1])
    times = edges[at] + 4 * SAMPLE_PS + SAMPLE_PS * rng.integers(0, 3, len(at))
    return digital_trace(np.append(0, times), np.append(row[:1], row[at + 1]), stop_ps)


def measured(name: str, work: Callable[[], Any]) -> Any:
    """Runs twice: once for the time, once for the memory; what the second run gives."""
    start = time.perf_counter(), time.process_time()
    work()
    seconds, spent = time.perf_counter() - start[0], time.process_time() - start[1]
    tracemalloc.start()
    found = work()
    held, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    memory = f"{peak / 1e6:5.0f} MB at most, {held / 1e6:5.0f} MB held"
    print(f"{name:36s} {seconds:5.1f} s, {spent:5.1f} s of processors, {memory}", flush=True)
    return found


def main() -> None:
    cycles, count = ([int(word.replace("_", "")) for word in sys.argv[1:]] + [1_000_000, 3][len(sys.argv) - 1 :])[:2]
    board = Board(cycles)
    *good, suspect = (board.capture(run) for run in range(count + 1))
    del board
    transitions = sum(len(t.times_ps) for t in suspect.digital.values())
    print(f"{count} known-good captures of {cycles:,} cycles, {SIGNALS} signals, {transitions:,} transitions each")
    for own in sorted({1, 2, count}):
        request = CompareRequest(tuple(good[:own]), (suspect,), clock="CLK")
        found = measured(f"compare, {own} known-good", lambda request=request: compare(request))  # type: ignore[misc]
        print(f"    {found.lineup.status} line-up, {found.outcome.word}, {found.tolerance and found.tolerance.noisy}")
    for own in sorted({2, count}):
        series = SeriesRequest(tuple(good[:own]), clock="CLK")
        against = measured(f"series: learning from {own}", lambda series=series: reference(series))  # type: ignore[misc]
        learnt = against.tolerance
        cells = sum(len(own.varying) for own in learnt.signals.values())
        print(f"    {len(learnt.odd)} odd, {cells:,} varying cells, contexts of {learnt.context.signals}")
        reading = measured("series: one capture against it", lambda against=against: read_against(against, suspect))  # type: ignore[misc]
        print(f"    {reading.outcome.word}")


if __name__ == "__main__":
    main()
