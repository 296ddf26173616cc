"""The guide: a chapter for each step, opened at the page that is open, and pages that link to one another."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("PySide6")

from PySide6.QtCore import QPoint, Qt, QUrl
from PySide6.QtWidgets import QPushButton, QTextBrowser, QWidget

import app.help
from app.help.sheets import guide
from app.steps.step import all_steps
from tracecore.notices import NOTICE_KINDS


@pytest.fixture
def parent(qtbot):
    made = QWidget()
    made.resize(1000, 700)
    qtbot.addWidget(made)
    made.show()
    return made


def test_it_opens_at_the_chapter_of_the_open_page(parent):
    for step in all_steps():
        dialog = guide(parent, step.title)
        dialog.show()
        text = dialog.findChild(QTextBrowser)
        top = text.cursorForPosition(QPoint(text.width() // 4, 30)).block().text()
        cursor = text.textCursor().block()
        assert cursor.blockFormat().headingLevel() == 2
        assert cursor.text() == f"{step.place} {step.title}"
        assert top
        dialog.close()


def test_links_lead_to_pages_and_back(parent, qtbot):
    dialog = guide(parent)
    dialog.show()
    text = dialog.findChild(QTextBrowser)
    words = text.toPlainText()
    assert all(kind.meaning.split("`")[0][:20] in words for kind in NOTICE_KINDS.values())
    back = next(button for button in dialog.findChildren(QPushButton) if button.text() == "Back")
    assert not back.isEnabled()
    for page in sorted(path.name for path in Path(app.help.__path__[0]).glob("*.md")):
        text.setSource(QUrl(page))
        assert len(text.toPlainText()) > 300, page
    assert back.isEnabled()
    qtbot.mouseClick(back, Qt.MouseButton.LeftButton)
    dialog.close()
