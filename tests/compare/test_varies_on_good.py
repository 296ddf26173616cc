"""What differs among the known-good captures as often is no fault of the suspect, and no agreement either."""

from __future__ import annotations

import numpy as np
import pytest

from tests.plant import CLOCK, SIGNALS, Fault, Plant
from tracecore.capture import Capture, Int64, UInt8
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.outcome import Reason

PLANT = Plant(7, cycles=600)
OWN_TIME = SIGNALS.index("D01")


def runs_on_its_own_time(levels: UInt8, _cycles: Int64, rng: np.random.Generator) -> UInt8:
    """D01 is another one in one cycle of a hundred, in each capture at other places."""
    out = levels.copy()
    out[OWN_TIME] ^= (rng.random(levels.shape[1]) < 0.01).astype(np.uint8)
    return out


def capture(run: int, fault: Fault | None = None) -> Capture:
    return PLANT.again(run, vary=runs_on_its_own_time, fault=fault).capture()


def compared(fault: Fault | None = None) -> Comparison:
    good = tuple(capture(run) for run in range(3))
    return compare(CompareRequest(good, (capture(50, fault),), clock=CLOCK))


def test_a_signal_that_varies_on_sound_boards_as_often_accuses_none() -> None:
    found = compared()
    assert found.outcome.reason is Reason.VARIES_ON_GOOD
    assert found.outcome.signals == ("D01",)
    assert found.outcome.exit_status == 2
    assert "may be no fault" in " ".join(found.causes[0].because)


@pytest.mark.parametrize("signal", ["READ", "D01"])
def test_a_fault_beside_or_on_such_a_signal_is_found_and_first(signal: str) -> None:
    found = compared(Fault("stuck low", signal, since=300))
    assert found.outcome.reason is Reason.SIGNALS
    first = found.causes[0]
    assert first.signal == signal
    assert "may be no fault" not in " ".join(first.because)
