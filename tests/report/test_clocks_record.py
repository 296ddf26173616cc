"""The JSON tells of both clocks: their figures, pulses that are missing or double, and what is wrong."""

from __future__ import annotations

import json

from app.report import comparison_json
from tests.clock_planter import with_clock_fault
from tests.notices.recipes import GOOD, NAMES, SAME, compared, replace, still
from tests.plant import CLOCK, Plant
from tracecore.comparison import CompareRequest, compare


def clocks(comparison: object) -> dict | None:
    return json.loads(comparison_json(comparison))["clocks"]  # type: ignore[arg-type]


def test_missing_pulses_are_counted_on_their_side() -> None:
    pair = Plant(4, cycles=500).clean()
    suspect = with_clock_fault(pair.suspect, "missing pulses", 4).capture()
    found = clocks(compare(CompareRequest((pair.good.capture(),), (suspect,), pair.sheet, clock=CLOCK)))
    assert (found["signal"], found["good"]["missing_pulses"]) == (CLOCK, 0)
    assert found["suspect"]["missing_pulses"] > 0
    first = found["faults"][0]
    assert (first["fault_kind"], first["places"]) == ("missing_pulses", found["suspect"]["missing_pulses"])
    assert len(first["at_ps"]) == min(100, first["places"])
    assert abs(found["good"]["period_ps"] - 416_000) < 100


def test_a_dead_clock_and_none_at_all() -> None:
    found = clocks(compared(GOOD, still(SAME, "CK")))
    assert [fault["fault_kind"] for fault in found["faults"]] == ["dead"]
    assert found["suspect"]["edges"] == 0
    bare = [replace(own, digital={s: own.digital[s] for s in NAMES}) for own in (GOOD, SAME)]
    assert clocks(compared(*bare, clock=None)) is None
