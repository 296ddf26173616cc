"""The states of one cycle as one word, so that two cycles are compared in one step."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, Int64, UInt8

Words = NDArray[np.uint64]
Bools = NDArray[np.bool_]
MOST_SIGNALS = 64


@dataclass(frozen=True, slots=True, eq=False)
class StateWords:
    """``levels`` uint64[N], bit i the level of signal i in each cycle, an undecided one held at the level before it;
    ``undecided`` uint64[N] marks those bits, None where every state is decided."""

    levels: Words
    undecided: Words | None

    def __len__(self) -> int:
        return len(self.levels)

    def backwards(self) -> StateWords:
        """The same cycles, last first; a view."""
        return StateWords(self.levels[::-1], None if self.undecided is None else self.undecided[::-1])

    def part(self, start: int, stop: int) -> StateWords:
        """Cycles ``start`` (closed) to ``stop`` (open); a view."""
        return StateWords(self.levels[start:stop], None if self.undecided is None else self.undecided[start:stop])


def state_words(states: UInt8, rows: Int64) -> StateWords:
    """Up to ``MOST_SIGNALS`` of the rows of uint8[S, N] states as words.

    >>> words = state_words(np.array([[0, 1, 1], [1, 2, 0]], np.uint8), np.array([0, 1]))
    >>> words.levels.tolist(), words.undecided.tolist()
    ([2, 3, 1], [0, 2, 0])
    """
    rows = rows[:MOST_SIGNALS]
    count = states.shape[1]
    levels = np.zeros((count, 8), np.uint8)
    undecided: NDArray[np.uint8] | None = None
    own, moved = np.empty(count, np.uint8), np.empty(count, np.uint8)
    for byte in range(-(-len(rows) // 8)):
        # eight signals are packed in bytes first: that reads and writes an eighth of what words would
        eight = rows[8 * byte : 8 * byte + 8].tolist()
        own.fill(0)
        for bit, row in enumerate(eight):
            np.bitwise_or(own, np.left_shift(held(states[row]), np.uint8(bit), out=moved), out=own)
        levels[:, byte] = own
        doubted = [(bit, row) for bit, row in enumerate(eight) if states[row].max(initial=0) == UNKNOWN]
        if doubted:
            undecided = np.zeros((count, 8), np.uint8) if undecided is None else undecided
            undecided[:, byte] = np.bitwise_or.reduce([(states[r] >> np.uint8(1)) << np.uint8(i) for i, r in doubted])
    as_words = levels.reshape(-1).view("<u8").astype(np.uint64, copy=False)
    return StateWords(as_words, None if undecided is None else undecided.reshape(-1).view("<u8"))


def held(row: UInt8) -> UInt8:
    """Undecided states replaced by the last decided one; low where none came before.

    >>> held(np.array([2, 1, 2, 2, 0], np.uint8)).tolist()
    [0, 1, 1, 1, 0]
    """
    if row.max(initial=0) < UNKNOWN:
        return row
    doubt = np.flatnonzero(row == UNKNOWN)
    out = row.copy()
    first = np.concatenate(([True], np.diff(doubt) > 1))
    before = doubt[first] - 1
    level = np.where(before >= 0, row[np.maximum(before, 0)], 0).astype(np.uint8)
    out[doubt] = level[np.cumsum(first) - 1]
    return out


def signal_counts(words: Words) -> Int64:
    """How many of the words have each bit set: int64[64]. For some thousand words at most."""
    if not len(words):
        return np.zeros(MOST_SIGNALS, np.int64)
    octets = np.ascontiguousarray(words, "<u8").view(np.uint8).reshape(-1, 8)
    return np.asarray(np.unpackbits(octets, axis=1, bitorder="little").sum(0), np.int64)


def mask_of(chosen: Bools) -> np.uint64:
    """bool[64] as the bits of one word."""
    return np.uint64(np.packbits(chosen, bitorder="little").view("<u8")[0])


def size_of(mask: np.uint64) -> int:
    """How many signals a mask holds."""
    return int(mask).bit_count()
