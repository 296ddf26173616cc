"""A fault that only another capture shows must not be reported as none."""

from __future__ import annotations

from app.case.record import OpenCase
from app.report.contents import build_report
from app.report.page import report_html
from app.report.record import comparison_record
from tests.plant import CLOCK, Fault, Plant
from tracecore.comparison import CompareRequest, compare


def test_the_report_says_that_another_capture_differs() -> None:
    plant = Plant(seed=5, cycles=600)
    runs = (plant.again(0), plant.again(1, fault=Fault("stuck low", "D03", since=200)))
    request = CompareRequest(
        (plant.again(7).capture(),), tuple(r.capture() for r in runs), plant.clean().sheet, clock=CLOCK
    )
    comparison = compare(request)
    record = comparison_record(comparison)
    assert [c["diverges"] for c in record["captures"]] == [[], ["D03"]]
    assert "The shown pair agrees, but 1 of 2 suspect captures diverges, on D03" in report_html(
        build_report(comparison)
    )
    kept = report_html(build_report(None, OpenCase(), saved=record))
    assert "The shown pair agrees, but 1 of 2 suspect captures diverges, on D03" in kept
    del record["outcome"], record["notices"]
    older = report_html(build_report(None, OpenCase(), saved=record))
    assert "No divergence is on record; an older version compared it, so compare again." in older
