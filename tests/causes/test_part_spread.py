"""A part a little slower than its twin is no cause, though what follows from the fault goes wrong on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.causes.test_causes import board
from tracecore.capture import Capture, DigitalTrace
from tracecore.comparison import CompareRequest, compare

CYCLES, SINCE = 400, 200


def sampled(capture: Capture) -> Capture:
    """The same board with a clock that drifts through the samples, so that a mean reads finer than one of them."""
    traces = {}
    for name, own in capture.digital.items():
        times = -(-(own.times_ps * 10_137 // 10_000) // 10_000) * 10_000
        traces[name] = DigitalTrace(times, own.levels, own.stop_ps * 2)
    return replace(capture, digital=traces)


@pytest.mark.parametrize(("late_ps", "first"), [(15_000, "F"), (40_000, "M")])
def test_a_stuck_net_stands_before_its_consequence_on_a_part_that_is_a_little_late(late_ps: int, first: str) -> None:
    """A 74LS74A behind a 74LS00 may be 20 ns slower than typical ones (data sheets, from memory)."""
    rng = np.random.default_rng(5)
    good = {name: rng.integers(0, 2, CYCLES) for name in ("F", "M", *(f"S{i}" for i in range(8)))}
    suspect = {name: own.copy() for name, own in good.items()}
    suspect["F"][SINCE:] = 0
    suspect["M"][SINCE + 3 :: 5] ^= 1
    delays = [dict.fromkeys(good, 30_000), dict.fromkeys(good, 30_000) | {"M": 30_000 + late_ps}]
    sides = [sampled(board(own, late)) for own, late in zip((good, suspect), delays, strict=True)]
    found = compare(CompareRequest((sides[0],), (sides[1],), clock="CLK", offset=0))
    assert {c.signal for c in found.causes} == {"F", "M"}
    assert found.causes[0].signal == first
