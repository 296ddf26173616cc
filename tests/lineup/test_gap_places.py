"""Where a gap lies is asked of all signals, also of those that the captures are not followed by."""

from __future__ import annotations

import numpy as np
import pytest

from tracecore.lineup.follower import Stretch
from tracecore.lineup.gap_places import gaps_placed


def differences(good: np.ndarray, suspect: np.ndarray, stretches: list[Stretch]) -> int:
    """How many states of paired cycles differ."""
    paired = [s for s in stretches if s.kind == "paired"]
    return sum(
        int((good[:, s.good_start : s.good_stop] != suspect[:, s.suspect_start : s.suspect_stop]).sum()) for s in paired
    )


@pytest.mark.parametrize("kind", ["inserted", "missing"])
def test_a_gap_in_a_wait_goes_where_the_line_that_ends_it_agrees(kind: str) -> None:
    rng = np.random.default_rng(5)
    going_on = rng.integers(0, 2, (80, 120)).astype(np.uint8)
    waiting = np.repeat(going_on[:, 60:61], 4, axis=1)
    long = np.concatenate([going_on[:, :60], waiting, going_on[:, 60:]], axis=1)
    # the last row is low in the last cycle of the wait alone: it ends it
    long[79] = 1
    long[79, 64] = 0
    short = np.delete(long, 61, axis=1)
    good, suspect = (short, long) if kind == "inserted" else (long, short)
    a, b = (0, 1) if kind == "inserted" else (1, 0)
    # followed by the other signals the gap may lie behind the wait
    at = 64
    found = [
        Stretch("paired", 0, at, 0, at),
        Stretch(kind, at, at + a, at, at + b),  # type: ignore[arg-type]
        Stretch("paired", at + a, good.shape[1], at + b, suspect.shape[1]),
    ]
    assert differences(good, suspect, found) == 1
    placed = gaps_placed(found, good, suspect, np.ones(80, np.bool_))
    assert differences(good, suspect, placed) == 0
    assert [s.kind for s in placed] == ["paired", kind, "paired"]
    assert placed[0][1:] == (0, placed[1].good_start, 0, placed[1].suspect_start)
    assert placed[2][1:] == (placed[1].good_stop, good.shape[1], placed[1].suspect_stop, suspect.shape[1])


@pytest.mark.parametrize("seed", range(12))
def test_the_place_is_the_best_of_all_that_are_in_reach(seed: int) -> None:
    rng = np.random.default_rng(seed)
    good = rng.integers(0, 2, (70, 90)).astype(np.uint8)
    good[:, 30:50] = good[:, 30:31]
    good[69, 30:50] = rng.integers(0, 2, 20)
    at, size = int(rng.integers(30, 50)), int(rng.integers(1, 6))
    suspect = np.insert(good, [int(rng.integers(30, 50))] * size, good[:, 40:41], axis=1)
    suspect[3] = rng.integers(0, 3, suspect.shape[1])

    def placed_at(cut: int) -> list[Stretch]:
        return [
            Stretch("paired", 0, cut, 0, cut),
            Stretch("inserted", cut, cut, cut, cut + size),
            Stretch("paired", cut, 90, cut + size, 90 + size),
        ]

    def cost(stretches: list[Stretch]) -> int:
        paired = [s for s in stretches if s.kind == "paired"]
        sides = [(good[:, s[1] : s[2]], suspect[:, s[3] : s[4]]) for s in paired]
        return sum(int(((a != b) & (a < 2) & (b < 2)).sum()) for a, b in sides)

    found = gaps_placed(placed_at(at), good, suspect, np.ones(70, np.bool_))
    assert cost(found) == min(cost(placed_at(cut)) for cut in range(1, 90))
    few = np.arange(70) < 64
    assert gaps_placed(placed_at(at), good, suspect, few) == placed_at(at)


def test_what_differs_beside_an_unsure_stretch_in_a_sound_signal_belongs_to_it() -> None:
    rng = np.random.default_rng(2)
    good = rng.integers(0, 2, (70, 200)).astype(np.uint8)
    suspect = good.copy()
    suspect[5] ^= 1
    suspect[6, 98] ^= 1
    found = [Stretch("paired", 0, 100, 0, 100), Stretch("unsure", 100, 104, 100, 101)]
    placed = gaps_placed(found, good, suspect, np.ones(70, np.bool_))
    assert placed == [Stretch("paired", 0, 98, 0, 98), Stretch("unsure", 98, 104, 98, 101)]
    # a signal that is wrong before is wrong by itself, and what lies further away is no matter of the gap
    suspect[6, 98] ^= 1
    suspect[6, 95] ^= 1
    assert gaps_placed(found, good, suspect, np.ones(70, np.bool_)) == found
