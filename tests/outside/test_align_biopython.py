"""The exact placing of gaps against biopython's PairwiseAligner (affine gaps), and with unit costs against edlib."""

from __future__ import annotations

import numpy as np
import pytest

from tracecore.lineup.alignment import GAP, GAP_CYCLE, Ops, Places, WordPair, cheapest, pair_costs, place
from tracecore.lineup.state_words import StateWords

ALL = np.uint64(0xFFF)


def altered(rng: np.random.Generator) -> tuple[list[int], list[int], np.ndarray]:
    """Two rows of places in a small store of 12-bit words, the second with some words changed, inserted or lost."""
    store = np.unique(rng.integers(0, 1 << 12, rng.integers(2, 12), dtype=np.uint64))
    good = rng.integers(0, len(store), rng.integers(1, 30)).tolist()
    suspect = list(good)
    for _ in range(rng.integers(0, 5)):
        at, what = int(rng.integers(0, len(suspect) + 1)), rng.integers(0, 3)
        if what == 0:
            suspect[min(at, len(suspect) - 1)] = int(rng.integers(len(store)))
        elif what == 1:
            suspect[at:at] = [int(rng.integers(len(store)))] * int(rng.integers(1, 4))
        elif len(suspect) > 3:
            del suspect[at : at + int(rng.integers(1, 3))]
    return good, suspect, store


def pair_of(good: list[int], suspect: list[int], store: np.ndarray) -> WordPair:
    return WordPair(StateWords(store[good], None), StateWords(store[suspect], None), pair_costs(4.0))


def cost_of(ops: Ops, costs: np.ndarray, gap: int, gap_cycle: int) -> int:
    """The steps paid for one by one; they must end in the far corner."""
    total = i = j = 0
    before = 0
    for step in ops.tolist():
        if step == 0:
            total += int(costs[i, j])
        else:
            total += gap_cycle + (gap if before != step else 0)
        i, j, before = i + (step != 1), j + (step != 2), step
    assert (i, j) == costs.shape
    return total


def test_costs_are_those_of_pairwise_aligner():
    align = pytest.importorskip("Bio.Align")
    matrices = pytest.importorskip("Bio.Align.substitution_matrices")
    rng = np.random.default_rng(0)
    for _ in range(400):
        good, suspect, store = altered(rng)
        pair = pair_of(good, suspect, store)
        costs = pair.square(Places(0, 0), len(good), len(suspect), ALL)
        aligner = align.PairwiseAligner(mode="global")
        matrix = matrices.Array(alphabet=tuple(range(len(store))), dims=2)
        by_words = pair_costs(4.0)[np.bitwise_count(store[:, None] ^ store[None, :])]
        for i, row in enumerate(by_words):
            for j, cost in enumerate(row):
                matrix[i, j] = -float(cost)
        aligner.substitution_matrix = matrix
        aligner.open_gap_score, aligner.extend_gap_score = -(GAP + GAP_CYCLE), -GAP_CYCLE
        expected = -aligner.score(np.array(good, np.int32), np.array(suspect, np.int32))
        cost, ops = cheapest(costs)
        assert cost == expected
        assert cost_of(ops, costs, GAP, GAP_CYCLE) == cost
        # the short way over a single gap may only be taken where it is as good
        placed = place(pair, Places(0, 0), len(good), len(suspect), ALL, band=64)
        assert cost_of(placed, costs, GAP, GAP_CYCLE) == cost


def test_unit_costs_are_those_of_edlib():
    edlib = pytest.importorskip("edlib")
    rng = np.random.default_rng(1)
    for _ in range(300):
        good, suspect, _ = altered(rng)
        unlike = (np.array(good)[:, None] != np.array(suspect)[None, :]).astype(np.int64)
        found = edlib.align("".join(chr(65 + x) for x in good), "".join(chr(65 + x) for x in suspect))
        assert cheapest(unlike, gap=0, gap_cycle=1)[0] == found["editDistance"]


def test_costs_are_those_of_every_way_tried():
    """The recurrence written out as a search of all ways, for the smallest cases, where nothing else is installed."""
    rng = np.random.default_rng(2)
    for _ in range(60):
        n, m = rng.integers(0, 5, 2)
        costs = rng.integers(0, 60, (n, m))

        def best(i: int, j: int, before: int, costs: np.ndarray = costs) -> int:
            ways = []
            if (i, j) == costs.shape:
                return 0
            if i < costs.shape[0] and j < costs.shape[1]:
                ways.append(int(costs[i, j]) + best(i + 1, j + 1, 0))
            if j < costs.shape[1]:
                ways.append(3 + (20 if before != 1 else 0) + best(i, j + 1, 1))
            if i < costs.shape[0]:
                ways.append(3 + (20 if before != 2 else 0) + best(i + 1, j, 2))
            return min(ways)

        cost, ops = cheapest(costs, gap=20, gap_cycle=3)
        assert cost == best(0, 0, 0)
        assert cost_of(ops, costs, 20, 3) == cost
