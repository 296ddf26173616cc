"""States that the good side never shows: told with where and how likely by chance, in the captures' own numbers."""

from __future__ import annotations

import numpy as np
import pytest

from tests.lineup.planted import machine, waits
from tracecore.lineup.follower import Stretch
from tracecore.lineup.lineup import find_lineup
from tracecore.lineup.unseen import UnseenState, unseen_states

STRETCHES = [Stretch("paired", 0, 400, 0, 400), Stretch("inserted", 400, 400, 400, 404)]
STRETCHES += [Stretch("paired", 400, 600, 404, 604), Stretch("inserted", 600, 600, 604, 606)]
STRETCHES += [Stretch("paired", 600, 996, 606, 1002)]


def test_a_state_is_told_with_where_and_how_often_it_begins() -> None:
    good, suspect = np.zeros((3, 996), np.uint8), np.zeros((3, 1002), np.uint8)
    good[1, ::2] = suspect[1, ::2] = 1
    suspect[2, [401, 402, 605]] = 1
    # four states are asked for that the good side never shows: one each of the still signals; signal 1 shows both
    chance = 2 * (6 / 1002) ** 2
    found = unseen_states(good, suspect, ("A", "B", "C"), STRETCHES)
    assert found == (UnseenState("C", 1, 3, 2, 401, chance),)
    assert found[0].tells


def test_once_in_a_short_capture_is_chance() -> None:
    good, suspect = np.zeros((2, 100), np.uint8), np.zeros((2, 110), np.uint8)
    suspect[0, 95] = 1
    (found,) = unseen_states(good, suspect, ("A", "B"), [Stretch("inserted", 90, 90, 90, 100)])
    assert (found.cycles, found.times) == (1, 1)
    assert not found.tells


def test_what_the_good_side_shows_or_what_is_undecided_is_nothing() -> None:
    good, suspect = np.zeros((2, 996), np.uint8), np.zeros((2, 1002), np.uint8)
    good[0, 900] = 1
    suspect[0, 401] = 1
    suspect[1, 401] = 2
    assert unseen_states(good, suspect, ("A", "B"), STRETCHES) == ()
    assert unseen_states(good, suspect, ("A", "B"), STRETCHES[:1]) == ()


@pytest.mark.parametrize("rate", [0.0, 0.3])
def test_sound_machines_that_wait_show_nothing_new(rate: float) -> None:
    rng = np.random.default_rng(1)
    for seed in range(5):
        pair = waits(machine(700, 20, seed), {int(at): 2 for at in rng.permutation(np.arange(20, 680, 30))[:5]})
        # a signal that seldom is high, on both sides alike
        seldom = [(rng.random(len(side)) < rate * 0.01).astype(np.uint8)[:, None] for side in (pair.good, pair.suspect)]
        good, suspect = (np.hstack((s, x)).T for s, x in zip((pair.good, pair.suspect), seldom, strict=True))
        found = unseen_states(good, suspect, tuple(map(str, range(21))), pair.followed())
        assert not any(u.tells for u in found)


def test_a_line_up_tells_what_its_inserted_cycles_show_in_the_captures_own_numbers() -> None:
    pair = waits(machine(900, 20, 5), {200: 2, 400: 3, 600: 1})
    more = [np.zeros((len(side), 2), np.uint8) for side in (pair.good, pair.suspect)]
    # a line that says wait, and one that tells cycles to leave out
    more[1][:, 0] = pair.twin < 0
    for side in more:
        side[: len(side) // 5, 1] = 1
    good, suspect = (np.hstack((own, x)).T.copy() for own, x in zip((pair.good, pair.suspect), more, strict=True))
    edges = [np.arange(side.shape[1] + 1, dtype=np.int64) * 1000 for side in (good, suspect)]
    names = (*map(str, range(20)), "WAIT", "HEAD")
    for left_out in (None, (good[21] == 1, suspect[21] == 1)):
        found = find_lineup("CLK", "rising", *edges, good, suspect, names, left_out=left_out)
        (told,) = (u for u in found.unseen if u.signal == "WAIT")
        assert (told.state, told.cycles, told.times, told.first_cycle) == (1, 6, 3, 201)
        assert told.tells
        assert all(side.closes for side in found.coverage)
