"""What is wrong now and then: of itself, under the same states, or as a consequence that depends on data."""

from __future__ import annotations

from collections.abc import Mapping
from zlib import crc32

import numpy as np

from tracecore.capture import HIGH, LOW, UNKNOWN, Int64
from tracecore.compare.divergence import Divergence
from tracecore.lineup.spread import SPREAD

_CYCLES_BEFORE = 4  # how long a wrong input may take to show
_SAME_STATES = 0.5  # of the wrong cycles, that were right under the same states
_MOSTLY = 0.8
_FIRST_BITS = 22
_AT_ONCE = 5  # signals whose levels make one number below 256
BY_CHANCE = 1e-6


def comes_and_goes(found: Divergence, others: Mapping[str, Divergence]) -> int:
    """In how many of its wrong cycles the levels of all other signals, in that cycle and the one before, are those of
    cycles in which it is right; 0 where they are few, or where there are no other signals."""
    wrong = _wrong(found)
    if not others or not len(wrong):
        return 0
    words = _words(others)
    before = words[:-1] * np.uint64(SPREAD)  # so that two equal cycles in a row do not cancel
    words[1:] ^= before
    right = np.ones(len(words), np.bool_)
    right[wrong] = False
    right &= (found.good_states != UNKNOWN) & (found.suspect_states != UNKNOWN)
    right[0] = False
    # of the right cycles, which are many, only those count whose first bits any wrong one has
    first = (words >> np.uint64(64 - _FIRST_BITS)).astype(np.intp)
    seen = np.zeros(1 << _FIRST_BITS, np.bool_)
    seen[first[wrong]] = True
    right &= seen[first]
    twins = int(np.isin(words[wrong], words[right]).sum())
    return twins if twins >= max(2, _SAME_STATES * len(wrong)) else 0


def followed_now_and_then(found: Divergence, others: Mapping[str, Divergence]) -> tuple[str, str]:
    """The signal that it may follow, and why: one that is wrong with it or shortly before in most of its places, else
    one that stands at one level whenever it is wrong, more than chance makes. Both empty where there is none."""
    wrong = _wrong(found)
    if not len(wrong):
        return "", ""
    starts = wrong[np.append(True, np.diff(wrong) > 2 * _CYCLES_BEFORE)]
    best, leader = 0, ""
    for name, other in others.items():
        own = _wrong(other)
        if not len(own) or other.first is None or found.first is None or other.first.good_ps >= found.first.good_ps:
            continue
        last = own[np.maximum(own.searchsorted(starts, "right") - 1, 0)]
        count = int(((last <= starts) & (starts - last <= _CYCLES_BEFORE)).sum())
        if count > best:
            best, leader = count, name
    if best >= _MOSTLY * len(starts):
        return leader, f"{leader} is wrong with it or up to {_CYCLES_BEFORE} cycles before in {best} of them."
    least, leader, word = np.log(BY_CHANCE / max(1, 2 * len(others))), "", ""
    for name, other in others.items():
        states, at = other.suspect_states, other.suspect_states[starts]
        for level, text in ((LOW, "low"), (HIGH, "high")):
            if not bool((at == level).all()):
                continue
            share = int(np.count_nonzero(states == level)) / len(states)
            if 0 < share < 1 and len(starts) * np.log(share) < least:
                least, leader, word = len(starts) * np.log(share), name, text
    return leader, f"{leader} is {word} whenever it goes wrong, but not always." if leader else ""


def _wrong(found: Divergence) -> Int64:
    """Its wrong cycles by their place among the matched ones."""
    return found.good_cycles.searchsorted(found.cycles)


def _words(others: Mapping[str, Divergence]) -> np.ndarray:
    """The suspect's levels of all signals in each cycle as one number, uint64[K]: chance makes no two alike."""
    words = np.zeros(len(next(iter(others.values())).suspect_states), np.uint64)
    names = list(others)
    for i in range(0, len(names), _AT_ONCE):
        key, table = np.zeros(len(words), np.uint8), np.zeros(1, np.uint64)
        for name in names[i : i + _AT_ONCE]:
            draws = np.random.default_rng(crc32(name.encode())).integers(0, 1 << 63, 3).astype(np.uint64)
            key *= 3
            key += others[name].suspect_states
            table = (table[:, None] ^ draws).ravel()
        words ^= table[key]
    return words
