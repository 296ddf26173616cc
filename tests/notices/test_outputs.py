"""Every code of a notice arises from its recipe, and reaches terminal, JSON, HTML, PDF and both pages of the window."""

from __future__ import annotations

import html
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest

pytest.importorskip("PySide6")

from app.cli.terminal import print_comparison
from app.help.notices import notices_guide
from app.model.settings import Settings
from app.report import comparison_json
from app.report.contents import build_report
from app.report.page import report_html
from app.report.pdf import report_pdf
from app.shell.window import Window
from tests.notices.recipes import GOOD, RECIPES, SAME, compared
from tracecore.comparison import Comparison
from tracecore.notices import NOTICE_KINDS, Notice, in_order


def plain(text: str) -> str:
    """Without what setting adds: kinds of spaces, breaks of lines."""
    return re.sub(r"\s+", "", text)


def test_every_code_has_a_recipe() -> None:
    assert set(RECIPES) == set(NOTICE_KINDS)


@pytest.fixture(scope="module")
def made() -> dict[str, Comparison]:
    """The comparison of each recipe."""
    return {code: recipe() for code, recipe in RECIPES.items()}


@pytest.fixture(scope="module")
def every(made: dict[str, Comparison]) -> Comparison:
    """One comparison with a notice of each code, as it arose."""
    told = {code: _own(made[code], code) for code in RECIPES}
    found = compared(GOOD, SAME)
    return _with_notices(found, in_order(tuple(told.values())))


def _with_notices(comparison: Comparison, notices: tuple[Notice, ...]) -> Comparison:
    from dataclasses import replace

    return replace(comparison, notices=notices)


def _own(comparison: Comparison, code: str) -> Notice:
    found = [own for own in comparison.notices if own.code == code]
    assert found, f"{code} does not arise; there are {[own.code for own in comparison.notices]}"
    return found[0]


@pytest.mark.parametrize("code", NOTICE_KINDS)
def test_the_recipe_makes_it_arise_as_the_table_says(code: str, made: dict[str, Comparison]) -> None:
    own = _own(made[code], code)
    assert own.severity == NOTICE_KINDS[code].severity
    assert own.text.endswith((".", "?"))
    if own.severity != "info":
        assert own.do
    # only a line-up of which every rival agrees as well may be doubtful and agree
    if own.severity == "doubt" and code != "doubtful_lineup":
        assert made[code].outcome.word != "agrees"


def test_the_terminal_tells_all(every: Comparison) -> None:
    out = io.StringIO()
    print_comparison(every, out)
    text = plain(out.getvalue())
    assert [own.code for own in every.notices if plain(own.sentence) not in text] == []


def test_the_json_tells_all(every: Comparison) -> None:
    found = json.loads(comparison_json(every))
    assert [(own["code"], own["text"], own["do"], tuple(own["signals"])) for own in found["notices"]] == [
        (own.code, own.text, own.do, own.signals) for own in every.notices
    ]


def test_html_and_pdf_tell_all(every: Comparison) -> None:
    report = build_report(every)
    page = plain(html.unescape(re.sub(r"<[^>]+>", "", report_html(report))))
    reader = pypdf.PdfReader(io.BytesIO(report_pdf(report)))
    pdf = plain("".join(sheet.extract_text() for sheet in reader.pages))
    for where, text in (("HTML", page), ("PDF", pdf)):
        lost = [own.code for own in every.notices if plain(own.text) not in text or plain(own.do) not in text]
        assert lost == [], where


@pytest.fixture
def window(qtbot: object, tmp_path: Path) -> Iterator[Window]:
    """An empty window, closed afterwards."""
    own = Window(Settings(tmp_path / "settings.ini"))
    qtbot.addWidget(own)  # type: ignore[attr-defined]
    own.resize(1280, 720)
    own.show()
    yield own
    own.close()


@pytest.mark.parametrize("page", ["compare", "lineup"])
def test_the_window_tells_all_in_a_line_that_unfolds(page: str, every: Comparison, window: Window) -> None:
    shown = window.made_page(page)
    shown.notices.set_notices(every.notices)
    line = shown.notices
    assert not line.isHidden()
    assert line.notices == every.notices
    assert line.first.toolTip() == every.notices[0].sentence
    assert line.more.text().startswith(f"{len(every.notices) - 1} more")
    line.more.setChecked(True)
    told = line.unfolded()
    assert [own.code for own in every.notices if own.sentence not in told] == []
    line.set_notices(())
    assert line.isHidden()


def test_the_guide_has_a_row_for_each() -> None:
    text = " ".join(notices_guide().split())
    for code, kind in NOTICE_KINDS.items():
        assert f"`{code}`" in text
        assert kind.meaning in text
        assert kind.example in text
