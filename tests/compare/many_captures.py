"""Good captures that vary as sound machines do, for the tests of what is learnt from them."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from demo_traces.linnet import SIGNALS
from tests.plant import CLOCK, Fault, Int64, Plant, UInt8
from tracecore.capture import Capture

Vary = Callable[[UInt8, Int64, np.random.Generator], UInt8]

DATA = [SIGNALS.index(f"D0{i}") for i in range(4)]
STEP = [SIGNALS.index(f"SEQ{i}") for i in range(3)]


def chances(seed: int, cycles: Int64, rows: int) -> np.ndarray:
    """For each row and cycle how likely it floats high, the same in every run: float64[rows, N]. Most cells nearly
    always read the same, which is the hard case: few captures show that they vary at all."""
    low = int(cycles.min())
    drawn = np.random.default_rng(seed).beta(0.25, 0.25, (rows, 4000 + int(cycles.max())))
    assert low >= -4000
    return drawn[:, cycles % drawn.shape[1]]


def floating(levels: UInt8, cycles: Int64, rng: np.random.Generator) -> UInt8:
    """In step 2 of the sequencer (SEQ2 to SEQ0 = 0 1 0) nobody drives the bus, and what it reads is chance."""
    out = levels.copy()
    idle = (levels[STEP[0]] == 0) & (levels[STEP[1]] == 1) & (levels[STEP[2]] == 0)
    drawn = (rng.random((4, levels.shape[1])) < chances(11, cycles, 4)).astype(np.uint8)
    out[DATA] = np.where(idle, drawn, levels[DATA])
    return out


def wandering(levels: UInt8, cycles: Int64, rng: np.random.Generator) -> UInt8:
    """WAIT comes from outside: now and then it falls a cycle later than in another run."""
    out = levels.copy()
    row = SIGNALS.index("WAIT")
    own = levels[row]
    late = (own[:-1] == 1) & (own[1:] == 0) & (cycles[1:] % 7 == 0) & (rng.random(len(own) - 1) < 0.5)
    out[row, 1:][late] = 1
    return out


@lru_cache(64)
def captures(
    plant: Plant, runs: range, vary: Vary | None = None, fault: Fault | None = None, offset: int = 0
) -> tuple[Capture, ...]:
    """Captures of several runs, each a few cycles apart from the next in where it begins; the same ones for the same
    arguments, as nobody can write to them."""
    return tuple(plant.again(run, offset_cycles=offset + run % 5, fault=fault, vary=vary).capture() for run in runs)


__all__ = ["CLOCK", "captures", "floating", "wandering"]
