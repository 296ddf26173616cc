"""The report's sections on readings and chips, from the demo cases."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.case.record import OpenCase
from app.report.blocks import Bullets, Paragraph, Table, text_of
from app.report.contents import build_report
from app.report.continuity_words import POWER_OFF
from app.report.page import report_html
from demo_traces import CASES
from tracecore.circuit.continuity.readings import Reading, read_continuity
from tracecore.circuit.pin_list import read_pin_list
from tracecore.circuit.probe_sheet import read_probe_sheet
from tracecore.comparison import CompareRequest, compare
from tracecore.readers import read_capture


def _blocks(name: str, section: str, answers: tuple[tuple[str, str, float, str], ...] = ()):
    demo = CASES[name]
    sheet = read_probe_sheet(demo.sheet)
    good, suspect = (tuple(read_capture(p) for p in side) for side in (demo.good, demo.suspect))
    comparison = compare(CompareRequest(good, suspect, sheet, clock=demo.clock, family=demo.family))
    case = OpenCase(sheet=sheet, pins=read_pin_list(demo.pins))
    if demo.readings is not None:
        readings = read_continuity(demo.readings)
        for start, end, ohms, note in answers:
            readings = readings.entered(Reading(start, end, ohms, "suspect", note=note))
        case = replace(case, continuity=readings)
    report = build_report(comparison, case, sections=[section])
    assert report_html(report)
    return report.sections[0].blocks


def test_readings_with_where_they_put_the_fault() -> None:
    answers = (
        ("6-B20", "7-B02", 0.2, ""),
        ("7-B02", "7-A36", float("inf"), ""),
        ("7-B02", "7-A36", 3.0, "card in"),
    )
    blocks = _blocks("held", "backplane", answers)
    assert isinstance(blocks[0], Paragraph)
    assert text_of(blocks[0].runs) == POWER_OFF
    table = next(b for b in blocks if isinstance(b, Table))
    assert len(table.rows) == 4
    told = [text_of(item) for b in blocks if isinstance(b, Bullets) for item in b.items]
    assert any("something on the card of slot 7 may hold it" in words and "U7, leg 23" in words for words in told)


def test_chips_on_both_sides() -> None:
    blocks = _blocks("clip", "chips")
    told = [text_of(item) for b in blocks if isinstance(b, Bullets) for item in b.items]
    assert told[0].startswith("U14 (74LS138) obeys")
    assert "leg 3 (C) reads high, whatever ADDR02 does" in told[0]
    assert "SDLS014" in " ".join(told)


@pytest.mark.parametrize("section", ["backplane", "chips"])
def test_a_case_without_either_has_no_such_section(section: str) -> None:
    report = build_report(None, OpenCase(), sections=[section])
    assert report.sections == ()
