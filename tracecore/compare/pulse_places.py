"""Short pulses that only one side shows, by where in the cycle they are.

A sound board's gates make short pulses while they settle, at moments at which they also move for good in other cycles.
Noise, a bad contact or a neighbour's edge makes them at any moment. So a pulse at a moment of the cycle at which the
other side never moves that signal is no settling, however few of these there are.
"""

from __future__ import annotations

import numpy as np

from tracecore.capture import Int64

_FEWEST_MOVES = 12  # so often must the other side move, or where it moves is not known


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
    cycle = int(np.median(np.diff(starts_ps)))
    moves = np.unique(_in_cycle(other_ps, starts_ps))
    ends = _in_cycle(ends_ps.ravel(), starts_ps).reshape(-1, 2)
    # a moment just before an edge is next to one just behind it
    near = np.zeros(ends.shape, np.bool_)
    for turned in (ends - cycle, ends, ends + cycle):
        near |= moves.searchsorted(turned + reach_ps, "right") > moves.searchsorted(turned - reach_ps, "left")
    return np.flatnonzero(~near.any(axis=1))


def _in_cycle(times_ps: Int64, starts_ps: Int64) -> Int64:
    """How long behind the last active edge each time is."""
    return times_ps - starts_ps[np.maximum(starts_ps.searchsorted(times_ps, "right") - 1, 0)]
