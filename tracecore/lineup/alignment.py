"""What it costs to pair two cycles, and the cheapest place of the cycles that one side has more.

Costs are whole numbers, a hundred for a pair of cycles as unlike as two cycles taken at random. A pair that differs
in a few signals is cheap, since it is the same cycle with a fault in it; a gap costs once for being there and a little
for each cycle. With gaps priced so (affine), the cheapest pairing in order is found exactly by the three-state
recurrence of O. Gotoh, "An improved algorithm for matching biological sequences", Journal of Molecular Biology 162,
1982, 705-708 (cited from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64
from tracecore.lineup.state_words import StateWords, Words

GAP, GAP_CYCLE = 150, 4
_FULL, _LEAST = 100, 12
_NEVER = 1 << 50

Ops = NDArray[np.uint8]
"""Steps in order: 0 pairs a cycle of each side, 1 takes one of the suspect alone, 2 one of the good alone."""


class Places(NamedTuple):
    """Which cycles are looked at: good ones from ``good`` on, suspect ones from ``suspect`` on."""

    good: int
    suspect: int


def pair_costs(likeness: float) -> Int64:
    """int64[65]: cost of a pair by how many signals differ, where two random cycles differ in ``likeness`` signals.

    >>> pair_costs(8.0)[[0, 1, 4, 8, 64]].tolist()
    [0, 23, 56, 100, 100]
    """
    count = np.arange(65)
    cost = np.minimum(_FULL, _LEAST + (_FULL - _LEAST) * count / max(1.0, likeness)).astype(np.int64)
    cost[0] = 0
    return cost


class WordPair:
    """Both sides' words and what pairs of them cost."""

    def __init__(self, good: StateWords, suspect: StateWords, costs: Int64) -> None:
        self.good, self.suspect, self.costs = good, suspect, costs

    def backwards(self) -> WordPair:
        """The same with both sides reversed."""
        return WordPair(self.good.backwards(), self.suspect.backwards(), self.costs)

    def part(self, good_stop: int, suspect_stop: int) -> WordPair:
        """The first cycles of both sides."""
        return WordPair(self.good.part(0, good_stop), self.suspect.part(0, suspect_stop), self.costs)

    def left(self, at: Places) -> int:
        """How many cycles both sides still have."""
        return min(len(self.good) - at.good, len(self.suspect) - at.suspect)

    def differences(self, at: Places, count: int, mask: np.uint64) -> Words:
        """uint64[count]: the signals of ``mask`` that are decided and differ, pair by pair."""
        a, b = at
        x = (self.good.levels[a : a + count] ^ self.suspect.levels[b : b + count]) & mask
        if self.good.undecided is not None:
            x &= ~self.good.undecided[a : a + count]
        if self.suspect.undecided is not None:
            x &= ~self.suspect.undecided[b : b + count]
        return x

    def pair_cost(self, at: Places, count: int, mask: np.uint64) -> Int64:
        """int64[count]: what each pair costs."""
        return np.asarray(self.costs[np.bitwise_count(self.differences(at, count, mask))])

    def square(self, at: Places, good_count: int, suspect_count: int, mask: np.uint64) -> Int64:
        """int64[good_count, suspect_count]: what every pair costs."""
        a, b = at
        x = self.good.levels[a : a + good_count, None] ^ self.suspect.levels[None, b : b + suspect_count]
        x &= mask
        if self.good.undecided is not None:
            x &= ~self.good.undecided[a : a + good_count, None]
        if self.suspect.undecided is not None:
            x &= ~self.suspect.undecided[None, b : b + suspect_count]
        return np.asarray(self.costs[np.bitwise_count(x)])


def place(pair: WordPair, at: Places, good_count: int, suspect_count: int, mask: np.uint64, band: int = 16) -> Ops:
    """The cheapest steps through ``good_count`` by ``suspect_count`` cycles, gaps as late as they may be.

    One gap is tried first. Two gaps cost at least another ``GAP``: where one gap leaves pairs that cost no more
    than that, nothing can be cheaper, and the full recurrence is not needed.
    """
    ops, rest = _one_gap(pair, at, good_count, suspect_count, mask)
    if rest <= GAP:
        return ops
    return cheapest(pair.square(at, good_count, suspect_count, mask), band)[1]


def _one_gap(pair: WordPair, at: Places, good_count: int, suspect_count: int, mask: np.uint64) -> tuple[Ops, int]:
    """The best single gap, and what the pairs beside it cost."""
    shorter, more = min(good_count, suspect_count), suspect_count - good_count
    before = pair.pair_cost(at, shorter, mask)
    behind = pair.pair_cost(Places(at.good + max(0, -more), at.suspect + max(0, more)), shorter, mask)
    total = np.concatenate(([0], np.cumsum(before))) + int(behind.sum()) - np.concatenate(([0], np.cumsum(behind)))
    cut = shorter - int(total[::-1].argmin())
    ops = np.zeros(shorter + abs(more), np.uint8)
    ops[cut : cut + abs(more)] = 1 if more > 0 else 2
    return ops, int(total[cut])


def cheapest(costs: Int64, band: int | None = None, gap: int = GAP, gap_cycle: int = GAP_CYCLE) -> tuple[int, Ops]:
    """The least total cost of pairing all cycles in order, and its steps.

    ``costs`` int64[n, m] are the costs of the pairs; a gap of k cycles costs ``gap + k * gap_cycle``. With ``band``
    only pairs within that many cycles of both corners' diagonals are looked at. On equal costs gaps come late.

    >>> cheapest(np.array([[0, 100, 100], [100, 100, 0]]), gap=10, gap_cycle=1)
    (11, array([0, 1, 0], dtype=uint8))
    """
    n, m = costs.shape
    low, high = (-n, m) if band is None else (min(0, m - n) - band, max(0, m - n) + band)
    width = high - low + 1
    column = np.arange(width)
    trace = np.zeros((n + 1, width), np.uint8)
    # each row holds the least cost of reaching a diagonal by a pair, by a suspect cycle alone, by a good cycle alone
    pairs = np.full(width, _NEVER)
    extra, lone = pairs.copy(), pairs.copy()
    for i in range(n + 1):
        at = i + low + column
        outside = (at < 0) | (at > m)
        if i == 0:
            pairs, came, down, lone = np.where(at == 0, 0, _NEVER), 0 * column, 0 * column, np.full(width, _NEVER)
        else:
            choice = np.stack((pairs, extra, lone))
            came = choice.argmin(0)
            paid = costs[i - 1, np.clip(at - 1, 0, m - 1)] if m else np.full(width, _NEVER)
            next_pairs = np.where(at < 1, _NEVER, choice[came, column] + paid)
            lone, down = _lone(pairs, extra, lone, gap, gap_cycle)
            pairs = next_pairs
        pairs = np.where(outside, _NEVER, pairs)
        lone = np.where(outside, _NEVER, lone)
        extra = _extra(pairs, lone, gap, gap_cycle, column, outside | (at < 1))
        trace[i] = came | down | _extra_came(pairs, extra, lone, gap, gap_cycle)
    corner = m - n - low
    return _traced(trace, low, n, m, [int(v[corner]) for v in (pairs, extra, lone)])


def _lone(pairs: Int64, extra: Int64, lone: Int64, gap: int, gap_cycle: int) -> tuple[Int64, Int64]:
    """Costs of ending in a good cycle alone, from the row before, and where each came from."""
    shifted = [np.append(v[1:], _NEVER) for v in (pairs, extra, lone)]
    opened, crossed, longer = shifted[0] + gap + gap_cycle, shifted[1] + gap + gap_cycle, shifted[2] + gap_cycle
    least = np.minimum(np.minimum(opened, longer), crossed)
    came = np.where((longer <= opened) & (longer <= crossed), 8, np.where(opened <= crossed, 0, 128))
    return least, came


def _extra(pairs: Int64, lone: Int64, gap: int, gap_cycle: int, column: Int64, outside: NDArray[np.bool_]) -> Int64:
    """Costs of ending in suspect cycles alone: a run of them is a running minimum along the row."""
    start = np.minimum(pairs, lone) + gap - gap_cycle * column
    out = np.full(len(column), _NEVER)
    out[1:] = np.minimum.accumulate(start)[:-1] + gap_cycle * column[1:]
    out[outside] = _NEVER
    return out


def _extra_came(pairs: Int64, extra: Int64, lone: Int64, gap: int, gap_cycle: int) -> Int64:
    came = np.zeros(len(pairs), np.int64)
    longer, opened, crossed = extra[:-1] + gap_cycle, pairs[:-1] + gap + gap_cycle, lone[:-1] + gap + gap_cycle
    came[1:] = np.where((longer <= opened) & (longer <= crossed), 4, np.where(opened <= crossed, 0, 64))
    return came


def _traced(trace: Ops, low: int, n: int, m: int, ends: list[int]) -> tuple[int, Ops]:
    """Back from the far corner. Bits 0 and 1 say what a pair came from; 4 and 64, 8 and 128 what the gaps did."""
    state = 1 if ends[1] <= ends[0] else 0
    state = 2 if ends[2] < ends[state] else state
    cost, i, j = ends[state], n, m
    steps: list[int] = []
    while i or j:
        bits = int(trace[i, j - i - low])
        steps.append(state)
        if state == 0:
            state, i, j = bits & 3, i - 1, j - 1
        elif state == 1:
            state, j = (1 if bits & 4 else 2 if bits & 64 else 0), j - 1
        else:
            state, i = (2 if bits & 8 else 1 if bits & 128 else 0), i - 1
    return cost, np.array(steps[::-1], np.uint8)
