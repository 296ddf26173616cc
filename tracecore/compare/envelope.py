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
from tracecore.quantities import format_time, group_digits
from tracecore.sorted_times import count_until

FEWEST_CAPTURES = 3
_QUANTILE = 0.9999
_FEWEST_EDGES = 12
_TRIM = 0.02
_PART = 1 << 15  # so many stay in the cache from one step to the next

Bools = NDArray[np.bool_]
Float32 = NDArray[np.float32]
Integers = NDArray[np.integer[Any]]


@dataclass(frozen=True, slots=True)
class Shift:
    """A signal's transitions of one direction, on the average, against those of one good capture or of several.

    ``by_ps`` above zero is late. It is systematic where it lies beyond ``limit_ps``: six standard errors over
    ``edges`` transitions, never less than the allowance for another board's parts, and besides twice as far as the
    average of any good capture strays, since a clock that keeps step with the sampling moves all transitions of a
    capture together.
    """

    direction: Literal["rise", "fall"]
    by_ps: int
    limit_ps: int
    edges: int

    @property
    def systematic(self) -> bool:
        """Is it more than chance and another board's parts make?"""
        return abs(self.by_ps) > self.limit_ps

    @property
    def words(self) -> str:
        """As it is printed behind the signal's name.

        >>> Shift("rise", 45_000, 10_000, 412).words
        'rises 45 ns late on the average of 412 transitions'
        """
        when = "late" if self.by_ps > 0 else "early"
        by = format_time(abs(self.by_ps), digits=3)
        return f"{self.direction}s {by} {when} on the average of {group_digits(self.edges)} transitions"


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """One signal's transitions over ``captures`` good captures, the reference among them.

    All arrays are [E], one entry for each transition of the reference at ``times_ps``, sorted. ``earliest_ps`` and
    ``latest_ps`` are the extremes of twin minus reference, ``second_...`` the next to them, integers no wider than
    they need to be; ``seen`` in how many captures it had a twin; ``mean_ps`` and ``squares`` float32 the mean and the
    sum of squares about it. ``guard_ps`` is for falls and for rises, and so is ``stray_ps``: how far the average of one
    good capture lies at most from that of all.
    """

    times_ps: Int64
    rising: Bools
    seen: Integers
    earliest_ps: Integers
    second_earliest_ps: Integers
    latest_ps: Integers
    second_latest_ps: Integers
    mean_ps: Float32
    squares: Float32
    guard_ps: tuple[int, int]
    stray_ps: tuple[int, int]
    captures: int

    def allows(self, at_ps: Int64, by_ps: Int64, tolerance_ps: int, *, left_out: bool = False) -> Bools:
        """Do transitions at the reference's ``at_ps`` that come ``by_ps`` later (both int64[N]) stay within what good
        captures do, widened by the guard or by the tolerance, whichever is more? bool[N]; False where fewer than
        three captures show the transition. With ``left_out`` the transitions are those of one of the good captures
        itself, and only the others judge them."""
        if not len(self.times_ps):
            return np.zeros(len(at_ps), np.bool_)
        index = np.minimum(self.times_ps.searchsorted(at_ps), len(self.times_ps) - 1)
        low, high = self.earliest_ps[index].astype(np.int64), self.latest_ps[index].astype(np.int64)
        if left_out:
            low = np.where(by_ps <= low, self.second_earliest_ps[index], low)
            high = np.where(by_ps >= high, self.second_latest_ps[index], high)
        guard = np.array(self.guard_ps, np.int64)[self.rising[index].astype(np.intp)]
        slack = np.maximum(guard, tolerance_ps)
        known = (self.times_ps[index] == at_ps) & (self.seen[index] >= FEWEST_CAPTURES)
        return np.asarray(known & (by_ps >= low - slack) & (by_ps <= high + slack))

    def shifts(self, at_ps: Int64, by_ps: Int64, allowance_ps: int, feigned_ps: int = 0) -> tuple[Shift, ...]:
        """The average shift of a capture's pairs (int64[N] each), for rises and for falls.

        Two in a hundred are cut off at either end. This sees a slow edge that no single transition of a slow
        instrument shows. A direction with fewer than twelve transitions is left out. ``allowance_ps`` is what
        another sound board's parts may differ by; give 1000 for the same board. ``feigned_ps`` is what sampling that
        keeps step with the clock may shift all transitions by.
        """
        if not len(self.times_ps):
            return ()
        index, hit = _places(self.times_ps, at_ps)
        known = hit & (self.seen[index] >= FEWEST_CAPTURES)
        found = []
        for direction, rising in (("rise", True), ("fall", False)):
            own = known & (self.rising[index] == rising)
            if int(own.sum()) >= _FEWEST_EDGES:
                found.append(self._shift(direction, index[own], by_ps[own], allowance_ps + feigned_ps))  # type: ignore[arg-type]
        return tuple(found)

    def _shift(
        self, direction: Literal["rise", "fall"], index: NDArray[np.intp], by_ps: Int64, allowance_ps: int
    ) -> Shift:
        off = by_ps - self.mean_ps[index]
        seen = self.seen[index]
        spread = sqrt(float(self.squares[index].sum(dtype=np.float64)) / float(seen.sum(dtype=np.int64) - len(seen)))
        error = spread * sqrt((1 + 1 / float(seen.mean())) / len(off))
        limit_ps = max(allowance_ps, ceil(6 * error)) + 2 * self.stray_ps[direction == "rise"]
        return Shift(direction, round(trimmed_mean(off)), limit_ps, len(off))


class EnvelopeLearner:
    """Takes good captures one at a time; keeps some 20 bytes for each transition, however many captures come."""

    def __init__(self, times_ps: Int64, levels: UInt8, sample_period_ps: int) -> None:
        """The reference's transitions, sorted, and the level each leads to; it counts as the first capture."""
        count = len(times_ps)
        self._times, self._rising = times_ps.view(), np.asarray(levels == HIGH)
        self._period = sample_period_ps
        self._captures = 1
        self._seen: Integers = np.ones(count, np.uint8)
        self._low: Integers = np.zeros(count, np.int16)
        self._high: Integers = np.zeros(count, np.int16)
        # the second of both is not there before the second capture is: until then it has nothing to say
        self._second_low: Integers = np.zeros(count, np.int16)
        self._second_high: Integers = np.zeros(count, np.int16)
        self._mean, self._squares = np.zeros(count, np.float32), np.zeros(count, np.float32)
        # of falls and of rises; the reference is its own measure
        self._averages: tuple[list[float], list[float]] = ([0.0], [0.0])

    def add(self, at_ps: Int64, by_ps: Int64) -> None:
        """One more good capture: its pairs, the reference's time (int64[N], sorted, each once) and how much later."""
        self._captures += 1
        if not len(self._times) or not len(at_ps):
            return
        all_of_them = len(at_ps) == len(self._times) and np.array_equal(at_ps, self._times)
        index = None
        if not all_of_them:
            index, hit = _places(self._times, at_ps)
            index, by_ps = index[hit], by_ps[hit]
        self._make_room(by_ps)
        rising = self._rising if index is None else self._rising[index]
        for averages, own in zip(self._averages, (~rising, rising), strict=True):
            if own.any():
                averages.append(trimmed_mean(by_ps[own]))
        for start in range(0, len(by_ps), _PART):
            part = slice(start, start + _PART)
            self._take(part if index is None else index[part], by_ps[part])

    def _take(self, index: Int64 | slice, by: Int64) -> None:
        """Some of the capture's pairs, no more than stay in the cache."""
        near = by.astype(self._low.dtype)  # there is room for it
        low, high, seen = self._low[index], self._high[index], self._seen[index]
        above, below, alone = np.maximum(low, near), np.minimum(high, near), seen == 1
        self._second_low[index] = np.where(alone, above, np.minimum(self._second_low[index], above))
        self._second_high[index] = np.where(alone, below, np.maximum(self._second_high[index], below))
        self._low[index], self._high[index] = np.minimum(low, near), np.maximum(high, near)
        self._seen[index] = seen + 1
        # B. P. Welford's sums, Technometrics 4 (1962): no two large numbers are subtracted, so half the bits will do
        off = by - self._mean[index]
        self._mean[index] += (off / self._seen[index]).astype(np.float32)
        self._squares[index] += (off * (by - self._mean[index])).astype(np.float32)

    def _make_room(self, by_ps: Int64) -> None:
        """Arrays wide enough for these, and that may be written to: an envelope that was given away keeps its own."""
        furthest = int(np.abs(by_ps).max()) if len(by_ps) else 0
        widest = np.result_type(self._low, np.min_scalar_type(-furthest - 1))
        self._low, self._high = _own(self._low, widest), _own(self._high, widest)
        self._second_low, self._second_high = _own(self._second_low, widest), _own(self._second_high, widest)
        self._seen = _own(self._seen, np.result_type(self._seen, np.min_scalar_type(self._captures)))
        self._mean, self._squares = _own(self._mean, self._mean.dtype), _own(self._squares, self._squares.dtype)

    def envelope(self, *, doubt_furthest: bool = False) -> Envelope:
        """What the captures so far show; its arrays are read-only, and stay what they are where more captures come.

        With ``doubt_furthest`` one of the captures is not believed: of each transition the earliest and the latest are
        left out, whoever showed them, and the guard is one sample period.
        """
        if doubt_furthest:
            return self._narrow()
        guards = [max([self._period, *self._beyond(self._rising == rising)]) for rising in (False, True)]
        return Envelope(
            _kept(self._times),
            _kept(self._rising),
            _kept(self._seen),
            _kept(self._low),
            _kept(self._second_low),
            _kept(self._high),
            _kept(self._second_high),
            _kept(self._mean),
            _kept(self._squares),
            (guards[0], guards[1]),
            (_furthest(self._averages[0]), _furthest(self._averages[1])),
            self._captures,
        )

    def _narrow(self) -> Envelope:
        # of falls and of rises without the average that is furthest off
        averages = [sorted(own, key=lambda by: abs(by - float(np.median(own))))[:-1] or [0.0] for own in self._averages]
        return Envelope(
            _kept(self._times),
            _kept(self._rising),
            _kept(self._seen - 1),
            _kept(self._second_low),
            _kept(self._second_low),
            _kept(self._second_high),
            _kept(self._second_high),
            _kept(self._mean),
            _kept(self._squares),
            (self._period, self._period),
            (_furthest(averages[0]), _furthest(averages[1])),
            self._captures - 1,
        )

    def _beyond(self, which: Bools) -> Iterator[int]:
        """How far a left-out capture strays beyond the others: only the extremes of a transition do at all."""
        own = which & (self._seen >= FEWEST_CAPTURES)
        total = int(self._seen[own].sum())
        if not total:
            return
        pairs = (self._second_low, self._low), (self._high, self._second_high)
        wide = np.int32 if self._low.itemsize <= 2 else np.int64
        beyond = np.concatenate([np.subtract(more[own], less[own], dtype=wide) for more, less in pairs])
        # the rank that the next of total + 1 equals stays under: the largest where there are few
        above = max(0, total - ceil((total + 1) * _QUANTILE))
        # what is no more than a sample period changes nothing
        beyond = beyond[beyond > self._period]
        if len(beyond) > above:
            yield int(np.partition(beyond, len(beyond) - 1 - above)[len(beyond) - 1 - above])


def _places(times_ps: Int64, at_ps: Int64) -> tuple[Int64, Bools]:
    """Where each of the sorted instants stands among the sorted times, and whether it is one of them."""
    index = np.maximum(count_until(times_ps, at_ps) - 1, 0)
    return index, np.asarray(times_ps[index] == at_ps)


def trimmed_mean(by_ps: NDArray[np.number[Any]]) -> float:
    """The mean, two in a hundred at either end drawn in to the next."""
    low, high = np.quantile(by_ps, [_TRIM, 1 - _TRIM])
    return float(np.clip(by_ps, low, high).mean())


def _furthest(averages: list[float]) -> int:
    return ceil(max(abs(own - sum(averages) / len(averages)) for own in averages))


def _own(array: NDArray[Any], dtype: np.dtype[Any]) -> NDArray[Any]:
    """The array itself where it is of that type and may be written to, else a copy."""
    return array if array.dtype == dtype and array.flags.writeable else array.astype(dtype)


_Array = TypeVar("_Array", bound=NDArray[Any])


def _kept(array: _Array) -> _Array:
    """The array, which nobody can write to from now on."""
    array.flags.writeable = False
    return array
