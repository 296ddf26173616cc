"""Where rows end up: the transitions of each channel, and what the times of the rows tell."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from tracecore.capture import Int64, UInt8
from tracecore.quantities import PS_PER_S
from tracecore.readers.logic.row_text import RowLayout
from tracecore.readers.refusals import bad_row

Int32 = np.ndarray[tuple[int, ...], np.dtype[np.int32]]
UInt16 = np.ndarray[tuple[int, ...], np.dtype[np.uint16]]
_TIMES_KEPT = 50_000
_LAST_KEPT = 64
_ALTERNATING = np.tile(np.array([0, 1], np.uint8), 1 << 19)


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """All rows of a file.

    Channel c changes at row ``index[c]`` to ``levels[c]``, the first entry being the first row; ``times`` are the
    printed times of those rows in ps. Only one of the two is filled: ``times`` where the rows carry times, unless
    these keep to a stated rate. ``last_changes`` says whether the last row changed anything. ``head`` and ``tail`` are
    the first and last times; ``same_times`` counts rows with the time of the row above. ``off_rate_line`` is the first
    line whose time does not keep to the stated rate.
    """

    index: list[Int64]
    times: list[Int64]
    levels: list[UInt8]
    count: int
    first_ps: int
    last_ps: int
    last_changes: bool
    off_rate_line: int | None
    head: Int64
    tail: Int64
    same_times: int
    notes: tuple[str, ...]


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
        self._even = np.empty(0, np.int64)
        self._first_ps = self._last_ps = 0
        self._last_changes = False
        self._head: list[Int64] = []
        self._head_kept = 0
        self._tail = np.empty(0, np.int64)
        self._same_times = 0
        self._off_rate_line: int | None = None

    def add(self, levels: UInt8, times: Int64 | None, line: int, *, binary: bool = False) -> None:
        """``levels`` uint8[columns, n], n > 0; ``times`` int64[n] or None; ``line`` is that of the first row.

        ``binary`` says that all levels are 0 or 1, which need not be looked up then.
        """
        if times is not None:
            self._check_times(times, line)
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

    def _check_times(self, times: Int64, line: int) -> None:
        if self.count == 0:
            self._first_ps = self._last_ps = int(times[0])
        steps = np.empty_like(times)
        steps[0] = times[0] - self._last_ps
        np.subtract(times[1:], times[:-1], out=steps[1:])
        least = int(steps.min())
        if least == 0:
            self._same_times += int((steps == 0).sum()) - (self.count == 0)
        if least < 0:
            at = int((steps < 0).argmax())
            found, do = "a time before that of the row above", "Export the capture again, or cut the file here."
            raise bad_row(self.path, line + at, found, "times that never run backwards", 1, do)
        if self._head_kept < _TIMES_KEPT:
            self._head.append(times[:_TIMES_KEPT].copy())
            self._head_kept += len(times)
        last = times[-_LAST_KEPT:]
        self._tail = last.copy() if len(last) == _LAST_KEPT else np.append(self._tail, last)[-_LAST_KEPT:]
        if self.layout.rate_hz is not None and self._off_rate_line is None:
            self._check_rate(times, line, self.layout.rate_hz)
        self._last_ps = int(times[-1])

    def _check_rate(self, times: Int64, line: int, rate_hz: Fraction) -> None:
        period = PS_PER_S / rate_hz
        slack = _slack(period, self.layout.printed_ps)
        if len(self._even) < len(times):
            self._even = np.rint(np.arange(len(times)) * float(period)).astype(np.int64)
        start = self._first_ps + round(self.count * period)
        off = times - self._even[: len(times)]
        if int(off.max()) - start <= slack and start - int(off.min()) <= slack:
            return
        self._off_rate_line = line + int((np.abs(off - start) > slack).argmax())

    @property
    def by_time(self) -> bool:
        """Do the rows carry times that keep to no stated rate, so that they and not the rows' numbers count?"""
        return self.layout.timed and (self.layout.rate_hz is None or self._off_rate_line is not None)

    def rows(self, notes: tuple[str, ...]) -> Rows:
        """What was collected; at least one row must have been added."""
        by_time = self.by_time
        return Rows(
            [] if by_time else _counted(self._bases, self._rows),
            [_joined(part) for part in self._times] if by_time else [],
            [np.concatenate(part) for part in self._levels],
            self.count,
            self._first_ps,
            self._last_ps,
            self._last_changes,
            self._off_rate_line,
            _joined(self._head) if self._head else np.empty(0, np.int64),
            self._tail,
            self._same_times,
            notes,
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


def _slack(period_ps: Fraction, printed_ps: int) -> int:
    """How far a time may be off the stated rate: a digit by rounding, less where whole digits hold each period."""
    return printed_ps - 1 if printed_ps > 2 and period_ps % printed_ps == 0 else printed_ps + 1


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
