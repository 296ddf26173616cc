"""Words from files are shown as they stand, in tips too."""

from __future__ import annotations

import re
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

import app
from app.widgets.controls.label import label
from app.widgets.controls.tip import plain_tip, set_tip

MARKUP = "<img src='file:///etc/hostname'> D03 & <b>more</b>"


def test_a_tip_that_looks_like_markup_is_shown_letter_for_letter(qtbot) -> None:
    shown = QLabel()
    qtbot.addWidget(shown)
    set_tip(shown, MARKUP)
    assert "<img" not in shown.toolTip()
    assert "&lt;img src=" in shown.toolTip()
    assert plain_tip("D03 at 7-B04, 1 < 2") == "D03 at 7-B04, 1 < 2"


def test_labels_take_no_markup(qtbot) -> None:
    made = label(MARKUP)
    qtbot.addWidget(made)
    assert made.textFormat() == Qt.TextFormat.PlainText


def test_only_fixed_words_become_a_tip_without_being_made_plain() -> None:
    # one string of this source, and nothing joined to it
    call = re.compile(r"\.setToolTip\((?!\"[^\"\n]*\"\)|\n)[^\n]*")
    sources = [path for path in Path(app.__file__).parent.rglob("*.py") if path.name != "tip.py"]
    assert [found for path in sources for found in call.findall(path.read_text("utf-8"))] == []
