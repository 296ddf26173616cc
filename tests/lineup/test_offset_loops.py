"""Captures of a loop that is nearly as long as they are: known modulo its length, and never wrong about the board."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.lineup.planted import machine as pass_machine
from tests.lineup.planted import waits
from tests.lineup.test_lineup import lined_up, machine
from tests.machine.bench import draw_loop
from tracecore.comparison import CompareRequest, compare
from tracecore.lineup.explained import Explained
from tracecore.lineup.rivals import choose


@pytest.mark.parametrize("turned", [False, True])
def test_a_loop_seen_little_more_than_once_is_known_modulo_its_length(turned: bool) -> None:
    whole = np.tile(machine(12, 424, 3), (1, 4))
    good, suspect = whole[:, 100:620], whole[:, 187:720]
    if turned:
        good, suspect = suspect, good
    found = lined_up(good, suspect)
    assert found.offset_cycles == (87 if turned else -87)
    assert found.status == "ambiguous"
    assert "modulo 424" in found.reason
    # whichever turn it is, all agrees
    assert found.may_clear
    assert found.rivals_alike


def test_a_loop_longer_than_its_captures_is_known_modulo_its_length_where_another_turn_agrees() -> None:
    # the right turn leaves 44 cycles to both, another one 381
    pair = draw_loop(91070)
    found = compare(CompareRequest((pair.good,), (pair.suspect,), clock=pair.clock))
    assert not pair.right(found.lineup.offset_cycles)
    assert found.lineup.sure == "doubtful"
    assert found.lineup.status == "ambiguous"
    assert [r.offset_cycles for r in found.lineup.rivals] == [pair.offset_cycles]
    assert "modulo 689" in found.lineup.reason


def test_a_start_in_common_is_no_turn_of_a_loop() -> None:
    whole = np.concatenate((np.repeat(machine(12, 1, 3), 20, axis=1), machine(12, 600, 5)), axis=1)
    whole[:, 560:600] = whole[:, 20:60]
    found = lined_up(whole[:, :600], whole[:, 8:])
    assert (found.offset_cycles, found.status, found.sure) == (-8, "unique", "certain")


def test_a_fault_in_such_a_loop_is_compared_all_the_same() -> None:
    whole = np.tile(machine(12, 424, 3), (1, 4))
    suspect = whole[:, 187:720].copy()
    suspect[4] = 1
    found = lined_up(whole[:, 100:620], suspect)
    assert (found.offset_cycles, found.status) == (-87, "ambiguous")
    assert not found.may_clear
    assert found.rivals_alike


def test_a_stretch_that_comes_twice_in_a_longer_one_is_no_loop() -> None:
    whole = machine(12, 900, 5)
    whole[:, 500:560] = whole[:, 100:160]
    found = lined_up(whole[:, :800], whole[:, 50:850])
    assert (found.offset_cycles, found.status) == (-50, "unique")


@pytest.mark.parametrize("seed", [60244, 60320, 61301, 61362, 61371, 91105])
def test_where_another_turn_agrees_throughout_a_sound_board_is_not_accused(seed: int) -> None:
    pair = draw_loop(seed)
    found = compare(CompareRequest((pair.good,), (pair.suspect,), clock=pair.clock))
    assert found.outcome.word == "cannot tell"
    assert not found.lineup.may_clear


def test_a_fault_that_shows_from_the_start_is_not_explained_away_by_another_turn() -> None:
    whole = np.tile(machine(8, 60, 3), (1, 20))
    counter = np.array([(np.arange(1200) // 60 >> bit) & 1 for bit in range(4)], np.uint8)
    whole = np.concatenate((whole, counter))
    suspect = whole[:, 70:1070].copy()
    suspect[3, ::7] ^= 1
    found = lined_up(whole[:, :1000], suspect)
    assert found.offset_cycles == -70
    assert not found.may_clear


def test_another_pass_through_the_same_steps_is_doubted_where_more_agrees_later() -> None:
    pair = waits(pass_machine(900, 20, 3), {200: 2, 400: 3, 600: 1})
    good, suspect = pair.good[180:].T, pair.suspect[180:].T
    found = lined_up(np.ascontiguousarray(good), np.ascontiguousarray(suspect))
    assert found.offset_cycles in range(7) or (found.sure == "doubtful" and found.rivals)


def looping(offset: int = 9) -> tuple[np.ndarray, np.ndarray]:
    """Both sides in reset, then a way of their own into a loop of 60 cycles: as many signals as turns weigh much."""
    program = np.concatenate((machine(60, 20, 5), np.tile(machine(60, 60, 3), (1, 10))), axis=1)
    still = np.repeat(program[:, :1], 40, axis=1)
    whole = np.concatenate((still, program), axis=1)
    return whole[:, :500], whole[:, offset : 520 + offset].copy()


@pytest.mark.parametrize("turned", [False, True])
def test_a_way_into_a_loop_tells_its_turns_apart(turned: bool) -> None:
    good, suspect = looping()
    if turned:
        good, suspect = suspect, good
    found = lined_up(good, suspect)
    assert (found.offset_cycles, found.sure) == (9 if turned else -9, "certain")
    assert found.may_clear


def test_a_turn_is_heard_where_the_way_into_the_loop_was_not_captured_on_both_sides() -> None:
    good, suspect = looping()
    found = lined_up(good, suspect[:, 200:])
    assert (found.offset_cycles + 209) % 60 == 0
    assert found.sure == "doubtful"


def test_another_turn_that_hides_a_board_that_went_wrong_at_its_start_clears_nothing() -> None:
    good, suspect = looping(150)
    # in the first cycles many signals are wrong, and one turn on these are outside what both captures share
    suspect[:, :50] ^= np.random.default_rng(2).integers(0, 2, (60, 50)).astype(np.uint8)
    found = lined_up(good, suspect)
    assert not found.may_clear


@pytest.mark.parametrize("at", [150, 300, 497])
def test_a_cycle_that_is_wrong_in_every_turn_is_no_other_turn(at: int) -> None:
    whole = np.tile(machine(12, 60, 3), (1, 12))
    suspect = whole[:, 70:570].copy()
    suspect[3, at] ^= 1
    found = lined_up(whole[:, 40:540], suspect)
    assert not found.may_clear
    offset = found.offset_cycles
    assert suspect[3, at] != whole[3, 40 + at - offset]


def test_a_release_that_both_show_once_is_believed_before_a_turn_that_agrees_from_behind_it_on() -> None:
    turn = Explained(116, 1172.0, 1189.0, start=429, parts=None, overlap=683, faulty=(1, 38, 53))
    release = Explained(12, 655.0, 656.0, start=0, parts=105, overlap=787, begins=16)
    choice = choose((turn, release), 799)
    assert choice is not None
    assert choice.taken is release
    # the other explains more, so that nothing sure is said
    assert choice.chance < 0.5
    for other in (replace(release, faulty=(2,)), replace(release, bits=400.0), replace(release, start=16)):
        found = choose((turn, other), 799)
        assert found is not None
        assert found.taken is turn


def test_a_release_that_both_show_once_is_believed_before_a_start_from_standing_still() -> None:
    release = Explained(34, 35.2, 37.7, start=0, parts=9, overlap=662, begins=6)
    still = Explained(35, 15.9, 4.4, start=4, parts=5, overlap=662, common=True, begins=5)
    choice = choose((release, still), 662)
    assert choice is not None
    assert choice.taken is release
    late = choose((replace(release, begins=None), still), 662)
    assert late is not None
    assert late.taken is still


def test_a_release_that_both_show_once_is_believed_before_a_first_move_with_nothing_behind_it() -> None:
    still = Explained(1, 13.9, 0.01, start=9, parts=10, overlap=778, common=True, begins=10)
    release = Explained(29, 6.8, 9.1, start=0, parts=10, overlap=750, begins=10)
    for other, taken in (
        (release, release),
        (replace(release, begins=None), still),
        (replace(release, bits=7.0), still),
    ):
        choice = choose((still, other), 750)
        assert choice is not None
        assert choice.taken is taken
