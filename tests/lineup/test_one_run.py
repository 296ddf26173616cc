"""A scope and a logic capture of one run, joined: the offset that was planted, and what cannot be joined."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from tracecore.capture import AnalogTrace, Capture, DigitalTrace
from tracecore.errors import RequestError
from tracecore.lineup.one_run import join
from tracecore.measure.families import family
from tracecore.measure.levels import digitise

NS = 1000


def logic_of(times_ps: np.ndarray, step_ps: int, stop_ps: int) -> DigitalTrace:
    seen = -(-times_ps // step_ps) * step_ps
    times = np.concatenate(([0], seen)).astype(np.int64)
    return DigitalTrace(times, (np.arange(len(times)) % 2).astype(np.uint8), stop_ps)


def run(
    shift_ps: int, *, ppm: float = 0.0, even: bool = False, count: int = 400, seed: int = 1
) -> tuple[Capture, Capture, DigitalTrace, DigitalTrace]:
    """A strobe seen by a logic instrument at 100 MS/s from the start, and by a scope at 250 MS/s for a part of it."""
    chance = np.random.default_rng(seed)
    gaps = np.full(count, 500 * NS) if even else chance.integers(300, 900, count) * NS + chance.integers(0, NS, count)
    at = np.cumsum(gaps)
    stop = int(at[-1] + 1000 * NS)
    logic_trace = logic_of(at, 10 * NS, stop)
    logic = Capture("logic.csv", {"STB": logic_trace, "D0": logic_trace}, {}, 10 * NS, "rows")
    first, last = (count // 4, count // 2)
    begin = int(at[first] - 200 * NS)
    length = int((at[last] + 100 * NS - begin) // (4 * NS))
    times = begin + np.arange(length) * 4 * NS
    level = (at.searchsorted(times, side="right")) % 2
    interval = Fraction(4 * NS) * (1 - Fraction(round(ppm * 1000), 10**9))
    volts = np.where(level == 1, 3.4, 0.2).astype(np.float32)
    scope = Capture(
        "scope.csv",
        {},
        {"CH1": AnalogTrace(begin - shift_ps, interval, volts), "CH2": AnalogTrace(begin - shift_ps, interval, volts)},
        4 * NS,
        "scope",
    )
    return logic, scope, logic_trace, digitise(scope.analog["CH1"], family("74")).digital


@pytest.mark.parametrize("shift_ps", [0, 12_345_678, -77_000_003])
def test_the_offset_that_was_planted_is_found_within_what_it_reads_to(shift_ps):
    logic, scope, a, b = run(shift_ps)
    found = join(logic, scope, ("STB", "CH1"), a, b)
    # both instruments show a transition up to one sample late: 5 ns and 2 ns in the mean
    assert abs(found.offset_ps - shift_ps) <= 3 * NS + 3 * found.uncertainty_ps
    assert found.uncertainty_ps < 14 * NS
    assert set(found.capture.channels) == {"STB", "D0", "CH2", "STB (volts)"}
    assert found.capture.digital["STB"].stop_ps == logic.digital["STB"].stop_ps
    assert f"{found.shared} transitions pair" in found.sentence
    lies = found.capture.analog["CH2"].start_ps - scope.analog["CH2"].start_ps
    assert abs(lies - shift_ps) < 10 * NS


def test_the_ratio_of_two_crystals_is_taken_out():
    logic, scope, a, b = run(5_000_000, ppm=150.0)
    found = join(logic, scope, ("STB", "CH1"), a, b)
    assert found.ratio_ppm == pytest.approx(150, abs=25)
    assert found.residual_ps < 20 * NS


@pytest.mark.parametrize("shift_ps", [0, 120_000, -200_000])
def test_an_even_clock_joins_nearest_to_a_common_time_zero_and_says_what_else_fits(shift_ps):
    logic, scope, a, b = run(shift_ps, even=True)
    found = join(logic, scope, ("STB", "CH1"), a, b)
    assert abs(found.offset_ps - shift_ps) <= 3 * NS + 3 * found.uncertainty_ps
    assert found.every_ps == 1000 * NS
    assert "every 1 µs fits too" in found.sentence
    assert found.capture.notes[-1] == found.sentence
    # half a period further another place is the nearer one: the multiple is not known, and that is what is told
    logic, scope, a, b = run(shift_ps + 3_000_000, even=True)
    again = join(logic, scope, ("STB", "CH1"), a, b)
    assert again.every_ps == 1000 * NS
    apart = (again.offset_ps - found.offset_ps) % (1000 * NS)
    assert min(apart, 1000 * NS - apart) < 10 * NS


def test_a_long_even_clock_is_joined_in_no_long_time():
    logic, scope, a, b = run(90_000, even=True, count=40_000)
    found = join(logic, scope, ("STB", "CH1"), a, b)
    assert found.every_ps == 1000 * NS
    assert abs(found.offset_ps - 90_000) <= 3 * NS + 3 * found.uncertainty_ps


def test_captures_of_two_runs_are_not_joined():
    logic, _, a, _ = run(0)
    _, scope, _, b = run(0, seed=2)
    with pytest.raises(RequestError, match="does not move alike"):
        join(logic, scope, ("STB", "CH1"), a, b)


def test_a_signal_that_hardly_moves_cannot_join_them():
    logic, scope, a, _ = run(0)
    still = DigitalTrace(np.array([0, 5], np.int64), np.array([0, 1], np.uint8), 100)
    with pytest.raises(RequestError, match="transitions in the two captures"):
        join(logic, scope, ("STB", "CH1"), a, still)
