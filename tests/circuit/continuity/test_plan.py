"""A numbered plan, typed back by its numbers or read from a meter's file."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from tracecore.circuit.continuity.comparison import compare_continuity
from tracecore.circuit.continuity.plan import MeasuringPlan, Planned, plan_between, plan_of, read_meter
from tracecore.circuit.continuity.readings import parse_continuity
from tracecore.errors import SheetError

PLAN = MeasuringPlan((Planned(1, "1-A01", "2-A01", 0.2), Planned(2, "1-A02", "2-A02"), Planned(3, "1-A03", "2-A03")))


def test_what_the_suspect_side_lacks_is_planned_with_what_good_reads() -> None:
    rows = "from,to,ohms,side\n1-A01,2-A01,0.2,good\n1-A02,2-A02,0.2,good\n1-A02,2-A02,0.2,suspect\n"
    readings = parse_continuity(rows)
    plan = plan_of(compare_continuity(readings).pairs)
    assert plan.rows == (Planned(1, "1-A01", "2-A01", 0.2),)
    between = plan_between([("2-A01", "1-A01"), ("1-A01", "2-A01"), ("5-A01", "6-A01")], readings)
    assert [(row.number, row.good_ohms) for row in between.rows] == [(1, 0.2), (2, None)]


def test_typed_back_by_number() -> None:
    readings = PLAN.filled({3: "open", 1: "0.2", 2: ""}, by="R.")
    assert [(r.start, r.ohms, r.side, r.by) for r in readings] == [
        ("1-A01", 0.2, "suspect", "R."),
        ("1-A03", math.inf, "suspect", "R."),
    ]
    with pytest.raises(SheetError, match="number 4"):
        PLAN.filled({4: "1"})
    with pytest.raises(SheetError, match="'low' as ohms"):
        PLAN.filled({1: "low"})


@pytest.mark.parametrize(
    ("text", "ohms"),
    [
        ("0.2\nOL\n47\n", [0.2, math.inf, 47]),
        ("time,reading\n1,0.2\n2,9.9E+37\n", [0.2, math.inf]),
        ("number,ohms\n3,0.2\n1,1k\n", [0.2, 1000]),
        ("Resistance (ohm);Time\n0,2;1\n;2\n0,4;3\n", [0.2, 0.4]),
        ("log of a meter\n0.2\n", [0.2]),
    ],
)
def test_a_meters_file(tmp_path: Path, text: str, ohms: list[float]) -> None:
    path = tmp_path / "meter.csv"
    path.write_text(text)
    assert [r.ohms for r in read_meter(path, PLAN)] == ohms


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("1\n2\n3\n4\n", "a reading for row 4"),
        ("number,ohms\n2,1\n2,1\n", "a reading for row 2 a second time"),
        ("number,ohms\nx,1\n", "'x' as number"),
        ("ohms\nlow\n", "'low' as ohms"),
        ("a,b\n1,2\n", "2 columns and none headed"),
    ],
)
def test_a_meters_file_that_does_not_fit(tmp_path: Path, text: str, found: str) -> None:
    path = tmp_path / "meter.csv"
    path.write_text(text)
    with pytest.raises(SheetError) as caught:
        read_meter(path, PLAN)
    assert caught.value.found.startswith(found)
