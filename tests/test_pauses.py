"""Long pauses against every pause looked at."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from tracecore.pauses import Pauses

places = st.integers(0, 3000)


@given(st.integers(0, 2**32 - 1), places, st.integers(1, 10**6), places, places)
def test_no_long_pause_is_lost_and_none_is_short(seed: int, count: int, length: int, first: int, stop: int) -> None:
    rng = np.random.default_rng(seed)
    lengths = np.exp(rng.normal(rng.uniform(0, 8), rng.uniform(0, 4), count)).astype(np.int64) + 1
    times = np.concatenate(([0], np.cumsum(lengths)))
    found = Pauses(times[:-1], times[1:]).within(length, first, stop)
    if found is None:
        # left out may be only what many are longer than
        assert count == 0 or (lengths >= length // 2).mean() >= 1 / 64
        return
    assert (np.diff(found) > 0).all()
    assert ((found >= first) & (found < stop)).all()
    assert set(np.flatnonzero(lengths[first:stop] >= length) + min(first, count)) <= set(found.tolist())
    assert (lengths[found] > length / 2).all()


def test_many_pauses_between_those_of_the_sample_are_not_kept() -> None:
    """The least length is guessed from one in ten pauses: where all others are longer, they would fill the memory."""
    lengths = np.full(40_960, 1000)
    lengths[::10] = 1
    times = np.concatenate(([0], np.cumsum(lengths)))
    pauses = Pauses(times[:-1], times[1:])
    assert pauses.within(1000, 0, len(lengths)) is None
    assert pauses.within(1024, 0, len(lengths)).tolist() == []
