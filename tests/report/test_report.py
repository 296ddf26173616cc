"""The report folder: whole, valid, self-contained and the same each time."""

from __future__ import annotations

import base64
import csv
import json
import re
from dataclasses import replace

import pytest

from app.model.theme import MARKS, WORDS, contrast
from app.report import write_report
from app.report.contents import build_report
from app.report.page import report_html
from app.report.palette import PAD
from demo_traces import CASES
from tests.report.linnet_case import linnet_case, photo
from tests.report.test_contents import photo_or_loss
from tests.thinned import thinned
from tracecore.circuit.probe_sheet import read_probe_sheet
from tracecore.comparison import CompareRequest, compare
from tracecore.readers import read_capture


@pytest.fixture(scope="module", params=thinned([name for name, case in CASES.items() if not case.planted_in]))
def compared(request):
    case = CASES[request.param]
    return case, compare(
        CompareRequest(
            tuple(map(read_capture, case.good[:1])), tuple(map(read_capture, case.suspect[:1])),
            read_probe_sheet(case.sheet), clock=case.clock,
        )
    )  # fmt: skip


@pytest.fixture(scope="module")
def written(compared, tmp_path_factory):
    """The case, its comparison, and the folder with its report."""
    case, comparison = compared
    folder = tmp_path_factory.mktemp("written") / "r"
    write_report(comparison, folder)
    return case, comparison, folder


def test_the_page_is_valid_self_contained_and_names_the_fault(written):
    html5lib = pytest.importorskip("html5lib")
    case, _, folder = written
    page = (folder / "report.html").read_text("utf-8")
    html5lib.HTMLParser(strict=True).parse(page)
    assert case.planted_signal in page
    assert "<svg" in page
    assert "qualified" in page
    for outside in ("http://", "https://", 'src="'):
        assert outside not in page.replace("http://www.w3.org/2000/svg", "")


def test_the_tables_are_whole_and_the_bytes_are_the_same_each_time(written, tmp_path):
    case, comparison, folder = written
    write_report(comparison, tmp_path / "b")
    for name in ("report.html", "report.pdf", "divergences.csv", "comparison.json"):
        assert (folder / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    rows = list(csv.DictReader((folder / "divergences.csv").open(newline="")))
    assert case.planted_signal in {row["signal"] for row in rows}
    assert json.loads((folder / "comparison.json").read_text())["causes"][0]["signal"] == case.planted_signal


@pytest.fixture(scope="module")
def page(compared):
    _, comparison = compared
    case = linnet_case(comparison)
    return report_html(build_report(comparison, case, photo_or_loss, printed="2026-02-11"), page="Letter")


def test_the_page_of_a_case_is_valid_and_tells_its_story(page):
    html5lib = pytest.importorskip("html5lib")
    html5lib.HTMLParser(strict=True).parse(page)
    for words in ("Case 14", "Put right by", "7338 (1973, week 38)", "0 of 300 captures diverge", "Ωmega 漢 🔧 ✓"):
        assert words in page
    assert "size: Letter" in page


def test_photos_travel_inside_the_page_and_nothing_is_fetched(page):
    sources = re.findall(r'src="([^"]*)"', page)
    assert [base64.b64decode(s.removeprefix("data:image/jpeg;base64,")) for s in sources] == [photo("aa"), photo("bb")]
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)|url\((?!#)|@import|<script|<link", page)


def test_every_name_in_the_page_is_there_once_and_links_find_theirs(page):
    names = re.findall(r'\bid="([^"]+)"', page)
    assert len(names) == len(set(names))
    assert set(re.findall(r'href="#([^"]+)"', page)) | set(re.findall(r"url\(#([^)]+)\)", page)) <= set(names)


def test_words_that_look_like_markup_stay_words(compared):
    case = replace(linnet_case(None), title='</style><script>alert("1")</script> & "\\', entries=())
    page = report_html(build_report(None, case, printed='"; } </style>'))
    assert "<script" not in page
    assert page.count("</style>") == 1
    html5lib = pytest.importorskip("html5lib")
    html5lib.HTMLParser(strict=True).parse(page)


def test_words_and_marks_stand_out_from_their_ground():
    # W3C WCAG 2.1, success criteria 1.4.3 and 1.4.11, through the theme's own constants
    for ground in (PAD.paper, PAD.panel, PAD.tint):
        for words in (PAD.ink, PAD.muted, PAD.suspect_text, PAD.warning_text):
            assert contrast(words, ground) >= WORDS
        for mark in (PAD.suspect, PAD.warning):
            assert contrast(mark, ground) >= MARKS
