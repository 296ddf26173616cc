"""How long a whole backplane takes: ``python -m tests.benchmarks.bench_continuity``; best of 5, both sides compared."""

from __future__ import annotations

import math
import random
import time

from tracecore.circuit.continuity.comparison import compare_continuity
from tracecore.circuit.continuity.readings import parse_continuity

PINS, READINGS = 3000, 10_000


def _text() -> str:
    drawn = random.Random(1)
    pins = [f"{1 + n // 72}-{'AB'[n // 36 % 2]}{1 + n % 36:02d}" for n in range(PINS)]
    rows = ["from,to,ohms,side"]
    for _ in range(READINGS // 2):
        start, end = drawn.sample(range(PINS), 2)
        ohms = "0.2" if abs(start - end) % 9 == 0 else "open"
        rows += [f"{pins[start]},{pins[end]},{ohms},good"]
        rows += [f"{pins[start]},{pins[end]},{drawn.choice((ohms,) * 50 + ('open', '47'))},suspect"]
    return "\n".join(rows)


def main() -> None:
    """Prints seconds to read the list and to compare it."""
    text, best = _text(), [math.inf, math.inf]
    for _ in range(5):
        start = time.perf_counter()
        readings = parse_continuity(text)
        middle = time.perf_counter()
        found = compare_continuity(readings)
        best = [min(best[0], middle - start), min(best[1], time.perf_counter() - middle)]
    print(f"{PINS} pins, {len(readings.readings)} readings: read {best[0]:.3f} s, compared {best[1]:.3f} s,")
    print(f"{len(found.pairs)} pairs, {len(found.conflicts)} conflicts, {len(found.split)} nets split")


if __name__ == "__main__":
    main()
