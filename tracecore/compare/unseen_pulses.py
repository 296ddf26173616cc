"""What two instruments may not see: pulses that slip between two samples, and what that makes of transitions beside.

Each side reads a transition at its next sample. A pulse shorter than one sample period may be missed; one that was hit
reads up to a period longer than it is. So a pulse that reads no longer than both sample periods and what two sound
boards differ by may be there on one side alone. Two more things come of that, both seldom:

- a missed pulse just before or behind a transition: the one side reads its near end and the other its far end;
- two short pulses next to one another whose gap the one side misses: it reads one that is twice as long, where the
  other side misses both.

Neither tells a fault from a sound board, so neither is a divergence, and neither lets a board agree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64, UInt8

Side = tuple[Int64, UInt8]
"""Times of a side's transitions, and the level that each leads to."""

Bools = NDArray[np.bool_]

_SHARE, _IN_STEP, _AT_LEAST = 0.1, 0.25, 2
"""Few of all pairs, and more where sampling keeps step, but not so many as a signal that is late at every rise shows.
Choices."""
_BARELY_SHARE, _BARELY = 0.01, 4


@dataclass(frozen=True, slots=True)
class Unseen:
    """``narrowest_ps`` is the longest reading of a pulse that the other side may have missed; 0 where every pulse is
    seen. ``periods_ps`` are the sample periods of the good and of the suspect side. ``in_step`` says that the sampling
    of both keeps step with the clock: what is unseen once is then unseen whenever it comes again."""

    tolerance_ps: int
    narrowest_ps: int = 0
    periods_ps: tuple[int, int] = (0, 0)
    in_step: bool = False

    def allows(self, odd: int, pairs: int, narrow: int, dropped: int) -> bool:
        """May unseen pulses make so many odd ones among ``pairs``? Only so far as the signal is seen to make ``narrow``
        pulses now and then, as a gate does whose inputs move at different times, or to have ``dropped`` ones without
        a twin; and only few."""
        if self.in_step:
            return odd <= max(_AT_LEAST, _IN_STEP * pairs)
        # a strobe that is always narrow makes none of these
        return odd <= max(_AT_LEAST, _SHARE * pairs) and odd <= (narrow if 2 * narrow <= pairs else dropped)


def leave_narrow(pair: Int64, good: Side, suspect: Side, tolerance_ps: int, narrowest_ps: int) -> None:
    """Where one side's up, down and up again is one up of the other, which of the two it is may be as near as any. It
    is then the one that leaves the narrower pulse over: the other side may not have seen that one, and would have seen
    the wide one. Changes ``pair`` in place."""
    left = np.flatnonzero(pair < 0), unused(pair[pair >= 0], len(suspect[0]))
    if len(left[0]) == len(pair):
        return
    alone = tuple(_wide_pulses(*own, narrowest_ps) for own in zip(left, (good[0], suspect[0]), strict=True))
    if len(alone[0]):
        _leave_narrow_on(good, suspect, pair, alone[0], tolerance_ps, narrowest_ps)
    if len(alone[1]):
        back = np.full(len(suspect[0]), -1, np.int64)
        at = np.flatnonzero(pair >= 0)
        back[pair[at]] = at
        _leave_narrow_on(suspect, good, back, alone[1], tolerance_ps, narrowest_ps)
        at = np.flatnonzero(back >= 0)
        pair[:] = -1
        pair[back[at]] = at


def _leave_narrow_on(own: Side, other: Side, twin: Int64, alone: Int64, tolerance_ps: int, narrowest_ps: int) -> None:
    """The same on one side; ``twin`` int64[N] names the other's twin of each own transition, or is -1."""
    (own_ps, levels), other_ps = own, other[0]
    for free, middle, taken in ((alone, alone + 1, alone + 2), (alone + 1, alone, alone - 1)):
        there = np.flatnonzero((taken >= 0) & (taken < len(twin)))
        free, middle, taken = free[there], middle[there], taken[there]
        fits = (twin[free] < 0) & (twin[middle] < 0) & (twin[taken] >= 0) & (levels[free] == levels[taken])
        fits &= np.abs(own_ps[taken] - own_ps[middle]) <= narrowest_ps
        fits &= np.abs(other_ps[twin[taken]] - own_ps[free]) <= tolerance_ps
        twin[free[fits]] = twin[taken[fits]]
        twin[taken[fits]] = -1


def _wide_pulses(alone: Int64, times_ps: Int64, narrowest_ps: int) -> Int64:
    """The first of each two neighbours without a twin that lie further apart than the other side can miss."""
    first = alone[:-1][np.diff(alone) == 1]
    wide: Int64 = first[times_ps[first + 1] - times_ps[first] > narrowest_ps]
    return wide


def wide(times: Int64, index: Int64, narrowest_ps: int) -> Int64:
    """Places in ``index``, less those of neighbours that enclose a pulse no longer than ``narrowest_ps``."""
    if narrowest_ps <= 0 or len(index) < 2:
        return np.arange(len(index))
    narrow = (np.diff(index) == 1) & (np.diff(times[index]) <= narrowest_ps)
    # in a row of narrow neighbours the first two make a pulse, then the next two: every other one starts a pulse
    place = np.arange(len(narrow))
    run_start = np.maximum.accumulate(np.where(narrow & ~np.concatenate(([False], narrow[:-1])), place, 0))
    starts = np.flatnonzero(narrow & ((place - run_start) % 2 == 0))
    keep = np.ones(len(index), np.bool_)
    keep[starts] = keep[starts + 1] = False
    return np.flatnonzero(keep)


def lasting_ps(times: Int64, begins: Int64) -> Int64:
    """How long the pulses last that these transitions begin."""
    return times[begins + 1] - times[begins]


def without(left: Int64, begins: Int64) -> Int64:
    """The transitions less the two of each pulse that ``begins`` with one of them."""
    return left[~(np.isin(left, begins) | np.isin(left, begins + 1))] if len(begins) else left


_BURST, _SHORTS_A_BURST = 2, 8


def less_bursts(
    times: tuple[Int64, Int64],
    left: tuple[Int64, Int64],
    short: tuple[Int64, Int64],
    pairs: int,
    narrowest_ps: int,
) -> tuple[tuple[Int64, Int64], tuple[Int64, Int64]]:
    """What is ``left`` over, without pulses that are several short ones read as one, and the ``short`` pulses with
    them, by the transitions that begin them.

    A carry that ripples through an adder, or a bus that nobody drives for a moment, makes short pulses in a row. Two or
    three samples that hit one each read as one long pulse, of which the other side, which hits the gaps, shows nothing.
    This is believed of a pulse up to twice as long where both boards are seen to make short ones, and of one in many:
    the side with the longer sample period shows fewer of them."""
    burst = tuple(_pulses_up_to(own, index, _BURST * narrowest_ps) for own, index in zip(times, left, strict=True))
    gone = len(burst[0]) + len(burst[1])
    counts = [len(own) for own in short]
    if not gone or gone > min(counts) + pairs or _SHORTS_A_BURST * gone > sum(counts) + pairs:
        return left, short
    every = np.append(short[0], burst[0]), np.append(short[1], burst[1])
    return (without(left[0], burst[0]), without(left[1], burst[1])), every


def doubtful(
    good_ps: Int64,
    suspect_ps: Int64,
    far: tuple[Int64, Int64],
    left: tuple[Int64, Int64],
    pairs: int,
    dropped: int,
    unseen: Unseen,
) -> tuple[Bools, Bools, tuple[Int64, Int64]]:
    """What unseen pulses may have made of what would be a difference.

    Parameters
    ----------
    good_ps, suspect_ps : int64[N] and int64[M], all transitions.
    far : int64[F] and int64[F], which of them pair further apart than the tolerance.
    left : which of them have no twin.
    pairs, dropped : how many pairs there are, and how many narrow pulses without a twin.

    Returns bool[F], which of the far pairs are no further apart than may be; bool[F], which of them may be for all one
    knows; and for either side the transitions that begin a pulse which may be two narrow ones: int64[P] and int64[Q].
    All or nothing. Where the samples are too few to show any pulse, one pair in a hundred may lie beyond by a little.
    """
    narrowest, none = unseen.narrowest_ps, np.zeros(len(far[0]), np.bool_)
    apart = np.abs(suspect_ps[far[1]] - good_ps[far[0]])
    barely = apart <= unseen.tolerance_ps + narrowest // _BARELY
    if len(barely) > _BARELY_SHARE * pairs or not barely.all():
        barely = none
    hazy = (apart <= unseen.tolerance_ps + narrowest) & ~barely
    # the side that misses both has one sample in the gap: so two of its periods and one of the other's
    double = (
        _pulses_up_to(good_ps, left[0], narrowest + unseen.periods_ps[1]),
        _pulses_up_to(suspect_ps, left[1], narrowest + unseen.periods_ps[0]),
    )
    odd = int(np.count_nonzero(hazy)) + len(double[0]) + len(double[1])
    narrow = sum(int(np.count_nonzero(np.diff(times) <= narrowest)) for times in (good_ps, suspect_ps)) if odd else 0
    if odd and unseen.allows(odd, pairs, narrow, dropped):
        return barely, hazy, double
    return barely, none, (left[0][:0], left[1][:0])


def _pulses_up_to(times: Int64, left: Int64, longest_ps: int) -> Int64:
    """Of the transitions ``left`` without a twin the first of each two that enclose a pulse no longer than that."""
    return np.asarray(np.delete(left, wide(times, left, longest_ps))[::2], np.int64)


def unused(taken: Int64, count: int) -> Int64:
    """Numbers below ``count`` that are not taken."""
    left = np.ones(count, np.bool_)
    left[taken] = False
    return np.flatnonzero(left)
