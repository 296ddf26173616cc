"""Volts to logic: the two-threshold reading against a plain one, and each kind of violation."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.capture import UNKNOWN, AnalogTrace
from tracecore.errors import RequestError
from tracecore.measure.families import families, family, noise_margin
from tracecore.measure.levels import digitise, zone_changes

INTERVAL = Fraction(10_000)  # 100 MS/s
TTL = family("74")


def volts(*pieces: tuple[float, int]) -> AnalogTrace:
    return AnalogTrace(0, INTERVAL, np.concatenate([np.full(n, v, np.float32) for v, n in pieces]))


@given(st.lists(st.floats(-0.5, 4.5, width=32), min_size=1, max_size=120))
def test_zones_agree_with_a_plain_reading(samples):
    array = np.array(samples, np.float32)
    start, zone = zone_changes(array, 0.8, 2.0)
    plain = [0 if v <= np.float32(0.8) else 1 if v < np.float32(2.0) else 2 for v in array]
    spread = np.repeat(zone, np.diff(np.append(start, len(array))))
    assert spread.tolist() == plain


@given(st.lists(st.floats(0.8125, 1.984375, width=32), min_size=7, max_size=60))
def test_a_level_never_flips_inside_the_band(samples):
    """Whatever happens between the thresholds, low stays low until high is reached (or is said unknown)."""
    trace = AnalogTrace(0, INTERVAL, np.array([0.2, *samples, 0.2], np.float32))
    assert 1 not in digitise(trace, TTL).digital.levels.tolist()


def test_a_quick_edge_is_a_transition_and_no_violation():
    levels = digitise(volts((0.2, 20), (1.4, 2), (3.4, 20)), TTL)
    assert levels.events == ()
    assert levels.digital.levels.tolist() == [0, 1]
    assert levels.digital.times_ps.tolist() == [0, 220_000]
    assert (round(levels.low_v, 2), round(levels.high_v, 2)) == (0.2, 3.4)


@pytest.mark.parametrize(
    ("pieces", "kind", "rest"),
    [
        (((3.4, 20), (1.1, 40), (3.4, 20)), "weak low", 1.1),
        (((0.2, 20), (1.6, 40), (0.2, 20)), "weak high", 1.6),
        (((0.2, 20), (1.6, 3), (0.2, 20)), "runt", 1.6),
        (((3.4, 20), (1.2, 3), (3.4, 20)), "runt", 1.2),
    ],
)
def test_each_violation_is_found_where_it_was_put(pieces, kind, rest):
    (event,) = digitise(volts(*pieces), TTL).events
    assert event.kind == kind
    assert event.volts == pytest.approx(rest, abs=0.01)
    assert (event.start_ps, event.stop_ps) == (200_000, 200_000 + pieces[1][1] * 10_000)


def test_a_slow_ramp_is_a_slow_transition():
    ramp = np.linspace(0.2, 3.4, 60).astype(np.float32)
    trace = AnalogTrace(0, INTERVAL, np.concatenate((np.full(20, 0.2, np.float32), ramp, np.full(20, 3.4, np.float32))))
    (event,) = digitise(trace, TTL).events
    assert event.kind == "slow transition"
    assert digitise(trace, TTL).digital.levels.tolist() == [0, UNKNOWN, 1]


def test_noise_at_a_threshold_is_no_runt():
    rng = np.random.default_rng(2)
    noisy = np.where(rng.random(500) < 0.05, 0.82, 0.75).astype(np.float32)
    assert digitise(AnalogTrace(0, INTERVAL, noisy), TTL).events == ()


def test_every_family_leaves_a_margin_and_names_its_source():
    for one in families().values():
        low, high = noise_margin(one, one)
        assert low > 0 or (one.hysteresis and low >= 0)  # a 74LS14's VT- may be as low as an LS output's low
        assert high > 0
        assert one.source
        assert one.status in ("seen", "memory")


def test_an_unknown_family_is_one_sentence():
    with pytest.raises(RequestError, match="expected one of 74, 74H"):
        family("74XX")
