"""The placing of gaps, how long both sides go on together, and words, each against a plain way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.lineup.slipping import LIVE, edited, followed, program
from tracecore.capture import UNKNOWN
from tracecore.lineup.alignment import GAP, GAP_CYCLE, Places, WordPair, cheapest, pair_costs, place
from tracecore.lineup.rejoin import together
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
    total = i = j = before = 0
    for step in ops:
        total += int(costs[i, j]) if step == 0 else GAP_CYCLE + (GAP if step != before else 0)
        i, j, before = i + (step != 1), j + (step != 2), step
    return total


@pytest.mark.parametrize("seed", range(12))
def test_the_short_way_over_one_gap_costs_no_more_than_the_full_table(seed):
    rng = np.random.default_rng(seed)
    good = program(80, seed)
    suspect, _ = edited(good, {int(rng.integers(5, 70)): int(rng.integers(1, 6))}, {})
    suspect[rng.integers(0, len(suspect), 3)] ^= np.uint64(1 << int(rng.integers(0, 46)))
    pair = WordPair(StateWords(good, None), StateWords(suspect, None), pair_costs(16.0))
    costs = pair.square(Places(0, 0), 80, len(suspect), LIVE)
    ops = place(pair, Places(0, 0), 80, len(suspect), LIVE)
    assert plain_cost(ops.tolist(), costs) == cheapest(costs)[0] == cheapest(costs, 12)[0]


@given(st.lists(st.sampled_from([0, 0, 0, 0, 3, 60, 100]), min_size=1, max_size=400))
def test_how_long_both_go_on_is_what_adding_up_says(costs):
    # words that differ in as many signals as it takes to cost that much
    table = pair_costs(88.0)
    table[:7] = [0, 3, 60, 100, 100, 100, 100]
    count = {0: 0, 3: 1, 60: 2, 100: 3}
    suspect = np.array([(1 << count[c]) - 1 for c in costs], np.uint64)
    pair = WordPair(StateWords(np.zeros(len(costs), np.uint64), None), StateWords(suspect, None), table)
    total = best = length = 0
    for i, cost in enumerate(costs):
        total += 40 - cost
        if total >= best:
            best, length = total, i + 1
        if total < best - 1500:
            break
    assert together(pair, Places(0, 0), LIVE) == length


def stretch_cost(stretches: list, pair: WordPair) -> int:
    total = 0
    for s in stretches:
        good, suspect = s.good_stop - s.good_start, s.suspect_stop - s.suspect_start
        if s.kind == "paired":
            total += int(pair.pair_cost(Places(s.good_start, s.suspect_start), good, LIVE).sum())
        else:
            total += sum(GAP + GAP_CYCLE * n for n in (good, suspect) if n)
    return total


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
    best, _ = cheapest(pair.square(Places(0, 0), len(good), len(suspect), LIVE), 40)
    assert stretch_cost(followed(good, suspect, Places(0, 0)), pair) == best
