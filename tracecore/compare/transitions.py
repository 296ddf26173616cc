"""Which transition of the suspect is which of the good one.

Both sides are sequences of transitions of alternating polarity on one time axis. The matching keeps the
order, pairs equal polarities no further apart than the tolerance, and of all such matchings takes the one
with the largest sum of (tolerance - distance): it is exact, not greedy. A constant delay is found first and
taken out, so that a signal that is late throughout is paired with itself and not with its neighbour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64, UInt8
from tracecore.compare.constant_delay import constant_delay_ps
from tracecore.compare.unseen_pulses import (
    Unseen,
    doubtful,
    lasting_ps,
    leave_narrow,
    less_bursts,
    unused,
    wide,
    without,
)

_NONE = np.empty(0, np.int64)
_NONE.flags.writeable = False


@dataclass(frozen=True, slots=True, eq=False)
class Matching:
    """Indices into the two lists of transitions.

    ``good`` and ``suspect`` int64[N] pair within tolerance of each other and of no delay, or as near as unseen pulses
    beside them let one tell: ``hazy`` int64[H] and int64[H] are those of them that lie further apart, and may be early
    or late for all that one knows; ``moved_good`` and ``moved_suspect`` int64[M] pair but lie further apart;
    ``missing`` are good ones and ``extra`` suspect ones without a twin. No index is in two of these; in none is what
    belongs to a pulse too narrow for the other side, or to one that may be two of them, which ``double_pulses`` begin
    on either side. ``delay_ps`` is the constant delay found; where the signal repeats so evenly that
    another delay fits as well, ``modulo_ps`` is how far that lies away, else 0. ``short_pulses_ps`` int64[P] and
    int64[Q] are the durations of the pulses on the good and on the suspect side that were too narrow for the other side
    to be sure to see, and had no twin, ``short_pulses`` the transitions that begin them; ``short_pairs`` counts those
    that had one.
    """

    good: Int64
    suspect: Int64
    moved_good: Int64
    moved_suspect: Int64
    missing: Int64
    extra: Int64
    delay_ps: int
    modulo_ps: int = 0
    short_pulses_ps: tuple[Int64, Int64] = (_NONE, _NONE)
    short_pulses: tuple[Int64, Int64] = (_NONE, _NONE)
    short_pairs: int = 0
    hazy: tuple[Int64, Int64] = (_NONE, _NONE)
    double_pulses: tuple[Int64, Int64] = (_NONE, _NONE)
    barely: int = 0
    """How many pairs lie further apart than the tolerance by so little, and are so few, that they count for nothing."""

    @property
    def doubtful(self) -> int:
        """How often an unseen pulse makes it doubtful what is there."""
        return len(self.hazy[0]) + len(self.double_pulses[0]) + len(self.double_pulses[1])


def match_transitions(
    good_ps: Int64,
    good_levels: UInt8,
    suspect_ps: Int64,
    suspect_levels: UInt8,
    *,
    tolerance_ps: int,
    furthest_ps: int,
    narrowest_ps: int = 0,
    periods_ps: tuple[int, int] = (0, 0),
    in_step: bool = False,
) -> Matching:
    """Pairs transitions; ``..._levels`` are the levels each leads to. Times are sorted, on one axis.

    ``furthest_ps`` bounds how far a late or early twin may lie (usually a little over one cycle).
    A pulse no longer than ``narrowest_ps`` that has no twin within the tolerance is dropped on either side: the
    other instrument may not have been able to see it, and one that it saw elsewhere is another pulse. ``periods_ps``
    and ``in_step`` are those of ``Unseen``.

    >>> a = np.array([100, 200]); up_down = np.array([1, 0], np.uint8)
    >>> match_transitions(a, up_down, a + 5, up_down, tolerance_ps=10, furthest_ps=50).good.tolist()
    [0, 1]
    """
    if _all_plain(good_ps, good_levels, suspect_ps, suspect_levels, tolerance_ps):
        # each has its twin within reach and no other: no delay pairs more of them
        every, none = np.arange(len(good_ps)), np.empty(0, np.int64)
        return Matching(every, every, none, none, none, none, 0)
    delay, modulo = constant_delay_ps(good_ps, good_levels, suspect_ps, suspect_levels, tolerance_ps, furthest_ps)
    pair = _match(good_ps, good_levels, suspect_ps - delay if delay else suspect_ps, suspect_levels, tolerance_ps)
    if narrowest_ps:
        sides = (good_ps, good_levels), (suspect_ps - delay if delay else suspect_ps, suspect_levels)
        leave_narrow(pair, *sides, tolerance_ps, narrowest_ps)
    missing, extra = np.flatnonzero(pair < 0), unused(pair[pair >= 0], len(suspect_ps))
    # how many matched ones stand before each: its place, less how many are left over before it
    gap_i, gap_j = missing - np.arange(len(missing)), extra - np.arange(len(extra))
    wide_i, wide_j = wide(good_ps, missing, narrowest_ps), wide(suspect_ps, extra, narrowest_ps)
    pulses = np.delete(missing, wide_i), np.delete(extra, wide_j)
    short = pulses[0][::2], pulses[1][::2]
    dropped = len(short[0]) + len(short[1])
    missing, gap_i, extra, gap_j = missing[wide_i], gap_i[wide_i], extra[wide_j], gap_j[wide_j]
    a, b = _leftover_pairs(
        (gap_i, good_ps[missing], good_levels[missing]), (gap_j, suspect_ps[extra], suspect_levels[extra]), furthest_ps
    )
    pair[missing[a]] = extra[b]
    paired_i = np.flatnonzero(pair >= 0)
    paired_j = pair[paired_i]
    # long lists are let go as soon as they are no longer wanted: each is eight bytes a transition
    del pair
    far = _far(good_ps, suspect_ps, paired_i, paired_j, tolerance_ps)
    left = np.delete(missing, a), np.delete(extra, b)
    hazy, double, barely = (_NONE, _NONE), (_NONE, _NONE), 0
    pairs = int(np.count_nonzero(np.diff(good_ps[paired_i[~far]]) <= narrowest_ps)) if dropped else 0
    if dropped and (len(left[0]) or len(left[1])):
        left, short = less_bursts((good_ps, suspect_ps), left, short, pairs, narrowest_ps)
    if narrowest_ps and (far.any() or len(left[0]) > 1 or len(left[1]) > 1):
        unseen = Unseen(tolerance_ps, narrowest_ps, periods_ps, in_step)
        at = np.flatnonzero(far)
        apart = paired_i[at], paired_j[at]
        near, may_be, double = doubtful(good_ps, suspect_ps, apart, left, len(far), dropped, unseen)
        far[at[near | may_be]] = False
        hazy, barely = (apart[0][may_be], apart[1][may_be]), int(np.count_nonzero(near))
        left = without(left[0], double[0]), without(left[1], double[1])
    moved_i, moved_j = paired_i[far], paired_j[far]
    if len(moved_i):
        paired_i = paired_i[~far]
        paired_j = paired_j[~far]
    short_ps = lasting_ps(good_ps, short[0]), lasting_ps(suspect_ps, short[1])
    return Matching(
        paired_i,
        paired_j,
        moved_i,
        moved_j,
        *left,
        delay,
        modulo,
        short_ps,
        short,
        pairs,
        hazy,
        double,
        barely,
    )


def _all_plain(good_ps: Int64, good_levels: UInt8, suspect_ps: Int64, suspect_levels: UInt8, tolerance_ps: int) -> bool:
    """Do all pair one to one, each in reach of no other?"""
    count = len(good_ps)
    if count != len(suspect_ps):
        return False
    for at in range(0, count, _PLAIN):
        rows = good_ps[at:], good_levels[at:], suspect_ps[at:], suspect_levels[at:]
        if _plain(*rows, tolerance_ps) < min(_PLAIN, count - at):
            return False
    return True


def _far(good_ps: Int64, suspect_ps: Int64, paired_i: Int64, paired_j: Int64, tolerance_ps: int) -> NDArray[np.bool_]:
    """Which pairs lie further apart than the tolerance. A constant delay was taken out to find the pairs; late or early
    is what lies apart on the real axis."""
    far = np.empty(len(paired_i), np.bool_)
    for start in range(0, len(far), _PLAIN):
        part = slice(start, start + _PLAIN)
        far[part] = np.abs(suspect_ps[paired_j[part]] - good_ps[paired_i[part]]) > tolerance_ps
    return far


_PLAIN, _FEWEST_AT_ONCE, _MOST_AT_ONCE = 1 << 16, 256, 1 << 18


def _match(good_ps: Int64, good_levels: UInt8, suspect_ps: Int64, suspect_levels: UInt8, tolerance: int) -> Int64:
    """For each good transition its suspect twin, or -1. Exact: transitions within reach of one another form short
    separate groups. Rows of groups of one and one are passed at once, the groups at their ends one by one."""
    pair = np.full(len(good_ps), -1, np.int64)
    i = j = 0
    size = _FEWEST_AT_ONCE
    while i < len(good_ps) and j < len(suspect_ps):
        count = _plain(good_ps[i:], good_levels[i:], suspect_ps[j:], suspect_levels[j:], tolerance)
        pair[i : i + count] = np.arange(j, j + count)
        i, j = i + count, j + count
        if count == _PLAIN:
            continue
        # where odd ones come thick, more of them are taken at once
        size = max(_FEWEST_AT_ONCE, size // 2) if count > size else max(size, min(2 * size, _MOST_AT_ONCE))
        done, passed = _match_groups(
            pair[i : i + size], good_ps[i:], good_levels[i:], suspect_ps[j:], suspect_levels[j:], tolerance, j
        )
        i, j, size = i + done, j + passed, size if done else 4 * size
    return pair


def _plain(good_ps: Int64, good_levels: UInt8, suspect_ps: Int64, suspect_levels: UInt8, tolerance: int) -> int:
    """How many of the first transitions pair one to one, each in reach of no other: ``_PLAIN`` at most."""
    count = min(_PLAIN, len(good_ps), len(suspect_ps))
    a, b = good_ps[:count], suspect_ps[:count]
    fine = (np.abs(a - b) <= tolerance) & (good_levels[:count] == suspect_levels[:count])
    for own, other in ((a, suspect_ps), (b, good_ps)):
        following = other[1 : count + 1]
        fine[: len(following)] &= following - own[: len(following)] > tolerance
    return count if fine.all() else int(fine.argmin())


def _match_groups(
    pair: Int64,
    good_ps: Int64,
    good_levels: UInt8,
    suspect_ps: Int64,
    suspect_levels: UInt8,
    tolerance: int,
    base: int,
) -> tuple[int, int]:
    """Fills ``pair`` for the first good transitions up to the end of a group; how many of both sides that took, none
    where all are one group that goes on behind them."""
    count = len(pair)
    own = good_ps[: count + 1]
    low = suspect_ps.searchsorted(own - tolerance, "left")
    high = suspect_ps.searchsorted(own + tolerance, "right")
    apart = np.flatnonzero(low[1:] >= high[:-1])
    if count < len(good_ps):
        if not len(apart):
            return 0, 0
        count = int(apart[-1]) + 1
    near = np.flatnonzero(high[:count] > low[:count])
    first, last = low[near], high[near]
    cut = np.flatnonzero(first[1:] >= last[:-1]) + 1
    start, stop = np.concatenate(([0], cut)), np.concatenate((cut, [len(near)]))
    plain = (stop - start == 1) & (last[start] - first[start] == 1) if len(near) else np.empty(0, np.bool_)
    start, stop = start[: len(plain)], stop[: len(plain)]
    i, j = near[start[plain]], first[start[plain]]
    same = good_levels[i] == suspect_levels[j]
    pair[i[same]] = j[same] + base
    for a, b in zip(start[~plain].tolist(), stop[~plain].tolist(), strict=True):
        i0, i1, j0, j1 = int(near[a]), int(near[b - 1]) + 1, int(first[a]), int(last[b - 1])
        pair[i0:i1] = _match_group(
            good_ps[i0:i1], good_levels[i0:i1], suspect_ps[j0:j1], suspect_levels[j0:j1], tolerance, j0 + base
        )
    return count, int(low[count]) if count < len(low) else len(suspect_ps)


_BAND = 512


def _match_group(
    good_ps: Int64, good_levels: UInt8, suspect_ps: Int64, suspect_levels: UInt8, tolerance: int, base: int
) -> Int64:
    """One group by dynamic programming over the suspect transitions, one numpy row a good transition.

    Long groups (a burst faster than the tolerance) are cut into pieces of some hundred transitions, at a
    place where both sides pause longest, so that time and memory stay bounded.
    """
    n, m = len(good_ps), len(suspect_ps)
    if n > _BAND:
        gap = np.diff(good_ps[n // 4 : 3 * n // 4])
        at = n // 4 + int(gap.argmax()) + 1
        middle = (int(good_ps[at - 1]) + int(good_ps[at])) // 2
        cut = int(suspect_ps.searchsorted(middle))
        return np.concatenate(
            (
                _match_group(good_ps[:at], good_levels[:at], suspect_ps[:cut], suspect_levels[:cut], tolerance, base),
                _match_group(
                    good_ps[at:], good_levels[at:], suspect_ps[cut:], suspect_levels[cut:], tolerance, base + cut
                ),
            )
        )
    gain = tolerance + 1 - np.abs(good_ps[:, None] - suspect_ps[None, :])
    allowed = (good_levels[:, None] == suspect_levels[None, :]) & (gain > 0)
    best = np.zeros((n + 1, m + 1), np.int64)
    for i in range(n):
        take = np.where(allowed[i], best[i, :-1] + gain[i], 0)
        best[i + 1, 1:] = np.maximum.accumulate(np.maximum(best[i, 1:], take))
    out = np.full(n, -1, np.int64)
    i, j = n, m
    while i and j:
        if best[i, j] == best[i - 1, j]:
            i -= 1
        elif best[i, j] == best[i, j - 1]:
            j -= 1
        else:
            i, j = i - 1, j - 1
            out[i] = j + base
    return out


Leftover = tuple[Int64, Int64, UInt8]
"""Transitions left over on a side: how many matched ones stand before each, its time, the level it leads to."""


def _leftover_pairs(good: Leftover, suspect: Leftover, furthest_ps: int) -> tuple[Int64, Int64]:
    """Between two matched pairs, as many left over on one side as on the other, of the same polarities and not
    too far apart, are the same transitions early or late. Indices into both rows of leftovers."""
    (gap_i, good_ps, good_levels), (gap_j, suspect_ps, suspect_levels) = good, suspect
    gaps = _in_both(gap_i, gap_j)
    first_i, last_i = gap_i.searchsorted(gaps, "left"), gap_i.searchsorted(gaps, "right")
    first_j, last_j = gap_j.searchsorted(gaps, "left"), gap_j.searchsorted(gaps, "right")
    count = last_i - first_i
    equal = count == last_j - first_j
    count, first_i, first_j = count[equal], first_i[equal], first_j[equal]
    within = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    late_i, late_j = np.repeat(first_i, count) + within, np.repeat(first_j, count) + within
    fits = (good_levels[late_i] == suspect_levels[late_j]) & (
        np.abs(suspect_ps[late_j] - good_ps[late_i]) <= furthest_ps
    )
    # a gap counts as late or early only as a whole: half of it would leave a pulse with one end
    whole = np.ones(len(count), np.bool_)
    np.logical_and.at(whole, np.repeat(np.arange(len(count)), count), fits)
    keep = np.repeat(whole, count)
    return late_i[keep], late_j[keep]


def _in_both(a: Int64, b: Int64) -> Int64:
    """The values that two sorted rows share, once each."""
    if not len(a) or not len(b):
        return np.empty(0, np.int64)
    few, many = (a, b) if len(a) < len(b) else (b, a)
    few = few[np.append(True, few[1:] != few[:-1])]
    return np.asarray(few[many[np.minimum(many.searchsorted(few), len(many) - 1)] == few])
