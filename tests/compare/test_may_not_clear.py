"""What a person sets, or what the captures lack, may not clear a board: refused, or told as cannot tell."""

from __future__ import annotations

import numpy as np
import pytest

from app.__main__ import main
from demo_traces import CASES
from tests.notices.recipes import GOOD, A, board, compared
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
