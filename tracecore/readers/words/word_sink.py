"""Where cells end up: the changes of a column of words or of logic, and those of each of its bits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.readers.words.word_block import UInt64, Words
from tracecore.readers.words.words import WordColumn, word_width

Cell = tuple[int, int, int]
"""Value, unknown bits and digits of a distinct cell."""
_BITS_OF_LOGIC = 0xFF


@dataclass(slots=True)
class WordSink:
    """Collects the changes of one column, block by block: rows, times, values and unknown bits. ``column`` is None for
    logic, of which a value takes a byte."""

    column: WordColumn | None
    index: list[Int64] = field(default_factory=list)
    times: list[Int64] = field(default_factory=list)
    values: list[Any] = field(default_factory=list)
    unknown: list[Any] = field(default_factory=list)
    digits: int = 0
    seen: int = 0
    last: tuple[int, int] | None = None

    @property
    def width(self) -> int:
        """Bits of the widest word so far."""
        return 1 if self.column is None else word_width(self.column, max(1, self.digits), self.seen)

    @property
    def last_row(self) -> int:
        """The row of the last change."""
        return (
            int(self.index[-1][-1]) if len(self.index[-1]) else max(int(part[-1]) for part in self.index if len(part))
        )

    def add(self, words: Words, times: Int64 | None, first: int) -> bool:
        """Adds rows ``first`` on; did the last of them change?"""
        value, unknown = words.value, words.unknown
        changed = np.empty(len(value), np.bool_)
        changed[1:] = (value[1:] != value[:-1]) | (unknown[1:] != unknown[:-1])
        changed[0] = (int(value[0]), int(unknown[0])) != self.last
        at = np.flatnonzero(changed)
        self._keep(at + first, value[at], unknown[at], (int(value[-1]), int(unknown[-1])), words.digits)
        if times is not None:
            self.times.append(times[at])
        self.seen |= int(np.bitwise_or.reduce(value))
        return bool(changed[-1])

    def add_cells(self, codes: np.ndarray[Any, Any], cells: Sequence[Cell], first: int) -> None:
        """Adds rows ``first`` on, of which ``codes`` say which of the distinct ``cells`` each holds."""
        number: dict[tuple[int, int], int] = {}
        # two cells that are written differently may stand for the same
        same = [number.setdefault(cell[:2], len(number)) for cell in cells]
        numbers = np.array(same, np.int32)[codes]
        value, unknown = zip(*number, strict=True)
        changed = np.empty(len(numbers), np.bool_)
        np.not_equal(numbers[1:], numbers[:-1], out=changed[1:])
        changed[0] = (value[numbers[0]], unknown[numbers[0]]) != self.last
        at = np.flatnonzero(changed)
        last = value[numbers[-1]], unknown[numbers[-1]]
        small = np.uint8 if self.column is None else np.uint64
        mask = _BITS_OF_LOGIC if self.column is None else -1
        held, values, hidden = numbers[at], np.array(value, small), np.array([u & mask for u in unknown], small)
        self._keep(at + first, values[held], hidden[held], last, max(cell[2] for cell in cells))
        self.seen |= int(np.bitwise_or.reduce(values))

    def _keep(self, index: Int64, value: Any, unknown: Any, last: tuple[int, int], digits: int) -> None:
        self.index.append(index)
        self.values.append(value)
        self.unknown.append(unknown)
        self.last, self.digits = last, max(self.digits, digits)

    def bits(self, width: int) -> list[tuple[Int64, Int64 | None, UInt8]]:
        """Rows, times and levels of the changes of each bit, most significant first."""
        index, values, unknown = (np.concatenate(part) for part in (self.index, self.values, self.unknown))
        times = np.concatenate(self.times) if self.times else None
        # a byte of each word at a time: an eighth of what would have to be moved
        low_first, hidden = _octets(values), _octets(unknown) if unknown.any() else None
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


def _octets(words: UInt64 | UInt8) -> UInt8:
    """The bytes uint8[n, bytes of a word], lowest first."""
    return np.ascontiguousarray(words.astype(words.dtype.newbyteorder("<"))).view(np.uint8).reshape(len(words), -1)
