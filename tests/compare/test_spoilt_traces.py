"""What the instrument spoilt in a trace of volts proves neither a fault nor its absence."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.notices.recipes import STEP_PS, A, board
from tracecore.capture import AnalogTrace, Capture
from tracecore.capture_series import read_against, reference
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.outcome import Reason

GOOD, SAME = board(A), board(A, "south")


def in_volts(capture: Capture, names: tuple[str, ...], spoilt: str = "", low: float = 0.2) -> Capture:
    """These signals in volts, as a scope shows them; ``spoilt`` says how it was set wrongly."""
    analog = {}
    for name in names:
        own = capture.digital[name]
        at = np.arange(own.stop_ps // STEP_PS, dtype=np.int64) * STEP_PS
        volts = np.where(own.level_at(at) == 1, 3.4, low) + np.random.default_rng(5).normal(0, 0.02, len(at))
        if spoilt == "coupled":
            volts -= volts.mean()
        elif spoilt == "tenth":
            volts /= 10
        elif spoilt:
            volts = volts.clip(max=float(spoilt))
        analog[name] = AnalogTrace(0, Fraction(STEP_PS), volts.astype(np.float32))
    rest = {name: trace for name, trace in capture.digital.items() if name not in names}
    return replace(capture, digital=rest, analog=analog)


def stuck(capture: Capture, name: str) -> Capture:
    trace = capture.digital[name]
    still = replace(trace, times_ps=trace.times_ps[:1].copy(), levels=np.zeros(1, np.uint8))
    return replace(capture, digital={**capture.digital, name: still})


def compared(suspect: Capture, *names: str) -> Comparison:
    return compare(CompareRequest((in_volts(GOOD, names),), (suspect,), clock="CK"))


@pytest.mark.parametrize("spoilt", ["coupled", "tenth", "1.6"])
def test_what_differs_by_a_spoilt_trace_alone_is_not_told_as_a_fault(spoilt: str) -> None:
    found = compared(in_volts(SAME, ("A",), spoilt), "A")
    assert found.outcome.reason is Reason.TRACE_SPOILT
    assert found.outcome.exit_status == 2
    assert found.outcome.signals == ("A",)
    # the reading stays, as it may be true all the same, but begins with the doubt
    assert found.causes[0].because[0].startswith("A, suspect: ")
    assert found.causes[0].probe_next.startswith("Not yet: capture A again.")


@pytest.mark.parametrize("spoilt", ["coupled", "tenth"])
def test_a_clock_whose_trace_is_spoilt_is_not_called_dead(spoilt: str) -> None:
    found = compared(in_volts(SAME, ("CK",), spoilt), "CK")
    assert found.outcome.reason is Reason.TRACE_SPOILT


def test_a_fault_beside_a_spoilt_trace_is_told_and_comes_first() -> None:
    found = compared(in_volts(stuck(SAME, "D"), ("A",), "tenth"), "A")
    assert found.outcome.reason is Reason.SIGNALS
    assert found.outcome.signals == ("D",)
    assert [cause.signal for cause in found.causes] == ["D", "A"]
    assert [cause.rank for cause in found.causes] == [1, 2]


@pytest.mark.parametrize("top", ["2.4", "3.2"])
def test_the_logic_of_a_trace_that_is_cut_off_beyond_the_limits_is_believed(top: str) -> None:
    suspect = in_volts(SAME, ("A", "D"), top)
    assert compared(suspect, "A", "D").outcome.reason is Reason.IN_DOUBT
    assert not compared(suspect, "A", "D").unbelieved
    still = in_volts(stuck(SAME, "A"), ("A",), top)
    assert compared(still, "A").outcome.signals == ("A",)


@pytest.mark.parametrize("name", ["A", "CK"])
def test_a_spoilt_capture_among_several_does_not_count(name: str) -> None:
    spoilt, good = in_volts(SAME, (name,), "coupled"), in_volts(GOOD, (name,))
    request = CompareRequest((good,), (in_volts(SAME, (name,)), replace(spoilt, name="spoilt")), clock="CK")
    assert [own.counts for own in compare(request).captures] == [True, False]
    assert not read_against(reference(request), spoilt).outcome.counts


def test_spoilt_traces_are_told_at_once_and_so_are_short_margins() -> None:
    names = ("A", "B", "C", "D")
    told = [own for own in compared(in_volts(SAME, names, "tenth"), *names).notices if own.code == "volts_spoilt"]
    assert [set(own.signals) for own in told] == [set(names)]


def test_a_spoilt_trace_of_the_good_side_alone_makes_no_capture_count_either() -> None:
    good = in_volts(GOOD, ("A",), "coupled")
    assert not read_against(reference(CompareRequest((good,), (SAME,), clock="CK")), SAME).outcome.counts
    request = CompareRequest((good,), (SAME, board(A, "again", after=3)), clock="CK")
    assert [own.counts for own in compare(request).captures] == [False, False]


def test_a_margin_of_what_diverges_anyway_is_no_notice_beside() -> None:
    short = compared(in_volts(SAME, ("A",), low=0.6), "A")
    assert "margin_short" in {own.code for own in short.notices}
    wrong = compared(in_volts(SAME, ("A",), low=1.1), "A")
    assert wrong.outcome.signals == ("A",)
    assert "margin_short" not in {own.code for own in wrong.notices}
