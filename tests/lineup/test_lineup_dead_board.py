"""A board so wrong that no two cycles are alike gets a sentence, and no crash."""

from __future__ import annotations

import numpy as np
import pytest

from tests.netlist import make_case
from tests.thinned import thinned
from tracecore.comparison import CompareRequest, compare
from tracecore.lineup.lineup import find_lineup


@pytest.mark.parametrize("number", thinned([20, 21, 22, 23, 24]))
@pytest.mark.parametrize("kind", ["stuck high", "stuck low", "bridged"])
def test_any_netlist_fault_is_answered_without_an_offset(kind: str, number: int) -> None:
    case = make_case(kind, number, 400)
    if case is None:
        pytest.skip("this draw has no such fault")
    found = compare(CompareRequest((case.good,), (case.suspect,)))
    assert found.lineup.reason
    assert bool(found.lineup) == bool(found.lineup.runs)


@pytest.mark.parametrize("release", [True, False])
def test_a_board_that_is_wrong_from_its_first_step_lines_up_by_the_release_alone(release: bool) -> None:
    rng = np.random.default_rng(4)
    sides = []
    for held in (30, 50):
        rows = rng.integers(0, 2, (24, 600)).astype(np.uint8)
        rows[:, :held] = rng.integers(0, 2, (24, 1))
        rows[0, :held], rows[0, held:] = 0, 1
        sides.append(rows if release else rows[1:])
    # half of the nets come right with the release, for a cycle
    sides[1][:12, 50:52] = sides[0][:12, 30:32]
    edges = [np.arange(601, dtype=np.int64) * 1_000_000] * 2
    names = tuple(f"S{i}" for i in range(len(sides[0])))
    found = find_lineup("CLK", "rising", *edges, *sides, names)
    assert bool(found) == release
    if release:
        assert found.offset_cycles == 20
        assert found.confidence < 0.9
        assert found.matched_cycles < 10
