"""Where words end up: the changes of a column of words, and those of each of its bits."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.readers.plan.words import WordColumn, word_width
from tracecore.readers.rows.cell_block import UInt64, Words


@dataclass(slots=True)
class WordSink:
    """Collects the changes of one column, block by block: rows, times where rows carry them, values, unknown bits."""

    column: WordColumn
    rows: list[Int64] = field(default_factory=list)
    times: list[Int64] = field(default_factory=list)
    values: list[UInt64] = field(default_factory=list)
    unknown: list[UInt64] = field(default_factory=list)
    digits: int = 0
    seen: int = 0
    last: tuple[int, int] | None = None

    @property
    def width(self) -> int:
        """Bits of the widest word so far."""
        return word_width(self.column, max(1, self.digits), self.seen)

    def add(self, words: Words, first: int, times: Int64 | None) -> bool:
        """Adds rows ``first`` on, with their ``times`` int64[n] if they carry them; did the last of them change?"""
        value, unknown = words.value, words.unknown
        changed = np.empty(len(value), np.bool_)
        changed[1:] = (value[1:] != value[:-1]) | (unknown[1:] != unknown[:-1])
        changed[0] = (int(value[0]), int(unknown[0])) != self.last
        at = np.flatnonzero(changed)
        self.rows.append(at + first)
        if times is not None:
            self.times.append(times[at])
        self.values.append(value[at])
        self.unknown.append(unknown[at])
        self.last, self.digits = (int(value[-1]), int(unknown[-1])), max(self.digits, words.digits)
        self.seen |= int(np.bitwise_or.reduce(value))
        return bool(changed[-1])

    def bits(self, by_time: bool) -> list[tuple[Int64, UInt8]]:
        """Rows, or times where ``by_time``, and levels of the changes of each bit, most significant first."""
        parts = self.times if by_time else self.rows, self.values, self.unknown
        places, values, unknown = np.concatenate(parts[0]), np.concatenate(parts[1]), np.concatenate(parts[2])
        # a byte of each word at a time: an eighth of what would have to be moved
        low_first, hidden = _octets(values), _octets(unknown) if unknown.any() else None
        found: list[tuple[Int64, UInt8]] = []
        for bit in range(self.width - 1, -1, -1):
            level: UInt8 = np.asarray((low_first[:, bit // 8] >> np.uint8(bit % 8)) & np.uint8(1), np.uint8)
            if hidden is not None:
                level[(hidden[:, bit // 8] >> (bit % 8)) & 1 != 0] = UNKNOWN
            keep = np.concatenate(([0], np.flatnonzero(level[1:] != level[:-1]) + 1))
            found.append((places.take(keep), level.take(keep)))
        return found


def _octets(words: UInt64) -> UInt8:
    """The bytes uint8[n, bytes of a word], lowest first."""
    return np.ascontiguousarray(words.astype(words.dtype.newbyteorder("<"))).view(np.uint8).reshape(len(words), -1)
