"""What chance does: how likely it alone makes as many fall on one side, by a bound that needs no table, and between
which bounds a share lies.

W. Hoeffding, Journal of the American Statistical Association 58 (1963), theorem 1, formula 2.1: the chance that of n
independent trials of probability q at least k succeed is at most exp(-n D), where D = p ln(p/q) + (1-p) ln((1-p)/(1-q))
and p = k/n is above q. Cited from memory; the tests compare it with the exact tail of the binomial distribution.
"""

from __future__ import annotations

from math import sqrt
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tracecore.capture import Int64

RARE = 1e-3
"""What chance would do less often than once in a thousand times is no chance."""

_STRETCH = 8
_Z = 1.959963984540054  # half of a normal distribution's 95 % lie below it on either side of the middle


def chance_bound(hits: ArrayLike, trials: int, share: ArrayLike) -> NDArray[np.float64]:
    """At most this likely is it that ``hits`` or more of ``trials`` fall into a ``share`` (0 to 1) of the whole:
    float64[N]; 1 where that is no more than its share.

    >>> round(float(chance_bound(3, 3, 0.5)), 4)
    0.125
    """
    q = np.clip(np.asarray(share, np.float64), 1e-12, 1.0)
    p = np.asarray(hits, np.float64) / max(1, trials)
    with np.errstate(divide="ignore", invalid="ignore"):
        above = np.where(p > 0, p * np.log(p / q), 0.0)
        below = np.where(p < 1, (1 - p) * np.log((1 - p) / (1 - np.minimum(q, 1 - 1e-12))), 0.0)
    return np.asarray(np.where(p > q, np.exp(-trials * (above + below)), 1.0))


def share_bounds(hits: int, trials: int) -> tuple[float, float]:
    """Between which bounds the share lies with 95 % confidence (E. B. Wilson, J. Am. Stat. Assoc. 22, 1927), without a
    continuity correction; exactly 0 and 1 at the ends where none, or every, trial hits, and for no trial at all.

    By hand: statistics of scipy would take longer to import than a comparison of a million cycles takes.

    >>> [round(bound, 4) for bound in share_bounds(4, 5)]
    [0.3755, 0.9638]
    """
    if not trials:
        return 0.0, 1.0
    share, square = hits / trials, _Z * _Z
    whole = 2 * (trials + square)
    middle = (2 * trials * share + square) / whole
    reach = _Z / whole * sqrt(4 * trials * share * (1 - share) + square)
    return 0.0 if hits == 0 else middle - reach, 1.0 if hits == trials else middle + reach


def episodes(cycles: NDArray[np.integer[Any]]) -> Int64:
    """The first of each stretch of neighbouring cycles, of sorted ones, and every eighth of a long one: what follows
    at once is no new draw.

    >>> episodes(np.array([4, 5, 6, 9, 20, 21, 22, 23, 24, 25, 26, 27, 28])).tolist()
    [4, 9, 20, 28]
    """
    first = np.append(True, np.diff(cycles) > 1)[: len(cycles)]
    start = np.maximum.accumulate(np.where(first, np.arange(len(cycles)), 0))
    return np.asarray(cycles[(np.arange(len(cycles)) - start) % _STRETCH == 0], np.int64)
