"""Counting among sorted times is what looking through them would count, however even they are."""

from __future__ import annotations

from bisect import bisect_right
from unittest import mock

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore import sorted_times
from tracecore.sorted_times import count_until

SORTED = st.lists(st.integers(0, 200), max_size=40).map(sorted)


@pytest.mark.parametrize("few", [0, sorted_times._FEW])
@given(times=SORTED, at=SORTED)
def test_counting_is_right_whichever_list_is_longer(times, at, few):
    expected = [sum(t <= a for t in times) for a in at]
    with mock.patch.object(sorted_times, "_FEW", few):
        assert count_until(np.array(times, np.int64), np.array(at, np.int64)).tolist() == expected


def test_counting_among_many_edges_that_wander_pause_and_are_passed_over():
    rng = np.random.default_rng(3)
    for wander, pauses, asked in (
        (0, 0, 70_000),
        (20, 0, 70_000),
        (90, 0, 40_000),
        (5, 9, 70_000),
        (5, 2, 3_000),
        (5, 2, 300),
    ):
        steps = 100 + rng.integers(-wander, wander + 1, 50_000)
        steps[rng.integers(0, len(steps), pauses)] += 400_000
        edges = 5_000 + np.cumsum(steps)
        at = np.sort(rng.integers(0, int(edges[-1]) + 5_000, asked))
        listed = edges.tolist()
        assert count_until(edges, at).tolist() == [bisect_right(listed, a) for a in at.tolist()]


@pytest.mark.parametrize("few", [0, sorted_times._FEW])
def test_times_all_at_one_instant_are_counted(few, monkeypatch):
    monkeypatch.setattr(sorted_times, "_FEW", few)
    assert count_until(np.full(5, 7), np.array([6, 7, 7, 8])).tolist() == [0, 5, 5, 5]
