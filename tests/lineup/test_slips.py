"""Slips: known ones are found where they are, nothing is lost or counted twice, and the odd cases hold."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.lineup.slipping import LIVE, edited, followed, partners, program
from tracecore.lineup.alignment import Places
from tracecore.lineup.follower import Stretch
from tracecore.lineup.slips import _kinds_told, follow, slips_of
from tracecore.lineup.state_words import StateWords, Words

U = np.uint64


def bit(signal: int) -> np.uint64:
    return U(1) << U(signal)


def kinds(stretches: list[Stretch]) -> list[str]:
    return [s.kind for s in stretches]


def assert_tiled(stretches: list[Stretch], good: int, suspect: int) -> None:
    """No hole and no overlap; before the first and behind the last only one side may have cycles left."""
    for a, b in pairwise(stretches):
        assert (a.good_stop, a.suspect_stop) == (b.good_start, b.suspect_start)
        assert a.kind != b.kind
    for s in stretches:
        size = s.good_stop - s.good_start, s.suspect_stop - s.suspect_start
        assert min(size) >= 0
        assert max(size) > 0
        assert s.kind != "paired" or size[0] == size[1]
        assert s.kind != "inserted" or size[0] == 0
        assert s.kind != "missing" or size[1] == 0
    first, last = stretches[0], stretches[-1]
    assert 0 in (first.good_start, first.suspect_start)
    assert last.good_stop == good or last.suspect_stop == suspect


edits = st.dictionaries(st.integers(40, 1900), st.integers(1, 9), max_size=5)


@settings(max_examples=40)
@given(
    st.integers(1, 10_000), edits, edits, st.sampled_from(["none", "stuck", "noisy", "damaged"]), st.integers(0, 1900)
)
def test_whatever_happens_both_captures_are_tiled(seed, inserted, missing, fault, at):
    good = program(2000, seed)
    suspect, number = edited(good, inserted, missing)
    rng = np.random.default_rng(seed)
    if fault == "stuck":
        suspect &= ~bit(3)
    elif fault == "noisy":
        suspect ^= rng.integers(0, 2, len(suspect), dtype=np.uint64) << U(9)
    elif fault == "damaged":
        suspect[700:900] = rng.integers(0, 1 << 46, len(suspect[700:900]), dtype=np.uint64)
    start = int(np.flatnonzero(number >= 0)[min(at, (number >= 0).sum() - 1)])
    stretches = followed(good, suspect, Places(int(number[start]), start))
    assert_tiled(stretches, len(good), len(suspect))


def latest(good: Words, missing: dict[int, int]) -> dict[int, int]:
    """Cycles missing are told as late as they may be: further on where the same words follow by chance."""
    out = {}
    for cycle, count in missing.items():
        while good[cycle] == good[cycle + count]:
            cycle += 1
        out[cycle] = count
    return out


@pytest.mark.parametrize("stuck", [False, True], ids=["sound", "one stuck"])
@pytest.mark.parametrize("seed", range(1, 6))
def test_planted_slips_are_found_at_their_cycles(seed, stuck):
    rng = np.random.default_rng(seed)
    places = rng.permutation(np.arange(100, 9900, 70))
    inserted = {int(p): int(rng.integers(1, 8)) for p in places[:12]}
    missing = {int(p): int(rng.integers(1, 8)) for p in places[12:24]}
    good = program(10_000, seed)
    suspect, number = edited(good, inserted, missing)
    if stuck:
        suspect &= ~bit(3)
    start = int(np.flatnonzero(number >= 0)[5000])
    found = slips_of(followed(good, suspect, Places(int(number[start]), start)))
    assert {s.good_cycle: s.inserted for s in found if s.kind == "inserted"} == inserted
    assert {s.good_cycle: s.missing for s in found if s.kind == "missing"} == latest(good, missing)
    assert len(found) == 24


@pytest.mark.parametrize("fault", ["stuck", "three noisy", "one glitch in a hundred cycles"])
def test_nearly_every_cycle_is_paired_rightly_in_spite_of_faults(fault):
    good = program(100_000)
    rng = np.random.default_rng(4)
    waits = {int(p): int(rng.integers(1, 5)) for p in np.flatnonzero(rng.random(100_000) < 5e-4)}
    suspect, number = edited(good, waits, {})
    if fault == "stuck":
        suspect &= ~bit(3)
    elif fault == "three noisy":
        for signal in (3, 17, 30):
            suspect ^= (rng.random(len(suspect)) < 0.3).astype(np.uint64) << U(signal)
    else:
        hit = np.flatnonzero(rng.random(len(suspect)) < 0.01)
        suspect[hit] ^= U(1) << rng.integers(0, 46, len(hit), dtype=np.uint64)
    start = int(np.flatnonzero(number >= 0)[30_000])
    stretches = followed(good, suspect, Places(int(number[start]), start))
    twin = number >= 0
    right = partners(stretches, len(suspect))[twin] == number[twin]
    # a glitch hard by a slip makes those cycles unsure
    assert right.mean() >= (0.9995 if "glitch" in fault else 0.9999)
    assert "diverged" not in kinds(stretches)


@pytest.mark.parametrize("count", [1, 2, 3, 17, 63, 64, 65, 150, 200])
@pytest.mark.parametrize("side", ["inserted", "missing"])
def test_a_gap_of_any_length_is_bridged(count, side):
    good = program(3000, 7)
    suspect, _ = edited(good, *(({1500: count}, {}) if side == "inserted" else ({}, {1500: count})))
    stretches = followed(good, suspect, Places(0, 0))
    assert_tiled(stretches, 3000, len(suspect))
    (slip,) = slips_of(stretches)
    # a long gap is a stretch in which they part, whose first cycles stay paired to show how
    assert slip.inserted - slip.missing == (count if side == "inserted" else -count)
    assert abs(slip.good_cycle - 1500) <= 16


@pytest.mark.parametrize("cycle", [0, 1, 31, 1968, 1998, 1999])
def test_a_gap_at_either_end_spoils_nothing_else(cycle):
    good = program(2000, 3)
    suspect, _ = edited(good, {cycle: 3}, {})
    stretches = followed(good, suspect, Places(1000, 1003 if cycle < 1000 else 1000))
    assert_tiled(stretches, 2000, len(suspect))
    assert sum(s.good_stop - s.good_start for s in stretches if s.kind == "paired") >= 1960


def test_copies_of_a_held_word_are_inserted_as_late_as_they_may_be():
    good = program(500, 2)
    good[200:206] = good[200]
    suspect = np.insert(good, 203, [good[200]] * 2)
    (slip,) = slips_of(followed(good, suspect, Places(0, 0)))
    assert (slip.good_cycle, slip.suspect_cycle, slip.inserted) == (206, 206, 2)
    # from the other end the same
    (slip,) = slips_of(followed(good, suspect, Places(499, 501)))
    assert (slip.good_cycle, slip.inserted) == (206, 2)


def test_two_gaps_five_cycles_apart():
    good = program(1000, 2)
    suspect, _ = edited(good, {500: 2, 505: 1}, {})
    stretches = followed(good, suspect, Places(0, 0))
    assert [(s.good_cycle, s.inserted) for s in slips_of(stretches)] == [(500, 2), (505, 1)]


@pytest.mark.parametrize("apart", [8, 20, 40, 300])
def test_an_offset_that_comes_back(apart):
    good = program(2000, 2)
    suspect, _ = edited(good, {500: 2}, {500 + apart: 2})
    stretches = followed(good, suspect, Places(0, 0))
    assert [(s.kind, s.good_cycle) for s in slips_of(stretches)] == [("inserted", 500), ("missing", 500 + apart)]


def test_an_insertion_beside_a_loss_is_a_diverged_stretch():
    good = program(2000, 5)
    suspect = np.concatenate((good[:800], program(90, 99), good[920:]))
    stretches = followed(good, suspect, Places(0, 0))
    assert_tiled(stretches, 2000, len(suspect))
    (slip,) = slips_of(stretches)
    assert slip.kind == "diverged"
    # the first cycles of it stay paired and show which signal parts first
    assert (slip.good_cycle, slip.suspect_cycle) == (816, 816)
    assert (slip.inserted, slip.missing) == (90 - 16, 120 - 16)


def test_parting_for_good_is_one_diverged_stretch_to_the_end():
    good, other = program(40_000, 5), program(40_000, 6)
    suspect = np.concatenate((good[:15_000], other[15_000:]))
    stretches = followed(good, suspect, Places(10, 10))
    assert kinds(stretches) == ["paired", "diverged"]
    assert stretches[0].good_stop == 15_016


@pytest.mark.parametrize("from_cycle", [0, 900])
@pytest.mark.parametrize("fault", ["stuck", "inverted", "a cycle late", "copies another"])
def test_one_faulty_signal_is_no_slip(fault, from_cycle):
    good = program(2000, 8)
    suspect, later = good.copy(), slice(from_cycle, None)
    own = (good >> U(5)) & U(1)
    wrong = {
        "stuck": np.zeros(2000, np.uint64),
        "inverted": own ^ U(1),
        "a cycle late": np.append(own[:1], own[:-1]),
        "copies another": (good >> U(20)) & U(1),
    }[fault]
    suspect[later] = (good[later] & ~bit(5)) | wrong[later] << U(5)
    for live in (LIVE, U(0b111 << 4), U(0b11 << 5)):
        assert followed(good, suspect, Places(0, 0), live) == [Stretch("paired", 0, 2000, 0, 2000)]


def test_a_third_of_the_signals_failing_at_once_is_no_slip():
    good = program(3000, 8)
    suspect = good.copy()
    suspect[1000:] &= ~U((1 << 15) - 1)
    assert followed(good, suspect, Places(0, 0)) == [Stretch("paired", 0, 3000, 0, 3000)]


def test_signals_that_stand_still_leave_nothing_to_judge():
    still = np.full(500, 5, np.uint64)
    assert followed(still, still[:400], Places(0, 0)) == [Stretch("paired", 0, 400, 0, 400)]
    assert followed(program(100), program(100, 2), Places(0, 0), U(0)) == [Stretch("paired", 0, 100, 0, 100)]


@pytest.mark.parametrize("cycles", [1, 2, 10, 31, 33])
def test_a_few_cycles_pair_as_they_stand(cycles):
    good = program(cycles)
    assert followed(good, good, Places(0, 0)) == [Stretch("paired", 0, cycles, 0, cycles)]


def test_an_offset_below_nought_leaves_the_head_without_partner():
    good = program(1000, 3)
    assert followed(good, good[40:], Places(500, 460)) == [Stretch("paired", 40, 1000, 0, 960)]
    assert followed(good[40:], good, Places(460, 500)) == [Stretch("paired", 0, 960, 40, 1000)]


def test_undecided_states_judge_nothing():
    good = program(3000, 4)
    suspect, number = edited(good, {1200: 3}, {})
    rng = np.random.default_rng(1)
    doubt = np.where(rng.random(len(suspect)) < 0.1, LIVE, U(0))
    doubt |= (rng.random(len(suspect)) < 0.3).astype(np.uint64) << U(7)
    suspect ^= doubt & rng.integers(0, 1 << 46, len(suspect), dtype=np.uint64)
    stretches = follow(StateWords(good, None), StateWords(suspect, doubt), Places(0, 0), LIVE)
    twin = (number >= 0) & (doubt == 0)
    assert (partners(stretches, len(suspect))[twin] == number[twin]).mean() > 0.99
    assert [(s.inserted, s.missing) for s in slips_of(stretches)] == [(3, 0)]


@settings(max_examples=25)
@given(st.integers(1, 1000), edits)
def test_exchanging_the_sides_exchanges_inserted_and_missing(seed, inserted):
    good = program(2000, seed)
    suspect, _ = edited(good, inserted, {})
    there, back = followed(good, suspect, Places(0, 0)), followed(suspect, good, Places(0, 0))
    turned = {"inserted": "missing", "missing": "inserted"}
    assert [(turned.get(s.kind, s.kind), s.suspect_stop, s.good_stop) for s in there] == [
        (s.kind, s.good_stop, s.suspect_stop) for s in back
    ]


@settings(max_examples=25)
@given(st.integers(1, 1000), edits, st.integers(0, 35))
def test_where_the_walk_begins_changes_nothing(seed, inserted, start):
    good = program(2000, seed)
    suspect, number = edited(good, inserted, {})
    last = int(np.flatnonzero(number >= 0)[-1])
    assert followed(good, suspect, Places(start, start)) == followed(good, suspect, Places(int(number[last]), last))


def test_a_bad_end_shorter_than_a_window_is_followed_too() -> None:
    # one signal wrong now and then, then everything in the last twenty cycles, and the suspect goes on for longer
    good = program(1200)
    suspect = np.append(good, program(5, seed=2))
    suspect[10:1145:28] ^= bit(3)
    suspect[1180:] = ~suspect[1180:] & LIVE
    assert_tiled(followed(good, suspect, Places(0, 0)), len(good), len(suspect))


@pytest.mark.parametrize("fault", ["stuck", "inverted"])
@pytest.mark.parametrize("signals", [12, 46])
@pytest.mark.parametrize("behind", [0, 3, 11, 40, 70, 142, 240])
def test_a_slip_soon_after_a_fault_began_is_no_parting(fault, signals, behind):
    """The faulty signal spoils every word from there on, and has not been wrong for long enough to be known."""
    live = U((1 << signals) - 1)
    good = program(4000, 11, signals)
    suspect, number = edited(good, {1000 + behind: 3, 2000: 1}, {})
    suspect &= live
    spoilt = suspect | U(8) if fault == "stuck" else suspect ^ U(8)
    suspect = np.where(np.arange(len(suspect)) < 1000, suspect, spoilt)
    stretches = followed(good, suspect, Places(0, 0), live)
    found = slips_of(stretches)
    assert [s.inserted - s.missing for s in found] == [3, 1]
    twin = number >= 0
    assert (partners(stretches, len(suspect))[twin] == number[twin]).mean() > 0.99


def test_unsure_cycles_before_a_stretch_that_is_apart_do_not_make_it_unsure() -> None:
    parted = [Stretch("paired", 0, 90, 0, 90), Stretch("unsure", 90, 93, 90, 92), Stretch("diverged", 93, 200, 92, 198)]
    assert kinds(_kinds_told(parted)) == ["paired", "diverged"]
    few = [Stretch("paired", 0, 90, 0, 90), Stretch("unsure", 90, 93, 90, 92), Stretch("missing", 93, 95, 92, 92)]
    assert kinds(_kinds_told(few)) == ["paired", "unsure"]
    # where the walk gave up nothing is settled
    lost = [
        Stretch("paired", 0, 90, 0, 90),
        Stretch("unsure", 90, 900, 90, 900),
        Stretch("diverged", 900, 920, 900, 930),
    ]
    assert kinds(_kinds_told(lost)) == ["paired", "unsure"]
