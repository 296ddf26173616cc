"""How far each transition of a signal strays among good captures, and whether another one strays further.

For each transition of the reference the earliest and the latest twin among the good captures are kept, and the
second of both besides, so that any one capture can be left out again. The guard round them is what a capture that
was left out strays beyond the others, at the 99.99 % point over all transitions of one direction, and never less
than one sample period. Fewer than three captures give no envelope.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, sqrt
from typing import Any, Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import HIGH, Int64, UInt8

FEWEST_CAPTURES = 3
_QUANTILE = 0.9999
_FEWEST_EDGES = 12
_TRIM = 0.02

Bools = NDArray[np.bool_]
Float64 = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Shift:
    """A signal's transitions of one direction, on the average, against the good captures' average.

    ``by_ps`` above zero is late. It is systematic where it lies beyond ``limit_ps``, six standard errors over
    ``edges`` transitions and never less than the allowance for another board's parts.
    """

    direction: Literal["rise", "fall"]
    by_ps: int
    limit_ps: int
    edges: int

    @property
    def systematic(self) -> bool:
        """Is it more than chance and another board's parts make?"""
        return abs(self.by_ps) > self.limit_ps


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """One signal's transitions over ``captures`` good captures, the reference among them.

    All arrays are [E], one entry for each transition of the reference at ``times_ps``, sorted. ``earliest_ps`` and
    ``latest_ps`` are the extremes of twin minus reference, ``second_...`` the next to them, each int64; ``seen`` in
    how many captures it had a twin; ``mean_ps`` and ``squares`` float64 the mean and the sum of squares about it.
    ``guard_ps`` is for falls and for rises.
    """

    times_ps: Int64
    rising: Bools
    seen: Int64
    earliest_ps: Int64
    second_earliest_ps: Int64
    latest_ps: Int64
    second_latest_ps: Int64
    mean_ps: Float64
    squares: Float64
    guard_ps: tuple[int, int]
    captures: int

    def allows(self, at_ps: Int64, by_ps: Int64, tolerance_ps: int, *, left_out: bool = False) -> Bools:
        """Do transitions at the reference's ``at_ps`` that come ``by_ps`` later (both int64[N]) stay within what good
        captures do, widened by the guard or by the tolerance, whichever is more? bool[N]; False where fewer than
        three captures show the transition. With ``left_out`` the transitions are those of one of the good captures
        itself, and only the others judge them."""
        if not len(self.times_ps):
            return np.zeros(len(at_ps), np.bool_)
        index = np.minimum(self.times_ps.searchsorted(at_ps), len(self.times_ps) - 1)
        low, high = self.earliest_ps[index], self.latest_ps[index]
        if left_out:
            low = np.where(by_ps <= low, self.second_earliest_ps[index], low)
            high = np.where(by_ps >= high, self.second_latest_ps[index], high)
        guard = np.array(self.guard_ps, np.int64)[self.rising[index].astype(np.intp)]
        slack = np.maximum(guard, tolerance_ps)
        known = (self.times_ps[index] == at_ps) & (self.seen[index] >= FEWEST_CAPTURES)
        return np.asarray(known & (by_ps >= low - slack) & (by_ps <= high + slack))

    def shifts(self, at_ps: Int64, by_ps: Int64, allowance_ps: int) -> tuple[Shift, ...]:
        """The average shift of a capture's pairs (int64[N] each), for rises and for falls.

        Two in a hundred are cut off at either end. This sees a slow edge that no single transition of a slow
        instrument shows. A direction with fewer than twelve transitions is left out. ``allowance_ps`` is what
        another sound board's parts may differ by; give 1000 for the same board.
        """
        if not len(self.times_ps):
            return ()
        index = np.minimum(self.times_ps.searchsorted(at_ps), len(self.times_ps) - 1)
        known = (self.times_ps[index] == at_ps) & (self.seen[index] >= FEWEST_CAPTURES)
        found = []
        for direction, rising in (("rise", True), ("fall", False)):
            own = known & (self.rising[index] == rising)
            if int(own.sum()) >= _FEWEST_EDGES:
                found.append(self._shift(direction, index[own], by_ps[own], allowance_ps))  # type: ignore[arg-type]
        return tuple(found)

    def _shift(
        self, direction: Literal["rise", "fall"], index: NDArray[np.intp], by_ps: Int64, allowance_ps: int
    ) -> Shift:
        off = by_ps - self.mean_ps[index]
        low, high = np.quantile(off, [_TRIM, 1 - _TRIM])
        seen = self.seen[index]
        spread = sqrt(float(self.squares[index].sum()) / float((seen - 1).sum()))
        error = spread * sqrt((1 + 1 / float(seen.mean())) / len(off))
        return Shift(
            direction, round(float(np.clip(off, low, high).mean())), max(allowance_ps, ceil(6 * error)), len(off)
        )


class EnvelopeLearner:
    """Takes good captures one at a time; keeps some 60 bytes for each transition, however many captures come."""

    def __init__(self, times_ps: Int64, levels: UInt8, sample_period_ps: int) -> None:
        """The reference's transitions, sorted, and the level each leads to; it counts as the first capture."""
        count = len(times_ps)
        far = np.iinfo(np.int64).max // 4
        self._times, self._rising = times_ps, np.asarray(levels == HIGH)
        self._period = sample_period_ps
        self._captures = 1
        self._seen = np.ones(count, np.int64)
        self._low, self._high = np.zeros(count, np.int64), np.zeros(count, np.int64)
        self._second_low, self._second_high = np.full(count, far), np.full(count, -far)
        self._sum, self._squares = np.zeros(count, np.float64), np.zeros(count, np.float64)

    def add(self, at_ps: Int64, by_ps: Int64) -> None:
        """One more good capture: its pairs, the reference's time (int64[N], sorted, each once) and how much later."""
        self._captures += 1
        if not len(self._times) or not len(at_ps):
            return
        index = np.minimum(self._times.searchsorted(at_ps), len(self._times) - 1)
        hit = self._times[index] == at_ps
        index, by = index[hit], by_ps[hit]
        self._second_low[index] = np.minimum(self._second_low[index], np.maximum(self._low[index], by))
        self._second_high[index] = np.maximum(self._second_high[index], np.minimum(self._high[index], by))
        self._low[index] = np.minimum(self._low[index], by)
        self._high[index] = np.maximum(self._high[index], by)
        self._seen[index] += 1
        self._sum[index] += by
        self._squares[index] += by.astype(np.float64) ** 2

    def envelope(self) -> Envelope:
        """What the captures so far show; its arrays are copies and read-only."""
        guards = [max([self._period, *self._beyond(self._rising == rising)]) for rising in (False, True)]
        mean = self._sum / self._seen
        return Envelope(
            _kept(self._times),
            _kept(self._rising),
            _kept(self._seen),
            _kept(self._low),
            _kept(self._second_low),
            _kept(self._high),
            _kept(self._second_high),
            _kept(mean),
            _kept(np.maximum(self._squares - self._sum * mean, 0)),
            (guards[0], guards[1]),
            self._captures,
        )

    def _beyond(self, which: Bools) -> Iterator[int]:
        """How far a left-out capture strays beyond the others: only the extremes of a transition do at all."""
        own = which & (self._seen >= FEWEST_CAPTURES)
        total = int(self._seen[own].sum())
        if not total:
            return
        beyond = np.concatenate((self._second_low[own] - self._low[own], self._high[own] - self._second_high[own]))
        # the rank that the next of total + 1 equals stays under: the largest where there are few
        above = max(0, total - ceil((total + 1) * _QUANTILE))
        yield int(np.partition(beyond, len(beyond) - 1 - above)[len(beyond) - 1 - above])


_Array = TypeVar("_Array", bound=NDArray[Any])


def _kept(array: _Array) -> _Array:
    """A copy that nobody can write to."""
    copy = array.copy()
    copy.flags.writeable = False
    return copy
