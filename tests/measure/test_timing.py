"""Delay, setup, hold, pulses: known answers, worked examples of the data sheets, and how fine a verdict may be."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracecore.capture import DigitalTrace
from tracecore.measure.part_figures import part_figures, path_budget
from tracecore.measure.timing import (
    fine_median_ps,
    is_locked,
    limit_verdict,
    rate_that_tells_hz,
    timing_figures,
)

NS = 1000
CYCLE = 400 * NS
with (Path(__file__).parents[1] / "data" / "ttl" / "checks.csv").open(encoding="utf-8", newline="") as file:
    CHECKS = {row["id"]: row for row in csv.DictReader(file)}


def edges(count: int = 100) -> np.ndarray:
    return np.arange(count, dtype=np.int64) * CYCLE


def toggling(delays_ns: list[float]) -> DigitalTrace:
    """A signal that changes once a cycle, by so much after each edge from the second on."""
    at = np.array([(k + 1) * CYCLE + round(d * NS) for k, d in enumerate(delays_ns)], np.int64)
    times = np.concatenate(([0], at))
    levels = (np.arange(len(times)) % 2).astype(np.uint8)
    return DigitalTrace(times, levels, int(times[-1] + CYCLE))


def test_delays_setup_and_hold_of_a_known_signal():
    found = timing_figures(toggling([50, 60, 70, 80, 90] * 10), edges(), 1)
    assert (found.least_ps, found.median_ps, found.p95_ps, found.most_ps) == (50_000, 70_000, 90_000, 90_000)
    assert found.jitter_ps == 40_000
    assert (found.setup.value_ps, found.hold.value_ps) == (310_000, 50_000)
    assert (found.setup.cycle, found.hold.cycle) == (5, 1)
    assert found.period_ps == CYCLE


def test_a_transition_behind_the_next_edge_is_late_and_not_early():
    delays = [370.0] * 50
    delays[20] = 442  # 42 ns behind the next edge
    found = timing_figures(toggling(delays), edges(), NS)
    assert found.setup.value_ps == -42_000
    assert found.setup.cycle == 21
    assert found.most_ps == 442_000


def test_a_suspect_is_unwrapped_around_the_good_sides_delay():
    found = timing_figures(toggling([10.0] * 50), edges(), NS, home_ps=380_000)
    assert found.setup.value_ps == -10_000
    found = timing_figures(toggling([10.0] * 50), edges(), NS, home_ps=60_000)
    assert found.hold.value_ps == 10_000


@given(st.lists(st.integers(151, 399), min_size=5, max_size=60))
@settings(max_examples=40, deadline=None)
def test_delays_agree_with_a_plain_count(delays):
    found = timing_figures(toggling(delays), edges(), 1, home_ps=200_000)
    assert found.delays_ps.tolist() == [d * NS for d in delays]
    assert found.setup.value_ps == CYCLE - max(delays) * NS
    assert found.hold.value_ps == min(delays) * NS


def test_pulses_are_the_shortest_whole_ones():
    times = np.array([0, 100, 130, 300, 325, 900], np.int64) * NS
    found = timing_figures(DigitalTrace(times, np.array([0, 1, 0, 1, 0, 1], np.uint8), 1000 * NS), edges(), 1)
    assert (found.shortest_high.value_ps, found.shortest_low.value_ps) == (25_000, 170_000)


@pytest.mark.parametrize(
    ("smallest", "resolution", "verdict"),
    [
        (83, 42, "within"),
        (62, 42, "within"),
        (42, 42, "marginal"),
        (20, 42, "marginal"),
        (0, 42, "cannot be judged"),
        (-22, 42, "cannot be judged"),
        (-42, 42, "violates"),
        (None, 42, "cannot be judged"),
    ],
)
def test_no_verdict_is_finer_than_the_instrument(smallest, resolution, verdict):
    assert limit_verdict(smallest, resolution, 20) == verdict


@given(st.integers(-200, 200), st.integers(0, 100), st.integers(0, 60), st.floats(-1, 1))
def test_a_verdict_is_never_at_odds_with_a_truth_it_allows(reading, resolution, limit, share):
    truth = reading + share * resolution
    verdict = limit_verdict(reading, resolution, limit)
    assert not (verdict == "within" and truth < limit)
    assert not (verdict == "violates" and truth >= limit)


def test_setup_and_hold_of_the_worked_examples():
    # TI SDLS119: 7474 setup 20 ns, hold 5 ns; 74S74 hold 2 ns
    need = part_figures("7474").setup().least
    assert CHECKS["setup_ok"]["expected"] == "pass, zero margin"
    assert limit_verdict(20_000, 0, need) == "within"
    assert CHECKS["setup_bad"]["expected"] == "violation by 0.1"
    assert limit_verdict(19_900, 0, need) == "violates"
    assert need - 19_900 == 100
    assert CHECKS["hold"]["expected"] == "violation by 0.5"
    assert part_figures("74S74").hold().least - 1_500 == 500


def test_pulse_durations_of_the_worked_examples():
    # TI SDLS119: 7474 clock low 37 ns; 74LS74A clock high 25 ns
    assert part_figures("7474").pulse("CLK", "low").least - 36_000 == 1_000
    assert limit_verdict(25_000, 0, part_figures("74LS74A").pulse("CLK", "high").least) == "within"
    # TI SDLS060: 25 MHz at least
    assert part_figures("74161").highest_clock().least == 25_000_000


def test_propagation_of_the_worked_examples():
    # TI SDLS025D: 7400, 15 ns to a low at 15 pF and 400 ohm
    falls = next(r for r in part_figures("7400").rows if r.parameter == "tPHL")
    assert (falls.most, falls.load) == (15_000, "RL=400 ohm CL=15 pF")
    assert (18_000 - falls.most) / NS == 3


def test_a_path_leaves_what_the_cycle_has_over():
    # 40 + 22 + 22 + 20 = 104 ns, 9.6 MHz: TI SDLS119, SDLS029C, SDLS025D
    budget = path_budget(("7474", "7404", "7400", "7474"))
    assert budget.spare_ps(208_000) == 104_000
    assert budget.highest_hz == pytest.approx(9.615e6, abs=500)


def test_sampling_locked_to_the_clock_is_told_from_free_sampling():
    sample = 41_667
    free = np.arange(2000) * 410_000
    assert is_locked(np.arange(2000) * 416_670, sample)
    assert not is_locked(-(-free // sample) * sample, sample)


def test_many_free_readings_tell_more_than_one_and_locked_ones_do_not():
    """The true delay is 100 ns; a sampled reading of it is 83 or 125 ns."""
    sample, chance = 41_667, np.random.default_rng(5)
    start = chance.integers(0, sample, 4000)
    delay = -(-(start + 100_000) // sample) * sample - -(-start // sample) * sample
    assert abs(fine_median_ps(delay, sample) - 100_000) < 2_500
    assert abs(np.median(delay) - 100_000) > 10_000


def test_quantisation_of_the_worked_examples():
    # rms of one interval, from the formula (common practice): T / sqrt 6
    chance = np.random.default_rng(1)
    start = chance.uniform(0, 10, 200_000)
    error = np.ceil((start + 37.3) / 10) * 10 - np.ceil(start / 10) * 10 - 37.3
    assert error.std() <= float(CHECKS["q2"]["expected"]) + 0.6


def test_the_rate_that_would_tell_is_named():
    assert rate_that_tells_hz(0, 20_000) == pytest.approx(50e6)
    assert rate_that_tells_hz(20_000, 20_000) is None
