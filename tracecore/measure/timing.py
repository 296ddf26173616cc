"""When a signal changes within its cycle: delay after the active edge, setup before the next, hold, pulse durations.

An edge causes what follows it, so that a signal may be late by nearly a cycle, and hardly early: a transition belongs
to the cycle in which it is at most an eighth of a cycle earlier than usual. One that comes after the next active edge
is a late one of the cycle before, with a setup below zero, and no early one of its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tracecore.capture import HIGH, LOW, DigitalTrace, Int64

TimingVerdict = Literal["within", "marginal", "violates", "cannot be judged"]
Direction = Literal["both", "rising", "falling"]
_LOCKED_SHARE = 0.99
_EARLY = 1 / 8


@dataclass(frozen=True, slots=True)
class Smallest:
    """The smallest reading, and where: ``cycle`` of this side's own edges, ``at_ps`` the transition."""

    value_ps: int
    cycle: int
    at_ps: int


@dataclass(frozen=True, slots=True, eq=False)
class TimingFigures:
    """One signal's timing on one side. ``delays_ps`` int64[N] by transition, ``cycles`` int64[N] their cycles,
    ``at_ps`` int64[N] the transitions. ``resolution_ps`` is what one reading is good to: one sample period. ``locked``:
    every cycle is the same whole number of samples, so that many readings are no better than one. ``period_ps`` is the
    median cycle; ``shortest_..`` the shortest pulses, None where the signal makes none."""

    delays_ps: Int64
    cycles: Int64
    at_ps: Int64
    setup: Smallest | None
    hold: Smallest | None
    shortest_high: Smallest | None
    shortest_low: Smallest | None
    period_ps: int
    resolution_ps: int
    locked: bool

    @property
    def count(self) -> int:
        """How many transitions have a cycle."""
        return len(self.delays_ps)

    @property
    def least_ps(self) -> int | None:
        """The shortest delay."""
        return int(self.delays_ps.min()) if self.count else None

    @property
    def most_ps(self) -> int | None:
        """The longest delay."""
        return int(self.delays_ps.max()) if self.count else None

    @property
    def median_ps(self) -> float | None:
        """The median delay; where sampling is not locked to the clock, told finer than one sample."""
        return fine_median_ps(self.delays_ps, 1 if self.locked else self.resolution_ps) if self.count else None

    @property
    def p95_ps(self) -> int | None:
        """95 % of the delays are no longer."""
        return int(np.quantile(self.delays_ps, 0.95, method="higher")) if self.count else None

    @property
    def jitter_ps(self) -> int | None:
        """From the shortest to the longest delay: peak to peak over all that were seen (IEEE Std 181, from memory)."""
        return int(np.ptp(self.delays_ps)) if self.count else None

    @property
    def median_reads_to_ps(self) -> float:
        """What the median reads to: one sample where sampling is locked, else less with many transitions."""
        if self.locked or self.count < 2:
            return float(self.resolution_ps)
        # an interval's rms error is 0.408 of a sample (common practice); a median's, 1.25 times the mean's; twice that
        return max(2 * 1.25 * 0.408 * self.resolution_ps / float(np.sqrt(self.count)), 0.1 * self.resolution_ps)


def fine_median_ps(values_ps: Int64, width_ps: int) -> float:
    """The median of readings that were rounded to steps of ``width_ps``, told finer than one step.

    A delay that does not vary reads as one of two neighbouring steps, as often as it lies near each: so their mean is
    the delay. Readings further than a step from the middle one are left out, as a median does.

    >>> fine_median_ps(np.array([0, 10, 10, 10, 20, 90]), 10)
    10.0
    """
    middle = float(np.median(values_ps))
    if width_ps <= 1:
        return middle
    near = values_ps[np.abs(values_ps - middle) <= 1.25 * width_ps]
    return float(near.mean()) if len(near) else middle


def is_locked(edges_ps: Int64, resolution_ps: int) -> bool:
    """Is every cycle the same whole number of samples? Then a reading repeats its error, and a mean is no better.

    >>> is_locked(np.arange(50) * 416_667, 41_667)
    True
    """
    if len(edges_ps) < 8:
        return True
    samples = np.rint(np.diff(edges_ps) / resolution_ps)
    middle = np.median(samples)
    return bool(np.mean(samples == middle) >= _LOCKED_SHARE)


def timing_figures(
    trace: DigitalTrace,
    edges_ps: Int64,
    resolution_ps: int,
    *,
    home_ps: float | None = None,
    direction: Direction = "both",
) -> TimingFigures:
    """Measures a signal against the active edges ``edges_ps`` int64[E] of its own capture.

    ``home_ps`` is the usual delay to unwrap around; None takes the signal's own: for a suspect, give the good side's.
    """
    at, levels = trace.transitions_ps, trace.levels[1:]
    before = trace.levels[:-1]
    known = (levels <= HIGH) & (before <= HIGH)
    if direction != "both":
        known &= levels == (HIGH if direction == "rising" else LOW)
    if len(edges_ps) < 2:
        return _empty(trace, resolution_ps)
    period = int(np.median(np.diff(edges_ps)))
    cycle = edges_ps.searchsorted(at, side="right") - 1
    inside = known & (cycle >= 0) & (cycle < len(edges_ps) - 1)
    at, cycle = at[inside], cycle[inside]
    delay = at - edges_ps[cycle]
    if len(delay):
        home = _home(delay, period) if home_ps is None else home_ps
        early = (delay - home >= period * (1 - _EARLY)) & (cycle + 1 < len(edges_ps) - 1)
        late = (home - delay > period * _EARLY) & (cycle >= 1)
        cycle = cycle + early - late
        delay = at - edges_ps[cycle]
    setup = edges_ps[cycle + 1] - at
    return TimingFigures(
        delay,
        cycle,
        at,
        smallest_of(setup, cycle, at),
        smallest_of(delay, cycle, at),
        *_pulses(trace, edges_ps),
        period,
        resolution_ps,
        is_locked(edges_ps, resolution_ps),
    )


def _empty(trace: DigitalTrace, resolution_ps: int) -> TimingFigures:
    none = np.empty(0, np.int64)
    return TimingFigures(none, none, none, None, None, *_pulses(trace, none), 0, resolution_ps, True)


def _home(delay: Int64, period: int) -> float:
    """The middle of the delays on the circle of the cycle: opposite the widest gap between them."""
    ordered = np.unique(np.minimum(delay, period))
    gaps = np.diff(np.append(ordered, ordered[0] + period))
    k = int(gaps.argmax())
    begins = int(ordered[(k + 1) % len(ordered)])
    turned = np.sort((delay - begins) % period)
    middle = begins + float(turned[len(turned) // 2])
    return middle - period if middle >= period else middle


def smallest_of(values: Int64, cycle: Int64, at: Int64) -> Smallest | None:
    """The smallest of some readings, with its place; None where there are none."""
    if not len(values):
        return None
    k = int(values.argmin())
    return Smallest(int(values[k]), int(cycle[k]), int(at[k]))


def _pulses(trace: DigitalTrace, edges_ps: Int64) -> tuple[Smallest | None, Smallest | None]:
    """The shortest whole high and the shortest whole low pulse."""
    found = [whole_pulses(trace, level, edges_ps) for level in (HIGH, LOW)]
    high, low = (smallest_of(lasts, cycle, at) for at, lasts, cycle in found)
    return high, low


def whole_pulses(trace: DigitalTrace, level: int, edges_ps: Int64) -> tuple[Int64, Int64, Int64]:
    """When each whole pulse of that level begins, how long it lasts, and in which cycle it begins: int64[N] each.

    The first and the last stretch are cut off by the capture; beside an unknown level a pulse's end is not known.
    """
    times, levels = trace.times_ps, trace.levels
    k = np.flatnonzero((levels[1:-1] == level) & (levels[:-2] <= HIGH) & (levels[2:] <= HIGH)) + 1
    if not len(k):
        return k, k, k
    cycle = np.maximum(edges_ps.searchsorted(times[k], side="right") - 1, 0)
    return times[k], times[k + 1] - times[k], cycle


def limit_verdict(smallest_ps: int | None, resolution_ps: int, limit_ps: int) -> TimingVerdict:
    """The verdict on one reading against a printed least value: never finer than the instrument.

    >>> [limit_verdict(s, 42, 20) for s in (83, 42, 0, -42)]
    ['within', 'marginal', 'cannot be judged', 'violates']
    """
    if smallest_ps is None:
        return "cannot be judged"
    if smallest_ps - resolution_ps >= limit_ps:
        return "within"
    if smallest_ps >= limit_ps:
        return "marginal"
    return "cannot be judged" if limit_ps <= smallest_ps + resolution_ps else "violates"


def rate_that_tells_hz(smallest_ps: int, limit_ps: int) -> float | None:
    """A sample rate at which this reading could be judged; None where it sits at the limit exactly."""
    gap = abs(smallest_ps - limit_ps)
    return 1e12 / gap if gap else None
