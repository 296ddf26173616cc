"""What a person reads first: the answer, both units, what was not compared, the first cause, the caution; and how long
a report is."""

from __future__ import annotations

import io
import os
import shlex
from dataclasses import replace

import pypdf
import pytest

from app import __version__
from app.__main__ import main
from app.cli.arguments import parser
from app.cli.run import demo_request
from app.cli.settings_options import OPTIONS, settings_typed
from app.comparison_text import IN_FULL, skew_text
from app.model.theme import MARKS, WORDS, contrast
from app.report.cautions import AT_THE_PINS
from app.report.contents import build_report
from app.report.page import report_html
from app.report.palette import DARK, PAD
from app.report.pdf import report_pdf
from app.report.same_again import command_again
from demo_traces import CASES
from tests.report.linnet_case import linnet_case
from tests.report.test_contents import said
from tracecore.comparison import compare
from tracecore.settings import CompareSettings


@pytest.fixture(scope="module")
def contact():
    return compare(demo_request(CASES["contact"]))


@pytest.fixture(scope="module")
def waits():
    return compare(demo_request(CASES["waits"]))


def pages(report):
    found = pypdf.PdfReader(io.BytesIO(report_pdf(report)), strict=True)
    return found, [" ".join(page.extract_text().split()).replace("\u00a0", " ") for page in found.pages]


def test_the_first_page_has_all_that_is_read_first(contact):
    _, text = pages(build_report(contact, printed="2026-02-11"))
    cause = contact.causes[0]
    for words in (contact.outcome.headline, "Known-good good.csv.gz", "Suspect suspect.csv.gz", cause.fault_mode):
        assert words in text[0]
    for words in ("Not compared: some cycles of D02", f"Probe next: {cause.probe_next}", AT_THE_PINS):
        assert words in text[0]
    assert len(text) <= 4


def test_causes_after_the_first_few_are_rows_of_a_table(waits):
    report = build_report(waits)
    assert len(waits.causes) > IN_FULL
    assert len(pages(report)[1]) <= 5
    words = said(report, "findings")
    assert "Further likely causes" in words
    assert all(cause.signal in words for cause in waits.causes)


def test_the_command_of_a_report_gives_the_same_result(contact, monkeypatch, capsys):
    command = shlex.split(command_again(contact))
    assert command[0] == "twinslot"
    assert command_again(contact) in said(build_report(contact), "conditions")
    monkeypatch.chdir(os.path.dirname(CASES["contact"].sheet))
    assert main(command[1:]) == 1
    assert contact.causes[0].probe_next in " ".join(capsys.readouterr().out.split())


def test_the_file_says_what_made_it_and_who(contact):
    report = build_report(contact, linnet_case(contact), printed="2026-02-11")
    data = pages(report)[0].metadata
    assert (data.title, data.author, data.creator) == (report.title, "R.", f"Twinslot {__version__}")
    assert f"by Twinslot {__version__}" in report_html(report)


def test_a_dark_screen_has_colours_of_its_own_for_words_and_figures(contact):
    page = report_html(build_report(contact))
    dark = page[page.index("prefers-color-scheme: dark") :]
    for name in ("ink", "suspect", "paper", "tint"):
        assert f"--{name}: {getattr(DARK, name)}" in dark
        assert f'svg [fill="{getattr(PAD, name)}"]' in dark
    for ground in (DARK.paper, DARK.panel, DARK.tint):
        assert all(contrast(w, ground) >= WORDS for w in (DARK.ink, DARK.muted, DARK.suspect_text, DARK.warning_text))
        assert all(contrast(m, ground) >= MARKS for m in (DARK.suspect, DARK.warning))


def test_a_skew_has_one_precision_everywhere(contact):
    words = said(build_report(contact), "timing")
    for signal in contact.signals:
        if signal.skew is not None:
            assert skew_text(signal.skew).split(" ±")[0] in words


def test_the_command_of_a_report_names_every_setting_that_is_not_as_always(contact):
    said = {
        "clock": "MCLK",
        "edge": "falling",
        "offset": -3,
        "same_start": True,
        "family": "74LS",
        "tolerance_ps": 20_000,
        "qualifier": "RFSH == 1",
        "same_file": True,
        "supply_v": 4.9,
        "bandwidth_hz": 1e8,
    }
    assert set(said) == set(OPTIONS)
    asked = replace(contact, request=replace(contact.request, **said))
    command = shlex.split(command_again(asked))
    assert settings_typed(parser().parse_args(command[1:])) == CompareSettings(**said)


def test_where_a_person_said_how_a_file_is_read_the_case_makes_it_again(contact):
    case = linnet_case(contact)
    assert "twinslot compare" in said(build_report(contact, case), "conditions")
    (shown,) = case.suspect.shown_first
    by_hand = replace(case, suspect=replace(case.suspect, captures=(replace(shown, sample_rate="24000000/1"),)))
    words = said(build_report(contact, by_hand), "conditions")
    assert "twinslot report makes it again" in words
    assert "twinslot compare" not in words
