"""Whether one net follows another, or both are joined, beyond what chance makes.

Two wires that are shorted read one level. Where the outputs behind them disagree, the stronger one wins: the low one in
most TTL, which makes the AND of both, elsewhere the high one (common practice). So both fit: each shows what the two
good levels would make together.
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from tracecore.capture import HIGH, UNKNOWN, UInt8
from tracecore.compare.divergence import Divergence

BY_CHANCE = 1e-6
"""Unrelated nets look alike as often as this at most before one is said to follow the other."""
_HISTORY = 16  # cycles; a loop that is run through again is no further evidence
_LOOKED_AT = 20
_FITS = 0.9

Winner = Literal["low", "high"]


def follows_by_chance(own: UInt8, theirs: UInt8, nets: int) -> bool:
    """May the likeness of two nets' states, uint8[N] each, be chance among so many ``nets``? What the other net does is
    counted once, however often it does it again."""
    known = (own != UNKNOWN) & (theirs != UNKNOWN)
    high, other = own[known] == HIGH, theirs[known] == HIGH
    if len(other) < 2:
        return True
    history = np.zeros(len(other), np.int64)
    for back in range(min(_HISTORY, len(other))):
        history[back:] |= other[: len(other) - back].astype(np.int64) << back
    moves = np.flatnonzero(other[1:] != other[:-1]) + 1
    share = float(high.mean())
    alike = max(share, 1 - share)
    return bool(len(np.unique(history[moves])) * np.log(alike) > np.log(BY_CHANCE / max(1, nets)))


def joined(a: Divergence, b: Divergence) -> Winner | None:
    """Which level wins where the two look joined from where they first differ from the good side; None where they do
    not. Both must fit."""
    at = np.flatnonzero(a.differing | b.differing)[:_LOOKED_AT]
    levels = [s[at] for s in (a.good_states, b.good_states, a.suspect_states, b.suspect_states)]
    known = np.all([s != UNKNOWN for s in levels], axis=0)
    good_a, good_b, own, theirs = (s[known] == HIGH for s in levels)
    if not len(own) or own[0] != theirs[0] or good_a[0] == good_b[0]:
        return None
    apart = good_a != good_b
    if float((own == theirs)[apart].mean()) < _FITS:
        return None
    won_high = float(own[apart].mean())
    if won_high >= _FITS:
        return "high"
    return "low" if won_high <= 1 - _FITS else None
