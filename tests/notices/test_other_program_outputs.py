"""Where the two may run different programs, no output names a cause: each says to capture the same program."""

from __future__ import annotations

import html
import io
import json
import re

import pypdf
import pytest

pytest.importorskip("PySide6")

from PySide6.QtWidgets import QLabel

from app.cli.run import demo_request
from app.cli.terminal import print_comparison
from app.model.theme import LIGHT
from app.report import comparison_json
from app.report.contents import build_report
from app.report.page import report_html
from app.report.pdf import report_pdf
from app.widgets.causes.cause_cards import CauseCards
from app.widgets.causes.first_cause import FirstCause
from demo_traces import CASES
from tests.machine.bench import draw_unrelated
from tracecore.comparison import CompareRequest, Comparison, compare

INSTEAD = "capture both with the same one"


@pytest.fixture(scope="module")
def found() -> Comparison:
    pair = draw_unrelated(72004, start="reset", cycles=700)
    return compare(CompareRequest((pair.good,), (pair.suspect,), clock=pair.clock))


def test_terminal_and_json(found: Comparison) -> None:
    out = io.StringIO()
    print_comparison(found, out)
    assert INSTEAD in " ".join(out.getvalue().split())
    assert "Probe next" not in out.getvalue()
    record = json.loads(comparison_json(found))
    assert record["causes"] == []
    assert (record["outcome"], record["outcome_reason"]) == ("cannot tell", "other_program")
    assert INSTEAD in record["outcome_do"]


def test_html_and_pdf(found: Comparison) -> None:
    report = build_report(found)
    page = html.unescape(re.sub(r"<[^>]+>", " ", report_html(report)))
    pdf = "".join(sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(report_pdf(report))).pages)
    for text in (" ".join(page.split()), " ".join(pdf.split())):
        assert "None: what differs between two programs points at no part." in text
        assert INSTEAD in text
        assert "Probe next" not in text
        assert "no signal diverges" not in text


def test_the_compare_page(found: Comparison, qtbot: object) -> None:
    cards, first = CauseCards(LIGHT, 1.0), FirstCause(LIGHT, 1.0)
    for own in (cards, first):
        qtbot.addWidget(own)  # type: ignore[attr-defined]
    cards.show_causes(found, None)
    assert cards.cards == []
    assert any(INSTEAD in own.text() for own in cards.findChildren(QLabel))
    first.show_cause(compare(demo_request(CASES["receiver"])))
    assert "Probe next" in first.accessibleDescription()
    first.show_cause(found)
    assert first.words.text().startswith("Cannot tell.")
    assert "Probe next" not in first.accessibleDescription() + first.words.toolTip()
