"""The time of a sample against whole-number arithmetic without bounds."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.capture import sample_time_ps


@given(
    st.integers(1, 10**9),
    st.integers(1, 10**5),
    st.lists(st.integers(0, 2**62), min_size=1, max_size=5),
    st.sampled_from([1, 2**20, 2**45]),
)
def test_the_time_of_a_sample_is_exact(hertz, parts, index, fold):
    rate = Fraction(hertz, parts)
    period = 10**12 / rate
    index = [min(i // fold, int(2**62 / period)) for i in index]
    wanted = [int((i * period + Fraction(1, 2)) // 1) for i in index]
    assert sample_time_ps(np.array(index, np.int64), rate).tolist() == wanted
    assert int(sample_time_ps(np.int64(index[0]), rate)) == wanted[0]


@pytest.mark.parametrize("hertz", ["23456789.012345", "1234567.8901234567", "24000000.0000001", "1000000.000000001"])
def test_a_rate_of_many_digits_is_off_by_a_picosecond_at_most(hertz):
    rate = Fraction(hertz)
    index = [0, 1, 10**6, 10**8, 10**9]
    wanted = [int(i * 10**12 / rate + Fraction(1, 2)) for i in index]
    assert np.abs(sample_time_ps(np.array(index), rate) - np.array(wanted)).max() <= 1
