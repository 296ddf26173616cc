"""Times carried from one side to the other, against true times that are known."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.lineup.test_drift import clock, sampled
from tracecore.lineup.averaged_edges import averaging_width
from tracecore.lineup.time_map import MatchedRun, Pairing, TimeMap

SLOW, FAST = 125_000 / 3, 10_000.0  # 24 and 100 million samples a second


def rms(x: np.ndarray) -> float:
    return float(np.sqrt(np.mean(x.astype(float) ** 2)))


def pairing(good: np.ndarray, suspect: np.ndarray, periods: tuple[float, float], runs=None) -> Pairing:
    widths = averaging_width(good, round(periods[0])), averaging_width(suspect, round(periods[1]))
    return Pairing(runs or (MatchedRun(0, 0, len(good) - 1),), good, suspect, widths)


def misses(longer: float, wander_ps: float, widths: bool) -> np.ndarray:
    """By how much a transition some time behind each edge, of a suspect with another clock, misses that of the good
    side: all four times are read to one sample."""
    # a cycle of a whole number of samples would be read alike each time
    good, suspect = (clock(8000, i, longer=more, wander_ps=wander_ps) for i, more in ((1, 0.0003), (2, longer)))
    after = np.random.default_rng(3).uniform(20_000, 150_000, 7999)
    seen = [sampled(good, FAST), sampled(suspect, SLOW)]
    paired = pairing(*seen, (FAST, SLOW))
    if not widths:
        paired = paired._replace(widths=(0, 0))
    late = sampled(suspect[:-1] + after, SLOW)
    return TimeMap(paired).to_good_ps(late) - sampled(good[:-1] + after, FAST)


@pytest.mark.parametrize("longer", [0.0137, -0.0021])
def test_averaged_edges_leave_what_sampling_the_transitions_alone_explains(longer):
    floor = np.hypot(SLOW, FAST) / np.sqrt(12)
    # each of the four readings errs evenly over its sample period, a standard deviation of that over root 12
    assert rms(misses(longer, 0, widths=False)) == pytest.approx(np.sqrt(2) * floor, rel=0.06)
    assert rms(misses(longer, 0, widths=True)) == pytest.approx(floor, rel=0.06)


def test_a_clock_that_wanders_is_read_no_worse():
    assert rms(misses(0.0137, 1250, widths=True)) <= rms(misses(0.0137, 1250, widths=False))


@given(st.integers(0, 1000), st.lists(st.integers(0, 400 * 250_000), min_size=1, max_size=40))
def test_a_time_stays_in_its_cycle_and_in_order(seed, times):
    good, suspect = sampled(clock(401, seed), FAST), sampled(clock(401, seed + 1, longer=0.013), SLOW)
    paired = pairing(good, suspect, (FAST, SLOW), (MatchedRun(0, 0, 180), MatchedRun(182, 181, 200)))
    at = np.clip(np.sort(np.array(times)), suspect[0], suspect[-1])
    carried = TimeMap(paired).to_good_ps(at)
    assert (np.diff(carried) >= 0).all()
    own = suspect.searchsorted(at, "right") - 1
    partner = np.where(own < 180, own, np.where((own >= 181) & (own < 381), own + 1, -1))
    inside = partner >= 0
    assert (good[partner[inside]] <= carried[inside]).all()
    assert (carried[inside] < good[partner[inside] + 1]).all()


@given(st.integers(0, 1000), st.lists(st.integers(0, 3000 * 250_000), min_size=1, max_size=5).map(sorted))
def test_a_few_times_are_carried_as_they_are_among_many(seed, times):
    good, suspect = sampled(clock(3001, seed), FAST), sampled(clock(3001, seed + 1, longer=0.013), SLOW)
    paired = pairing(good, suspect, (FAST, SLOW), (MatchedRun(0, 0, 1800), MatchedRun(1802, 1801, 1198)))
    few = np.array(times)
    many = np.sort(np.concatenate((suspect, few)))
    among = TimeMap(paired).to_good_ps(many)[many.searchsorted(few, "right") - 1]
    assert TimeMap(paired).to_good_ps(few).tolist() == among.tolist()


def test_a_delay_is_no_longer_on_a_slow_clock():
    good = np.arange(2000, dtype=np.int64) * 250_000
    suspect = np.arange(2000, dtype=np.int64) * 375_000
    carried = TimeMap(pairing(good, suspect, (5000, 5000))).to_good_ps(suspect[5:9] + 40_000)
    assert (carried - good[5:9]).tolist() == [40_000] * 4
