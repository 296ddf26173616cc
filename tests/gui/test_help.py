"""The guide: a chapter for each step, opened at the page that is open, and pages that link to one another."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("PySide6")

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QTextFormat
from PySide6.QtWidgets import QPushButton, QTextBrowser, QWidget

import app.help
from app.help.notices import PAGE, notices_guide
from app.help.sheets import guide
from app.steps.step import all_steps


@pytest.fixture
def parent(qtbot):
    made = QWidget()
    made.resize(1000, 700)
    qtbot.addWidget(made)
    made.show()
    return made


def test_it_opens_at_the_chapter_of_the_open_page(parent):
    for step in all_steps():
        dialog = guide(parent, step.name)
        dialog.show()
        first = dialog.findChild(QTextBrowser).document().begin()
        assert first.blockFormat().headingLevel() == 1
        assert first.text() == f"{step.place} {step.title}"
        dialog.close()


def test_what_is_to_be_typed_is_as_large_as_its_text(parent):
    dialog = guide(parent, "captures")
    document = dialog.findChild(QTextBrowser).document()
    cursor = document.find("7-B04")
    assert not cursor.isNull()
    assert cursor.charFormat().fontFixedPitch()
    assert not cursor.charFormat().hasProperty(QTextFormat.Property.FontPointSize)
    dialog.close()


def test_the_page_of_notices_is_the_one_that_the_table_makes():
    assert PAGE.read_text("utf-8") == notices_guide()


def test_links_lead_to_pages_and_back(parent, qtbot):
    dialog = guide(parent)
    dialog.show()
    text = dialog.findChild(QTextBrowser)
    contents = text.toPlainText()
    assert all(step.title in contents for step in all_steps())
    back = next(button for button in dialog.findChildren(QPushButton) if button.text() == "Back")
    assert not back.isEnabled()
    for page in sorted(path.name for path in Path(app.help.__path__[0]).glob("*.md")):
        text.setSource(QUrl(page))
        assert len(text.toPlainText()) > 300, page
    assert back.isEnabled()
    qtbot.mouseClick(back, Qt.MouseButton.LeftButton)
    dialog.close()
