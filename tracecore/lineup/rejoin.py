"""How long two cycles go on together, and where both sides go on together after a stretch in which they do not."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tracecore.capture import Int64
from tracecore.lineup.alignment import Places, WordPair
from tracecore.lineup.state_words import StateWords, Words

SEED_CYCLES = 16
LEAST_TOGETHER = 48
"""Cycles both sides must go on together for that to be no chance."""
FARTHEST = 1 << 18
"""Cycles of each side within which a common stretch is looked for."""
FAR_ENOUGH = 4096
_FORGIVEN, _WORTH = 1500, 40


def together(pair: WordPair, at: Places, mask: np.uint64, most: int = FAR_ENOUGH) -> int:
    """For how many cycles both sides go on together from a pair of cycles, 0 to ``most``.

    Each pair scores what it costs less than ``_WORTH``; the length with the highest total is taken, and the way is
    left where the total falls ``_FORGIVEN`` below that.
    """
    left = min(most, pair.left(at))
    length, score, best, best_length = 0, 0, 0, 0
    step = 256
    while length < left:
        count = min(step, left - length)
        cost = pair.pair_cost(Places(at.good + length, at.suspect + length), count, mask)
        total = score + np.cumsum(_WORTH - cost)
        peak = np.maximum(np.maximum.accumulate(total), best)
        fallen = np.flatnonzero(total < peak - _FORGIVEN)
        stop = int(fallen[0]) + 1 if len(fallen) else count
        top = stop - 1 - int(total[:stop][::-1].argmax())
        if total[top] >= best:
            best, best_length = int(total[top]), length + top + 1
        if len(fallen):
            break
        score, length, step = int(total[-1]), length + count, step * 4
    return best_length


def rejoins(pair: WordPair, at: Places, mask: np.uint64) -> Iterator[tuple[Places, int]]:
    """Pairs of cycles from which both sides go on together, and for how long: each better than those before.

    Windows that grow look for stretches of words that occur once in both and lie at one distance from one another.
    The worth of a place is how long it goes on, less the cycles given up to reach it. Where no stretch of whole words
    is common, near ones are looked for without a part of the signals, one part after the other: one signal that has
    just gone wrong spoils every word.
    """
    best: int | None = None
    for window in (512, 4096, 32_768, FARTHEST):
        sides = _windows(pair, at, window)
        if min(len(side) for side in sides) < 2 * SEED_CYCLES:
            break
        for place, length, worth in _better_places(pair, at, sides, mask, mask, best):
            best = worth
            yield place, length
        whole = max(len(side) for side in sides) < window
        # nothing further away can be better than what is near and goes on far
        if whole or (best is not None and (best >= max(0, FAR_ENOUGH - 4 * window) or window == 32_768)):
            break
    for window in (512, 4096) if best is None else ():
        sides = _windows(pair, at, window)
        if min(len(side) for side in sides) < 2 * SEED_CYCLES:
            return
        for part in _without_a_part(mask):
            for place, length, worth in _better_places(pair, at, sides, part, mask, best):
                best = worth
                yield place, length
        if best is not None:
            return


def _windows(pair: WordPair, at: Places, window: int) -> tuple[StateWords, StateWords]:
    return pair.good.part(at.good, at.good + window), pair.suspect.part(at.suspect, at.suspect + window)


def _better_places(
    pair: WordPair,
    at: Places,
    sides: tuple[StateWords, StateWords],
    seeds: np.uint64,
    mask: np.uint64,
    best: int | None,
) -> Iterator[tuple[Places, int, int]]:
    """Places, how long both go on from each, and what that is worth. The signals of ``seeds`` find the places, those
    of ``mask`` say how long both go on."""
    for ahead in _common_stretches(*sides, seeds, max(len(side) for side in sides)):
        place = Places(at.good + ahead.good, at.suspect + ahead.suspect)
        length = together(pair, place, mask)
        worth = length - max(ahead)
        if length >= LEAST_TOGETHER and (best is None or worth > best):
            best = worth
            yield place, length, worth


def _without_a_part(mask: np.uint64, parts: int = 4) -> Iterator[np.uint64]:
    """The mask without each of some parts of its signals; nothing where few would be left."""
    bits = [bit for bit in range(64) if int(mask) >> bit & 1]
    if len(bits) < 2 * parts:
        return
    for first in range(parts):
        left_out = sum(1 << bit for bit in bits[first::parts])
        yield np.uint64(int(mask) & ~left_out)


def _common_stretches(good: StateWords, suspect: StateWords, mask: np.uint64, window: int) -> list[Places]:
    """Where stretches of at least ``LEAST_TOGETHER`` cycles at one distance begin, nearest first, a dozen at most."""
    thin = max(0, int(np.log2(max(1, window // 65_536))))
    a, b = unique_seeds(good.levels, suspect.levels, thin, mask)
    if len(a) < 4:
        return []
    order = np.lexsort((a, b - a))
    a, apart = a[order], (b - a)[order]
    # a stretch ends where the distance changes or seeds fail to come for long
    ends = np.flatnonzero((np.diff(apart) != 0) | (np.diff(a) > 64 << thin))
    first, last = np.concatenate(([0], ends + 1)), np.concatenate((ends, [len(a) - 1]))
    long = (a[last] - a[first] >= LEAST_TOGETHER - SEED_CYCLES) & (last - first >= 4 // (thin + 1) + 2)
    places = [Places(int(a[i]), int(a[i] + apart[i])) for i in first[long].tolist()]
    return sorted(places, key=max)[:12]


def unique_seeds(good: Words, suspect: Words, thin: int, mask: np.uint64) -> tuple[Int64, Int64]:
    """Places of windows of ``SEED_CYCLES`` words that occur once on each side, sorted by the good place.

    Only one window in ``2 ** thin`` is looked at, chosen by its content, so that both sides choose the same.
    """
    (a, at_a), (b, at_b) = (_once(*picked_windows(w, SEED_CYCLES, thin, mask)) for w in (good, suspect))
    if not len(a) or not len(b):
        return np.empty(0, np.int64), np.empty(0, np.int64)
    partner = np.minimum(b.searchsorted(a), len(b) - 1)
    hit = b[partner] == a
    x, y = at_a[hit], at_b[partner[hit]]
    order = np.argsort(x, kind="stable")
    return x[order], y[order]


def _once(keys: Words, at: Int64) -> tuple[Words, Int64]:
    """Keys that occur once, sorted, with their places."""
    order = np.argsort(keys, kind="stable")
    keys, at = keys[order], at[order]
    apart = keys[1:] != keys[:-1]
    alone = np.append(True, apart)[: len(keys)] & np.append(apart, True)[: len(keys)]
    return keys[alone], at[alone]


def picked_windows(words: Words, cycles: int, thin: int, mask: np.uint64, part: int = 1 << 16) -> tuple[Words, Int64]:
    """Hashes of windows of ``cycles`` words and where they begin: one in ``2 ** thin``, picked by the hash itself.
    Only the signals of ``mask`` count.

    Long captures are worked through in parts, which stay in the processor's cache.
    """
    pick = np.uint64((1 << thin) - 1)
    keys, places = [np.empty(0, np.uint64)], [np.empty(0, np.int64)]
    for start in range(0, len(words) - cycles + 1, part):
        hashed = window_hash(words[start : start + part + cycles - 1] & mask, cycles)
        at = np.flatnonzero((hashed >> np.uint64(8)) & pick == 0)
        keys.append(hashed[at])
        places.append(at + start)
    return np.concatenate(keys), np.concatenate(places)


def window_hash(words: Words, cycles: int) -> Words:
    """A hash of each ``cycles`` words in a row (a power of two), by doubling: uint64[N - cycles + 1]."""
    value = words * np.uint64(0x9E3779B97F4A7C15)
    value ^= value >> np.uint64(29)
    factor, step = 0xA24BAED4963EE407, 1
    while step < cycles and len(value) > step:
        value = value[:-step] * np.uint64(factor) + value[step:]
        value ^= value >> np.uint64(31)
        factor = (factor * 0x9E3779B97F4A7C15 & 0xFFFFFFFFFFFFFFFF) | 1
        step *= 2
    return value
