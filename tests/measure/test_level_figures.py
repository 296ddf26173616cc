"""Volts measured: against closed forms, against scipy.signal, against a plain reading, and what must be told first."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracecore.capture import AnalogTrace
from tracecore.measure.families import family
from tracecore.measure.instrument import combined_ps, instrument_transition_ps, signal_transition_ps
from tracecore.measure.level_figures import LevelSettings, level_figures, margin_verdict, overshoot_percent
from tracecore.measure.levels import digitise
from tracecore.measure.state_levels import quantisation_step, reference_level, state_levels

TTL, LS = family("74"), family("74LS")
INTERVAL = Fraction(1000)


def trace(volts: np.ndarray, interval_ps: int = 1000) -> AnalogTrace:
    return AnalogTrace(0, Fraction(interval_ps), volts.astype(np.float32))


def square(low: float = 0.2, high: float = 3.4, ramp: int = 10, half: int = 500, turns: int = 6) -> np.ndarray:
    """A trapezoid: straight ramps of ``ramp`` samples between two levels, ``half`` samples apart."""
    corners = np.arange(2 * turns + 1) * half
    times = np.concatenate([(c, c + ramp) for c in corners])
    values = np.concatenate([(low, high) if k % 2 == 0 else (high, low) for k in range(2 * turns + 1)])
    return np.interp(np.arange(corners[-1] + half), times, values)


def noisy(volts: np.ndarray, spread: float = 0.01, seed: int = 3) -> np.ndarray:
    return volts + np.random.default_rng(seed).normal(0, spread, len(volts))


def test_a_trapezoid_has_the_times_of_its_closed_form():
    # a straight ramp over 10 ns takes 8.0 ns from 10 to 90 %; VIL to VIH is 1.2 V of 3.2 V (IEEE Std 181, from memory)
    found = level_figures(trace(square()), TTL, TTL)
    for times in (found.rising, found.falling):
        assert times.median_ps == pytest.approx(8000, rel=1e-3)
        assert np.median(times.band_ps) == pytest.approx(10_000 * 1.2 / 3.2, rel=1e-3)
    assert (found.states.low_v, found.states.high_v) == pytest.approx((0.2, 3.4), abs=1e-4)
    assert found.verdict == "within"


@pytest.mark.parametrize("tau", [8.0, 30.0, 120.0])
def test_an_rc_rise_takes_ln_9_time_constants(tau):
    # 10 to 90 % of an exponential: ln 9 * R * C; VIL to VIH: R * C * ln((V - VIL) / (V - VIH))
    one = np.concatenate((0.2 + 4.8 * -np.expm1(-np.arange(2500) / tau), np.full(500, 0.2)))
    found = level_figures(trace(np.concatenate((np.full(500, 0.2), np.tile(one, 4)))), TTL, family("7414"))
    assert found.rising.median_ps == pytest.approx(1000 * tau * math.log(9), rel=0.01)
    vil, vih = family("7414").vil_v, family("7414").vih_v
    assert np.median(found.rising.band_ps) == pytest.approx(1000 * tau * math.log((5 - vil) / (5 - vih)), rel=0.01)


def test_times_agree_with_instants_by_scipy():
    from scipy.interpolate import interp1d
    from scipy.signal import lfilter

    drive = np.repeat(np.tile((0.2, 3.4), 6), 400)
    wave = lfilter([0.06], [1, -0.94], drive - 0.2) + 0.2
    found = level_figures(trace(wave), TTL, LS)
    rise = wave[400:800]
    at = interp1d(rise, np.arange(400))
    s1, s2 = found.states.low_v, found.states.high_v
    wanted = float(at(s1 + 0.9 * (s2 - s1)) - at(s1 + 0.1 * (s2 - s1))) * 1000
    assert found.rising.median_ps == pytest.approx(wanted, rel=0.01)


def test_damped_ringing_turns_back_where_its_closed_form_says():
    # step of a second-order system: the first peak overshoots by exp(-pi z / sqrt(1 - z^2)) of the amplitude
    from scipy.signal import find_peaks, lti, step

    z, w = 0.2, 2 * math.pi / 40e-9
    times = np.arange(600) * 1e-9
    _, rise = step(lti([w * w], [1, 2 * z * w, w * w]), T=times)
    fall = 3.4 - 3.2 * rise
    found = level_figures(trace(np.concatenate((np.full(400, 3.4), fall, np.full(400, 0.2)))), TTL, TTL)
    below = [e for e in found.events if e.kind == "below ground"]
    dip = 0.2 - 3.2 * math.exp(-math.pi * z / math.sqrt(1 - z * z))
    assert below[0].volts == pytest.approx(dip, abs=0.01)
    assert fall[find_peaks(-fall)[0][0]] == pytest.approx(below[0].volts, abs=1e-3)
    rings = [e for e in found.events if e.kind == "ringing"]
    back = 0.2 + 3.2 * math.exp(-2 * math.pi * z / math.sqrt(1 - z * z))
    assert rings[0].volts == pytest.approx(back, abs=0.01)
    assert found.count("runt") == 0


def test_pulse_terms_of_the_worked_examples():
    # IEEE Std 181 (from memory): s1 = 0.2 V, s2 = 3.4 V
    assert [round(reference_level(0.2, 3.4, p), 2) for p in (10, 50, 90)] == [0.52, 1.8, 3.08]
    assert overshoot_percent(3.72, 3.4, 3.2) == pytest.approx(10)
    assert overshoot_percent(-0.28, 0.2, -3.2) == pytest.approx(15)


def test_bandwidths_of_the_worked_examples():
    # 0.35 / BW (an instrument maker's rule); the root of the sum of squares (named by NIST, without an error bound)
    assert instrument_transition_ps(100e6) == pytest.approx(3500)
    assert combined_ps(3000, 3500) == pytest.approx(4609.8, abs=0.1)
    assert combined_ps(6000, 3500, 3500) == pytest.approx(7778.2, abs=0.1)
    assert signal_transition_ps(5000, 3500) == pytest.approx(3570.7, abs=0.1)


def test_an_instrument_too_slow_says_so():
    found = level_figures(trace(square(ramp=2)), TTL, TTL)
    assert found.signal_transition_ps(True) is None
    slow = level_figures(trace(square(ramp=60)), TTL, TTL, LevelSettings(bandwidth_hz=5e6))
    assert slow.signal_transition_ps(True) is None


def test_margins_are_taken_from_the_worst_rest_and_not_from_ringing():
    wave = square()
    wave[2515:2525] += 0.3  # ringing at the foot of a fall
    wave[3515:4000] = 0.62  # one low rests higher than the others
    found = level_figures(trace(wave), TTL, LS)
    assert found.low_v == pytest.approx(0.62, abs=0.01)
    assert found.low_margin_v == pytest.approx(0.18, abs=0.01)
    assert found.high_margin_v == pytest.approx(1.4, abs=0.01)
    assert found.verdict == "marginal"


@pytest.mark.parametrize(
    ("margin", "verdict"),
    [
        (0.55, "within"),
        (0.39, "within"),  # 10 mV under the promise cannot be told where a level reads to 20 mV
        (0.3, "marginal"),
        (0.02, "cannot be judged"),
        (-0.01, "cannot be judged"),
        (-0.1, "violates"),
        (None, "cannot be judged"),
    ],
)
def test_no_verdict_is_finer_than_what_is_read(margin, verdict):
    assert margin_verdict(margin, 0.4, 0.02) == verdict


def test_a_level_never_seen_cannot_be_judged():
    found = level_figures(trace(noisy(np.full(5000, 0.25))), TTL, TTL)
    assert (found.high_v, found.high_margin_v) == (None, None)
    assert found.verdict == "cannot be judged"
    assert found.low_margin_v > 0.4


def test_a_steady_middle_level_is_suggested_as_such():
    found = level_figures(trace(noisy(np.full(5000, 1.45))), TTL, TTL)
    assert [e.kind for e in found.events] == ["steady mid-level"]
    assert found.undefined_share > 0.99
    assert found.verdict == "violates"


def test_a_level_above_what_the_input_takes_is_found():
    wave = square()
    wave[700:710] = 5.8
    assert level_figures(trace(wave), TTL, TTL).count("above maximum") == 1
    assert level_figures(trace(wave), TTL, LS).count("above maximum") == 0  # TI SDLS025D: 5.5 V, and 7 V for 74LS


@pytest.mark.parametrize(
    ("wave", "kind"),
    [
        (np.minimum(noisy(square(), 0.02), 2.6), "clipped"),
        (np.maximum(noisy(square(), 0.02), 0.5), "clipped"),
        (noisy(square() - 1.8), "AC-coupled"),
        (noisy(square() / 10, 0.001), "probe factor"),
        (noisy(square() * 10, 0.1), "probe factor"),
    ],
)
def test_what_the_instrument_did_is_told_before_any_level(wave, kind):
    found = level_figures(trace(wave), TTL, TTL)
    assert found.trouble is not None
    assert found.trouble.kind == kind
    assert (found.verdict, found.events) == ("cannot be judged", ())


@pytest.mark.parametrize("step", [0.0, 0.02, 0.04])
@pytest.mark.parametrize("low", [0.1, 0.25, 0.4])
def test_a_sound_trace_is_not_taken_for_a_spoilt_one(low, step):
    wave = noisy(square(low=low), 0.012)
    wave = np.round(wave / step) * step if step else wave
    found = level_figures(trace(wave), TTL, TTL)
    assert found.trouble is None
    assert found.reads_to_v == pytest.approx(max(step, 0.001), rel=0.01)


def test_a_supply_outside_its_range_leaves_nothing_judged():
    found = level_figures(trace(square()), TTL, TTL, LevelSettings(supply_v=4.4))
    assert found.trouble.kind == "supply"


def test_quantisation_is_seen_in_the_readings():
    codes = np.round(noisy(square(), 0.03) / 0.0390625) * 0.0390625
    assert quantisation_step(codes.astype(np.float32)) == pytest.approx(0.0390625, rel=1e-3)


@given(st.floats(0.0, 0.45), st.floats(2.5, 4.5), st.floats(0.15, 0.85))
@settings(max_examples=30, deadline=None)
def test_state_levels_are_where_the_wave_rests(low, high, duty):
    wave = np.tile(np.repeat((low, high), (round(200 * (1 - duty)), round(200 * duty))), 20)
    found = state_levels(noisy(wave, 0.008).astype(np.float32), 0.8, 2.0)
    assert found.low_v == pytest.approx(low, abs=0.01)
    assert found.high_v == pytest.approx(high, abs=0.01)


def plain_events(volts: list[float], vil: float, vih: float, longest: int) -> list[tuple[str, int, int]]:
    """Stretches between the thresholds, one sample at a time: where each begins and ends, long ones and runts."""
    zone = [0 if v <= np.float32(vil) else 1 if v < np.float32(vih) else 2 for v in np.array(volts, np.float32)]
    out, i = [], 0
    while i < len(zone):
        j = i
        while j < len(zone) and zone[j] == zone[i]:
            j += 1
        if zone[i] == 1:
            came, went = (zone[i - 1] if i else None), (zone[j] if j < len(zone) else None)
            if j - i > longest:
                out.append(("long", i, j))
            elif came is not None and came == went:
                turn = max(volts[i:j]) - vil if came == 0 else vih - min(volts[i:j])
                if turn >= 0.15:
                    out.append(("runt", i, j))
        i = j
    return out


@given(st.lists(st.tuples(st.sampled_from([0.25, 0.75, 1.125, 1.375, 1.75, 2.5, 3.5]), st.integers(1, 9)), max_size=40))
@settings(max_examples=40, deadline=None)
def test_events_agree_with_a_plain_reading(pieces):
    volts = [0.25, *(v for v, n in pieces for _ in range(n)), 3.5]
    found = digitise(trace(np.array(volts), 20_000), TTL).events
    got = [("runt" if e.kind == "runt" else "long", e.start_ps // 20_000, e.stop_ps // 20_000) for e in found]
    assert got == plain_events(volts, TTL.vil_v, TTL.vih_v, 3)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_volts_that_are_no_numbers_are_refused(bad):
    with pytest.raises(ValueError, match="finite"):
        trace(np.array([0.2, bad, 3.4]))
