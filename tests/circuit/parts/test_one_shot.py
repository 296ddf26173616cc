"""The 74123: a trigger makes a pulse, nothing else does, and it lasts what R and C say.

The formula is the sheet's, second-hand (V-LIB in ``tracecore/circuit/parts/sources.csv``).
"""

from __future__ import annotations

import random

import numpy as np
import pytest

from tracecore.capture import DigitalTrace, digital_trace
from tracecore.circuit.parts.catalogue import find_part
from tracecore.circuit.parts.obedience import Obedience, check_part
from tracecore.circuit.parts.one_shot import WIDTH_TOLERANCE, pulse_ps
from tracecore.circuit.parts.pin_traces import PinTraces

WIDTH_PS = 30_000_000
SAMPLE_PS = 100_000
GAP_PS = 100_000_000
TRIGGERS = 40
Moves = list[tuple[int, int]]


def _trace(moves: Moves, stop: int) -> DigitalTrace:
    """Sampled: each move is seen at the next sample."""
    times = np.array([-(-at // SAMPLE_PS) * SAMPLE_PS for at, _ in moves], np.int64)
    return digital_trace(times, np.array([level for _, level in moves], np.uint8), stop)


def _clip(
    seed: int,
    width: float = WIDTH_PS,
    *,
    skip: int | None = None,
    besides: int | None = None,
    clear_at: int | None = None,
    again_after: int | None = None,
) -> PinTraces:
    """One half, triggered by B rising and by A falling in turn. ``skip`` leaves that trigger's pulse out, ``besides``
    makes one before that trigger; ``clear_at`` is when after each trigger CLR falls, ``again_after`` when B rises
    again inside the pulse."""
    draw = random.Random(seed)
    a, b, clear, q = [(0, 0)], [(0, 0)], [(0, 1)], [(0, 0)]
    at = 0
    for k in range(TRIGGERS):
        at += GAP_PS + draw.randrange(10_000_000)
        if besides == k:
            q += [(at - GAP_PS // 3, 1), (at - GAP_PS // 3 + 5_000_000, 0)]
        b += [(at, 1)]
        end = at + round(width * draw.uniform(0.95, 1.05))
        if again_after is not None:
            b += [(at + again_after - 3_000_000, 0), (at + again_after, 1)]
            end += again_after
        if clear_at is not None:
            clear += [(at + clear_at, 0), (at + 70_000_000, 1)]
            # B falls before CLR rises, which would trigger anew
            end = at + clear_at
        b += [(at + 60_000_000, 0)]
        if skip != k:
            q += [(at + 20_000, 1), (end + 20_000, 0)]
    stop = at + GAP_PS
    lines = {"A1_n": a, "B1": b, "CLR1_n": clear, "Q1": q, "Q1_n": [(t, 1 - level) for t, level in q]}
    return PinTraces({name: _trace(moves, stop) for name, moves in lines.items()}, {}, 0, stop, SAMPLE_PS)


def _checked(pins: PinTraces, width: float | None = None) -> Obedience:
    return check_part(find_part("74123"), "74123", pins, width_ps=width, explain=False)


def _wrong(found: Obedience) -> int:
    return sum(c.wrong for c in found.outputs)


@pytest.mark.parametrize("width", [None, WIDTH_PS])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_sound_one_shot_is_not_accused(seed: int, width: float | None) -> None:
    for pins in (_clip(seed), _clip(seed, clear_at=12_000_000), _clip(seed, again_after=15_000_000)):
        found = _checked(pins, width)
        assert found.verdict != "disobeys"
        assert _wrong(found) == 0
        assert found.judged > TRIGGERS


def test_a_trigger_without_a_pulse_and_a_pulse_without_a_trigger_are_wrong() -> None:
    sound = _checked(_clip(1))
    assert (sound.verdict, _wrong(sound)) == ("obeys", 0)
    dead = _clip(1, skip=TRIGGERS // 2)
    assert _wrong(_checked(dead)) > 0
    ghost = _clip(1, besides=TRIGGERS // 2)
    assert _wrong(_checked(ghost)) > 0


def test_an_output_that_never_pulses_disobeys() -> None:
    pins = _clip(1)
    still = {**pins.traces, "Q1": _trace([(0, 0)], pins.stop_ps), "Q1_n": _trace([(0, 1)], pins.stop_ps)}
    found = _checked(PinTraces(still, {}, 0, pins.stop_ps, SAMPLE_PS))
    assert found.verdict == "disobeys"


@pytest.mark.parametrize("share", [0.4, 2.0])
def test_a_pulse_far_from_what_r_and_c_say_disobeys_and_without_them_is_not_judged(share: float) -> None:
    pins = _clip(1, WIDTH_PS * share)
    assert _checked(pins, WIDTH_PS).verdict == "disobeys"
    assert _checked(pins).verdict != "disobeys"


@pytest.mark.parametrize("share", [1 - 0.6 * WIDTH_TOLERANCE, 1 + 0.6 * WIDTH_TOLERANCE])
def test_a_pulse_within_the_tolerance_of_capacitors_is_let_off(share: float) -> None:
    assert _checked(_clip(2, WIDTH_PS * share), WIDTH_PS).verdict != "disobeys"


def test_a_pulse_that_clear_does_not_end_is_wrong() -> None:
    sound, deaf = _clip(3, clear_at=12_000_000), _clip(3)
    held = PinTraces({**deaf.traces, "CLR1_n": sound.traces["CLR1_n"]}, {}, 0, deaf.stop_ps, SAMPLE_PS)
    assert _wrong(_checked(held)) > 0


def test_the_published_width() -> None:
    """0.28 R C (1 + 0.7/R): 10 kohm and 10 nF make 29.96 us, 5 kohm and 1 uF 1.596 ms."""
    assert pulse_ps(10e3, 10e-9) == pytest.approx(29.96e6, rel=1e-3)
    assert pulse_ps(5e3, 1e-6) == pytest.approx(1.596e9, rel=1e-3)
