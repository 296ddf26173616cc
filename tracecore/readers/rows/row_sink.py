"""Where rows of logic end up: the transitions of each channel, block by block."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from tracecore.capture import Int64, UInt8
from tracecore.readers.rows.row_text import RowLayout
from tracecore.readers.rows.rows import Rows
from tracecore.readers.rows.time_log import TimeLog

Int32 = np.ndarray[tuple[int, ...], np.dtype[np.int32]]
UInt16 = np.ndarray[tuple[int, ...], np.dtype[np.uint16]]
_ALTERNATING = np.tile(np.array([0, 1], np.uint8), 1 << 19)
# stretches of fewer changes are moved all at once, longer ones channel by channel
_SHORT = 32


@dataclass(frozen=True, slots=True, eq=False)
class _Changes:
    """Of one block: the changes of channel c are those from ``cuts[c]`` on. ``rows`` count from ``base``, which takes
    half the memory; ``levels`` are theirs where ``each``, else of the first of each channel, from which they turn."""

    base: int
    cuts: Int64
    rows: Int32 | None
    times: Int64 | None
    levels: UInt8
    each: bool

    def each_level(self, counts: Int64) -> UInt8:
        """The level of every change."""
        return self.levels if self.each else _by_turns(self.levels, self.cuts[:-1], counts)


class RowSink:
    """Collects transitions; remembers the last levels and the last time between blocks."""

    def __init__(self, path: str, layout: RowLayout) -> None:
        self.path, self.layout = path, layout
        self.count = 0
        self.last: UInt8 | None = None
        self.log = TimeLog(path, layout)
        self._blocks: list[_Changes] = []
        self._last_changes = False

    def add(self, levels: UInt8, times: Int64 | None, line: int, *, binary: bool = False) -> None:
        """``levels`` uint8[columns, n], n > 0; ``times`` int64[n] or None; ``line`` is that of the first row.

        ``binary`` says that all levels are 0 or 1, which need not be looked up then.
        """
        if times is not None:
            self.log.add(times, line)
        levels = np.ascontiguousarray(levels)
        changed = np.empty(levels.shape, np.bool_)
        flat = levels.reshape(-1)
        np.not_equal(flat[1:], flat[:-1], out=changed.reshape(-1)[1:])
        changed[:, 0] = True if self.last is None else levels[:, 0] != self.last
        where = np.flatnonzero(changed)
        cuts = _cuts(where, levels.shape)
        rows = _within(where, cuts, levels.shape[1])
        if binary:
            firsts = flat.take(where.take(cuts[:-1], mode="clip")) if len(where) else levels[:, 0]
            self._keep(rows, cuts, times, firsts)
        else:
            self._keep(rows, cuts, times, flat.take(where), each=True)
        self.last = levels[:, -1].copy()
        self._last_changes = bool(changed[:, -1].any())
        self.count += levels.shape[1]

    def add_changes(self, changed: UInt8) -> None:
        """``changed`` uint8[columns, n], 1 where a cell differs from the row before; for levels 0 and 1 only."""
        # looking for true in booleans is five times as fast as for non-zero in bytes
        where = np.flatnonzero(changed.view(np.bool_))
        cuts = _cuts(where, changed.shape)
        self._add_changes(_within(where, cuts, changed.shape[1]), cuts, changed.shape[1])
        self._last_changes = bool(changed[:, -1].any())

    def add_few_changes(self, channel: UInt16, row: Int64, count: int) -> None:
        """``count`` rows, where ``channel`` (ascending) changes at ``row`` (ascending in each), for levels 0 and 1."""
        cuts = channel.searchsorted(np.arange(self.layout.columns + 1))
        self._add_changes(row.astype(np.int32), cuts, count)
        self._last_changes = bool((row == count - 1).any())

    def _add_changes(self, rows: Int32, cuts: Int64, count: int) -> None:
        if self.last is None:
            raise ValueError("changes need a row before them")
        self._keep(rows, cuts, None, 1 - self.last)
        self.last = self.last ^ (np.diff(cuts) & 1).astype(np.uint8)
        self.count += count

    def _keep(self, rows: Int32, cuts: Int64, times: Int64 | None, levels: UInt8, *, each: bool = False) -> None:
        """Changes at ``rows``, those of channel c from ``cuts[c]`` on, to the levels of ``each`` or by turns."""
        counted = times is None or self.layout.rate_hz is not None
        placed = None if times is None else times.take(rows)
        self._blocks.append(_Changes(self.count, cuts, rows if counted else None, placed, levels, each))

    def rows(self, names: tuple[str, ...], notes: tuple[str, ...]) -> Rows:
        """What was collected; at least one row must have been added. The blocks are let go."""
        counts = np.array([np.diff(block.cuts) for block in self._blocks])
        total = counts.sum(0)
        bounds = np.concatenate(([0], np.cumsum(total)))
        # one room for all channels: memory that is asked for in large pieces comes in large pages
        places, at = np.empty(int(bounds[-1]), np.int64), bounds[:-1].copy()
        binary = not any(block.each for block in self._blocks[1:])
        levels = np.empty(len(places), np.uint8)
        if binary:
            first = self._blocks[0]
            _by_turns(first.levels[first.cuts[:-1]] if first.each else first.levels, bounds[:-1], total, levels)
        for block, own in zip(self._blocks, counts, strict=True):
            if self.log.counts:
                _spread(places, block.times, at, block.cuts)
            else:
                _spread(places, block.rows, at, block.cuts, block.base)
            if not binary:
                _spread(levels, block.each_level(own), at, block.cuts)
            at += own
        self._blocks.clear()
        return Rows(self.count, names, places, levels, bounds, self._last_changes, self.log, notes=notes)


def _spread(out: Any, part: Any, at: Int64, cuts: Int64, base: int = 0) -> None:
    """Moves what stands from ``cuts[c]`` on in a block, plus ``base``, to ``at[c]`` on in ``out``."""
    if len(part) >= _SHORT * len(at):
        bounds = cuts.tolist()
        for start, stop, where in zip(bounds, bounds[1:], at.tolist(), strict=False):
            np.add(part[start:stop], base, out=out[where : where + stop - start], casting="unsafe")
        return
    where = np.repeat(at - cuts[:-1], np.diff(cuts))
    where += np.arange(len(part))
    out[where] = part + base if base else part


def _by_turns(first: UInt8, at: Int64, counts: Int64, out: UInt8 | None = None) -> UInt8:
    """0 and 1 in turn, from ``first`` on in each channel, which begins at ``at``."""
    levels = np.empty(int(counts.sum()), np.uint8) if out is None else out
    if len(levels) >= _SHORT * len(at):
        for level, start, count in zip(first.tolist(), at.tolist(), counts.tolist(), strict=True):
            levels[start : start + count] = _alternating(level, count)
        return levels
    turns = np.arange(len(levels)) - np.repeat(at, counts)
    np.bitwise_and(turns, 1, out=turns)
    np.bitwise_xor(turns, np.repeat(first, counts), out=levels, casting="unsafe")
    return levels


def _cuts(where: Int64, shape: tuple[int, ...]) -> Int64:
    """Where each channel begins among the flat places ``where`` of an array [channels, rows], and the end."""
    return np.asarray(where.searchsorted(np.arange(shape[0] + 1) * shape[1]))


def _within(where: Int64, cuts: Int64, rows: int) -> Int32:
    """The same places counted within their channel."""
    within = where.astype(np.int32)
    if len(where) < _SHORT * len(cuts):
        within -= np.repeat(np.arange(len(cuts) - 1, dtype=np.int32) * np.int32(rows), np.diff(cuts))
        return within
    bounds = cuts.tolist()
    for channel in range(1, len(bounds) - 1):
        if bounds[channel] < bounds[channel + 1]:
            within[bounds[channel] : bounds[channel + 1]] -= channel * rows
    return within


def _alternating(first: int, count: int) -> UInt8:
    """0 and 1 in turn; a view, so that a block's levels cost nothing until they are joined."""
    pattern = _ALTERNATING if count < len(_ALTERNATING) else np.tile(_ALTERNATING, count // len(_ALTERNATING) + 1)
    return pattern[first : first + count]
