"""Where both sides go on together further off: short runs of words that both have.

Runs are sought over all signals first, then over random thirds of them, so that a few signals that are wrong do not
spoil every run. Windows grow until a place is found from which both go on long without a difference.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from tracecore.capture import Int64
from tracecore.lineup.alignment import Places, WordPair
from tracecore.lineup.spread import MASK, SPREAD
from tracecore.lineup.state_words import Words, size_of

SEED_CYCLES = 16
LEAST_TOGETHER = 48
"""Cycles both sides must go on together for that to be no chance."""
FEW = 0.34
"""The share of the moving signals up to which those that differ are wrong themselves."""
_LOOK = 512
_REACHES = (512, 1 << 13, 1 << 17, 1 << 21)
_SPAN, _DEAR = 8, 250
_FEWEST_STATES = 6


class Rejoin(NamedTuple):
    """Both go on together from ``at``, but for the signals ``wrong``. ``worth``: cycles they do, less what stays
    unexplained. ``sure`` where all that was looked at agrees."""

    worth: float
    at: Places
    wrong: np.uint64
    sure: bool


def rejoin(pair: WordPair, at: Places, mask: np.uint64) -> Rejoin | None:
    """The best place behind ``at`` to go on together, None where there is none."""
    room = len(pair.good) - at.good, len(pair.suspect) - at.suspect
    found: list[Rejoin] = []
    last = False
    for reach in _REACHES:
        sides = pair.part(at, at.on(reach, reach))
        for part, length in _choices(mask):
            if min(len(sides.good), len(sides.suspect)) <= length:
                continue
            hashes = [window_hash(w.levels & part, length) for w in (sides.good, sides.suspect)]
            for ahead in _heads(*_common(*hashes)):
                found += _judged(pair, at.on(*ahead), mask, ahead)
            if any(x.sure for x in found):
                break
        sure = [x for x in found if x.sure]
        # lost samples leave nothing on one side: where both sides are left, that may lie further off
        if last or reach >= max(room) or any(min(x.at.good - at.good, x.at.suspect - at.suspect) < 32 for x in sure):
            break
        last = bool(sure)
    return max(found, key=lambda x: x.worth, default=None)


def _choices(mask: np.uint64) -> Iterator[tuple[np.uint64, int]]:
    """Signals to look at, and how many cycles a run of them has so as to be no chance."""
    bits = [bit for bit in range(64) if int(mask) >> bit & 1]
    yield mask, 8 if len(bits) < 16 else 4
    rng = np.random.default_rng(1)
    for _ in range(6 if len(bits) > 20 else 12):
        chosen = rng.permutation(bits)[: max(2, len(bits) // 3)]
        yield np.uint64(sum(1 << int(bit) for bit in chosen)), 16 if len(chosen) < 6 else 8


def _common(good: Words, suspect: Words) -> tuple[Int64, Int64]:
    """Places of runs that each side has once, and the first places of some that come more often (a loop)."""
    a, at_a, count_a = np.unique(good, return_index=True, return_counts=True)
    b, at_b, count_b = np.unique(suspect, return_index=True, return_counts=True)
    partner = np.minimum(b.searchsorted(a), len(b) - 1)
    x = np.flatnonzero(b[partner] == a)
    y = partner[x]
    often = np.flatnonzero((count_a[x] > 1) | (count_b[y] > 1))
    nearest = often[np.argsort(at_a[x[often]] + at_b[y[often]], kind="stable")]
    # where nothing comes once, each that comes more often may tell
    kept = np.delete(np.arange(len(x)), nearest[8:]) if len(often) < len(x) else np.arange(len(x))
    return at_a[x[kept]], at_b[y[kept]]


def _heads(good: Int64, suspect: Int64, most: int = 12) -> set[tuple[int, int]]:
    """The first place at each distance that many share, and the nearest places of all."""
    if not len(good):
        return set()
    order = np.argsort(good + suspect, kind="stable")
    good, suspect = good[order], suspect[order]
    _, first, votes = np.unique(suspect - good, return_index=True, return_counts=True)
    chosen = np.concatenate((first[np.argsort(-votes, kind="stable")[:most]], np.arange(min(4, len(good)))))
    return {(int(good[k]), int(suspect[k])) for k in chosen}


def _judged(pair: WordPair, at: Places, mask: np.uint64, skipped: tuple[int, int]) -> list[Rejoin]:
    """A place judged by how far both go on together, less what is left unexplained; nothing where that is no more than
    chance."""
    left = pair.left(at)
    if left < 16:
        return []
    spans = [n for n in (256, 64, 32) if n <= max(left, 32)]
    wrong = next((w for n in spans if (w := pair.few_wrong(at, n, mask, FEW)) is not None), None)
    if wrong is None or size_of(mask & ~wrong) < 2:
        return []
    most = min(_LOOK, left)
    total = np.concatenate(([0], np.cumsum(pair.pair_cost(at, most, mask & ~wrong))))
    bad = np.flatnonzero(total[_SPAN:] - total[:-_SPAN] > _DEAR)
    length = int(bad[0]) if len(bad) else most
    if length < min(LEAST_TOGETHER, left - 8):
        return []
    if len(np.unique(pair.good.levels[at.good : at.good + length] & mask)) < _FEWEST_STATES:
        return []
    worth = length * (1 - 2 * size_of(wrong) / size_of(mask))
    worth -= 8 * float(np.log2(1 + sum(skipped)) + np.log2(1 + min(skipped)))
    return [Rejoin(worth, at, wrong, not wrong and length == most)] if worth > 0 or length == left else []


def window_hash(words: Words, cycles: int) -> Words:
    """A hash of each ``cycles`` words in a row (a power of two), by doubling: uint64[N - cycles + 1]."""
    value = words * np.uint64(SPREAD)
    value ^= value >> np.uint64(29)
    factor, step = SPREAD * SPREAD & MASK | 1, 1
    while step < cycles and len(value) > step:
        value = value[:-step] * np.uint64(factor) + value[step:]
        value ^= value >> np.uint64(31)
        factor = factor * SPREAD & MASK | 1
        step *= 2
    return value
