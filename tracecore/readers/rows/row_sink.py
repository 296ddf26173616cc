"""Where rows of logic end up: the transitions of each channel, block by block."""

from __future__ import annotations

import numpy as np

from tracecore.capture import Int64, UInt8
from tracecore.readers.rows.row_text import RowLayout
from tracecore.readers.rows.rows import Rows
from tracecore.readers.rows.time_log import TimeLog

Int32 = np.ndarray[tuple[int, ...], np.dtype[np.int32]]
UInt16 = np.ndarray[tuple[int, ...], np.dtype[np.uint16]]
_ALTERNATING = np.tile(np.array([0, 1], np.uint8), 1 << 19)


class RowSink:
    """Collects transitions; remembers the last levels and the last time between blocks."""

    def __init__(self, path: str, layout: RowLayout) -> None:
        self.path, self.layout = path, layout
        self.count = 0
        self.last: UInt8 | None = None
        channels = range(layout.columns)
        # rows are counted from the base of their block, which takes half the memory
        self._bases: list[list[int]] = [[] for _ in channels]
        self._rows: list[list[Int32]] = [[] for _ in channels]
        self._times: list[list[Int64]] = [[] for _ in channels]
        self._levels: list[list[UInt8]] = [[] for _ in channels]
        self._last_changes = False
        self.log = TimeLog(path, layout)

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
        if times is not None:
            times = times.take(rows)
        counted = times is None or self.layout.rate_hz is not None
        bounds = cuts.tolist()
        for channel in np.flatnonzero(np.diff(cuts)).tolist():
            start, stop = bounds[channel], bounds[channel + 1]
            if counted:
                self._bases[channel].append(self.count)
                self._rows[channel].append(rows[start:stop])
            if times is not None:
                self._times[channel].append(times[start:stop])
            self._levels[channel].append(
                levels[start:stop] if each else _alternating(int(levels[channel]), stop - start)
            )

    def rows(self, names: tuple[str, ...], notes: tuple[str, ...]) -> Rows:
        """What was collected; at least one row must have been added."""
        by_time = self.log.counts
        return Rows(
            self.count,
            names,
            [] if by_time else _counted(self._bases, self._rows),
            [_joined(part) for part in self._times] if by_time else [],
            [np.concatenate(part) for part in self._levels],
            self._last_changes,
            self.log,
            notes=notes,
        )


def _cuts(where: Int64, shape: tuple[int, ...]) -> Int64:
    """Where each channel begins among the flat places ``where`` of an array [channels, rows], and the end."""
    return np.asarray(where.searchsorted(np.arange(shape[0] + 1) * shape[1]))


def _within(where: Int64, cuts: Int64, rows: int) -> Int32:
    """The same places counted within their channel."""
    within = where.astype(np.int32)
    bounds = cuts.tolist()
    for channel in range(1, len(bounds) - 1):
        if bounds[channel] < bounds[channel + 1]:
            within[bounds[channel] : bounds[channel + 1]] -= channel * rows
    return within


def _alternating(first: int, count: int) -> UInt8:
    """0 and 1 in turn; a view, so that a block's levels cost nothing until they are joined."""
    pattern = _ALTERNATING if count < len(_ALTERNATING) else np.tile(_ALTERNATING, count // len(_ALTERNATING) + 1)
    return pattern[first : first + count]


def _counted(bases: list[list[int]], parts: list[list[Int32]]) -> list[Int64]:
    """Row numbers of the whole file for each channel; the parts are let go."""
    # one room for all channels: memory that is asked for in large pieces comes in large pages
    room = np.empty(sum(len(part) for each in parts for part in each), np.int64)
    counted, at = [], 0
    for channel_bases, channel_parts in zip(bases, parts, strict=True):
        start = at
        for base, part in zip(channel_bases, channel_parts, strict=True):
            np.add(part, base, out=room[at : at + len(part)])
            at += len(part)
        counted.append(room[start:at])
        channel_parts.clear()
    return counted


def _joined(parts: list[Int64]) -> Int64:
    """One array; the parts are let go, so that both need not lie in memory for all channels at once."""
    whole = np.concatenate(parts)
    parts.clear()
    return whole
