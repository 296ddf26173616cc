"""Where rows end up: the transitions of each channel, and what the times of the rows tell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tracecore.capture import Int64, UInt8
from tracecore.errors import MalformedCapture
from tracecore.quantities import PS_PER_S
from tracecore.readers.row_text import RowLayout

_STEPS_KEPT = 50_000
_ALTERNATING = np.tile(np.array([0, 1], np.uint8), 1 << 19)


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """All rows of a file.

    Channel c changes at row ``index[c]`` to ``levels[c]``, the first entry being the first row; ``times`` are the
    printed times of those rows in ps, empty lists where the rows carry none. ``last_changes`` says whether the last
    row changed anything. ``steps`` are the first steps between the times; ``same_times`` counts rows
    with the time of the row above. ``off_rate_line`` is the first line whose time does not keep to the stated rate.
    """

    index: list[Int64]
    times: list[Int64]
    levels: list[UInt8]
    count: int
    first_ps: int
    last_ps: int
    last_changes: bool
    off_rate_line: int | None
    steps: Int64
    same_times: int
    notes: tuple[str, ...]


class RowSink:
    """Collects transitions; remembers the last levels and the last time between blocks."""

    def __init__(self, path: str, layout: RowLayout) -> None:
        self.path, self.layout = path, layout
        self.count = 0
        self.last: UInt8 | None = None
        self._index: list[list[Int64]] = [[] for _ in range(layout.columns)]
        self._times: list[list[Int64]] = [[] for _ in range(layout.columns)]
        self._levels: list[list[UInt8]] = [[] for _ in range(layout.columns)]
        self._first_ps = self._last_ps = 0
        self._last_changes = False
        self._steps: list[Int64] = []
        self._steps_kept = 0
        self._same_times = 0
        self._off_rate_line: int | None = None

    def add(self, levels: UInt8, times: Int64 | None, line: int) -> None:
        """``levels`` uint8[columns, n], n > 0; ``times`` int64[n] or None; ``line`` is that of the first row."""
        if times is not None:
            self._check_times(times, line)
        changed = np.empty(levels.shape, np.bool_)
        np.not_equal(levels[:, 1:], levels[:, :-1], out=changed[:, 1:])
        changed[:, 0] = True if self.last is None else levels[:, 0] != self.last
        for channel, row in self._where(changed):
            self._levels[channel].append(levels[channel].take(row))
            if times is not None:
                self._times[channel].append(times.take(row))
        self.last = levels[:, -1].copy()
        self._last_changes = bool(changed[:, -1].any())
        self.count += levels.shape[1]

    def add_changes(self, changed: UInt8) -> None:
        """``changed`` uint8[columns, n], 1 where a cell differs from the row before; for levels 0 and 1 only."""
        if self.last is None:
            raise ValueError("changes need a row before them")
        # looking for true in booleans is five times as fast as for non-zero in bytes
        for channel, row in self._where(changed.view(np.bool_)):
            now = 1 - int(self.last[channel])
            self._levels[channel].append(_alternating(now, len(row)))
            self.last[channel] = now if len(row) % 2 else 1 - now
        self._last_changes = bool(changed[:, -1].any())
        self.count += changed.shape[1]

    def _where(self, changed: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> list[tuple[int, Int64]]:
        """The rows at which each channel that changes does so, counted within this block."""
        n = changed.shape[1]
        where = np.flatnonzero(changed)
        cut = where.searchsorted(np.arange(len(changed) + 1) * n).tolist()
        found = []
        for channel in range(len(changed)):
            if cut[channel] < cut[channel + 1]:
                row = where[cut[channel] : cut[channel + 1]] - channel * n
                self._index[channel].append(row + self.count)
                found.append((channel, row))
        return found

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
            raise MalformedCapture(
                self.path,
                line=line + at,
                column=1,
                found="a time before that of the row above",
                expected="times that never run backwards",
                do="Export the capture again, or cut the file here.",
            )
        if self._steps_kept < _STEPS_KEPT:
            real = steps[1 if self.count == 0 else 0 :][:_STEPS_KEPT]
            self._steps.append(real)
            self._steps_kept += len(real)
        if self.layout.rate_hz is not None and self._off_rate_line is None:
            # doubles are exact enough here: within a picosecond up to hours
            expected = np.arange(self.count, self.count + len(times), dtype=np.float64)
            expected *= float(PS_PER_S / self.layout.rate_hz)
            off = np.abs(times - self._first_ps - expected) > self.layout.printed_ps + 1
            if off.any():
                self._off_rate_line = line + int(off.argmax())
        self._last_ps = int(times[-1])

    def rows(self, notes: tuple[str, ...]) -> Rows:
        """What was collected; at least one row must have been added."""
        return Rows(
            [_joined(part) for part in self._index],
            [_joined(part) for part in self._times] if self.layout.timed else [],
            [np.concatenate(part) for part in self._levels],
            self.count,
            self._first_ps,
            self._last_ps,
            self._last_changes,
            self._off_rate_line,
            _joined(self._steps) if self._steps else np.empty(0, np.int64),
            self._same_times,
            notes,
        )


def _alternating(first: int, count: int) -> UInt8:
    """0 and 1 in turn; a view, so that a block's levels cost nothing until they are joined."""
    pattern = _ALTERNATING if count < len(_ALTERNATING) else np.tile(_ALTERNATING, count // len(_ALTERNATING) + 1)
    return pattern[first : first + count]


def _joined(parts: list[Int64]) -> Int64:
    """One array; the parts are let go, so that both need not lie in memory for all channels at once."""
    whole = np.concatenate(parts)
    parts.clear()
    return whole
