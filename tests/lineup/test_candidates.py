"""What offsets are proposed: the quick routines against plain ones."""

from __future__ import annotations

import doctest

import numpy as np
import pytest

from tracecore.lineup import candidates
from tracecore.lineup.state_words import StateWords
from tracecore.lineup.worth import onset


def test_the_examples_in_the_docstrings_hold() -> None:
    found = doctest.testmod(candidates)
    assert found.attempted
    assert not found.failed


@pytest.mark.parametrize("rows", range(1, 20))
def test_the_median_is_that_of_numpy(rows: int) -> None:
    drawn = np.random.default_rng(rows).normal(size=(rows, 300)).round(1).astype(np.float32)
    assert np.array_equal(candidates._median(drawn), np.median(drawn, 0))


def test_what_is_mostly_undecided_does_not_move_first():
    # bit 0 is a gated clock: undecided but for one cycle; bit 1 moves in cycle 6, and is undecided before that
    levels = np.array([0, 0, 0, 1, 1, 1, 3, 3, *[3] * 12], np.uint64)
    undecided = np.array([1, 1, 1, 0, 1, 3, 1, 1, *[1] * 12], np.uint64)
    assert onset(StateWords(levels, undecided)) == 6
    assert onset(StateWords(levels, None)) == 3
