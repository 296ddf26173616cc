"""The offset on a machine as hard as a real board: found, refused, doubted; its laws; and words that hold."""

from __future__ import annotations

import os
from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.lineup.test_lineup import PERIOD, lined_up, machine
from tests.machine.bench import MachinePair, draw, draw_any, draw_clean, draw_in_reset, draw_loop, draw_unrelated
from tests.machine.faults import KINDS
from tests.thinned import thinned
from tracecore.lineup.explained import ANY_START, SAME_START
from tracecore.lineup.lineup import Lineup, find_lineup
from tracecore.lineup.offset import telling
from tracecore.lineup.worth import REPEATED, novelty


def found_in(pair: MachinePair, *, same_start: bool = False, offset: int | None = None) -> Lineup:
    """By the states alone, which is quicker than through both instruments."""
    edges = [np.arange(s.shape[1] + 1, dtype=np.int64) * PERIOD for s in pair.levels]
    return find_lineup("CLK", "rising", *edges, *pair.levels, pair.names, offset, same_start=same_start)


@pytest.mark.parametrize("kind", thinned(KINDS))
def test_from_the_reset_on_a_fault_does_not_move_the_offset(kind):
    for seed in (1, 3, 5):
        pair = draw(seed, kind, start="reset", cycles=500, waits=False)
        if pair is None or "RESET" not in pair.names:
            continue
        found = found_in(pair)
        # a board that goes wrong at once may be refused, but no wrong offset is told
        assert not found or found.offset_cycles == pair.offset_cycles


@pytest.mark.parametrize("seed", [1, 3, 5, 7])
def test_two_sound_boards_line_up_for_certain(seed):
    pair = draw_clean(seed, cycles=500)
    found = found_in(pair)
    assert (found.offset_cycles, found.sure) == (pair.offset_cycles, "certain")
    assert found.may_clear


@pytest.mark.parametrize("seed", [1, 3, 5])
def test_a_tight_loop_is_never_certain_and_its_rivals_are_one_period_apart(seed):
    pair = draw_loop(seed, cycles=700)
    found = found_in(pair)
    if found.sure == "certain":
        # where a counter tells the turns apart the offset is known
        assert found.offset_cycles == pair.offset_cycles
    elif found.status == "ambiguous":
        step = min(abs(r.offset_cycles - found.offset_cycles) for r in found.rivals)
        assert f"modulo {step}" in found.reason


@pytest.mark.parametrize("seed", [1, 3, 5, 7])
def test_another_program_is_no_certain_line_up_and_is_told_what_to_do(seed):
    found = found_in(draw_unrelated(seed, start="running", cycles=700))
    assert found.sure != "certain"
    assert not found.may_clear
    assert "apture" in found.reason


@pytest.mark.parametrize("seed", [1, 3])
def test_a_board_that_is_held_in_reset_is_said_to_be(seed):
    found = found_in(draw_in_reset(seed, cycles=600))
    assert not found
    assert "reset" in found.reason


def test_the_same_start_is_believed_unless_much_speaks_against_it():
    assert SAME_START.of(0) == ANY_START.of(0) == 0
    assert SAME_START.of(100) > 4 * ANY_START.of(100)
    loop = np.tile(machine(6, 60, 4), (1, 12))
    edges = [np.arange(loop.shape[1] + 1 - by, dtype=np.int64) * PERIOD for by in (0, 7)]
    names = tuple(f"S{i}" for i in range(6))
    alike = find_lineup("CLK", "rising", *edges, loop, loop[:, 7:], names, same_start=True)
    # seven cycles apart by the loop's phase, and no turn more
    assert alike.offset_cycles == -7
    whole = machine(8, 1500, 3)
    edges = [np.arange(1301, dtype=np.int64) * PERIOD for _ in range(2)]
    names = tuple(f"S{i}" for i in range(8))
    far = find_lineup("CLK", "rising", *edges, whole[:, 200:], whole[:, :1300], names, same_start=True)
    assert (far.offset_cycles, far.sure) == (200, "certain")
    no = find_lineup("CLK", "rising", *edges, whole[:, 200:], machine(8, 1300, 9), names, same_start=True)
    assert "say so" not in no.reason


def test_advice_is_never_what_was_done_already():
    pair = draw_unrelated(3, start="running", cycles=600)
    assert "and say so" in found_in(pair).reason
    assert "and say so" not in found_in(pair, same_start=True).reason
    by_hand = found_in(pair, offset=4)
    assert "by hand if" not in by_hand.reason
    assert "Set the offset" not in by_hand.reason


def test_what_a_side_said_before_is_worth_little():
    once = np.arange(50, dtype=np.uint64)
    twice = np.concatenate((once, once))
    good, suspect = novelty(twice, once)
    assert good[:50].tolist() == [1.0] * 50
    assert good[50:].tolist() == pytest.approx([REPEATED] * 50)
    assert suspect.tolist() == [0.5] * 50


seeds = st.integers(0, 10_000).map(lambda n: 2 * n + 1)


@settings(max_examples=6)
@given(seeds)
def test_exchanging_the_sides_turns_the_offset_round(seed):
    pair = draw_clean(seed, cycles=300)
    there = lined_up(*pair.levels)
    back = lined_up(*pair.levels[::-1])
    assert (there.offset_cycles, there.sure) == (-back.offset_cycles, back.sure)


@settings(max_examples=6)
@given(seeds, st.integers(1, 40))
def test_shifting_a_capture_shifts_the_offset(seed, by):
    pair = draw_clean(seed, start="running", cycles=300)
    good, suspect = pair.levels
    one, other = lined_up(good, suspect), lined_up(good[:, by:], suspect)
    if {one.sure, other.sure} <= {"certain", "likely"}:
        assert other.offset_cycles == one.offset_cycles + by


@settings(max_examples=6)
@given(seeds)
def test_more_signals_never_make_a_right_offset_wrong(seed):
    pair = draw_any(seed, start="reset", cycles=300, waits=False)
    if pair is None:
        return
    few = [row[:: max(1, len(row) // 12)] for row in pair.levels]
    fewer, all_of_them = lined_up(*few), lined_up(*pair.levels)
    if fewer.sure == "certain" and fewer.offset_cycles == pair.offset_cycles:
        assert not all_of_them or all_of_them.offset_cycles == pair.offset_cycles or all_of_them.sure == "doubtful"


@pytest.mark.long
def test_certain_is_right_in_ninety_nine_of_a_hundred():
    count = int(os.environ.get("TWINSLOT_LONG_EXAMPLES", "200"))
    told: Counter[tuple[str, bool]] = Counter()
    for seed in range(50_001, 50_001 + 2 * count, 2):
        pair = draw_any(seed, cycles=800)
        if pair is not None and (found := found_in(pair)):
            told[found.sure, pair.right(found.offset_cycles)] += 1
    certain = told["certain", True] + told["certain", False]
    # one in a hundred, and as many more as chance adds in twenty runs
    assert told["certain", False] <= 0.01 * certain + 2 * np.sqrt(0.01 * certain) + 1


def test_of_many_signals_one_that_moves_once_is_kept() -> None:
    rng = np.random.default_rng(4)
    states = rng.integers(0, 2, (80, 300)).astype(np.uint8)
    states[33] = np.arange(300) >= 40
    states[34] = (np.arange(300) // 50) % 2
    kept = telling(states, states[:, 10:], np.arange(80))
    assert len(kept) == 64
    assert 33 in kept
    assert 34 not in kept
