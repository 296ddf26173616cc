"""Short pulses that only one side shows, by where in the cycle they are.

A sound board's gates make short pulses while they settle, at moments at which they also move for good in other cycles.
Noise, a bad contact or a neighbour's edge makes them at any moment. So a pulse at a moment of the cycle at which the
other side never moves that signal is no settling, however few of these there are: unless another signal, at a moment
that is its own on the other side too, makes the same pulse from the same sample to the same sample, while the other
side moves as well. An address that passes through others, or a carry that ripples, goes over many nets at once, and
reaches one of them in a cycle in which the other side's samples missed it.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from tracecore.capture import Int64
from tracecore.compare.transitions import Matching
from tracecore.compare.unseen_pulses import Bools, Side

_FEWEST_MOVES = 12  # so often must the other side move, or where it moves is not known
_FEW_HAZY = 2  # a choice


def pulses(begins: Int64, times_ps: Int64) -> Int64:
    """When the pulses begin and end that these transitions begin: int64[P, 2]."""
    return np.stack((times_ps[begins], times_ps[begins + 1]), axis=1)


def strange_pulses(
    matching: Matching, sides: tuple[Int64, Int64], starts_ps: Int64, reach_ps: int
) -> tuple[Int64, Int64]:
    """The short pulses of either side, int64[P, 2], that are out of place; ``sides`` are their transitions."""
    strange = []
    for begins, own, other in zip(matching.short_pulses, sides, sides[::-1], strict=True):
        ends = pulses(begins, own)
        strange.append(ends[out_of_place(ends, other, starts_ps, reach_ps)])
    return strange[0], strange[1]


def hazy_in_place(matching: Matching, good: Side, suspect: Side, starts_ps: Int64, tolerance_ps: int) -> int:
    """How many pairs that may be early or late are, on either side, where in the cycle the other moves to that level in
    other cycles. An adder whose carry ripples settles at many moments; a register that is late does so at two. None of
    more than two: a pulse is seldom missed right beside a transition."""
    count = 0
    if len(matching.hazy[0]) > _FEW_HAZY:
        return count
    for i, j in zip(*(index.tolist() for index in matching.hazy), strict=True):
        level = good[1][i]
        moves = [np.delete(ps, at)[np.delete(levels, at) == level] for (ps, levels), at in ((good, i), (suspect, j))]
        times = good[0][[i]], suspect[0][[j]]
        fits = [in_place(*each, starts_ps, tolerance_ps) for each in zip(times, moves[::-1], strict=True)]
        count += int(fits[0][0] and fits[1][0])
    return count


def out_of_place(ends_ps: Int64, other_ps: Int64, starts_ps: Int64, reach_ps: int) -> Int64:
    """Which pulses begin and end further than ``reach_ps`` in the cycle from all that the other side does.

    Parameters
    ----------
    ends_ps : int64[P, 2], where each pulse begins and ends.
    other_ps : int64[N], the other side's transitions, on the same axis.
    starts_ps : int64[K], where the compared cycles begin, increasing.

    Returns int64[Q], indices into the pulses; none where the other side moves less than twelve times.

    >>> starts = np.arange(40) * 1000
    >>> out_of_place(np.array([[520, 540], [110, 130]]), starts + 100, starts, 50).tolist()
    [0]
    """
    if len(other_ps) < _FEWEST_MOVES or len(starts_ps) < 2 or not len(ends_ps):
        return np.empty(0, np.int64)
    near = in_place(ends_ps.ravel(), other_ps, starts_ps, reach_ps).reshape(-1, 2)
    return np.flatnonzero(~near.any(axis=1))


def in_place(times_ps: Int64, other_ps: Int64, starts_ps: Int64, reach_ps: int) -> Bools:
    """Which times, bool[N], are no further in the cycle than ``reach_ps`` from a transition of the other side in any
    cycle. ``times_ps`` int64[N], ``other_ps`` int64[M] and ``starts_ps`` as ``out_of_place`` has them."""
    cycle = int(np.median(np.diff(starts_ps)))
    moves = np.unique(_in_cycle(other_ps, starts_ps))
    at = _in_cycle(times_ps, starts_ps)
    # a moment just before an edge is next to one just behind it
    near = np.zeros(len(at), np.bool_)
    for turned in (at - cycle, at, at + cycle):
        near |= moves.searchsorted(turned + reach_ps, "right") > moves.searchsorted(turned - reach_ps, "left")
    return near


def shared(ends_ps: Int64, others: Iterable[tuple[Int64, Int64]], starts_ps: Int64, reach_ps: int) -> Bools:
    """Which pulses, bool[P], another signal makes as well, at a moment that is its own, while the other side moves.

    ``ends_ps`` int64[P, 2] and ``starts_ps`` are those of ``out_of_place``. ``others`` are other signals' transitions,
    on the side that shows the pulses and on the other, all on one axis.

    A pulse at one pin alone is hardly ever shared: one sample, or none, begins with another signal's own pulse. A spike
    that spreads from net to net is out of place on all of them, or comes while the other side is still.
    """
    made, moves = np.zeros(len(ends_ps), np.bool_), np.zeros(len(ends_ps), np.bool_)
    begins, ends = ends_ps.T
    for own, other in others:
        moves |= other.searchsorted(ends + reach_ps, "right") > other.searchsorted(begins - reach_ps, "left")
        at = np.minimum(own.searchsorted(begins), max(0, len(own) - 2))
        if len(own) < 2 or len(other) < _FEWEST_MOVES:
            continue
        same = (own[at] == begins) & (own[at + 1] == ends)
        if same.any():
            same[np.flatnonzero(same)[out_of_place(ends_ps[same], other, starts_ps, reach_ps)]] = False
            made |= same
    return made & moves


def _in_cycle(times_ps: Int64, starts_ps: Int64) -> Int64:
    """How long behind the last active edge each time is."""
    return times_ps - starts_ps[np.maximum(starts_ps.searchsorted(times_ps, "right") - 1, 0)]
