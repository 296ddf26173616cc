"""Short pulses that a loop makes again and one side's samples never meet are one draw; others are one each."""

from __future__ import annotations

import numpy as np

from tests.sound_pairs import CLOCK, Moves, captured
from tracecore.compare.pulse_draws import Sampled, beat, draws_of_their_own
from tracecore.comparison import CompareRequest, compare

CYCLE, TURN, WIDE = 1_000_000, 10, 20_000
OWN, IN_STEP, DRIFTS = 45_007, 62_112, 61_003
"""Sample periods in ps: a turn is 32 ps less than 161 of the second, no whole number of the others."""


def read(times: np.ndarray, period: int, phase: int) -> np.ndarray:
    """The next sample behind each time."""
    return -(-(times - phase) // period) * period + phase


def draws(moments: np.ndarray, other_period: int) -> tuple[int, int]:
    """Of pulses, one a turn at these moments of its first cycle, how many one side shows, and how many are draws."""
    starts = np.arange(TURN * len(moments) + 2) * CYCLE
    cycles = np.arange(len(moments)) * TURN
    begins = cycles * CYCLE + moments
    ends = np.stack((read(begins, OWN, 3_000), read(begins + WIDE, OWN, 3_000)), axis=1)
    shown = ends[:, 1] > ends[:, 0]
    sides = [
        Sampled(beat(read(starts, period, phase)), cycles[shown], period)
        for period, phase in ((OWN, 3_000), (other_period, 41_000))
    ]
    return int(shown.sum()), len(draws_of_their_own(ends[shown], *sides))


def test_a_pulse_that_keeps_missing_the_samples_in_each_turn_of_a_loop_is_one_draw() -> None:
    shown, own = draws(np.full(60, 310_000), IN_STEP)
    assert shown > 20
    assert own == 1


def test_pulses_are_draws_where_the_samples_drift_against_the_loop_or_the_moment_is_any() -> None:
    shown, own = draws(np.full(60, 310_000), DRIFTS)
    assert own == shown > 20
    shown, own = draws(np.random.default_rng(3).integers(100_000, 900_000, 60), IN_STEP)
    assert own > 0.8 * shown > 15


def loop(pulse_in: set[int]) -> dict[str, Moves]:
    """What a program's loop of ten cycles does, and a net that makes a short pulse in some turns of it."""
    levels = np.random.default_rng(1).integers(0, 2, (8, TURN))
    nets: dict[str, Moves] = {}
    for i, row in enumerate(levels):
        at = [(k * CYCLE + 60_000.0, int(row[k % TURN])) for k in range(600) if row[k % TURN] != row[k % TURN - 1]]
        nets[f"N{i}"] = at
    own = [(k * CYCLE + 60_000.0, k % 2) for k in range(600)]
    pulses = [(k * CYCLE + at, (k + turn) % 2) for k in pulse_in for at, turn in ((110_000.0, 1), (130_000.0, 0))]
    return {**nets, "P": sorted(own + pulses)}


def test_one_side_that_misses_a_pulse_in_each_turn_of_a_loop_is_no_doubt() -> None:
    nets = loop(set(range(0, 600, TURN)))
    sides = [
        captured(name, nets, period, CYCLE, 600, phase)
        for name, period, phase in (("good", OWN, 3_000.0), ("suspect", IN_STEP, 20_000.0))
    ]
    found = compare(CompareRequest((sides[0],), (sides[1],), clock=CLOCK, offset=0))
    told = {own.code: own.text for own in found.notices if "P" in own.signals}
    assert "short_pulses" in told, told
    assert found.outcome.word == "agrees"
