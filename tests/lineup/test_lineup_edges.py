"""The ends of what may be lined up: short and shifted captures, loops, doubt all over, and clocks that misbehave."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from tests.compare.test_transitions import levels
from tests.lineup.slipping import LIVE, followed, program
from tests.lineup.test_drift import CYCLE, clock, sampled
from tests.lineup.test_lineup import lined_up, machine
from tracecore.capture import UNKNOWN
from tracecore.compare.transitions import match_transitions
from tracecore.lineup.alignment import Places
from tracecore.lineup.averaged_edges import WIDTHS, averaged_edges_ps, averaging_width
from tracecore.lineup.drift import drift
from tracecore.lineup.follower import Stretch
from tracecore.lineup.runs import MatchedRun
from tracecore.lineup.slips import follow
from tracecore.lineup.state_words import StateWords
from tracecore.lineup.time_map import Pairing

U = np.uint64

# --- offsets


@pytest.mark.parametrize("cycles", [16, 63])
def test_a_short_capture_lines_up_in_a_long_one_wherever_it_lies(cycles):
    whole = machine(14, 6000, 3)
    for start in (0, 2900, 6000 - cycles):
        found = lined_up(whole, whole[:, start : start + cycles])
        assert found.offset_cycles == -start
        there = lined_up(whole[:, start : start + cycles], whole)
        # beyond the number of cycles that the good side has
        assert there.offset_cycles == start


def test_both_sides_empty_are_a_reason():
    none = np.empty((3, 0), np.uint8)
    found = lined_up(none, none)
    assert not found
    assert "0 whole cycles" in found.reason


def test_of_a_loop_against_itself_nought_is_taken_for_its_overlap():
    loop = np.tile(machine(6, 40, 2), (1, 25))
    found = lined_up(loop, loop)
    assert (found.status, found.offset_cycles) == ("ambiguous", 0)
    assert "modulo 40" in found.reason


@pytest.mark.parametrize("stuck", [False, True])
def test_a_loop_with_a_counter_is_known_by_the_counter_unless_that_is_stuck(stuck):
    number = np.arange(1200)
    counter = np.array([(number // 40 >> bit) & 1 for bit in range(5)], np.uint8)
    loop = np.concatenate((np.tile(machine(8, 40, 2), (1, 30)), counter))
    good, suspect = loop[:, :1000], loop[:, 80:1080].copy()
    if stuck:
        suspect[8:] = 0
    found = lined_up(good, suspect)
    assert (found.offset_cycles + 80) % 40 == 0
    assert (found.offset_cycles == -80) == (not stuck)
    assert (found.status == "ambiguous") == stuck


def test_a_capture_unknown_throughout_tells_nothing():
    good = machine(5, 500, 1)
    found = lined_up(good, np.full_like(good, UNKNOWN))
    assert not found
    assert "nothing tells the cycles apart" in found.reason


def test_signals_of_period_one_do_not_tell():
    still = np.ones((4, 300), np.uint8)
    assert not lined_up(still, still)


# --- slips


def test_without_any_cycle_there_is_no_stretch():
    none = np.empty(0, np.uint64)
    assert followed(none, none, Places(0, 0)) == []
    assert followed(none, program(50), Places(0, 0)) == []


def test_where_every_word_differs_all_is_one_diverged_stretch_or_paired_as_it_stands():
    good = program(3000, 4)
    stretches = followed(good, program(3000, 5) ^ U((1 << 46) - 1), Places(0, 0))
    # the first cycles stay paired, to show what parts first
    assert [s.kind for s in stretches if s.good_stop - s.good_start > 16] == ["diverged"]
    assert (stretches[0].good_start, stretches[-1].good_stop) == (0, 3000)


def test_where_all_signals_turn_out_wrong_some_still_judge():
    good = program(4000, 6)
    suspect = good.copy()
    # one after the other goes wrong for good, until none is sound
    for bit in range(46):
        suspect[400 + 60 * bit :] ^= U(1 << bit)
    stretches = followed(good, suspect, Places(0, 0))
    assert stretches[0].good_start == 0
    assert stretches[-1].good_stop == stretches[-1].suspect_stop == 4000
    assert all(a.good_stop == b.good_start for a, b in pairwise(stretches))
    # as far as a third of them are sound, nothing but pairs is told
    assert stretches[0].good_stop > 400 + 60 * 15


def test_walked_backwards_the_stretches_are_the_same_turned_round():
    good = program(2000, 3)
    suspect = np.delete(good, np.s_[700:703])
    ahead = followed(good, suspect, Places(0, 0))
    back = followed(good[::-1].copy(), suspect[::-1].copy(), Places(0, 0))
    turned = [Stretch(s.kind, 2000 - s.good_stop, 2000 - s.good_start, 1997 - s.suspect_stop, 1997 - s.suspect_start)
              for s in reversed(back)]  # fmt: skip
    gap = Stretch("missing", 700, 703, 700, 700)
    assert ahead == turned == [Stretch("paired", 0, 700, 0, 700), gap, Stretch("paired", 703, 2000, 700, 1997)]


def test_a_side_in_doubt_throughout_is_paired_as_it_stands():
    good = program(500, 3)
    doubt = StateWords(good, np.full(500, LIVE))
    assert follow(StateWords(good, None), doubt, Places(0, 0), LIVE) == [Stretch("paired", 0, 500, 0, 500)]


# --- drift and averaged edges


@pytest.mark.parametrize("count", [0, 1, 2])
def test_a_few_edges_stay_as_they_are(count):
    edges = np.array([5, 107][:count], np.int64)
    assert averaged_edges_ps(edges, 512).tolist() == edges.tolist()
    assert averaging_width(edges, 10) == 0
    assert drift(Pairing((MatchedRun(0, 0, max(0, count - 1)),), edges, edges), 5, 5) is None


def test_a_window_wider_than_the_capture_shrinks_to_it():
    edges = sampled(clock(40, 3), 10_000.0)
    assert max(WIDTHS) > 40
    means = averaged_edges_ps(edges, max(WIDTHS))
    assert means[[0, -1]].tolist() == edges[[0, -1]].tolist()
    assert np.abs(means - edges).max() <= 10_000


def test_a_step_of_the_clock_is_no_straight_line_and_not_smoothed_away():
    slow = clock(3000, 1)
    fast = slow[-1] + clock(3000, 2, longer=-0.1)
    seen = sampled(np.concatenate((slow, fast)), 10_000.0)
    steady = sampled(clock(6000, 3), 10_000.0)
    width = averaging_width(seen, 10_000)
    # one corner in six thousand edges does not forbid the mean; there it is off by no more than the window allows
    away = np.abs(averaged_edges_ps(seen, width) - seen)
    assert np.delete(away, np.s_[3000 - width : 3000 + width]).max() < 12_000
    assert away.max() <= max(12_000, 0.1 * CYCLE * width / 2)
    found = drift(Pairing((MatchedRun(0, 0, 5999),), steady, seen), 10_000, 10_000)
    assert found is not None
    assert not found.straight
    # half of the cycles are a tenth shorter
    assert found.ppm == pytest.approx(-50_000, rel=0.1)


def test_edges_a_thousand_seconds_in_are_averaged_as_at_the_start():
    edges = sampled(clock(4000, 7, longer=0.0013), 10_000.0)
    late = edges + 10**15
    assert averaging_width(late, 10_000) == averaging_width(edges, 10_000) > 0
    assert np.abs(averaged_edges_ps(late, 32) - 10**15 - averaged_edges_ps(edges, 32)).max() <= 1


# --- transitions


def matched(a: list[int], first_a: int, b: list[int], first_b: int, tolerance: int = 10):
    good, suspect = np.array(a, np.int64), np.array(b, np.int64)
    lists = good, levels(len(a), first_a), suspect, levels(len(b), first_b)
    return match_transitions(*lists, tolerance_ps=tolerance, furthest_ps=3 * tolerance)


def test_one_transition_on_each_side():
    assert matched([100], 1, [104], 1).good.tolist() == [0]
    alone = matched([100], 1, [104], 0)
    assert (alone.missing.tolist(), alone.extra.tolist()) == ([0], [0])


def test_first_levels_that_differ_pair_what_follows():
    found = matched([100, 200, 300], 1, [201, 301], 0)
    assert (found.good.tolist(), found.suspect.tolist(), found.missing.tolist()) == ([1, 2], [0, 1], [0])


def test_transitions_at_one_instant_pair_by_polarity():
    found = matched([100, 100, 100], 1, [100, 100, 100], 1)
    assert found.good.tolist() == found.suspect.tolist() == [0, 1, 2]
    assert matched([100, 100], 1, [100], 0).good.tolist() == [1]


def test_a_glitch_on_an_edge_is_extra_and_the_edge_is_matched():
    # up at 100, and on the suspect down and up again at once
    found = matched([100, 500], 1, [98, 102, 105, 500], 1)
    assert found.suspect[found.good == 1].tolist() == [3]
    assert len(found.good) == 2
    assert len(found.extra) == 2
    assert not len(found.missing)


def test_a_million_alike_are_all_matched():
    a = np.arange(1_000_000, dtype=np.int64) * 900
    found = match_transitions(a, levels(len(a), 0), a, levels(len(a), 0), tolerance_ps=50, furthest_ps=300)
    assert (found.good == found.suspect).all()
    assert len(found.good) == len(a)


def test_times_near_the_largest_whole_number_do_not_overflow():
    a = np.array([2**62 - 2000, 2**62 - 1000], np.int64)
    found = match_transitions(a, levels(2, 0), a + 5, levels(2, 0), tolerance_ps=10, furthest_ps=100)
    assert found.good.tolist() == [0, 1]
