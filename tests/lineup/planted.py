"""Pairs of captures of a microprogrammed machine in which each suspect cycle's good one is known: waits, loops that
turn more or fewer times, lost samples, other ways taken; and faults and undecided states on top."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.lineup.alignment import Places
from tracecore.lineup.follower import Stretch
from tracecore.lineup.slips import follow
from tracecore.lineup.state_words import state_words

SIZES = (8, 12, 20, 32, 46)
_PIECES = ((0, 8), (8, 20), (20, 36), (36, 48))  # sequencer, control, bus, address


@lru_cache(maxsize=16)
def machine(cycles: int, signals: int, seed: int) -> UInt8:
    """uint8[cycles, signals] of a random sequencer with its control lines, a bus and an address counter: the first of
    some that does not stop in a short loop."""
    for attempt in range(50):
        states = _drawn(cycles, signals, seed + 1000 * attempt)
        rows = np.packbits(states, axis=1)
        four = np.concatenate([rows[k : len(rows) - 3 + k] for k in range(4)], axis=1)
        parts = range(0, len(four) - 199, 200)
        moving = min(float((states[a : a + 200].std(0) > 0).mean()) for a in parts)
        if moving > 0.6 and min(len(np.unique(four[a : a + 200], axis=0)) for a in parts) > 80:
            return states
    raise AssertionError("no machine")


def _drawn(cycles: int, signals: int, seed: int) -> UInt8:
    rng = np.random.default_rng(seed)
    steps = int(rng.choice((24, 64, 200)))
    jumps, targets = (rng.random(steps) < 0.15).tolist(), rng.integers(0, steps, steps).tolist()
    control, operation = rng.integers(0, 1 << 12, steps).tolist(), rng.integers(0, 5, steps).tolist()
    source, target = rng.integers(0, 8, (2, steps)).tolist()
    registers, sum_, address, at = rng.integers(0, 1 << 16, 8).tolist(), int(rng.integers(1 << 16)), 0, 0
    rows = np.empty((cycles, 4), np.uint64)
    for cycle in range(cycles):
        value = registers[source[at]]
        if operation[at] == 0:
            bus = sum_ = (sum_ + value) & 0xFFFF
        elif operation[at] == 1:
            sum_, bus = sum_ ^ value, value
        elif operation[at] == 2:
            bus = registers[target[at]] = sum_
        elif operation[at] == 3:
            address = (address + 1) & 0xFFF
            # 2**16 over the golden ratio scatters neighbours (Knuth, volume 3, section 6.4; from memory)
            bus = (address * 40_503 >> 3) & 0xFFFF
            registers[target[at]] = bus ^ sum_
        else:
            bus = sum_ = (sum_ << 1 | sum_ >> 15) & 0xFFFF
        rows[cycle] = at, control[at], bus, address
        at = targets[at] if jumps[at] and sum_ >> 3 & 1 else (at + 1) % steps
    words = rows[:, 0] | rows[:, 1] << np.uint64(8) | rows[:, 2] << np.uint64(20) | rows[:, 3] << np.uint64(36)
    picked = [bit for depth in range(16) for a, b in _PIECES if (bit := a + depth) < b][:signals]
    return ((words[:, None] >> np.array(picked, np.uint64)) & np.uint64(1)).astype(np.uint8)


@dataclass(frozen=True)
class Planted:
    """``good`` uint8[N, S] and ``suspect`` uint8[M, S], ``twin`` int64[M] the good cycle of each suspect cycle or -1,
    ``wrong`` the signals with a fault."""

    good: UInt8
    suspect: UInt8
    twin: Int64
    wrong: frozenset[int] = field(default_factory=frozenset)

    @property
    def anchor(self) -> Places:
        """A pair of cycles that belong together, in the middle of the longest stretch without a slip."""
        at = np.flatnonzero(self.twin >= 0)
        ends = np.flatnonzero(np.diff(at - self.twin[at], append=1 << 40, prepend=1 << 40))
        longest = int(np.argmax(np.diff(ends)))
        middle = int(at[(ends[longest] + ends[longest + 1]) // 2])
        return Places(int(self.twin[middle]), middle)

    def swapped(self) -> Planted:
        """The sides exchanged."""
        twin = np.full(len(self.good), -1, np.int64)
        at = np.flatnonzero(self.twin >= 0)
        twin[self.twin[at]] = at
        return Planted(self.suspect, self.good, twin, self.wrong)

    def followed(self) -> list[Stretch]:
        """The stretches found from the anchor."""
        rows = np.arange(self.good.shape[1])
        good, suspect = (state_words(np.ascontiguousarray(side.T), rows) for side in (self.good, self.suspect))
        live = ~np.uint64(0)
        for side in (good, suspect):
            live &= np.bitwise_or.reduce(side.levels) & ~np.bitwise_and.reduce(side.levels)
        return follow(good, suspect, self.anchor, live)

    def accused(self, stretches: list[Stretch]) -> set[int]:
        """The sound signals that differ in a pair of cycles."""
        seen: set[int] = set()
        for s in stretches:
            if s.kind == "paired":
                a, b = self.good[s.good_start : s.good_stop], self.suspect[s.suspect_start : s.suspect_stop]
                seen |= set(np.flatnonzero(((a != b) & (a < UNKNOWN) & (b < UNKNOWN)).any(0)).tolist())
        return seen - self.wrong

    def paired_rightly(self, stretches: list[Stretch]) -> float:
        """The share of the cycles that have a twin which is paired with it, or with a cycle that looks the same."""
        found = np.full(len(self.suspect), -1, np.int64)
        for s in stretches:
            if s.kind == "paired":
                found[s.suspect_start : s.suspect_stop] = np.arange(s.good_start, s.good_stop)
        own = np.flatnonzero(self.twin >= 0)
        a, b = self.good[found[own]], self.good[self.twin[own]]
        same = (found[own] >= 0) & ((a == b) | (a == UNKNOWN) | (b == UNKNOWN)).all(1)
        return float(((found[own] == self.twin[own]) | same).mean())


def waits(base: UInt8, places: Mapping[int, int]) -> Planted:
    """The suspect holds the word of some cycles that many cycles more; below nought the good side does."""
    more = np.zeros((2, len(base)), np.int64)
    for cycle, count in places.items():
        more[int(count > 0), cycle] = abs(count)
    good, suspect = (np.repeat(np.arange(len(base)), 1 + side) for side in more)
    first = np.append(True, suspect[1:] != suspect[:-1])
    twin = np.where(first, np.flatnonzero(np.append(True, good[1:] != good[:-1]))[suspect], -1)
    return Planted(base[good], base[suspect], twin)


def swapped_in(base: UInt8, at: int, good: UInt8, suspect: UInt8, twins: int = 0) -> Planted:
    """Between cycles ``at - 1`` and ``at`` either side does something of its own; the first ``twins`` of it belong
    together."""
    a, b = len(good), len(suspect)
    twin = np.concatenate(
        (np.arange(at), at + np.arange(twins), np.full(b - twins, -1), at + a + np.arange(len(base) - at))
    )
    both = [np.concatenate((base[:at], own, base[at:])) for own in (good, suspect)]
    return Planted(both[0], both[1], twin)


def loop(base: UInt8, at: int, body: UInt8, turns: tuple[int, int]) -> Planted:
    """Both turn in a loop at a cycle, the good side and the suspect so many times."""
    good, suspect = (np.tile(body, (n, 1)) for n in turns)
    return swapped_in(base, at, good, suspect, len(body) * min(turns))


def with_faults(pair: Planted, count: int, rng: np.random.Generator, start: int | None = None) -> Planted:
    """So many moving signals of the suspect stuck, inverted, or wrong in a tenth of the cycles, each from some cycle of
    the first two thirds on, or from ``start``."""
    suspect = pair.suspect.copy()
    rate = pair.good.mean(0)
    chosen = rng.permutation(np.flatnonzero((rate > 0.1) & (rate < 0.9)))[:count].tolist()
    for signal in chosen:
        at = int(rng.integers(0, len(suspect) * 2 // 3)) if start is None else start
        own = suspect[at:, signal]
        kind = int(rng.integers(3))
        noise = (rng.random(len(own)) < 0.1).astype(np.uint8)
        suspect[at:, signal] = (np.full_like(own, rng.integers(2)), own ^ 1, own ^ noise)[kind]
    return replace(pair, suspect=suspect, wrong=frozenset(chosen))


def with_doubt(pair: Planted, rng: np.random.Generator, rate: float = 0.002) -> Planted:
    """Some states of both sides undecided."""
    both: list[NDArray[np.uint8]] = []
    for side in (pair.good, pair.suspect):
        out = side.copy()
        out[rng.random(side.shape) < rate] = UNKNOWN
        both.append(out)
    return replace(pair, good=both[0], suspect=both[1])
