"""Transition matching against the full dynamic programme, and its laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tracecore.compare import transitions
from tracecore.compare.transitions import match_transitions

times = st.lists(st.integers(1, 400), max_size=30, unique=True).map(sorted)


def best_score(good: list[int], first_good: int, suspect: list[int], first_suspect: int, tolerance: int) -> int:
    """Every order-preserving matching is weighed: the plain O(n m) table."""
    table = [[0] * (len(suspect) + 1) for _ in range(len(good) + 1)]
    for i, a in enumerate(good, start=1):
        for j, b in enumerate(suspect, start=1):
            table[i][j] = max(table[i - 1][j], table[i][j - 1])
            if (first_good + i) % 2 == (first_suspect + j) % 2 and abs(a - b) <= tolerance:
                table[i][j] = max(table[i][j], table[i - 1][j - 1] + tolerance + 1 - abs(a - b))
    return table[-1][-1]


def levels(count: int, first: int) -> np.ndarray:
    return ((first + np.arange(1, count + 1)) % 2).astype(np.uint8)


@given(times, st.integers(0, 1), times, st.integers(0, 1), st.integers(0, 40))
def test_matching_within_tolerance_is_the_best_there_is(good, first_good, suspect, first_suspect, tolerance):
    a, b = np.array(good, np.int64), np.array(suspect, np.int64)
    found = match_transitions(
        a, levels(len(a), first_good), b, levels(len(b), first_suspect), tolerance_ps=tolerance, furthest_ps=tolerance
    )
    # with nothing allowed further away than the tolerance no constant delay beyond it can be taken either
    if found.delay_ps == 0:
        apart = np.abs(a[found.good] - b[found.suspect])
        assert (apart <= tolerance).all()
        assert int((tolerance + 1 - apart).sum()) == best_score(good, first_good, suspect, first_suspect, tolerance)


@given(times, st.integers(0, 1), times, st.integers(0, 1), st.integers(0, 40), st.integers(0, 120))
def test_every_transition_is_accounted_for_once(good, first_good, suspect, first_suspect, tolerance, furthest):
    a, b = np.array(good, np.int64), np.array(suspect, np.int64)
    found = match_transitions(
        a, levels(len(a), first_good), b, levels(len(b), first_suspect), tolerance_ps=tolerance, furthest_ps=furthest
    )
    assert sorted([*found.good, *found.moved_good, *found.missing]) == list(range(len(a)))
    assert sorted([*found.suspect, *found.moved_suspect, *found.extra]) == list(range(len(b)))


@given(times, st.integers(0, 1), st.integers(0, 1000), st.integers(0, 40))
def test_a_trace_matches_itself_whole(good, first, shift, tolerance):
    a = np.array(good, np.int64) + shift
    found = match_transitions(
        a, levels(len(a), first), a, levels(len(a), first), tolerance_ps=tolerance, furthest_ps=100
    )
    assert found.good.tolist() == found.suspect.tolist() == list(range(len(a)))
    assert found.delay_ps == 0


@given(times, st.integers(0, 1), times, st.integers(0, 1), st.integers(0, 40))
def test_swapping_the_sides_swaps_missing_and_extra(good, first_good, suspect, first_suspect, tolerance):
    a, b = np.array(good, np.int64), np.array(suspect, np.int64)
    la, lb = levels(len(a), first_good), levels(len(b), first_suspect)
    one = match_transitions(a, la, b, lb, tolerance_ps=tolerance, furthest_ps=tolerance)
    other = match_transitions(b, lb, a, la, tolerance_ps=tolerance, furthest_ps=tolerance)
    if one.delay_ps == 0 == other.delay_ps:
        # equal sums may be reached in two ways; the sum itself is the same
        assert np.abs(a[one.good] - b[one.suspect]).sum() - len(one.good) * (tolerance + 1) == np.abs(
            b[other.good] - a[other.suspect]
        ).sum() - len(other.good) * (tolerance + 1)


@pytest.mark.parametrize("late", [-170_000, 170_000, 420_000])
def test_a_signal_late_throughout_pairs_with_itself(late):
    rng = np.random.default_rng(3)
    a = np.cumsum(rng.integers(1, 6, 400) * 416_667) + 100_000
    b = a + late + rng.integers(-20_000, 20_000, 400)
    found = match_transitions(a, levels(400, 0), b, levels(400, 0), tolerance_ps=93_000, furthest_ps=541_000)
    assert abs(found.delay_ps - late) < 20_000
    assert len(found.moved_good) == 400
    assert (found.moved_good == found.moved_suspect).all()


def test_one_late_pulse_among_many_is_late_and_not_missing():
    a = np.arange(1, 101, dtype=np.int64) * 1000
    b = a.copy()
    b[40:42] += 300
    found = match_transitions(a, levels(100, 0), b, levels(100, 0), tolerance_ps=50, furthest_ps=1300)
    assert found.moved_good.tolist() == [40, 41]
    assert not len(found.missing)
    assert not len(found.extra)


def test_a_pulse_too_narrow_for_the_other_instrument_does_not_count():
    a = np.array([100, 130, 500, 900], np.int64)
    b = np.array([500, 900], np.int64)
    wide = match_transitions(a, levels(4, 0), b, levels(2, 0), tolerance_ps=20, furthest_ps=50)
    assert wide.missing.tolist() == [0, 1]
    narrow = match_transitions(a, levels(4, 0), b, levels(2, 0), tolerance_ps=20, furthest_ps=50, narrowest_ps=41)
    assert not len(narrow.missing)


def short_pulses(times: range, missing_one: int) -> np.ndarray:
    """A pulse of 30 at each of the times, but for one."""
    return np.array([t + d for t in times if t != missing_one for d in (0, 30)], np.int64)


def test_several_short_pulses_that_read_as_one_are_short_pulses_too():
    # both sides make short pulses, some seen on one side alone, and the good one reads a single longer one
    good, suspect = short_pulses(range(1000, 9000, 1000), 3000), short_pulses(range(1000, 9000, 1000), 5000)
    good = np.sort(np.append(good, [9000, 9060]))
    limits = {"tolerance_ps": 41, "furthest_ps": 900, "narrowest_ps": 41}
    found = match_transitions(good, levels(len(good), 0), suspect, levels(len(suspect), 0), **limits)
    assert not len(found.missing)
    assert not len(found.extra)
    assert [own.tolist() for own in found.short_pulses_ps] == [[30, 60], [30]]
    # a board that makes none is not believed to have hidden it, nor is one that would have hidden many
    alone = match_transitions(np.array([9000, 9060]), levels(2, 0), suspect, levels(len(suspect), 0), **limits)
    assert len(alone.missing) == 2
    often = np.sort(np.append(good, [9300, 9360, 9600, 9660]))
    found = match_transitions(often, levels(len(often), 0), suspect, levels(len(suspect), 0), **limits)
    assert len(found.missing) == 6
    # what is longer than two of the narrowest is a pulse of its own
    longer = good + (good == 9060) * 30
    found = match_transitions(longer, levels(len(good), 0), suspect, levels(len(suspect), 0), **limits)
    assert len(found.missing) == 2


@pytest.mark.parametrize(("apart", "late"), [(50, 0), (52, 1)])
def test_one_transition_in_many_may_lie_a_little_beyond(apart, late):
    good = np.arange(1, 301, dtype=np.int64) * 1000
    suspect = good.copy()
    suspect[40] += apart
    found = match_transitions(
        good, levels(300, 0), suspect, levels(300, 0), tolerance_ps=41, furthest_ps=900, narrowest_ps=40
    )
    assert len(found.moved_good) == late
    suspect[::20] += apart
    found = match_transitions(
        good, levels(300, 0), suspect, levels(300, 0), tolerance_ps=41, furthest_ps=900, narrowest_ps=40
    )
    assert len(found.moved_good) == 15


def test_a_dense_burst_longer_than_a_group_is_cut_and_still_pairs():
    a = np.arange(5000, dtype=np.int64) * 10
    found = match_transitions(a, levels(5000, 0), a + 3, levels(5000, 0), tolerance_ps=25, furthest_ps=25)
    assert (found.good == found.suspect).all()
    assert len(found.good) == 5000


def test_times_near_the_end_of_the_range_do_not_overflow():
    a = np.array([2**61, 2**61 + 1000], np.int64)
    found = match_transitions(a, levels(2, 0), a + 5, levels(2, 0), tolerance_ps=10, furthest_ps=100)
    assert found.good.tolist() == [0, 1]


@given(times, st.integers(0, 1), times, st.integers(0, 1), st.integers(0, 40))
def test_taken_in_pieces_of_any_size_the_matching_is_as_good(good, first_good, suspect, first_suspect, tolerance):
    a, b = np.array(good, np.int64), np.array(suspect, np.int64)
    la, lb = levels(len(a), first_good), levels(len(b), first_suspect)
    sizes = transitions._PLAIN, transitions._FEWEST_AT_ONCE, transitions._MOST_AT_ONCE
    try:
        transitions._PLAIN, transitions._FEWEST_AT_ONCE, transitions._MOST_AT_ONCE = 3, 2, 4
        pair = transitions._match(a, la, b, lb, tolerance)
    finally:
        transitions._PLAIN, transitions._FEWEST_AT_ONCE, transitions._MOST_AT_ONCE = sizes
    i = np.flatnonzero(pair >= 0)
    assert (np.diff(pair[i]) > 0).all()
    assert (la[i] == lb[pair[i]]).all()
    gain = tolerance + 1 - np.abs(a[i] - b[pair[i]])
    assert (gain > 0).all()
    assert int(gain.sum()) == best_score(good, first_good, suspect, first_suspect, tolerance)


def test_a_long_trace_with_odd_transitions_all_over_is_matched_whole():
    rng = np.random.default_rng(5)
    a = np.cumsum(rng.integers(400, 4000, 300_000))
    pulses = np.flatnonzero(rng.random(150_000) < 0.01) * 2
    keep = np.ones(300_000, np.bool_)
    keep[pulses] = keep[pulses + 1] = False
    b = a[keep] + rng.integers(-30, 30, keep.sum())
    found = match_transitions(
        a, levels(300_000, 0), b, levels(300_000, 0)[keep], tolerance_ps=200, furthest_ps=3000, narrowest_ps=0
    )
    assert found.missing.tolist() == np.flatnonzero(~keep).tolist()
    assert (np.flatnonzero(keep)[found.suspect] == found.good).all()


@pytest.mark.parametrize("tie", [0, 1])
def test_a_transition_halfway_between_two_pairs_once(tie):
    a = np.array([100], np.int64)
    b = np.array([90, 100 + tie, 110], np.int64)
    found = match_transitions(a, levels(1, 0), b, levels(3, 0), tolerance_ps=10, furthest_ps=10)
    assert len(found.good) == 1
    assert found.suspect.tolist() in ([0], [2])


def test_exactly_one_tolerance_apart_still_pairs():
    a = np.array([1000], np.int64)
    near = match_transitions(a, levels(1, 0), a + 10, levels(1, 0), tolerance_ps=10, furthest_ps=10)
    far = match_transitions(a, levels(1, 0), a + 11, levels(1, 0), tolerance_ps=10, furthest_ps=10)
    assert (len(near.good), len(far.good)) == (1, 0)
    assert (len(far.missing), len(far.extra)) == (1, 1)


@pytest.mark.parametrize("which", ["good", "suspect", "both"])
def test_a_side_without_transitions(which):
    a, none = np.arange(1, 20, dtype=np.int64) * 100, np.empty(0, np.int64)
    good, suspect = (none if which in (side, "both") else a for side in ("good", "suspect"))
    found = match_transitions(
        good, levels(len(good), 0), suspect, levels(len(suspect), 0), tolerance_ps=10, furthest_ps=50
    )
    assert (len(found.missing), len(found.extra)) == (len(good), len(suspect))


def test_a_delay_that_begins_halfway_is_no_constant_one():
    # a toggle that is inverted from its middle on looks there like one that comes one period late
    a = np.arange(1, 801, dtype=np.int64) * 1000
    wrong = levels(800, 0).copy()
    wrong[300:] ^= 1
    found = match_transitions(a, levels(800, 0), a, wrong, tolerance_ps=50, furthest_ps=1300)
    assert found.delay_ps == 0
    assert found.good.tolist() == list(range(300))


def test_the_delay_of_a_periodic_signal_is_known_only_modulo_its_period():
    a = np.arange(1, 801, dtype=np.int64) * 1000
    even = match_transitions(a, levels(800, 0), a + 400, levels(800, 0), tolerance_ps=50, furthest_ps=3300)
    assert even.delay_ps == 400
    assert even.modulo_ps == 2000
    rng = np.random.default_rng(1)
    b = np.cumsum(rng.integers(500, 2500, 800))
    uneven = match_transitions(b, levels(800, 0), b + 400, levels(800, 0), tolerance_ps=50, furthest_ps=3300)
    assert (uneven.delay_ps, uneven.modulo_ps) == (400, 0)
