"""Machines whose suspect inserts or lacks cycles at known places, as words, as states and as captures of the plant."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from demo_traces.linnet import SIGNALS, machine_words
from tests.plant import PAD, Pair, Plant
from tracecore.lineup.alignment import Places
from tracecore.lineup.follower import Stretch
from tracecore.lineup.slips import follow
from tracecore.lineup.state_words import StateWords, Words

LIVE = np.uint64((1 << 46) - 1)


def program(cycles: int, seed: int = 1, signals: int = 46) -> Words:
    """Words of a machine that runs blocks of its store in no fixed order, with data that change now and then."""
    rng = np.random.default_rng(seed)
    store = rng.integers(0, 1 << signals, 400, dtype=np.uint64)
    blocks = [rng.integers(0, 400, rng.integers(5, 20)) for _ in range(60)]
    path = np.concatenate([blocks[i] for i in rng.integers(0, 60, cycles // 5 + 1)])[:cycles]
    data = np.repeat(rng.integers(0, 256, cycles // 7 + 1, dtype=np.uint64), 7)[:cycles]
    return store[path] ^ (data << np.uint64(4))


def edited(words: Words, inserted: Mapping[int, int], missing: Mapping[int, int]) -> tuple[Words, np.ndarray]:
    """Wait states before some cycles and cycles left out from others on; and which good cycle each one is, -1 for a
    wait state, which holds the word before it with bit 45 turned."""
    source, partner = [], []
    k = 0
    while k < len(words):
        for _ in range(inserted.get(k, 0)):
            source.append(max(0, k - 1))
            partner.append(-1)
        k += missing.get(k, 0)
        if k < len(words):
            source.append(k)
            partner.append(k)
        k += 1
    out, number = words[source], np.array(partner, np.int64)
    out[number < 0] ^= np.uint64(1) << np.uint64(45)
    return out, number


def followed(good: Words, suspect: Words, at: Places, live: np.uint64 = LIVE) -> list[Stretch]:
    """The stretches of words without undecided states."""
    return follow(StateWords(good, None), StateWords(suspect, None), at, live)


def partners(stretches: list[Stretch], cycles: int) -> np.ndarray:
    """int64[cycles]: the good cycle that each suspect cycle is paired with, or -1."""
    out = np.full(cycles, -1, np.int64)
    for s in stretches:
        if s.kind == "paired":
            out[s.suspect_start : s.suspect_stop] = np.arange(s.good_start, s.good_stop)
    return out


def slipping_pair(
    plant: Plant,
    inserted: Mapping[int, int],
    missing: Mapping[int, int],
    fault: Callable[[np.ndarray], np.ndarray] | None = None,
) -> Pair:
    """The plant's machine against one that waits before some good cycles, with WAIT high, and lacks others."""
    more = sum(missing.values())
    levels = machine_words(plant.seed, -PAD, plant.cycles + 2 * PAD + more)
    numbers = np.arange(levels.shape[1], dtype=np.uint64)
    source, number = edited(numbers, _padded(inserted), _padded(missing))
    suspect = levels[:, source & np.uint64((1 << 45) - 1)]
    suspect[SIGNALS.index("WAIT"), number < 0] = 1
    length = plant.cycles + 2 * PAD
    suspect = suspect[:, :length] if fault is None else fault(suspect[:, :length])
    return plant._pair(None, levels[:, :length], suspect, np.empty(0, np.int64))


def _padded(cycles: Mapping[int, int]) -> dict[int, int]:
    return {cycle + PAD: count for cycle, count in cycles.items()}
