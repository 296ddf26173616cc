"""Where cells end up: the changes of a column of words or of logic, and those of each of its bits."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.readers.plan.words import WordColumn, word_width
from tracecore.readers.rows.cell_block import UInt64, Words

_BITS_OF_LOGIC = 0xFF


@dataclass(slots=True)
class WordSink:
    """Collects the changes of one column, block by block: rows, values and unknown bits. ``column`` is None for
    logic, of which a value takes a byte."""

    column: WordColumn | None
    index: list[Int64] = field(default_factory=list)
    values: list[Any] = field(default_factory=list)
    unknown: list[Any] = field(default_factory=list)
    digits: int = 0
    seen: int = 0
    last: tuple[int, int] | None = None

    @property
    def width(self) -> int:
        """Bits of the widest word so far."""
        return 1 if self.column is None else word_width(self.column, max(1, self.digits), self.seen)

    def add(self, words: Words, first: int) -> bool:
        """Adds rows ``first`` on; did the last of them change?"""
        value, unknown = words.value, words.unknown
        changed = np.empty(len(value), np.bool_)
        changed[1:] = (value[1:] != value[:-1]) | (unknown[1:] != unknown[:-1])
        changed[0] = (int(value[0]), int(unknown[0])) != self.last
        at = np.flatnonzero(changed)
        self._keep(at + first, value[at], unknown[at], (int(value[-1]), int(unknown[-1])), words.digits)
        self.seen |= int(np.bitwise_or.reduce(value))
        return bool(changed[-1])

    def add_levels(self, levels: UInt8, first: int) -> bool:
        """The same for levels uint8[n] of logic."""
        unknown = (levels == UNKNOWN).astype(np.uint8) * np.uint8(_BITS_OF_LOGIC)
        return self.add(Words(np.where(unknown, np.uint8(0), levels), unknown, 1), first)

    def _keep(self, index: Int64, value: Any, unknown: Any, last: tuple[int, int], digits: int) -> None:
        self.index.append(index)
        self.values.append(value)
        self.unknown.append(unknown)
        self.last, self.digits = last, max(self.digits, digits)

    def bits(self, width: int) -> list[tuple[Int64, UInt8]]:
        """Rows and levels of the changes of each bit, most significant first."""
        index, values, unknown = (np.concatenate(part) for part in (self.index, self.values, self.unknown))
        # a byte of each word at a time: an eighth of what would have to be moved
        low_first, hidden = _octets(values), _octets(unknown) if unknown.any() else None
        found: list[tuple[Int64, UInt8]] = []
        for bit in range(width - 1, -1, -1):
            level: UInt8 = np.asarray((low_first[:, bit // 8] >> np.uint8(bit % 8)) & np.uint8(1), np.uint8)
            if hidden is not None:
                level[(hidden[:, bit // 8] >> (bit % 8)) & 1 != 0] = UNKNOWN
            keep = np.concatenate(([0], np.flatnonzero(level[1:] != level[:-1]) + 1))
            found.append((np.asarray(index.take(keep), np.int64), level.take(keep)))
        return found


def _octets(words: UInt64 | UInt8) -> UInt8:
    """The bytes uint8[n, bytes of a word], lowest first."""
    return np.ascontiguousarray(words.astype(words.dtype.newbyteorder("<"))).view(np.uint8).reshape(len(words), -1)
