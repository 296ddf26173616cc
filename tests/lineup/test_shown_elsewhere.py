"""Cycles of one side alone that the other shows at another place, and those that it shows nowhere."""

from __future__ import annotations

import numpy as np
import pytest

from tests.notices.recipes import board, compared
from tracecore.capture import UNKNOWN, UInt8
from tracecore.comparison import Comparison
from tracecore.lineup.follower import Stretch
from tracecore.lineup.shown_elsewhere import shown_nowhere
from tracecore.outcome import Reason

SIGNALS, MAIN, ROUTINE = 8, 700, 40


def drawn(seed: int) -> tuple[UInt8, UInt8, np.random.Generator]:
    """What the main program shows and what an interrupt's routine does."""
    rng = np.random.default_rng(seed)
    main, routine = (rng.integers(0, 2, (SIGNALS, count)).astype(np.uint8) for count in (MAIN, ROUTINE))
    return main, routine, rng


def interrupted(main: UInt8, routine: UInt8, at: int) -> UInt8:
    return np.concatenate((main[:, :at], routine, main[:, at:]), axis=1)


def answer(seed: int, wrong: int | None) -> Comparison:
    """The routine runs at another cycle in each of two known-good captures and of the suspect, which has a wrong state
    in one cycle of it."""
    main, routine, rng = drawn(seed)
    places = rng.choice(np.arange(60, MAIN - 60, 3), 3, replace=False)
    of_suspect = routine.copy()
    if wrong is not None:
        of_suspect[rng.integers(SIGNALS), wrong] ^= 1
    good, other = (
        board(interrupted(main, routine, at), name) for at, name in zip(places, ("north", "north 2"), strict=False)
    )
    suspect = board(interrupted(main, of_suspect, places[2]), "south", samples=13, step_ps=19_000)
    return compared((good, other), suspect)


@pytest.mark.parametrize("seed", range(4))
def test_a_routine_that_runs_alike_at_another_place_is_no_doubt(seed: int) -> None:
    found = answer(seed, None)
    assert found.outcome.word == "agrees"
    assert "these cycles were not compared one by one" in found.outcome.text


@pytest.mark.parametrize("wrong", [0, 3, 20, ROUTINE - 1])
def test_a_fault_in_the_routine_alone_never_agrees(wrong: int) -> None:
    found = answer(10 + wrong, wrong)
    assert (found.outcome.word, found.outcome.reason) == ("cannot tell", Reason.SLIPS_UNKNOWN)
    assert "shown nowhere by the other side" in found.outcome.text


def test_a_routine_that_the_suspect_never_runs_does_not_agree() -> None:
    main, routine, _ = drawn(5)
    good, other = (board(interrupted(main, routine, at), name) for at, name in ((200, "north"), (350, "north 2")))
    found = compared((good, other), board(main, "south"))
    assert found.lineup.shown_nowhere[0] > ROUTINE // 2
    assert found.outcome.word == "cannot tell"


def test_a_loop_that_turns_longer_is_shown_elsewhere() -> None:
    main, loop, _ = drawn(6)
    loop = loop[:, :12]
    good = np.concatenate((main[:, :300], *[loop] * 3, main[:, 300:]), axis=1)
    suspect = np.concatenate((main[:, :300], *[loop] * 9, main[:, 300:]), axis=1)
    assert shown_nowhere(good, suspect, [Stretch("inserted", 336, 336, 336, 408)]) == (0, 0)
    assert shown_nowhere(suspect, good, [Stretch("missing", 336, 408, 336, 336)]) == (0, 0)


def test_waits_and_a_few_cycles_are_nothing_to_compare_and_undecided_states_agree() -> None:
    main, routine, _ = drawn(7)
    waits = np.repeat(main[:, 299:300], 20, axis=1)
    suspect = np.concatenate((main[:, :300], waits, main[:, 300:]), axis=1)
    assert shown_nowhere(main, suspect, [Stretch("inserted", 300, 300, 300, 320)]) == (0, 0)
    suspect = interrupted(main, routine, 300)
    assert shown_nowhere(main, suspect, [Stretch("inserted", 300, 300, 300, 340)]) == (0, 40)
    assert shown_nowhere(main, suspect, [Stretch("inserted", 300, 300, 300, 304)]) == (0, 0)
    good = interrupted(main, routine, 500)
    good[2, 505:530] = UNKNOWN
    assert shown_nowhere(good, suspect, [Stretch("inserted", 300, 300, 300, 340)]) == (0, 0)
