"""Where words end up: the changes of a column of words, and those of each of its bits."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.readers.words.word_block import UInt64, Words
from tracecore.readers.words.words import WordColumn


@dataclass(slots=True)
class WordSink:
    """Collects the changes of one word column: rows, times, values and unknown bits."""

    column: WordColumn
    index: list[Int64] = field(default_factory=list)
    times: list[Int64] = field(default_factory=list)
    values: list[UInt64] = field(default_factory=list)
    unknown: list[UInt64] = field(default_factory=list)
    digits: int = 0
    seen: int = 0
    last: tuple[int, int] | None = None

    def add(self, words: Words, times: Int64 | None, first: int) -> bool:
        """Adds rows ``first`` on; did the last of them change?"""
        value, unknown = words.value, words.unknown
        changed = np.empty(len(value), np.bool_)
        changed[1:] = (value[1:] != value[:-1]) | (unknown[1:] != unknown[:-1])
        changed[0] = (int(value[0]), int(unknown[0])) != self.last
        at = np.flatnonzero(changed)
        self.index.append(at + first)
        if times is not None:
            self.times.append(times[at])
        self.values.append(value[at])
        self.unknown.append(unknown[at])
        self.digits = max(self.digits, words.digits)
        self.seen |= int(np.bitwise_or.reduce(value))
        self.last = int(value[-1]), int(unknown[-1])
        return bool(changed[-1])

    def bits(self, width: int) -> list[tuple[Int64, Int64 | None, UInt8]]:
        """Rows, times and levels of the changes of each bit, most significant first."""
        index, values, unknown = (np.concatenate(part) for part in (self.index, self.values, self.unknown))
        times = np.concatenate(self.times) if self.times else None
        # a byte of each word at a time: an eighth of what would have to be moved
        low_first = values.astype("<u8").view(np.uint8).reshape(-1, 8)
        hidden = unknown.astype("<u8").view(np.uint8).reshape(-1, 8) if unknown.any() else None
        found: list[tuple[Int64, Int64 | None, UInt8]] = []
        for bit in range(width - 1, -1, -1):
            level: UInt8 = np.asarray((low_first[:, bit // 8] >> np.uint8(bit % 8)) & np.uint8(1), np.uint8)
            if hidden is not None:
                level[(hidden[:, bit // 8] >> (bit % 8)) & 1 != 0] = UNKNOWN
            keep = np.concatenate(([0], np.flatnonzero(level[1:] != level[:-1]) + 1))
            found.append(
                (np.asarray(index.take(keep), np.int64), None if times is None else times.take(keep), level.take(keep))
            )
        return found
