"""The exact placing of gaps against biopython's PairwiseAligner (affine gaps), and with unit costs against edlib."""

from __future__ import annotations

import numpy as np
import pytest

from tracecore.lineup import alignment
from tracecore.lineup.alignment import GAP, GAP_CYCLE, INSERT, MISS, Ops, Places, WordPair, cheapest, pair_costs
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


def whole_way(pair: WordPair) -> tuple[int, Ops]:
    """The cheapest way from corner to corner, and its cost."""
    good, suspect = len(pair.good), len(pair.suspect)
    path = cheapest(pair, Places(0, 0), good, -good, suspect, ALL, to=suspect)
    return cost_of(path.ops, pair, alignment.GAP, alignment.GAP_CYCLE), path.ops


def cost_of(ops: Ops, pair: WordPair, gap: int, gap_cycle: int) -> int:
    """The steps paid for one by one; they must end in the far corner."""
    total = i = j = 0
    before = 0
    for step in ops.tolist():
        if step == 0:
            total += int(pair.pair_cost(Places(i, j), 1, ALL)[0])
        else:
            total += gap_cycle + (gap if before != step else 0)
        i, j, before = i + (step != INSERT), j + (step != MISS), step
    assert (i, j) == (len(pair.good), len(pair.suspect))
    return total


def test_costs_are_those_of_pairwise_aligner():
    align = pytest.importorskip("Bio.Align")
    matrices = pytest.importorskip("Bio.Align.substitution_matrices")
    rng = np.random.default_rng(0)
    for _ in range(400):
        good, suspect, store = altered(rng)
        pair = pair_of(good, suspect, store)
        aligner = align.PairwiseAligner(mode="global")
        matrix = matrices.Array(alphabet=tuple(range(len(store))), dims=2)
        by_words = pair_costs(4.0)[np.bitwise_count(store[:, None] ^ store[None, :])]
        for i, row in enumerate(by_words):
            for j, cost in enumerate(row):
                matrix[i, j] = -float(cost)
        aligner.substitution_matrix = matrix
        aligner.open_gap_score, aligner.extend_gap_score = -(GAP + GAP_CYCLE), -GAP_CYCLE
        expected = -aligner.score(np.array(good, np.int32), np.array(suspect, np.int32))
        assert whole_way(pair)[0] == expected


def test_unit_costs_are_those_of_edlib(monkeypatch):
    edlib = pytest.importorskip("edlib")
    monkeypatch.setattr(alignment, "GAP", 0)
    monkeypatch.setattr(alignment, "GAP_CYCLE", 1)
    rng = np.random.default_rng(1)
    for _ in range(300):
        good, suspect, store = altered(rng)
        pair = pair_of(good, suspect, store)
        pair.costs = np.minimum(pair.costs, 1)
        found = edlib.align("".join(chr(65 + x) for x in good), "".join(chr(65 + x) for x in suspect))
        assert whole_way(pair)[0] == found["editDistance"]


def test_costs_are_those_of_every_way_tried(monkeypatch):
    """The recurrence written out as a search of all ways, for the smallest cases, where nothing else is installed."""
    monkeypatch.setattr(alignment, "GAP", 20)
    monkeypatch.setattr(alignment, "GAP_CYCLE", 3)
    rng = np.random.default_rng(2)
    for _ in range(60):
        n, m = rng.integers(0, 5, 2)
        words = [StateWords(rng.integers(0, 16, k, dtype=np.uint64), None) for k in (n, m)]
        pair = WordPair(*words, np.arange(65, dtype=np.int32) * 7)

        def best(i: int, j: int, before: int, pair: WordPair = pair) -> int:
            ways = []
            if (i, j) == (len(pair.good), len(pair.suspect)):
                return 0
            if i < len(pair.good) and j < len(pair.suspect):
                ways.append(int(pair.pair_cost(Places(i, j), 1, ALL)[0]) + best(i + 1, j + 1, 0))
            if j < len(pair.suspect):
                ways.append(3 + (20 if before != 1 else 0) + best(i, j + 1, 1))
            if i < len(pair.good):
                ways.append(3 + (20 if before != 2 else 0) + best(i + 1, j, 2))
            return min(ways)

        assert whole_way(pair)[0] == best(0, 0, 0)
