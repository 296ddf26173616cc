"""Cycles without partner that the other side shows at another place: an interrupt's routine, a loop that turns longer.

What is shown nowhere on the other side was not compared at all, and a fault may lie there. A wait holds what stood
before it, which is nothing to compare.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.lineup.follower import Stretch
from tracecore.lineup.state_words import MOST_SIGNALS, Words, state_words
from tracecore.lineup.unseen import BESIDE

_PIECE = 8  # cycles that the other side shows in a row; fewer are chance
_LOOKED_UP, _PLACES = 16, 64  # cycles by whose words a place is sought, and how many places of one word
_TRIED = 4  # places that are gone along
_STEP, _MOST = 1 << 10, 1 << 14  # cycles that are looked at, at once and in all; the rest counts as shown nowhere


def shown_nowhere(good: UInt8, suspect: UInt8, stretches: Sequence[Stretch]) -> tuple[int, int]:
    """How many good and suspect cycles without partner, of more than a few in a row that do not wait, the other side
    shows nowhere. ``good`` uint8[S, N] and ``suspect`` uint8[S, M] are the states in each cycle.

    >>> good = np.random.default_rng(0).integers(0, 2, (6, 60)).astype(np.uint8)
    >>> suspect = np.concatenate((good[:, :50], good[:, 10:30], good[:, 50:]), axis=1)
    >>> shown_nowhere(good, suspect, [Stretch("inserted", 50, 50, 50, 70)])
    (0, 0)
    >>> suspect[3, 65] ^= 1
    >>> shown_nowhere(good, suspect, [Stretch("inserted", 50, 50, 50, 70)])
    (0, 5)
    """
    of_good = [(s.good_start, s.good_stop) for s in stretches if s.kind == "missing" and s.size[0] > BESIDE]
    of_suspect = [(s.suspect_start, s.suspect_stop) for s in stretches if s.kind == "inserted" and s.size[1] > BESIDE]
    return _count(good, suspect, of_good), _count(suspect, good, of_suspect)


def _count(own: UInt8, other: UInt8, spans: Sequence[tuple[int, int]]) -> int:
    spans = [span for span in spans if not _waits(own, *span)]
    if not spans:
        return 0
    rows = np.arange(min(len(own), MOST_SIGNALS))
    words = state_words(other, rows).levels
    order = np.argsort(words, kind="stable")
    left, nowhere = _MOST, 0
    for start, stop in spans:
        until = min(stop, start + left)
        nowhere += stop - until
        left -= until - start
        # a gap may stand a little early or late, so that what is beside it counts for a piece
        at, end = max(0, start - _PIECE + 1), min(own.shape[1], until + _PIECE - 1)
        mine, begin = state_words(own[:, at:end], rows).levels, at
        while at < until:
            length = _shown(own[:, at : min(end, at + _STEP)], mine[at - begin :], other, words, order)
            nowhere += not length and at >= start
            at += max(1, length)
    return nowhere


def _waits(own: UInt8, start: int, stop: int) -> bool:
    """Do the cycles hold what stands before them, but for a signal or two that say so?"""
    held = own[:, max(0, start - 1) : stop]
    moved = ((held != held[:, :1]) & (held != UNKNOWN) & (held[:, :1] != UNKNOWN)).any(1)
    return int(moved.sum()) <= max(1, len(own) // 16)


def _shown(own: UInt8, mine: Words, other: UInt8, words: Words, order: Int64) -> int:
    """How many of the next cycles the other side shows in a row somewhere; 0 for a few."""
    sought = mine[:_LOOKED_UP]
    first, last = (words.searchsorted(sought, side, sorter=order) for side in ("left", "right"))
    last = np.minimum(last, first + _PLACES)
    places = [order[i:j] - k for k, (i, j) in enumerate(zip(first.tolist(), last.tolist(), strict=True))]
    begins, votes = np.unique(np.concatenate(places), return_counts=True)
    begins = begins[np.argsort(-votes, kind="stable")]
    lengths = [_alike(own, other[:, at:]) for at in begins[begins >= 0][:_TRIED].tolist()]
    best = max(lengths, default=0)
    return best if best >= _PIECE else 0


def _alike(own: UInt8, other: UInt8) -> int:
    """Through how many cycles from the first on nothing that is decided differs."""
    count = min(own.shape[1], other.shape[1])
    a, b = own[:, :count], other[:, :count]
    differ = ((a != b) & (a != UNKNOWN) & (b != UNKNOWN)).any(0)
    return int(differ.argmax()) if differ.any() else count
