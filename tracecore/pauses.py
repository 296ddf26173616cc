"""Long pauses in sorted times: where a wide column of pixels can be still.

In a view with many times a column, nearly every column is busy. Those that are not lie in pauses at least as long as
they are wide, so that only such pauses need to be looked at, however many times there are.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64

Places = NDArray[np.int64]

ONE_IN = 16
"""At most one in so many pauses is kept with the least length, and half as many or so with each doubling of it."""
BLOCK, SAMPLE = 1 << 16, 4096
"""So many pauses are measured at once, few enough for the cache; from so many the least length is guessed."""


class Pauses:
    """Pause ``i`` lasts from ``begin_ps[i]`` to ``end_ps[i]``, two int64[N] in order, which are not copied.

    >>> at = np.arange(100) * 10
    >>> at[50:] += 500
    >>> Pauses(at[:-1], at[1:]).within(64, 0, 99).tolist()
    [49]
    """

    __slots__ = ("_begin_ps", "_by_bits", "_end_ps", "_least_bits")

    def __init__(self, begin_ps: Int64, end_ps: Int64) -> None:
        self._begin_ps, self._end_ps = begin_ps, end_ps
        count = len(begin_ps)
        # those of at least 1, 2, 4 ... times the least length, by their places
        self._by_bits: list[Places] = []
        self._least_bits = 0
        if not count:
            return
        step = -(-count // SAMPLE)
        lengths = np.sort(end_ps[::step] - begin_ps[::step])
        self._least_bits = int(lengths[len(lengths) - 1 - len(lengths) // ONE_IN]).bit_length()
        found = self._at_least(1 << self._least_bits)
        lengths = end_ps[found] - begin_ps[found]
        while len(found):
            if len(found) <= max(count // ONE_IN * 2, ONE_IN):
                self._by_bits.append(found)
            else:
                # the sample was not like the whole: pauses this short are too many to be kept
                self._least_bits += 1
            kept = lengths >= 1 << (self._least_bits + len(self._by_bits))
            found, lengths = found[kept], lengths[kept]

    def _at_least(self, length_ps: int) -> Places:
        """Places of all pauses of that length."""
        found = []
        for first in range(0, len(self._begin_ps), BLOCK):
            block = slice(first, first + BLOCK)
            found.append(np.flatnonzero(self._end_ps[block] - self._begin_ps[block] >= length_ps) + first)
        return np.concatenate(found)

    def within(self, length_ps: int, first: int, stop: int) -> Places | None:
        """Places from ``first`` (closed) to ``stop`` (open) of all pauses of ``length_ps`` and more, and of shorter
        ones down to half of it; None where so short ones are not kept."""
        above = length_ps.bit_length() - 1 - self._least_bits
        if above < 0:
            return None
        if above >= len(self._by_bits):
            return np.empty(0, np.int64)
        places = self._by_bits[above]
        a, b = places.searchsorted((first, stop)).tolist()
        return places[a:b]
