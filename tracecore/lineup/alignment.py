"""What it costs to pair two cycles, which signals are wrong where the others agree, and the cheapest way through both.

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
from tracecore.lineup.state_words import StateWords, Words, mask_of, signal_counts, size_of

PAIR, INSERT, MISS = 0, 1, 2
GAP, GAP_CYCLE = 60, 16
SOUND = 20
"""Mean cost up to which pairs are right: less than one signal a cycle."""
_FULL, _LEAST = 100, 12
_NEVER = 1 << 28
# at the end of a capture: for cutting cycles off, for each of them that is paired with nothing, and for each not used
_CUT, _CUT_CYCLE, _UNUSED = 15, -15, 45

Ops = NDArray[np.uint8]
"""Steps: ``PAIR`` takes a cycle of each side, ``INSERT`` one of the suspect alone, ``MISS`` one of the good alone."""
Int32 = NDArray[np.int32]


class Places(NamedTuple):
    """Which cycles are looked at: good ones from ``good`` on, suspect ones from ``suspect`` on."""

    good: int
    suspect: int

    def on(self, good: int, suspect: int) -> Places:
        """So many cycles further on."""
        return Places(self.good + good, self.suspect + suspect)


class Path(NamedTuple):
    """Steps, and what each of them that pairs costs: uint8[N], int32[N]."""

    ops: Ops
    costs: Int32


def pair_costs(likeness: float) -> Int32:
    """int32[65]: cost of a pair by how many signals differ, where two random cycles differ in ``likeness`` signals.

    >>> pair_costs(8.0)[[0, 1, 4, 8, 64]].tolist()
    [0, 23, 56, 100, 100]
    """
    count = np.arange(65)
    cost = np.minimum(_FULL, _LEAST + (_FULL - _LEAST) * count / max(1.0, likeness)).astype(np.int32)
    cost[0] = 0
    return cost


class WordPair:
    """Both sides' words and what pairs of them cost."""

    def __init__(self, good: StateWords, suspect: StateWords, costs: Int32) -> None:
        self.good, self.suspect, self.costs = good, suspect, costs

    def backwards(self) -> WordPair:
        """The same with both sides reversed."""
        return WordPair(self.good.backwards(), self.suspect.backwards(), self.costs)

    def part(self, start: Places, stop: Places) -> WordPair:
        """Cycles from ``start`` (closed) to ``stop`` (open) of both sides."""
        good, suspect = self.good.part(start.good, stop.good), self.suspect.part(start.suspect, stop.suspect)
        return WordPair(good, suspect, self.costs)

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

    def pair_cost(self, at: Places, count: int, mask: np.uint64) -> Int32:
        """int32[count]: what each pair costs."""
        return np.asarray(self.costs[np.bitwise_count(self.differences(at, count, mask))])

    def moving(self, at: Places, count: int, mask: np.uint64) -> np.uint64:
        """The signals of ``mask`` that change on either side within the cycles."""
        found = np.uint64(0)
        for words, start in ((self.good.levels, at.good), (self.suspect.levels, at.suspect)):
            levels = words[start : start + count]
            found |= np.bitwise_or.reduce(levels[1:] ^ levels[:-1]) if count > 1 else np.uint64(0)
        return found & mask

    def few_wrong(
        self, at: Places, count: int, mask: np.uint64, share: float, *, damage: bool = False
    ) -> np.uint64 | None:
        """The signals that differ in more than 5 % of the next ``count`` pairs, where they are no more than ``share``
        of those that move and all else is in step; None where it is not. With ``damage``, cycles in which all is wrong
        say nothing of single signals."""
        count = min(count, self.left(at))
        if count < 4:
            return None
        words = self.differences(at, count, mask)
        single = words[np.bitwise_count(words) <= max(3, size_of(mask) // 3)] if damage else words
        wrong = mask_of(signal_counts(single) > max(1, 0.05 * count))
        if size_of(wrong) > share * size_of(wrong | self.moving(at, count, mask)) and wrong:
            return None
        rest = self.costs[np.bitwise_count(words & ~wrong)]
        return wrong if int(rest.sum()) <= SOUND / 2 * count else None

    def band(self, at: Places, rows: int, low: int, high: int, mask: np.uint64) -> Int32:
        """int32[rows, high - low + 1]: cost of good cycle ``at.good + r`` with suspect cycle ``at.suspect + r + d`` for
        each d from ``low`` to ``high``; very dear where there is no such cycle."""
        width, first = high - low + 1, at.suspect + low
        need = rows + width - 1
        a, b = max(0, first), max(0, first, min(len(self.suspect), first + need))

        def spread(words: Words) -> Words:
            full = words[a:b]
            if b - a < need:
                full = np.zeros(need, np.uint64)
                full[a - first : b - first] = words[a:b]
            return np.lib.stride_tricks.as_strided(full, (rows, width), full.strides * 2)

        good = slice(at.good, at.good + rows)
        x = (self.good.levels[good, None] ^ spread(self.suspect.levels)) & mask
        if self.good.undecided is not None:
            x &= ~self.good.undecided[good, None]
        if self.suspect.undecided is not None:
            x &= ~spread(self.suspect.undecided)
        out: Int32 = np.asarray(self.costs[np.bitwise_count(x)])
        if b - a < need:
            column = first + np.arange(rows)[:, None] + np.arange(width)
            out[(column < 0) | (column >= len(self.suspect))] = _NEVER
        return out


def cheapest(
    pair: WordPair,
    at: Places,
    rows: int,
    low: int,
    high: int,
    mask: np.uint64,
    *,
    to: int | None = None,
    at_end: bool = False,
) -> Path:
    """The cheapest way from ``at`` through ``rows`` good cycles, with the suspect ``low`` to ``high`` cycles ahead.

    ``to`` is how many suspect cycles it must take in all; without it the end is free. With ``at_end`` it may stop
    before the last cycles: these cost more than a gap if both sides have them, and nothing if one has them alone.
    On equal costs pairs come before gaps on the way back, so that gaps come early.
    """
    costs = pair.band(at, rows, low, high, mask)
    width, start = high - low + 1, -low
    ramp = (GAP_CYCLE * np.arange(width)).astype(np.int32)
    # least costs of reaching each diagonal, of that by a gap in the suspect, and of that without a gap in the good side
    own, lone, base = (np.full((rows + 1, width), _NEVER, np.int32) for _ in range(3))
    base[0, start] = 0
    for r in range(rows + 1):
        row = base[r]
        if r:
            before, gone = own[r - 1], lone[r]
            np.add(before, costs[r - 1], out=row)
            np.minimum(before[1:] + GAP, lone[r - 1, 1:], out=gone[:-1])
            gone[:-1] += GAP_CYCLE
            np.minimum(row, gone, out=row)
        run = np.minimum.accumulate(row - ramp)
        own[r, 0] = row[0]
        run += GAP
        np.minimum(row[1:], run[:-1] + ramp[1:], out=own[r, 1:])
        np.minimum(own[r], _NEVER, out=own[r])
    used = at.suspect + np.arange(rows + 1)[:, None] + np.arange(low, high + 1)
    own[(used > len(pair.suspect)) | (used < 0)] = _NEVER
    if to is not None:
        end = rows, to - rows - low
    elif at_end:
        end = _end_of(pair, at, own, used)
    else:
        end = rows, int(own[rows].argmin())
    return _back(own, lone, base, costs, end, start)


def _end_of(pair: WordPair, at: Places, own: Int32, used: Int64) -> tuple[int, int]:
    """Where a way that may stop before the last cycles is cheapest."""
    rows = np.arange(len(own))[:, None]
    left = np.minimum(len(pair.good) - at.good - rows, len(pair.suspect) - used)
    not_used = pair.left(at) - np.minimum(rows, used - at.suspect)
    cut = own + np.where(left > 0, _CUT + _CUT_CYCLE * left, 0) + _UNUSED * np.maximum(not_used, 0)
    row, column = divmod(int(cut.argmin()), own.shape[1])
    return row, column


def _back(own: Int32, lone: Int32, base: Int32, costs: Int32, end: tuple[int, int], start: int) -> Path:
    """From the end to the start, by which of the recurrence's terms made each cost."""
    ops: list[int] = []
    paid: list[int] = []

    def step(op: int, count: int, cost: int = 0) -> None:
        ops.extend([op] * count)
        paid.extend([cost] * count)

    row, column = end
    while row or column != start:
        if own[row, column] < base[row, column]:
            opened = base[row, :column] + GAP + GAP_CYCLE * np.arange(column, 0, -1)
            origin = int(np.flatnonzero(opened == own[row, column])[-1])
            step(INSERT, column - origin)
            column = origin
        if not row:
            continue
        cost = int(costs[row - 1, column])
        if base[row, column] == own[row - 1, column] + cost:
            step(PAIR, 1, cost)
            row -= 1
            continue
        first = False
        while not first:
            step(MISS, 1)
            first = bool(lone[row, column] == own[row - 1, column + 1] + GAP + GAP_CYCLE)
            row, column = row - 1, column + 1
    return Path(np.array(ops[::-1], np.uint8), np.array(paid[::-1], np.int32))
