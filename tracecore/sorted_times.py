"""Where sorted instants stand among other sorted instants, such as transitions among the edges of a clock.

A clock ticks nearly evenly, so where an instant stands is guessed from a straight line through some thousand edges and
checked against the two edges beside it; only what fails the check is searched for.
"""

from __future__ import annotations

import numpy as np

from tracecore.capture import Int64

_PART = 1 << 15  # so many stay in the cache from one step to the next
_UNEVEN = 8  # with more than one guess in so many wrong, the next parts are searched at once
_REST = 15
_FEW = 2000  # so many are sooner searched for than guessed


def count_until(times_ps: Int64, at_ps: Int64) -> Int64:
    """How many of the sorted ``times_ps`` are at or before each of the sorted ``at_ps``: int64[len(at_ps)].

    >>> count_until(np.array([10, 20, 31]), np.array([9, 10, 30, 31, 99])).tolist()
    [0, 1, 2, 3, 3]
    """
    if len(at_ps) < _FEW:
        return times_ps.searchsorted(at_ps, side="right")
    out = np.empty(len(at_ps), np.int64)
    plain = 0
    for start in range(0, len(at_ps), _PART):
        part, found = at_ps[start : start + _PART], out[start : start + _PART]
        low, high = times_ps.searchsorted(part[[0, -1]], side="right").tolist()
        own = times_ps[max(low - 1, 0) : high + 1]
        if plain or len(own) < 3 or 64 * len(part) < len(own):
            plain = max(0, plain - 1)
            found[:] = own.searchsorted(part, side="right")
        elif _guessed(own, part, found) * _UNEVEN > len(part):
            plain = _REST
        found += max(low - 1, 0)
    return out


def _guessed(own: Int64, at_ps: Int64, out: Int64) -> int:
    """Fills ``out``; how many guesses were wrong."""
    last = len(own) - 1
    begin, stop = int(own[0]), int(own[last])
    if stop == begin:
        out[:] = own.searchsorted(at_ps, side="right")
        return len(at_ps)
    line = (at_ps - begin) * (last / (stop - begin))
    guess = line.astype(np.int64)
    # the last edge has no following one to check against
    np.clip(guess, 0, last - 1, out=guess)
    np.add(guess, 1, out=out)
    wrong = own[guess] > at_ps
    wrong |= own[out] <= at_ps
    odd = np.flatnonzero(wrong)
    if len(odd):
        out[odd] = own.searchsorted(at_ps[odd], side="right")
    return len(odd)
