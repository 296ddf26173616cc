"""The report folder: whole, valid, self-contained and the same each time."""

from __future__ import annotations

import csv
import json

import pytest

from app.report import write_report
from demo_traces import CASES
from tracecore.circuit.probe_sheet import read_probe_sheet
from tracecore.comparison import CompareRequest, compare
from tracecore.readers import read_capture


@pytest.fixture(scope="module", params=CASES)
def compared(request):
    case = CASES[request.param]
    return case, compare(
        CompareRequest(
            tuple(map(read_capture, case.good[:1])), tuple(map(read_capture, case.suspect[:1])),
            read_probe_sheet(case.sheet), clock=case.clock,
        )
    )  # fmt: skip


def test_the_page_is_valid_self_contained_and_names_the_fault(compared, tmp_path):
    html5lib = pytest.importorskip("html5lib")
    case, comparison = compared
    write_report(comparison, tmp_path / "r")
    page = (tmp_path / "r" / "report.html").read_text("utf-8")
    html5lib.HTMLParser(strict=True).parse(page)
    assert case.planted_signal in page
    assert "<svg" in page
    assert "qualified" in page
    for outside in ("http://", "https://", 'src="'):
        assert outside not in page.replace("http://www.w3.org/2000/svg", "")


def test_the_tables_are_whole_and_the_bytes_are_the_same_each_time(compared, tmp_path):
    case, comparison = compared
    write_report(comparison, tmp_path / "a")
    write_report(comparison, tmp_path / "b")
    for name in ("divergences.csv", "comparison.json"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    rows = list(csv.DictReader((tmp_path / "a" / "divergences.csv").open(newline="")))
    assert case.planted_signal in {row["signal"] for row in rows}
    assert json.loads((tmp_path / "a" / "comparison.json").read_text())["causes"][0]["signal"] == case.planted_signal
