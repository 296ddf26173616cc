"""What differs among the known-good captures as often is no fault of the suspect, and no agreement either."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plant import CLOCK, SIGNALS, Fault, Plant
from tracecore.capture import Capture, Int64, UInt8
from tracecore.capture_series import SeriesRequest, read_against, reference
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.notices import notice
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


def test_a_watch_counts_such_a_capture_as_a_comparison_does() -> None:
    against = reference(SeriesRequest(tuple(capture(run) for run in range(3)), clock=CLOCK))
    sound = read_against(against, capture(50)).outcome
    assert not sound.counts
    assert "differ from one another" in sound.reason
    assert "READ" in read_against(against, capture(50, Fault("stuck low", "READ", since=300))).outcome.diverges


def test_a_fault_in_another_capture_is_told_where_the_shown_one_cannot_tell() -> None:
    suspects = capture(50), capture(51, Fault("stuck low", "READ", since=300))
    found = compare(CompareRequest(tuple(capture(run) for run in range(3)), suspects, clock=CLOCK))
    assert [own.word for own in found.captures] == ["cannot tell", "diverges"]
    assert found.outcome.reason is Reason.OTHER_CAPTURE
    assert found.outcome.exit_status == 1
    assert "The shown pair cannot tell, but 1 of 2" in found.outcome.text


def test_a_clock_that_stops_is_a_finding_beside_it() -> None:
    found = compared()
    stops = replace(found, notices=(*found.notices, notice("clock_stops", "The suspect's clock stops.")))
    assert stops.outcome.reason is Reason.STOPS
