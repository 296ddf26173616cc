"""How often following hard pairs accuses a sound signal, and how many cycles it pairs rightly.

    .venv/bin/python -m tests.benchmarks.bench_following [DRAWS] [FIRST SEED]

Pairs are planted on random microprogrammed machines of 8 to 46 signals (``tests/lineup/planted.py``), half of them with
0.2 % of undecided states, with 0, 1 or 3 faulty signals (of eight signals two at most). A row is a kind of slip and a
number of faults: pairs in which a sound signal differs in a pair of cycles, the share of cycles paired with their own,
and the median of seconds of the processor. The rules were tried on draws below 20 000.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

import numpy as np

from tests.lineup.planted import SIZES, Planted, loop, machine, swapped_in, waits, with_doubt, with_faults
from tracecore.capture import UInt8

Generator = np.random.Generator
CYCLES = 3000


def few_waits(rng: Generator) -> int:
    return int(rng.choice((1, 2, 3, -1, -2)))


def near_start(base: UInt8, rng: Generator) -> Planted:
    at = int(rng.integers(1, 41))
    return waits(base, {at: max(few_waits(rng), 1 - at)})


def near_end(base: UInt8, rng: Generator) -> Planted:
    from_end = int(rng.integers(1, 41))
    return waits(base, {len(base) - 1 - from_end: max(few_waits(rng), 1 - from_end)})


def now_and_then(every: int) -> Callable[[UInt8, Generator], Planted]:
    def drawn(base: UInt8, rng: Generator) -> Planted:
        places = np.flatnonzero(rng.random(len(base) - 10) < 1 / every)
        return waits(base, {int(at): few_waits(rng) if every > 20 else 1 for at in places if at > 5})

    return drawn


def looping(low: int, high: int) -> Callable[[UInt8, Generator], Planted]:
    def drawn(base: UInt8, rng: Generator) -> Planted:
        body, turns = base[2500 : 2500 + int(rng.integers(2, 12))], int(rng.integers(3, 30))
        pair = loop(base[:2400], 1200, body, (turns, turns + int(rng.integers(low, high)) // len(body) + 1))
        return pair.swapped() if rng.random() < 0.5 else pair

    return drawn


def lost(base: UInt8, rng: Generator) -> Planted:
    kept = np.delete(np.arange(len(base)), np.s_[900 : 900 + int(rng.integers(100, 1500))])
    return Planted(base, base[kept], kept)


def detour(base: UInt8, rng: Generator) -> Planted:
    other = rng.integers(0, 2, (int(rng.integers(5, 60)), base.shape[1])).astype(np.uint8)
    return swapped_in(base, 1200, base[:0], other)


KINDS: dict[str, Callable[[UInt8, Generator], Planted]] = {
    "no slip": lambda base, rng: waits(base, {}),
    "a slip 1 to 40 cycles from the start": near_start,
    "a slip 1 to 40 cycles from the end": near_end,
    "a slip in 60 cycles, either way": now_and_then(60),
    "a wait in 8 cycles": now_and_then(8),
    "a loop up to 500 cycles longer": looping(2, 500),
    "a loop up to 100 000 cycles longer": looping(20_000, 100_000),
    "100 to 1500 samples lost": lost,
    "5 to 60 cycles of its own": detour,
}


def row(kind: str, faults: int, draws: int, first: int) -> str:
    """One row of the table."""
    false, right, seconds = 0, [], []
    for seed in range(first, first + draws):
        rng = np.random.default_rng(seed)
        base = machine(CYCLES, SIZES[seed % 5], seed)
        pair = with_faults(KINDS[kind](base, rng), min(faults, base.shape[1] // 4), rng)
        pair = with_doubt(pair, rng) if seed % 2 else pair
        start = time.process_time()
        stretches = pair.followed()
        seconds.append(time.process_time() - start)
        false += bool(pair.accused(stretches))
        right.append(pair.paired_rightly(stretches))
    share, milliseconds = 100 * float(np.mean(right)), 1000 * float(np.median(seconds))
    return f"| {kind} | {faults} | {false} of {draws} | {share:.2f} % | {milliseconds:.0f} ms |"


def main() -> None:
    """All kinds; how many draws a row, and the first seed, may be given."""
    draws, first = (int(text) for text in (*sys.argv[1:], *("30", "20000")[len(sys.argv) - 1 :]))
    print("| slip | faults | accuses a sound signal | paired rightly | time |")
    print("|---|---|---|---|---|")
    for kind in KINDS:
        for faults in (0, 1, 3):
            print(row(kind, faults, draws, first), flush=True)


if __name__ == "__main__":
    main()
