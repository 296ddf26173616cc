"""Costs, the cheapest way through both sides, and words, each against a plain way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.lineup.slipping import LIVE, edited, followed, program
from tracecore.capture import UNKNOWN
from tracecore.lineup.alignment import GAP, GAP_CYCLE, INSERT, MISS, PAIR, Places, WordPair, cheapest, pair_costs
from tracecore.lineup.slips import likeness
from tracecore.lineup.state_words import StateWords, held, mask_of, signal_counts, state_words

states = st.lists(st.integers(0, 2), min_size=1, max_size=40)


@given(st.lists(states, min_size=1, max_size=70).filter(lambda rows: len({len(r) for r in rows}) == 1))
def test_words_hold_the_bits_of_their_rows(rows):
    table = np.array(rows, np.uint8)
    words = state_words(table, np.arange(len(table)))
    for i, row in enumerate(table[:64]):
        doubt = np.zeros(len(row), np.uint8) if words.undecided is None else words.undecided >> np.uint64(i) & 1
        assert doubt.tolist() == (row == UNKNOWN).astype(int).tolist()
        assert (words.levels >> np.uint64(i) & np.uint64(1)).tolist() == held(row).tolist()


@given(states)
def test_an_undecided_state_keeps_the_last_decided_one(row):
    level, expected = 0, []
    for state in row:
        level = level if state == UNKNOWN else state
        expected.append(level)
    assert held(np.array(row, np.uint8)).tolist() == expected


def test_counts_and_masks_are_those_of_single_bits():
    words = program(300, 2)
    counts = signal_counts(words)
    assert counts.tolist() == [int((words >> np.uint64(i) & np.uint64(1)).sum()) for i in range(64)]
    assert mask_of(counts > 0) == np.bitwise_or.reduce(words)


def plain_cost(ops: list[int], costs: np.ndarray) -> int:
    """The steps paid for one by one; they must end in the far corner."""
    total = i = j = before = 0
    for step in ops:
        total += int(costs[i, j]) if step == PAIR else GAP_CYCLE + (GAP if step != before else 0)
        i, j, before = i + (step != INSERT), j + (step != MISS), step
    assert (i, j) == costs.shape
    return total


def square(pair: WordPair, mask: np.uint64 = LIVE) -> np.ndarray:
    """int64[N, M]: what every pair costs, one by one."""
    good, suspect = range(len(pair.good)), range(len(pair.suspect))
    return np.array([[int(pair.pair_cost(Places(i, j), 1, mask)[0]) for j in suspect] for i in good], np.int64)


def slow_cheapest(costs: np.ndarray) -> int:
    """The least cost of pairing all in order, cell by cell, three costs each."""
    n, m = costs.shape
    best = {(0, 0): (0.0, np.inf, np.inf)}
    for i in range(n + 1):
        for j in range(m + 1):
            if i or j:
                across = best.get((i - 1, j - 1), (np.inf,) * 3)
                left, up = best.get((i, j - 1), (np.inf,) * 3), best.get((i - 1, j), (np.inf,) * 3)
                best[i, j] = (
                    min(across) + (costs[i - 1, j - 1] if i and j else np.inf),
                    min(left[0] + GAP, left[2] + GAP, left[1]) + GAP_CYCLE,
                    min(up[0] + GAP, up[1] + GAP, up[2]) + GAP_CYCLE,
                )
    return int(min(best[n, m]))


@pytest.mark.parametrize("seed", range(12))
def test_the_way_within_a_band_is_the_cheapest_of_all(seed):
    rng = np.random.default_rng(seed)
    good = program(60, seed)
    suspect, _ = edited(good, {int(rng.integers(5, 25)): int(rng.integers(1, 6))}, {40: int(rng.integers(0, 4))})
    suspect[rng.integers(0, len(suspect), 3)] ^= np.uint64(1 << int(rng.integers(0, 46)))
    doubt = (rng.random(len(suspect)) < 0.05).astype(np.uint64) << np.uint64(7)
    pair = WordPair(StateWords(good, None), StateWords(suspect, doubt), pair_costs(16.0))
    ops, paid = cheapest(pair, Places(0, 0), len(good), -20, 20, LIVE, to=len(suspect))
    costs = square(pair)
    assert plain_cost(ops.tolist(), costs) == slow_cheapest(costs)
    assert int(paid.sum()) + sum(GAP + GAP_CYCLE * n for n in gaps(ops)) == slow_cheapest(costs)


def gaps(ops: np.ndarray) -> list[int]:
    """How long each gap is."""
    ends = np.append(np.flatnonzero(np.diff(ops)) + 1, len(ops))
    return [int(n) for end, n in zip(ends, np.diff(ends, prepend=0), strict=True) if ops[end - 1] != PAIR]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("doubtful", [False, True])
def test_a_band_of_costs_is_that_of_single_pairs(seed, doubtful):
    rng = np.random.default_rng(seed)
    words = [StateWords(program(30, seed + k), program(30, 9 + k) if doubtful else None) for k in (0, 1)]
    pair = WordPair(*words, pair_costs(16.0))
    at, rows, low, high = Places(4, int(rng.integers(0, 30))), 20, -9, 12
    band, costs = pair.band(at, rows, low, high, LIVE), square(pair)
    for r in range(rows):
        for d in range(low, high + 1):
            column = at.suspect + r + d
            assert band[r, d - low] == (costs[4 + r, column] if 0 <= column < 30 else 1 << 28)


@pytest.mark.parametrize("side", ["good", "suspect"])
@pytest.mark.parametrize("cut", [0, 4, 9])
def test_a_way_at_the_end_leaves_last_cycles_that_fit_nowhere(side, cut):
    good = program(80, 3)
    suspect = np.concatenate((good[: 80 - cut], program(cut, 4)))
    longer = np.append(good, program(7, 5)) if side == "good" else good
    pair = WordPair(StateWords(longer, None), StateWords(suspect, None), pair_costs(16.0))
    ops, _ = cheapest(pair, Places(0, 0), len(longer), -20, 20, LIVE, at_end=True)
    assert ops.tolist() == [PAIR] * (80 - cut)


def test_few_that_are_wrong_are_told_where_all_else_is_in_step():
    good = program(300, 2)
    suspect = good | np.uint64(8)
    pair = WordPair(StateWords(good, None), StateWords(suspect, None), pair_costs(16.0))
    assert pair.few_wrong(Places(0, 0), 256, LIVE, 0.34) == 8
    assert pair.few_wrong(Places(0, 0), 256, np.uint64(8 + 16), 0.34) is None
    assert pair.few_wrong(Places(0, 5), 256, LIVE, 0.34) is None
    assert pair.few_wrong(Places(0, 0), 256, LIVE & ~np.uint64(8), 0.34) == 0


@pytest.mark.parametrize("seed", range(10))
def test_following_costs_what_the_best_of_all_pairings_costs(seed):
    rng = np.random.default_rng(seed)
    places = rng.permutation(np.arange(60, 440, 50))
    good = program(500, seed)
    suspect, _ = edited(
        good,
        {int(p): int(rng.integers(1, 5)) for p in places[:2]},
        {int(p): int(rng.integers(1, 5)) for p in places[2:4]},
    )
    good_words = StateWords(good, None)
    pair = WordPair(good_words, StateWords(suspect, None), pair_costs(likeness(good_words, LIVE)))
    ops, paid = cheapest(pair, Places(0, 0), 500, -30, 30, LIVE, to=len(suspect))
    best = int(paid.sum()) + sum(GAP + GAP_CYCLE * n for n in gaps(ops))
    assert stretch_cost(followed(good, suspect, Places(0, 0)), pair) == best


def stretch_cost(stretches: list, pair: WordPair) -> int:
    total = 0
    for s in stretches:
        if s.kind == "paired":
            total += int(pair.pair_cost(Places(s.good_start, s.suspect_start), s.size[0], LIVE).sum())
        else:
            total += sum(GAP + GAP_CYCLE * n for n in s.size if n)
    return total
