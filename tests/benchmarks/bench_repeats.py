"""Seconds and extra memory of learning from several known-good captures.

    .venv/bin/python -m tests.benchmarks.bench_repeats [CYCLES [CAPTURES]]

A plant of 46 signals at 4 MHz, sampled at 100 MHz: a bus of 16 bits that floats in a quarter of the cycles, counters,
and control signals, about 0.2 transitions a cycle and signal; every transition jitters from capture to capture. The
last known-good capture is compared as the suspect. Extra memory is what numpy and Python allocate at most while the
work runs, the captures themselves not counted (tracemalloc); each line is a run of its own.
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

SIGNALS, BUS, STEP = 46, 16, 20
PERIOD_PS, SAMPLE_PS = 250_000, 10_000


def program(cycles: int) -> UInt8:
    """uint8[SIGNALS, cycles]: what the machine does in every run."""
    rng = np.random.default_rng(1)
    count = np.arange(cycles)
    rates = np.concatenate((np.full(STEP, 0.3), np.linspace(0.01, 0.25, SIGNALS - STEP)))
    states = np.array([(np.cumsum(rng.random(cycles) < rate) % 2).astype(np.uint8) for rate in rates])
    for bit in range(2):
        states[STEP + bit] = (count >> bit) & 1
    return states


def capture(run: int, states: UInt8) -> Capture:
    """One run: in step 2 of 4 the bus reads by chance, and every transition strays by a sample or two."""
    rng = np.random.default_rng((2, run))
    cycles = states.shape[1]
    edges = np.arange(cycles, dtype=np.int64) * PERIOD_PS + PERIOD_PS
    stop = (cycles + 2) * PERIOD_PS
    idle = (states[STEP] == 0) & (states[STEP + 1] == 1)
    half = np.stack((edges, edges + PERIOD_PS // 2), axis=1).ravel()
    levels = np.append(np.uint8(0), np.tile(np.array([1, 0], np.uint8), cycles))
    traces = {"CLK": digital_trace(np.append(0, half), levels, stop)}
    for i, row in enumerate(states):
        if i < BUS:
            row = np.where(idle, (rng.random(cycles) < 0.3).astype(np.uint8), row)
        traces[f"S{i:02d}"] = _moving(row, edges, stop, rng)
    return Capture(f"run {run}", traces, {}, SAMPLE_PS, "built")


def _moving(row: UInt8, edges: np.ndarray, stop_ps: int, rng: np.random.Generator) -> DigitalTrace:
    at = np.flatnonzero(row[1:] != row[:-1]) + 1
    times = edges[at] + 4 * SAMPLE_PS + SAMPLE_PS * rng.integers(0, 3, len(at))
    return digital_trace(np.append(0, times), np.append(row[:1], row[at]), stop_ps)


def measured(name: str, work: Callable[[], Any]) -> None:
    """Runs once, for both: tracing hardly slows work that is done in large arrays."""
    tracemalloc.start()
    start = time.perf_counter()
    found = work()
    seconds = time.perf_counter() - start
    held, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    del found
    print(f"{name:52s} {seconds:7.1f} s   {peak / 1e6:6.0f} MB at most, {held / 1e6:6.0f} MB held", flush=True)


def main() -> None:
    cycles, count = ([int(word.replace("_", "")) for word in sys.argv[1:]] + [1_000_000, 3][len(sys.argv) - 1 :])[:2]
    states = program(cycles)
    good = tuple(capture(run, states) for run in range(count))
    suspect = capture(count, states)
    del states
    transitions = sum(len(t.times_ps) for t in suspect.digital.values())
    print(f"{count} known-good captures of {cycles:,} cycles, {SIGNALS} signals, {transitions:,} transitions each")
    measured("compare, one known-good", lambda: compare(CompareRequest(good[:1], (suspect,), clock="CLK")))
    measured(f"compare, {count} known-good", lambda: compare(CompareRequest(good, (suspect,), clock="CLK")))
    series = SeriesRequest(good, clock="CLK")
    measured("series: learning", lambda: reference(series))
    against = reference(series)
    measured("series: one capture against what was learnt", lambda: read_against(against, suspect))


if __name__ == "__main__":
    main()
