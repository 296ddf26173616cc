"""The report's pages are seen before they are written."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QLabel

from app.case.changes import Put
from app.case.values import Entry
from app.model.report_files import page_pictures
from app.shell.window import Window
from app.widgets.forms.report_form import ReportForm
from tests.gui.conftest import settle


def pages(form: ReportForm) -> list[QLabel]:
    return list(form.pages.widget().findChildren(QLabel)) if form.pages.widget() else []


def test_pages_follow_what_is_ticked_and_are_written_so(
    qtbot, compared: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    compared.session.change(Put(Entry(0, "seen", "Stops at the third fetch", "R.", "2026-02-03T09:40:00+01:00")))
    compared.act("write_report")
    form = compared.findChild(ReportForm)
    qtbot.waitUntil(lambda: "page" in form.line.text() and "made" not in form.line.text(), timeout=120_000)
    whole = len(pages(form))
    assert whole > 1
    assert form.line.text() == f"{whole} pages"
    for name, box in form.sections.items():
        box.setChecked(name in ("summary", "log"))
    qtbot.waitUntil(lambda: form.line.text() == "1 page", timeout=120_000)
    (page,) = pages(form)
    picture = page.pixmap().toImage()
    colours = {picture.pixelColor(x, y).name() for x in range(0, picture.width(), 3) for y in range(0, 400, 3)}
    assert QColor("white").name() in colours
    assert len(colours) > 3

    path = tmp_path / "case.pdf"
    monkeypatch.setattr("app.shell.case_actions.QFileDialog.getSaveFileName", lambda *_: (str(path), ""))
    form.paper.setCurrentText("Letter")
    form.pdf.click()
    qtbot.waitUntil(path.exists, timeout=120_000)
    read = PdfReader(path)
    assert len(read.pages) == 1
    assert "Stops at the third fetch" in read.pages[0].extract_text()
    assert round(float(read.pages[0].mediabox.width)) == 612

    folder = tmp_path / "report"
    monkeypatch.setattr("app.shell.case_actions.QFileDialog.getExistingDirectory", lambda *_: str(folder))
    form.folder.click()
    qtbot.waitUntil(lambda: (folder / "report.pdf").exists(), timeout=120_000)
    assert "Verdict of each signal" not in (folder / "report.html").read_text("utf-8")
    qtbot.waitUntil(lambda: compared.jobs.idle, timeout=120_000)
    # what was written is told beside the pages, which still show their right edge
    assert form.written.isVisible()
    settle()
    assert all(page.width() <= form.pages.viewport().width() for page in pages(form))
    form.close()


def test_both_sides_are_written_on_one_time(qtbot, compared: Window, tmp_path: Path, monkeypatch) -> None:
    path = tmp_path / "pair.vcd"
    monkeypatch.setattr("app.shell.case_actions.QFileDialog.getSaveFileName", lambda *_: (str(path), ""))
    compared.act("write_pair")
    qtbot.waitUntil(lambda: path.exists() and compared.jobs.idle, timeout=120_000)
    assert "$enddefinitions" in path.read_text("utf-8")


def test_pages_are_drawn_by_one_thread_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """The library that draws them ends the process where two threads use it."""
    at_work: list[int] = []
    seen: list[int] = []

    def slow(pdf: bytes, dots_per_inch: int, tell: object) -> tuple[()]:
        at_work.append(1)
        time.sleep(0.02)
        seen.append(len(at_work))
        at_work.pop()
        return ()

    monkeypatch.setattr("app.model.report_files._pictures", slow)
    threads = [threading.Thread(target=page_pictures, args=(b"", 36)) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert seen == [1] * 4


def test_a_window_that_closes_stops_the_drawing_and_waits_for_it(qtbot, compared: Window, monkeypatch) -> None:
    begun, ended = threading.Event(), threading.Event()

    def endless(pdf: bytes, dots_per_inch: int, tell: Callable[[float, str], None]) -> tuple[()]:
        begun.set()
        try:
            while True:
                tell(0.5, "drawing the pages")
                time.sleep(0.005)
        finally:
            ended.set()

    monkeypatch.setattr("app.model.report_files._pictures", endless)
    compared.act("write_report")
    qtbot.waitUntil(begun.is_set, timeout=120_000)
    form = compared.findChild(ReportForm)
    compared.close()
    assert ended.is_set()
    form.close()


def test_nothing_ticked_writes_nothing(qtbot, compared: Window) -> None:
    compared.act("write_report")
    form = compared.findChild(ReportForm)
    for box in form.sections.values():
        box.setChecked(False)
    qtbot.waitUntil(lambda: form.line.text() == "Tick at least one section", timeout=120_000)
    assert not form.folder.isEnabled()
    qtbot.waitUntil(lambda: compared.jobs.idle, timeout=120_000)
    form.close()


def test_pictures_have_the_paper_size_and_colour() -> None:
    import io

    from reportlab.pdfgen.canvas import Canvas

    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(144, 72))
    canvas.setFillColorRGB(1, 0, 0)
    canvas.rect(0, 0, 72, 72, stroke=0, fill=1)
    canvas.showPage()
    canvas.save()
    (picture,) = page_pictures(buffer.getvalue(), 36)
    assert (picture.width(), picture.height()) == (72, 36)
    assert picture.pixelColor(10, 10).name() == "#ff0000"
    assert picture.pixelColor(60, 10).name() == "#ffffff"
