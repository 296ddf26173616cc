"""A clock measured in its own right: what was planted is found, and sampling alone feigns none of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tracecore.capture import DigitalTrace, Int64, digital_trace
from tracecore.measure.clock_quality import ClockQuality, clock_quality, real_edges_ps

PERIOD = 416_000


def seen(rises: Int64, falls: Int64, step: int, stop: int | None = None) -> DigitalTrace:
    """A clock under an instrument that looks every ``step``; a pulse between two looks is not seen."""
    times = np.concatenate((rises, falls))
    levels = np.concatenate((np.ones(len(rises)), np.zeros(len(falls)))).astype(np.uint8)
    order = np.argsort(times, kind="stable")
    at, levels = -(-times[order] // step) * step, levels[order]
    last = np.append(at[1:] != at[:-1], True)[: len(at)]
    at, levels = np.append(0, at[last]), np.append(np.uint8(0), levels[last])
    return digital_trace(at, levels, stop or int(at[-1]) + PERIOD // 2)


def even(count: int, share: float = 0.5, first: int = 1000) -> tuple[Int64, Int64]:
    rises = first + PERIOD * np.arange(count, dtype=np.int64)
    return rises, rises + round(share * PERIOD)


def measured(rises: Int64, falls: Int64, step: int = 29_300) -> ClockQuality:
    return clock_quality(seen(rises, falls, step), "rising", step)


@settings(max_examples=40)
@given(st.integers(18_000, 38_000), st.floats(0.25, 0.75), st.integers(200, 900), st.integers(0, 400_000))
def test_sampling_at_any_rate_feigns_no_odd_edge(step, share, count, first):
    found = measured(*even(count, share, first + 1000), step)
    assert (len(found.double_ps), len(found.extra_ps), len(found.missing_ps), len(found.pauses_ps)) == (0, 0, 0, 0)
    assert found.even == 1.0
    assert found.stops_ps is None
    assert found.wander < 0.002
    assert found.jitter_ps < 0.01 * PERIOD
    # as near as sampling lets it be known, by the measure's own word
    assert found.high_share is not None
    assert abs(found.high_share - share) * PERIOD <= 2 * found.doubt_ps + 1500


def test_sampling_in_step_with_the_clock_is_known_for_it():
    assert measured(*even(400), PERIOD // 16).doubt_ps == PERIOD // 16
    assert measured(*even(400), 25_700).doubt_ps < 1500


@settings(max_examples=40)
@given(st.integers(3, 12), st.floats(-0.004, 0.004), st.integers(200, 400), st.integers(0, 400_000))
def test_sampling_that_nearly_keeps_step_says_how_little_it_knows(samples, off, count, first):
    """The samples drift by less than one, or a little more, over the whole capture: too few places to mean over."""
    found = measured(*even(count, 0.5, first + 1000), round(PERIOD / (samples + off)))
    assert found.high_share is not None
    assert abs(found.high_share - 0.5) * PERIOD <= 2 * found.doubt_ps + 1500


@settings(max_examples=40)
@given(st.sets(st.integers(5, 290), min_size=1, max_size=60), st.integers(18_000, 30_000))
def test_edges_that_are_not_real_are_left_out_and_the_others_stay(which, step):
    rises, falls = even(300)
    at = rises[sorted(which)] + round(0.3 * PERIOD)
    # the pulse is high again in the middle of the high half: two rises, one of them real
    found = measured(np.sort(np.append(rises, at)), np.sort(np.append(falls, at - 2 * step)), step)
    sound = clock_quality(seen(rises, falls, step), "rising", step)
    assert np.array_equal(found.edges_ps, sound.edges_ps)
    assert len(found.double_ps) + len(found.extra_ps) == len(which)


@settings(max_examples=40)
@given(st.sets(st.integers(5, 290), min_size=1, max_size=60), st.integers(18_000, 38_000))
def test_missing_pulses_are_counted_one_by_one(which, step):
    rises, falls = even(300)
    keep = ~np.isin(np.arange(300), sorted(which))
    found = measured(rises[keep], falls[keep], step)
    gaps = np.diff(np.flatnonzero(keep))
    few = int((gaps[gaps <= 8] - 1).sum())
    assert len(found.missing_ps) == few
    assert len(found.pauses_ps) == int((gaps > 8).sum())
    assert abs(found.missing_ps - np.intersect1d(rises[~keep], rises)[: len(found.missing_ps)]).max(initial=0) <= (
        2 * step if few == len(which) else np.inf
    )


def test_every_cycle_with_a_double_edge_is_seen_through_by_the_other_clock_s_period():
    rises, falls = even(300)
    twice = np.sort(np.append(rises, rises + 90_000))
    notched = np.sort(np.append(falls, rises + 50_000))
    trace = seen(twice, notched, 20_000)
    found = clock_quality(trace, "rising", 20_000, PERIOD)
    assert len(found.double_ps) >= 299
    assert abs(found.period_ps - PERIOD) < 2000


def test_a_pause_and_a_stop_are_told_apart():
    rises, falls = even(300)
    waits = 30 * PERIOD * (np.arange(300) >= 100)
    found = measured(rises + waits, falls + waits)
    assert found.stops_ps is None
    ((start, stop),) = found.pauses_ps.tolist()
    assert abs(stop - start - 31 * PERIOD) <= 2 * 29_300
    ends = clock_quality(seen(rises, falls, 29_300, int(falls[-1]) + 30 * PERIOD), "rising", 29_300)
    assert ends.stops_ps is not None
    assert abs(ends.stops_ps - int(rises[-1])) <= 29_300


def test_a_period_that_wanders_is_measured():
    rises = even(2000)[0]
    rises = rises + np.round(0.02 * 200 * PERIOD / (2 * np.pi) * np.sin(np.arange(2000) / 200 * 2 * np.pi)).astype(int)
    found = measured(rises, rises + PERIOD // 2)
    assert 0.03 < found.wander < 0.045


@pytest.mark.parametrize("count", [0, 1, 2, 5])
def test_hardly_any_edge_is_no_clock_and_no_crash(count):
    rises, falls = even(count)
    found = measured(rises, falls)
    assert not found.ticks
    assert not found.regular
    assert len(real_edges_ps(seen(rises, falls, 29_300), "rising", 29_300)) == count


def test_falling_edges_are_measured_alike():
    rises, falls = even(300, 0.3)
    found = clock_quality(seen(rises, falls, 20_000), "falling", 20_000)
    assert found.even == 1.0
    assert found.high_share is not None
    assert abs(found.high_share - 0.3) < 0.06
