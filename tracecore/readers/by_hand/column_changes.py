"""Where a column of logic or words changes, collected from rows piece by piece."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8

UInt64 = np.ndarray[Any, np.dtype[np.uint64]]


@dataclass(frozen=True, slots=True, eq=False)
class Changes:
    """Where a column of logic or words changes: row ``index`` int64[N], the first entry being the first row, to
    ``value`` with ``unknown`` bits, both uint64[N]; ``digits`` are those of its longest word. Of logic ``value`` is
    the level, uint8[N], and ``unknown`` is empty."""

    index: Int64
    value: UInt64 | UInt8
    unknown: UInt64
    digits: int

    def levels(self, bit: int) -> UInt8:
        """The levels of one bit, counted from the least significant: uint8[N]."""
        if self.value.dtype == np.uint8:
            return np.asarray(self.value, np.uint8)
        one, place = np.uint64(1), np.uint64(bit)
        levels = ((self.value >> place) & one).astype(np.uint8)
        levels[((self.unknown >> place) & one).astype(np.bool_)] = UNKNOWN
        return levels


Cell = tuple[int, int, int]
"""Value, unknown bits and digits of a distinct cell."""


class CollectedChanges:
    """The changes of one column, piece by piece; those of logic take a byte each besides their place."""

    def __init__(self, *, logic: bool) -> None:
        self._logic = logic
        self._index: list[Int64] = []
        self._levels: list[UInt8] = []
        self._value: list[UInt64] = []
        self._unknown: list[UInt64] = []
        self._digits = 0
        self._last: tuple[int, int] | None = None

    def add(self, codes: np.ndarray[Any, Any], cells: Sequence[Cell], start: int) -> None:
        """``codes`` say which of the distinct ``cells`` each row of a piece holds; the first row is ``start``."""
        number: dict[tuple[int, int], int] = {}
        # two cells that are written differently may stand for the same
        same = [number.setdefault(cell[:2], len(number)) for cell in cells]
        numbers = np.array(same, np.int32)[codes]
        distinct = list(number)
        changed = np.empty(len(numbers), np.bool_)
        np.not_equal(numbers[1:], numbers[:-1], out=changed[1:])
        changed[0] = distinct[numbers[0]] != self._last
        where = np.flatnonzero(changed)
        held = numbers[where]
        self._index.append(where + start)
        if self._logic:
            levels = [UNKNOWN if unknown else value for value, unknown in distinct]
            self._levels.append(np.array(levels, np.uint8)[held])
        else:
            self._value.append(np.array([value for value, _ in distinct], np.uint64)[held])
            self._unknown.append(np.array([unknown for _, unknown in distinct], np.uint64)[held])
        self._last = distinct[numbers[-1]]
        self._digits = max(self._digits, *(cell[2] for cell in cells))

    def changes(self) -> Changes:
        value = np.concatenate(self._levels) if self._logic else np.concatenate(self._value)
        unknown = np.empty(0, np.uint64) if self._logic else np.concatenate(self._unknown)
        found = Changes(np.concatenate(self._index), value, unknown, self._digits)
        self._index, self._levels, self._value, self._unknown = [], [], [], []
        return found
