"""The bound on chance lies above the exact tail of the binomial distribution, as scipy has it."""

from __future__ import annotations

import doctest

import numpy as np
import scipy
from hypothesis import given
from hypothesis import strategies as st

from tracecore.measure import chance
from tracecore.measure.chance import chance_bound, episodes


def test_the_examples_in_the_docstrings_hold():
    found = doctest.testmod(chance)
    assert found.attempted
    assert not found.failed


@given(st.integers(1, 400), st.data())
def test_the_bound_is_never_under_the_exact_tail(trials, data):
    hits = data.draw(st.integers(0, trials))
    share = data.draw(st.floats(0.001, 0.999))
    bound = float(chance_bound(hits, trials, share))
    assert 0 <= bound <= 1
    assert bound >= float(scipy.stats.binom.sf(hits - 1, trials, share)) * (1 - 1e-9)


@given(st.integers(1, 60), st.floats(0.01, 0.9))
def test_all_of_them_have_exactly_that_chance(trials, share):
    assert np.isclose(float(chance_bound(trials, trials, share)), share**trials)


@given(st.sets(st.integers(0, 60)))
def test_an_episode_begins_where_the_cycle_before_is_not_in_it_or_eight_cycles_on(cycles):
    expected: list[int] = []
    for c in sorted(cycles):
        if c - 1 not in cycles or c - expected[-1] == 8:
            expected.append(c)
    assert episodes(np.array(sorted(cycles), np.int64)).tolist() == expected
