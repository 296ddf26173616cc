"""What a person sets, or what the captures lack, may not clear a board: refused, or told as cannot tell."""

from __future__ import annotations

import numpy as np
import pytest

from app.__main__ import main
from demo_traces import CASES
from tests.notices.recipes import GOOD, A, board, compared, with_trace
from tracecore.capture import Capture, DigitalTrace
from tracecore.capture_series import SeriesRequest, reference
from tracecore.errors import RequestError

RECEIVER = CASES["receiver"]
CYCLE_PS = 250_000


# ---- the tolerance


def test_a_tolerance_longer_than_half_a_cycle_is_refused() -> None:
    stuck = board(np.concatenate((A[:3], np.zeros_like(A[3:4]), A[4:])), "south")
    assert compared(GOOD, stuck, tolerance_ps=CYCLE_PS // 2).outcome.word == "diverges"
    for tolerance in (CYCLE_PS // 2 + 1, CYCLE_PS, 10**9):
        with pytest.raises(RequestError, match="expected at most half a cycle of CK, 125 ns"):
            compared(GOOD, stuck, tolerance_ps=tolerance)
        with pytest.raises(RequestError, match="half a cycle"):
            reference(SeriesRequest((GOOD,), clock="CK", tolerance_ps=tolerance))


def test_no_tolerance_clears_the_stuck_line_of_the_demo(capsys: pytest.CaptureFixture[str]) -> None:
    files = ["--good", str(RECEIVER.good[0]), "--suspect", str(RECEIVER.suspect[0]), "--sheet", str(RECEIVER.sheet)]
    assert main(["compare", *files, "--tolerance", "500 us"]) == 2
    told = capsys.readouterr()
    assert "No divergence" not in told.out
    assert "expected at most half a cycle of MCLK" in told.err


# ---- what a condition leaves out


def refreshing(seed: int, *, every: int = 15, late_ps: int = 0, without: range = range(0)) -> Capture:
    """A board that takes two refresh cycles now and then, in which H is high and nothing else is to be compared."""
    rng = np.random.default_rng(seed)
    rows, number = [], 0
    quiet = A.copy()
    quiet[7] = 0
    for i, column in enumerate(quiet.T):
        rows.append(column)
        if i % every == seed % every:
            if number not in without:
                rows += [np.append(rng.integers(0, 2, 7), 1)] * 2
            number += 1
    own = board(np.array(rows, np.uint8).T, f"run {seed}")
    trace = own.digital["H"]
    return with_trace(own, "H", DigitalTrace(np.append(0, trace.times_ps[1:] + late_ps), trace.levels, trace.stop_ps))


def test_a_condition_on_the_faulty_signal_itself_does_not_clear_it() -> None:
    low, high = A.copy(), A.copy()
    low[3, 300:], high[3, 300:] = 0, 1
    for wrong in (low, high):
        for condition in ("D == 0", "D", "D && E", "!D || E"):
            found = compared(GOOD, board(wrong, "south"), qualifier=condition)
            assert found.outcome.exit_status != 0, condition


def test_refresh_that_comes_elsewhere_but_alike_is_left_out_and_agrees() -> None:
    found = compared(refreshing(1), refreshing(2), qualifier="H")
    assert found.outcome.word == "agrees", found.outcome
    assert not [own for own in found.notices if own.code == "left_out_unlike"]


def test_a_fault_of_what_is_left_out_is_told() -> None:
    for wrong, what in (
        (refreshing(2, without=range(5, 12)), "unlike numbers of cycles"),
        (refreshing(2, every=12), "unlike numbers of cycles"),
        (refreshing(2, late_ps=120_000), "come at another moment of the cycle"),
    ):
        found = compared(refreshing(1), wrong, qualifier="H")
        assert found.outcome.word == "cannot tell"
        assert any(what in own.text for own in found.notices), [own.text for own in found.notices]
