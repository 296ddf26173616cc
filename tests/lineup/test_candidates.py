"""What offsets are proposed: the quick routines against plain ones."""

from __future__ import annotations

import doctest

import numpy as np
import pytest

from tracecore.lineup import candidates


def test_the_examples_in_the_docstrings_hold() -> None:
    found = doctest.testmod(candidates)
    assert found.attempted
    assert not found.failed


@pytest.mark.parametrize("rows", range(1, 20))
def test_the_median_is_that_of_numpy(rows: int) -> None:
    drawn = np.random.default_rng(rows).normal(size=(rows, 300)).round(1).astype(np.float32)
    assert np.array_equal(candidates._median(drawn), np.median(drawn, 0))
