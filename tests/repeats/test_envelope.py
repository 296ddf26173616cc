"""How far transitions stray among good captures: against a plain reading of all of them, and how often it is wrong."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.compare.envelope import Envelope, EnvelopeLearner

PERIOD = 10_000


def learnt(by_ps: np.ndarray, levels: np.ndarray | None = None, period_ps: int = PERIOD) -> Envelope:
    """From int64[captures, edges] of how much later each capture's transition is than the reference's; row 0 is the
    reference's own and must be nought."""
    times = np.arange(by_ps.shape[1], dtype=np.int64) * 1_000_000
    learner = EnvelopeLearner(times, np.ones(len(times), np.uint8) if levels is None else levels, period_ps)
    for row in by_ps[1:]:
        learner.add(times, row)
    return learner.envelope()


@st.composite
def strays(draw: st.DrawFn) -> np.ndarray:
    captures, edges = draw(st.integers(3, 7)), draw(st.integers(1, 12))
    rng = np.random.default_rng(draw(st.integers(0, 10_000)))
    by = rng.integers(-40_000, 40_000, (captures, edges))
    by[0] = 0
    return by.astype(np.int64)


@given(strays())
def test_the_extremes_and_the_next_to_them_are_those_of_sorting(by):
    found = learnt(by)
    ordered = np.sort(by, axis=0)
    for own, plain in (
        (found.earliest_ps, ordered[0]),
        (found.second_earliest_ps, ordered[1]),
        (found.latest_ps, ordered[-1]),
        (found.second_latest_ps, ordered[-2]),
        (found.seen, np.full(by.shape[1], len(by))),
    ):
        assert own.tolist() == plain.tolist()
    # kept to 24 bits
    assert found.mean_ps == pytest.approx(by.mean(0), rel=1e-6, abs=1e-6 * np.abs(by).max())
    assert found.squares == pytest.approx(((by - by.mean(0)) ** 2).sum(0), rel=1e-5, abs=1e-3)


@pytest.mark.parametrize("far_ps", [100, 32_767, 32_768, 40_000, 3_000_000_000])
def test_strays_of_any_size_are_learnt(far_ps):
    by = np.array([[0, 0], [5, -far_ps], [far_ps, 7], [-far_ps, far_ps]], np.int64)
    found = learnt(by)
    ordered = np.sort(by, axis=0)
    own = found.earliest_ps, found.second_earliest_ps, found.second_latest_ps, found.latest_ps
    assert [a.tolist() for a in own] == ordered.tolist()
    assert max(found.guard_ps) == max(PERIOD, *(ordered[1] - ordered[0]), *(ordered[3] - ordered[2]))


def test_more_than_255_captures_are_counted():
    found = learnt(np.zeros((300, 1), np.int64))
    assert found.seen.tolist() == [300]


def test_an_envelope_that_was_given_away_does_not_change():
    times = np.array([0, 1_000_000])
    learner = EnvelopeLearner(times, np.array([1, 0], np.uint8), PERIOD)
    for by in (3, 4):
        learner.add(times, np.full(2, by))
    early = learner.envelope()
    learner.add(times, np.full(2, 9000))
    assert early.latest_ps.tolist() == [4, 4]
    assert early.seen.tolist() == [3, 3]
    assert early.mean_ps == pytest.approx([7 / 3, 7 / 3])
    assert learner.envelope().latest_ps.tolist() == [9000, 9000]


@given(strays(), st.integers(0, 30_000))
def test_leaving_one_out_is_learning_without_it(by, tolerance):
    found = learnt(by)
    guard = max(found.guard_ps[1], tolerance)
    for own in range(1, len(by)):
        others = np.delete(by, own, axis=0)
        plain = (by[own] >= others.min(0) - guard) & (by[own] <= others.max(0) + guard)
        assert found.allows(found.times_ps, by[own], tolerance, left_out=True).tolist() == plain.tolist()


@given(strays())
def test_what_was_learnt_is_allowed_and_far_beyond_it_nothing_is(by):
    found = learnt(by)
    for row in by:
        assert found.allows(found.times_ps, row, 0).all()
    far = by.max(0) + max(found.guard_ps) + 1
    assert not found.allows(found.times_ps, far, 0).any()
    assert found.allows(found.times_ps, far, max(found.guard_ps) + 1).all()


def test_under_three_captures_there_is_no_envelope():
    found = learnt(np.zeros((2, 5), np.int64))
    assert not found.allows(found.times_ps, np.zeros(5, np.int64), 10**9).any()
    assert found.shifts(found.times_ps, np.full(5, 10**8), 0) == ()


def test_a_transition_that_few_captures_show_or_that_is_unknown_is_not_allowed():
    times = np.array([0, 1_000_000, 2_000_000])
    learner = EnvelopeLearner(times, np.array([1, 0, 1], np.uint8), PERIOD)
    learner.add(times, np.zeros(3, np.int64))
    learner.add(times[[0, 2]], np.zeros(2, np.int64))
    found = learner.envelope()
    assert found.seen.tolist() == [3, 2, 3]
    at = np.array([0, 5, 1_000_000, 2_000_000, 9_000_000])
    assert found.allows(at, np.zeros(5, np.int64), 0).tolist() == [True, False, False, True, False]


def test_a_signal_that_never_moves_has_nothing_to_allow():
    learner = EnvelopeLearner(np.empty(0, np.int64), np.empty(0, np.uint8), PERIOD)
    for _ in range(3):
        learner.add(np.empty(0, np.int64), np.empty(0, np.int64))
    found = learner.envelope()
    assert found.allows(np.array([4]), np.array([0]), 10).tolist() == [False]
    assert found.guard_ps == (PERIOD, PERIOD)


def test_what_an_envelope_holds_cannot_be_written_to():
    found = learnt(np.zeros((3, 4), np.int64))
    with pytest.raises(ValueError):
        found.earliest_ps[0] = 1


def sampled(rng: np.random.Generator, delay_ns: np.ndarray, sample_ns: float, late_ns: float = 0.0) -> np.ndarray:
    """Delays after a free-running clock as an instrument reads them, in ps: 2 ns of jitter, now and then far more."""
    edges = len(delay_ns)
    jitter = rng.normal(0, 2, edges) + (rng.random(edges) < 0.001) * rng.exponential(8, edges)
    phase = rng.random(edges) * sample_ns
    steps = np.ceil((phase + delay_ns + late_ns + jitter) / sample_ns) - np.ceil(phase / sample_ns)
    return np.rint(1000 * steps * sample_ns).astype(np.int64)


@pytest.mark.parametrize(("sample_ns", "seen_at_60_ns"), [(5.0, 0.99), (10.0, 0.99), (41.7, 0.05)])
@pytest.mark.parametrize("captures", [3, 8])
def test_false_alarms_are_as_rare_as_intended(sample_ns, seen_at_60_ns, captures):
    """The guard is set at 99.99 %: about 1 in 10 000 transitions of a further good capture lies outside."""
    rng = np.random.default_rng(5)
    delay = rng.choice([20.0, 33.0, 47.0, 60.0], 10_000)
    reference = sampled(rng, delay, sample_ns)
    by = [sampled(rng, delay, sample_ns) - reference for _ in range(captures - 1)]
    found = learnt(np.array([np.zeros(10_000, np.int64), *by]), period_ps=round(1000 * sample_ns))
    further = [sampled(rng, delay, sample_ns) - reference for _ in range(10)]
    false = np.mean([1 - found.allows(found.times_ps, row, 0).mean() for row in further])
    assert false < 3e-4
    slow = sampled(rng, delay, sample_ns, late_ns=60) - reference
    assert 1 - found.allows(found.times_ps, slow, 0).mean() >= seen_at_60_ns


def test_a_shift_that_good_captures_make_too_is_not_systematic():
    """A clock that keeps step with the sampling: all transitions of a capture move together."""
    edges = np.arange(400, dtype=np.int64)
    together = np.array([0, 4000, -5000, 6000, 1000])[:, None] + (edges % 5)
    found = learnt(np.where(np.arange(5)[:, None] > 0, together, 0), (edges % 2).astype(np.uint8))
    limits = {s.limit_ps for s in found.shifts(found.times_ps, np.full(400, 13_000), 10_000)}
    # the furthest of 0, 4, -5, 6 and 1 ns lies 6.2 ns from their mean
    assert all(22_000 < limit < 23_000 for limit in limits)
    assert not any(s.systematic for s in found.shifts(found.times_ps, np.full(400, 20_000), 10_000))
    assert all(s.systematic for s in found.shifts(found.times_ps, np.full(400, 30_000), 10_000))


def test_a_shift_far_below_the_sample_period_shows_in_the_average():
    rng = np.random.default_rng(6)
    delay = rng.choice([20.0, 33.0, 47.0, 60.0], 2000)
    levels = (np.arange(2000) % 2).astype(np.uint8)
    reference = sampled(rng, delay, 41.7)
    by = [sampled(rng, delay, 41.7) - reference for _ in range(4)]
    found = learnt(np.array([np.zeros(2000, np.int64), *by]), levels, 41_700)
    sound = [found.shifts(found.times_ps, sampled(rng, delay, 41.7) - reference, 1000) for _ in range(100)]
    assert not any(s.systematic for pair in sound for s in pair)
    late = found.shifts(found.times_ps, sampled(rng, delay, 41.7, late_ns=15) - reference, 10_000)
    assert [s.direction for s in late] == ["rise", "fall"]
    assert all(s.systematic and abs(s.by_ps - 15_000) < 4000 and s.edges == 1000 for s in late)
    # another sound board may be that much slower
    other = found.shifts(found.times_ps, sampled(rng, delay, 41.7, late_ns=5) - reference, 10_000)
    assert not any(s.systematic for s in other)
