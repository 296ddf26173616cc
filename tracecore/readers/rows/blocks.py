"""What one block of rows comes to, whichever way it was read."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from tracecore.capture import Int64, UInt8

if TYPE_CHECKING:
    from tracecore.readers.refusals import BadRow
    from tracecore.readers.rows.cell_block import Words

Float64 = np.ndarray[Any, np.dtype[np.float64]]
Bools = np.ndarray[Any, np.dtype[np.bool_]]
Int32 = np.ndarray[tuple[int, ...], np.dtype[np.int32]]
# stretches of fewer changes are moved all at once, longer ones channel by channel
SHORT = 32


@dataclass(frozen=True, slots=True, eq=False)
class Changes:
    """The changes of the channels of logic within ``count`` rows.

    ``first`` uint8[channels] are the levels in the first row. Behind it channel c changes at the ``rows`` int32 from
    ``cuts[c]`` to ``cuts[c + 1]`` (open), to the ``levels`` uint8, or by turns of 0 and 1 where these are None.
    """

    count: int
    cuts: Int64
    rows: Int32
    first: UInt8
    levels: UInt8 | None = None

    @classmethod
    def at(cls, changed: Bools, first: UInt8, levels: UInt8 | None = None) -> Changes:
        """Where ``changed`` bool[channels, rows] is true, which it is not in the first row; ``levels`` uint8[channels,
        rows] where they do not go by turns."""
        channels, count = changed.shape
        where = np.flatnonzero(changed)
        cuts = np.asarray(where.searchsorted(np.arange(channels + 1) * count))
        rows = where.astype(np.int32)
        if len(where) < SHORT * channels:
            rows -= np.repeat(np.arange(channels, dtype=np.int32) * np.int32(count), np.diff(cuts))
        else:
            for channel in range(1, channels):
                rows[cuts[channel] : cuts[channel + 1]] -= channel * count
        return cls(count, cuts, rows, first, None if levels is None else levels.reshape(-1).take(where))

    @property
    def last(self) -> UInt8:
        """The levels uint8[channels] in the last row."""
        counts = np.diff(self.cuts)
        if self.levels is None:
            return np.asarray(self.first ^ (counts & 1).astype(np.uint8))
        last = self.first.copy()
        last[counts > 0] = self.levels[self.cuts[1:][counts > 0] - 1]
        return last

    @property
    def last_changes(self) -> bool:
        """Did the last row, behind the first one, change anything?"""
        return bool((self.rows == self.count - 1).any())


def changes_of(levels: UInt8) -> Changes:
    """The changes of ``levels`` uint8[channels, rows]."""
    levels = np.ascontiguousarray(levels)
    changed = np.empty(levels.shape, np.bool_)
    flat = levels.reshape(-1)
    np.not_equal(flat[1:], flat[:-1], out=changed.reshape(-1)[1:])
    changed[:, 0] = False
    return Changes.at(changed, levels[:, 0].copy(), levels if int(levels.max()) > 1 else None)


@dataclass(slots=True)
class Block:
    """``count`` rows: ``numbers`` by their cells, ``times`` in ps (or numbers of samples) by which rows of logic go,
    the last digit of the finest being 10**``finest`` ps; ``changes`` of logic, and ``words`` by their cells.

    ``markers`` are lines without cells that stood among them, by the row behind each; ``wrong`` is what is wrong with
    the row behind the last one.
    """

    count: int
    numbers: dict[int, Any] = field(default_factory=dict)
    times: Int64 | None = None
    changes: Changes | None = None
    words: dict[int, Words] = field(default_factory=dict)
    finest: int = 12
    markers: list[tuple[int, str]] = field(default_factory=list)
    wrong: BadRow | None = None
