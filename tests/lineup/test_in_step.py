"""Stretches of as many cycles on both sides: a fault that heals stays paired, a slip taken back accuses nobody."""

from __future__ import annotations

import numpy as np
import pytest

from tests.lineup.planted import Planted, machine, waits
from tests.netlist import CLOCK, make_case
from tracecore.comparison import CompareRequest, compare


@pytest.mark.parametrize("cycles", [5, 9, 20, 40])
def test_a_fault_that_spreads_through_half_the_signals_and_heals_is_no_slip(cycles: int) -> None:
    for seed in range(3):
        base = machine(1500, 32, seed)
        suspect = base.copy()
        rng = np.random.default_rng(seed)
        hit = rng.permutation(32)[:16]
        suspect[700 : 700 + cycles, hit] = rng.integers(0, 2, (cycles, 16))
        stretches = Planted(base, suspect, np.arange(1500)).followed()
        assert [s.kind for s in stretches] == ["paired"], seed


@pytest.mark.parametrize(("apart", "more"), [(4, 2), (8, 2), (14, 2), (30, 2), (30, 20), (90, 20), (90, 6)])
def test_a_slip_that_another_takes_back_accuses_no_signal(apart: int, more: int) -> None:
    for seed in range(3):
        pair = waits(machine(1500, 32, seed), {700: more, 700 + apart: -more})
        stretches = pair.followed()
        assert pair.accused(stretches) == set(), seed
        assert any(s.kind != "paired" for s in stretches)


@pytest.mark.parametrize("number", [7001, 7003])
def test_a_net_that_fails_now_and_then_is_told_though_half_the_board_follows_it(number: int) -> None:
    case = make_case("intermittent", number, 250)
    assert case is not None
    found = compare(CompareRequest((case.good,), (case.suspect,), clock=CLOCK, offset=0))
    verdicts = {s.signal: s.verdict for s in found.signals}
    assert {verdicts[net] for net in case.truth} == {"diverges"}
    assert found.causes
    assert found.lineup.matched_cycles == 250
