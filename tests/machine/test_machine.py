"""The invented machine runs its programs, a fault is on its net, and what is drawn is what is captured."""

from __future__ import annotations

import random

import numpy as np
import pytest

from tests.machine.bench import LEAD, draw, draw_clean, draw_in_reset, draw_loop
from tests.machine.board import AT, NETS, Board, Setting
from tests.machine.faults import KINDS, Fault
from tests.machine.program import OPCODES, ROM_BYTES, random_program
from tracecore.capture import UNKNOWN
from tracecore.measure.clock import active_edges_ps, cycle_states


def run(code: list[int], cycles: int, fault: Fault | None = None, power: int = 0) -> tuple[Board, np.ndarray]:
    board = Board(bytes(code).ljust(ROM_BYTES, b"\0"), Setting(4, power), fault, 1)
    return board, board.run(cycles)


def op(name: str) -> int:
    return OPCODES.index(name) << 4


def test_a_small_program_counts_down_and_stores():
    # acc = 5; store it at 200; x = 3; count down to nought; acc = 9
    code = [op("LDI"), 5, op("STA"), 200, op("LDX"), 3, op("DEX"), op("JNZ"), 6, op("LDI"), 9, op("JMP"), 9]
    board, levels = run(code, 160)
    assert board.memory[200] == 5
    assert (board.acc, board.x) == (9, 0)
    # a counted loop of three turns
    assert (np.diff(levels[:, AT["DOWN"]].astype(int)) == 1).sum() == 3


@pytest.mark.parametrize("kind", KINDS)
def test_a_fault_shows_on_its_own_net_or_behind_it(kind):
    code = list(random_program(random.Random(4)))
    fault = Fault(kind, "BUS2", other="BUS5", share=0.2)
    sound, faulty = run(code, 300)[1], run(code, 300, fault)[1]
    differ = (sound != faulty).any(0)
    assert differ[AT["BUS2"]] or kind in ("open input", "late")
    assert differ.any() or kind == "late"
    if kind.startswith("stuck"):
        assert set(faulty[:, AT["BUS2"]].tolist()) == {int(kind == "stuck high")}
    if kind == "bridged and":
        assert (faulty[:, AT["BUS2"]] == faulty[:, AT["BUS5"]]).all()


def test_what_comes_up_at_random_is_forgotten_by_the_reset_in_part_alone():
    code = list(random_program(random.Random(4)))
    one, other = run(code, 300, power=1)[1], run(code, 300, power=2)[1]
    counter = [AT[f"PC{i}"] for i in range(8)]
    assert (one[4:8, counter] == other[4:8, counter]).all()
    assert (one != other).any()


def test_captures_hold_the_states_that_were_drawn():
    pair = draw_clean(5, start="reset", cycles=700)
    for capture, levels in zip((pair.good, pair.suspect), pair.levels, strict=True):
        edges = active_edges_ps(capture.digital[pair.clock], "rising")
        for i, name in enumerate(pair.names):
            seen = cycle_states(capture.digital[name], edges, capture.resolution_ps)
            count = min(len(seen), levels.shape[1])
            known = seen[:count] != UNKNOWN
            assert (seen[:count] == levels[i, :count])[known].all()
            # a net as quick as one sample may be read while it moves
            assert known.mean() > 0.8
            assert abs(len(seen) - levels.shape[1]) <= 1
    overlap = pair.levels[0].shape[1] - max(0, -pair.offset_cycles)
    good, suspect = pair.levels
    first = max(0, -pair.offset_cycles)
    count = min(overlap, suspect.shape[1] - first - pair.offset_cycles)
    assert (
        good[:, first : first + count] == suspect[:, first + pair.offset_cycles : first + pair.offset_cycles + count]
    ).all()


def test_draws_hang_on_the_seed_alone_and_say_when_a_fault_shows():
    one, again = draw(12, "stuck low"), draw(12, "stuck low")
    assert one is not None
    assert again is not None
    assert (one.fault, one.shows, one.names) == (again.fault, again.shows, again.names)
    assert all((a == b).all() for a, b in zip(one.levels, again.levels, strict=True))
    assert one.shows is not None
    assert one.shows >= -LEAD


def test_a_tight_loop_repeats_and_a_board_in_reset_stays_there():
    loop = draw_loop(3, cycles=700).levels[0]
    assert any((loop[:, p:] == loop[:, :-p]).mean() > 0.85 for p in range(3, 300))
    held = draw_in_reset(3, cycles=700)
    counter = [i for i, n in enumerate(held.names) if n.startswith("PC")]
    assert not held.levels[1][counter].any()
    assert set(NETS) >= set(held.names)
