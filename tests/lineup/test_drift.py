"""Averaged edges and drift against clocks whose true times are known."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plant import CLOCK, Plant
from tests.thinned import thinned
from tracecore.comparison import CompareRequest, compare
from tracecore.lineup.averaged_edges import averaged_edges_ps, averaging_width, corrections_ps
from tracecore.lineup.drift import drift, drift_curve
from tracecore.lineup.lineup import Lineup, MatchedRun

CYCLE = 250_000.0


def clock(count: int, seed: int, *, longer: float = 0.0, wander_ps: float = 0.0, jitter_ps: float = 50.0) -> np.ndarray:
    """True times of edges: steady, or with cycle times that wander at random."""
    rng = np.random.default_rng(seed)
    cycles = np.full(count, CYCLE * (1 + longer)) + rng.normal(0, wander_ps, count)
    return np.cumsum(cycles) + rng.normal(0, jitter_ps, count)


def sampled(times: np.ndarray, period: float, phase: float = 0.37) -> np.ndarray:
    """Each seen at the next sample."""
    return np.rint((np.ceil(times / period - phase) + phase) * period).astype(np.int64)


def rms(x: np.ndarray) -> float:
    return float(np.sqrt(np.mean((x - np.mean(x)) ** 2)))


@pytest.mark.parametrize("period", [5000.0, 10_000.0, 125_000 / 3])
def test_a_steady_clock_is_read_better_than_one_sample(period):
    # a cycle of a whole number of samples would be read alike each time
    times = clock(20_000, 1, longer=0.00137)
    seen = sampled(times, period)
    width = averaging_width(seen, round(period))
    assert width >= 32
    # a sample period over the root of 12 is the standard deviation of an even error of that width
    assert rms(seen - times) == pytest.approx(period / np.sqrt(12), rel=0.05)
    assert rms(averaged_edges_ps(seen, width) - times) < 0.35 * rms(seen - times)


def test_a_clock_that_wanders_is_averaged_only_as_far_as_it_allows():
    times = clock(20_000, 2, wander_ps=1250.0)
    seen = sampled(times, 5000.0)
    width = averaging_width(seen, 5000)
    assert width <= 8
    assert rms(averaged_edges_ps(seen, width) - times) <= rms(seen - times)
    assert rms(averaged_edges_ps(seen, 512) - times) > 3 * rms(seen - times)


def test_a_lost_edge_is_not_smeared_over_its_neighbours():
    times = np.delete(np.arange(2000) * 250_000, 900)
    assert averaged_edges_ps(times, 32).tolist() == times.tolist()
    doubled = np.sort(np.append(np.arange(2000) * 250_000, 900 * 250_000 + 100_000))
    assert averaged_edges_ps(doubled, 32).tolist() == doubled.tolist()


@pytest.mark.parametrize("part", [700, 1000, 4096])
def test_taken_in_parts_the_means_are_the_same(part):
    rng = np.random.default_rng(5)
    edges = np.cumsum(rng.integers(240_000, 260_000, 5000))
    edges[3000:] += 5 * 250_000
    whole = corrections_ps(edges, 128, part=10_000)
    assert np.abs(corrections_ps(edges, 128, part=part) - whole).max() <= 1
    assert np.abs(whole).max() > 5000


@given(st.integers(1, 2000), st.integers(0, 40), st.integers(-(10**18), 10**18), st.integers(2, 300_000))
def test_even_edges_stay_where_they_are_wherever_they_lie(count, width, start, cycle):
    edges = start + np.arange(count, dtype=np.int64) * cycle
    assert np.abs(averaged_edges_ps(edges, width) - edges).max() <= 1


@given(st.lists(st.integers(200, 300), min_size=1, max_size=80), st.integers(1, 20), st.integers(-(10**15), 10**15))
def test_moving_all_edges_moves_all_means(steps, width, by):
    edges = np.cumsum(steps).astype(np.int64)
    moved = averaged_edges_ps(edges + by, width) - by
    assert np.abs(moved - averaged_edges_ps(edges, width)).max() <= 1


def lineup(good: np.ndarray, suspect: np.ndarray, runs: tuple[MatchedRun, ...]) -> Lineup:
    return Lineup("CLK", "rising", "unique", "", 0, 1.0, runs, (), good, suspect, None)


@pytest.mark.parametrize("longer", [0.013, 0.02, -0.02, 0.0])
def test_two_crystals_give_a_straight_line(longer):
    good, suspect = sampled(clock(5000, 1), 10_000.0), sampled(clock(5000, 2, longer=longer), 125_000 / 3)
    found = drift(lineup(good, suspect, (MatchedRun(0, 0, 4999),)), 10_000, 41_667)
    assert found is not None
    assert found.straight
    assert found.ppm == pytest.approx(longer * 1e6, abs=10)
    assert found.residual_ps <= 1.2 * found.floor_ps + 150


def test_a_wandering_clock_is_no_straight_line():
    good = sampled(clock(5000, 1), 10_000.0)
    wandering = sampled(clock(5000, 3, wander_ps=1250.0), 10_000.0)
    found = drift(lineup(good, wandering, (MatchedRun(0, 0, 4999),)), 10_000, 10_000)
    assert found is not None
    assert not found.straight
    assert found.suspect_width < found.good_width


@pytest.mark.parametrize("longer", [0.002, -0.0005, 0.0])
@pytest.mark.parametrize("more", [3, -2])
def test_slips_are_taken_out_of_the_drift(longer, more):
    good, suspect = sampled(clock(6020, 1), 10_000.0), sampled(clock(6020, 2, longer=longer), 125_000 / 3)
    runs = tuple(MatchedRun(1000 * i + max(0, -more) * i, 1000 * i + max(0, more) * i, 1000) for i in range(6))
    slipped = lineup(good, suspect, runs)
    found = drift(slipped, 10_000, 41_667)
    assert found is not None
    # end to end the five slips alone would be 1e6 * 5 * more / 6000 millionths, some thousand
    # a quarter of one sample of 42 ns over a run of 250 us: where sampling and clock beat, means leave that
    assert found.ppm == pytest.approx(longer * 1e6, abs=42)
    assert found.straight
    curve = drift_curve(slipped)
    assert curve is not None
    # from one end to the other the curve rises by what the ratio says, but for the readings at the ends of the runs
    assert curve.apart_ps[-1] == pytest.approx(longer * CYCLE * 5999, abs=6 * 52_000)


@pytest.mark.parametrize(("pauses", "lost"), thinned([(3, 3), (1, 0), (0, 12), (12, 0)]))
def test_pauses_and_lost_edges_do_not_tell_of_the_ratio(pauses, lost):
    rng = np.random.default_rng(3)
    good, true = sampled(clock(20_000, 1), 125_000 / 3), clock(20_000, 2, longer=0.0001)
    places = rng.permutation(np.arange(500, 19_500, 50))[: pauses + lost]
    for at in places[:pauses]:
        true[at:] += 2e9
    kept = np.delete(np.arange(20_000), places[pauses:])
    suspect = sampled(true, 125_000 / 3)[kept]
    # behind a lost edge the two cycles in one have no partner
    table = [(a, a - i) for i, a in enumerate([0, *np.sort(places[pauses:]).tolist()])]
    ends = [a for a, _ in table[1:]] + [19_999]
    runs = tuple(
        MatchedRun(a + (i > 0), b + (i > 0), e - a - 1 - (i > 0))
        for i, ((a, b), e) in enumerate(zip(table, ends, strict=True))
    )
    found = drift(lineup(good, suspect, runs), 41_667, 41_667)
    assert found is not None
    # one sample of 42 ns at either end of 5 ms would be 17 millionths; the clock beats with the samples
    assert found.ppm == pytest.approx(100, abs=10)
    assert found.odd_cycles == (0, pauses)
    assert found.good_hz == pytest.approx(4e6, rel=1e-4)
    assert found.straight


@pytest.mark.parametrize("every", [3, 10])
def test_a_clock_that_stretches_every_so_often_has_no_odd_cycles(every):
    steps = np.where(np.arange(9000) % every == 0, 375_000, 250_000)
    edges = np.cumsum(steps)
    found = drift(lineup(edges, edges * 2, (MatchedRun(0, 0, 8999),)), 1000, 1000)
    assert found is not None
    assert found.odd_cycles == (0, 0)
    assert found.ppm == pytest.approx(1e6)


def test_too_few_matched_edges_have_no_drift():
    edges = np.arange(40, dtype=np.int64) * 250_000
    assert drift(lineup(edges, edges, (MatchedRun(0, 0, 8),)), 5000, 5000) is None


def test_a_comparison_tells_the_drift_of_its_clocks():
    plant = Plant(3, cycles=1200, drift_ppm=1500, good_rate_hz=Fraction(10**8), suspect_rate_hz=Fraction(24_000_000))
    pair = plant.clean()
    found = compare(CompareRequest((pair.good.capture(),), (pair.suspect.capture(),), pair.sheet, clock=CLOCK)).drift
    assert found is not None
    # one sample of 42 ns over half a millisecond is 80 millionths
    assert found.ppm == pytest.approx(1500, abs=80)
    assert found.straight
