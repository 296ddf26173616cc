"""How many draws short pulses are: those that a loop makes again, at one moment of the cycle, may be one.

Whether a sample hits a pulse is chance only where the samples drift against it. A program that turns in a loop makes
the same pulse each turn, and where a turn is nearly a whole number of samples one side hits it each time and the other
never: that is one draw, however often. When each sample of either side was taken within its cycle is known far more
finely than by one period, since the clock is even: from its edges on a straight line, and the readings of these beside
it. So pulses count as one where a single pulse, as short as the one side's readings allow, lies between all samples
that the other took in those cycles. Pulses of random moments hardly ever do.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from tracecore.capture import Int64

_FEWEST = 4  # pulses at one moment that may be one draw
_LINE = 4096  # edges that a straight line is laid through
_APART_PS = 10_000  # by so much a pulse may be shorter on the other board


class Beat(NamedTuple):
    """A side's clock edges as read, int64[N], and where they are: cycle k at ``first_ps + k * cycle_ps``."""

    edges_ps: Int64
    first_ps: float
    cycle_ps: float


def beat(edges_ps: Int64) -> Beat:
    """The straight line through a side's edges."""
    if len(edges_ps) < 2:
        return Beat(edges_ps, 0.0, 1.0)
    number = np.unique(np.linspace(0, len(edges_ps) - 1, _LINE).astype(np.int64))
    slope, first = np.polyfit(number, (edges_ps[number] - edges_ps[0]).astype(np.float64), 1)
    return Beat(edges_ps, float(edges_ps[0] + first), float(slope))


class Sampled(NamedTuple):
    """How a side saw some pulses: its clock, in which of its cycles int64[P] each begins, and its sample period."""

    beat: Beat
    cycles: Int64
    period_ps: int

    def within(self, times_ps: Int64) -> np.ndarray:
        """How long behind its cycle's edge each time is, which a reading shows half a sample period late on average."""
        return times_ps - (self.beat.first_ps + self.beat.cycle_ps * self.cycles - self.period_ps / 2)


def draws_of_their_own(ends_ps: Int64, own: Sampled, other: Sampled) -> Int64:
    """Which pulses are draws of their own, int64[Q], increasing: all but those that are one with an earlier one.
    ``ends_ps`` int64[P, 2] is when they begin and end on the axis of their side, ``own``."""
    alone = np.ones(len(ends_ps), np.bool_)
    if len(ends_ps) < _FEWEST:
        return np.flatnonzero(alone)
    begins, ends = (own.within(times) for times in ends_ps.T)
    sampled = other.within(other.beat.edges_ps[other.cycles])
    order = np.argsort(begins, kind="stable")
    first = 0
    while first < len(order):
        stop = int(begins[order].searchsorted(begins[order[first]] + own.period_ps))
        same = order[first:stop]
        # as short as they may be: from the first sample that shows it to behind the last before the one that does not
        begin = begins[same].min() + _APART_PS / 2
        end = ends[same].max() - own.period_ps - _APART_PS / 2
        following = begin + (sampled[same] - begin) % other.period_ps
        if len(same) >= _FEWEST and not (following < end).any():
            alone[same] = False
            alone[same.min()] = True
        first = stop
    return np.flatnonzero(alone)
