"""What speaks for many offsets at once is, to the bit, what speaks for each of them alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.conftest import LONG_EXAMPLES
from tests.lineup.plain_explained import plain_explained
from tracecore.lineup.explained import ANY_START, SAME_START, Explained, Prior, explained
from tracecore.lineup.state_words import StateWords, Words
from tracecore.lineup.worth import Told, told_by


def drawn(seed: int, signals: int, cycles: int) -> tuple[StateWords, StateWords]:
    """Both sides of an invented board: noise, a loop, or signals of which some move seldom. Some stand still at first,
    some have a signal that moves once. The suspect runs ahead or behind, and may have a stuck or noisy signal, another
    program first or last, and undecided states."""
    rng = np.random.default_rng(seed)
    mask = np.uint64((1 << signals) - 1)
    whole = _words(rng, cycles) & mask
    if rng.random() < 0.4:
        still = int(rng.integers(3, 20))
        whole[:still] = whole[0]
    if rng.random() < 0.4:
        whole &= ~np.uint64(1)
        whole[int(rng.integers(cycles)) :] |= np.uint64(1)
    ahead = 3 * int(rng.integers(-13, 14))
    other = whole[ahead:] if 0 < ahead < cycles - 8 else np.roll(whole, ahead)
    other = other.copy()
    later = np.arange(len(other)) > rng.integers(len(other))
    if rng.random() < 0.6:
        other ^= np.uint64(1 << int(rng.integers(signals))) * later.astype(np.uint64)
    if rng.random() < 0.5:
        other[rng.random(len(other)) < 0.02] ^= np.uint64(1 << int(rng.integers(signals)))
    if rng.random() < 0.4:
        elsewhere = later if rng.random() < 0.5 else ~later
        other[elsewhere] = (_words(rng, cycles) & mask)[: int(elsewhere.sum())]
    return _undecided(rng, whole, mask), _undecided(rng, other, mask)


def _words(rng: np.random.Generator, cycles: int) -> Words:
    kind = rng.integers(3)
    if kind < 2:
        length = cycles if kind else int(rng.integers(2, 60))
        return np.resize(rng.integers(0, 1 << 63, length, np.uint64), cycles)
    moves = rng.random((cycles, 64)) < rng.choice([0.005, 0.01, 0.1, 0.4], 64) * rng.random()
    return ((np.cumsum(moves, axis=0) % 2).astype(np.uint64) << np.arange(64, dtype=np.uint64)).sum(1, dtype=np.uint64)


def _undecided(rng: np.random.Generator, words: Words, mask: np.uint64) -> StateWords:
    if rng.random() < 0.6:
        return StateWords(words, None)
    doubt = rng.integers(0, 1 << 63, (2, len(words)), np.uint64) & mask
    return StateWords(words, doubt[0] & doubt[1] * (rng.random(len(words)) < 0.1).astype(np.uint64))


def offsets_of(seed: int, told: Told) -> list[int]:
    """Offsets near nought, and some anywhere."""
    good, suspect = len(told.good.levels), len(told.suspect.levels)
    far = np.random.default_rng(seed).integers(-good, suspect, 8).tolist()
    return list(dict.fromkeys([*range(-39, 40, 3), *range(-4, 5), *far]))


def assert_the_same(seed: int, signals: int, cycles: int, late: bool, prior: Prior = ANY_START) -> list[Explained]:
    told = told_by(*drawn(seed, signals, cycles), signals)
    offsets = offsets_of(seed, told)
    found = explained(told, offsets, prior, late=late)
    assert found == {d: plain_explained(told, d, prior, late=late) for d in offsets}
    return [way for way in found.values() if way is not None]


def test_offsets_judged_at_once_are_judged_as_one_by_one() -> None:
    seen = []
    for seed in range(15):
        prior = (ANY_START, SAME_START)[seed % 2]
        seen += assert_the_same(seed, 1 + 11 * seed % 40, (30, 300, 1500)[seed % 3], seed % 5 > 0, prior)
    # the draws hold what the two might differ in
    assert any(way.faulty for way in seen)
    assert any(way.parts is None for way in seen)
    assert any(way.common for way in seen)
    assert any(way.begins is not None and not way.common for way in seen)
    assert any(way.late for way in seen)


@pytest.mark.long
@given(st.integers(0, LONG_EXAMPLES), st.integers(1, 64), st.integers(12, 3000), st.booleans())
def test_any_offsets_judged_at_once_are_judged_as_one_by_one(seed: int, signals: int, cycles: int, late: bool) -> None:
    assert_the_same(seed, signals, cycles, late)


def test_too_little_overlap_is_none() -> None:
    told = told_by(*drawn(1, 8, 40), 8)
    assert explained(told, [-39, 36], ANY_START) == {-39: None, 36: None}
    assert explained(told, [], ANY_START) == {}
