"""A board so wrong that no two cycles are alike gets a sentence, and no crash."""

from __future__ import annotations

import pytest

from tests.netlist import make_case
from tracecore.comparison import CompareRequest, compare


@pytest.mark.parametrize("number", [20, 21, 22, 23, 24])
@pytest.mark.parametrize("kind", ["stuck high", "stuck low", "bridged"])
def test_any_netlist_fault_is_answered_without_an_offset(kind: str, number: int) -> None:
    case = make_case(kind, number, 400)
    if case is None:
        pytest.skip("this draw has no such fault")
    found = compare(CompareRequest((case.good,), (case.suspect,)))
    assert found.lineup.reason
    assert bool(found.lineup) == bool(found.lineup.runs)
