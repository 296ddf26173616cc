"""What the times of rows tell while these are read: the first and the last ones, a step back, a step off the rate."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from tracecore.capture import Int64
from tracecore.quantities import PS_PER_S
from tracecore.readers.refusals import bad_row
from tracecore.readers.rows.row_text import TimeScale

_TIMES_KEPT = 50_000
_LAST_KEPT = 64
_FAR_PS = 2 * 10**18
_FEWEST_EVEN = 4
_ROUNDED = 1.02


class TimeLog:
    """``head`` and ``tail`` are the first and last times int64[N] in ps, ``first_ps`` and ``last_ps`` the outermost;
    ``shortest_ps`` and ``longest_ps`` are the steps between two rows;
    ``same_times`` counts rows with the time of the row above, ``off_rate_line`` is the first line whose time does not
    keep to the rate that is checked. ``column`` is that of the time, from 1."""

    def __init__(self, path: str, scale: TimeScale, column: int) -> None:
        self.path, self.scale, self.column = path, scale, column
        self.count = 0
        self.first_ps = self.last_ps = 0
        self.same_times = 0
        self.shortest_ps, self.longest_ps = _FAR_PS, 0
        self.off_rate_line: int | None = None
        self.tail = np.empty(0, np.int64)
        self._head: list[Int64] = []
        self._even = np.empty(0, np.int64)
        self._ends: list[tuple[int, int]] = []

    @property
    def head(self) -> Int64:
        """The first times."""
        return np.concatenate(self._head) if self._head else np.empty(0, np.int64)

    @property
    def counts(self) -> bool:
        """Do the rows carry times that keep to no stated rate, so that they and not the rows' numbers count?"""
        return self.count > 0 and (self.scale.checked_hz is None or self.off_rate_line is not None)

    def even_period(self, printed_ps: int) -> Fraction | None:
        """The step in which the times of all rows go on, each printed to ``printed_ps``; None where they are uneven.

        >>> log = TimeLog("", TimeScale(), 1)
        >>> log.add(np.array([0, 33_000, 67_000, 100_000]), 1)
        >>> log.even_period(1000)
        Fraction(100000, 3)
        """
        if self.count < _FEWEST_EVEN or self.longest_ps - self.shortest_ps > printed_ps or not self.shortest_ps:
            return None
        period = Fraction(self.last_ps - self.first_ps, self.count - 1)
        if self.longest_ps == self.shortest_ps:
            return period
        head = self.head
        places = np.concatenate((np.arange(len(head)), [place for place, _ in self._ends]))
        times = np.concatenate((head, [time for _, time in self._ends])) - self.first_ps
        off = times - places * float(period)
        return period if float(off.max() - off.min()) <= _ROUNDED * printed_ps else None

    def add(self, times: Int64, line: int) -> None:
        """The ``times`` int64[n], n > 0, of rows from ``line`` on. Raises MalformedCapture where they run backwards."""
        if self.count == 0:
            self.first_ps = self.last_ps = int(times[0])
        steps = np.empty_like(times)
        steps[0] = times[0] - self.last_ps
        np.subtract(times[1:], times[:-1], out=steps[1:])
        least = int(steps.min())
        if least == 0:
            self.same_times += int((steps == 0).sum()) - (self.count == 0)
        if least < 0:
            at = int((steps < 0).argmax())
            found, do = "a time before that of the row above", "Export the capture again, or cut the file here."
            raise bad_row(self.path, line + at, found, "times that never run backwards", self.column, do)
        real = steps[self.count == 0 :]
        if len(real):
            self.shortest_ps = min(self.shortest_ps, int(real.min()))
            self.longest_ps = max(self.longest_ps, int(real.max()))
        if self.count < _TIMES_KEPT:
            self._head.append(times[:_TIMES_KEPT].copy())
        last = times[-_LAST_KEPT:]
        self.tail = last.copy() if len(last) == _LAST_KEPT else np.append(self.tail, last)[-_LAST_KEPT:]
        if self.scale.checked_hz is not None and self.off_rate_line is None:
            self._check_rate(times, line, self.scale.checked_hz)
        self.last_ps = int(times[-1])
        self.count += len(times)
        self._ends.append((self.count - 1, self.last_ps))

    def _check_rate(self, times: Int64, line: int, rate_hz: Fraction) -> None:
        period = PS_PER_S / rate_hz
        slack = _slack(period, self.scale.printed_ps)
        if len(self._even) < len(times):
            self._even = np.rint(np.arange(len(times)) * float(period)).astype(np.int64)
        start = self.first_ps + round(self.count * period)
        off = times - self._even[: len(times)]
        if int(off.max()) - start <= slack and start - int(off.min()) <= slack:
            return
        self.off_rate_line = line + int((np.abs(off - start) > slack).argmax())


def _slack(period_ps: Fraction, printed_ps: int) -> int:
    """How far a time may be off the stated rate: a digit by rounding, less where whole digits hold each period."""
    return printed_ps - 1 if printed_ps > 2 and period_ps % printed_ps == 0 else printed_ps + 1
