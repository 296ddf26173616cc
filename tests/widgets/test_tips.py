"""Words from files are shown as they stand, in tips too."""

from __future__ import annotations

import re
from pathlib import Path
from types import SimpleNamespace

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

import app
from app.model.readings_model import VERDICT_COLUMN as READINGS_VERDICT
from app.model.readings_model import ReadingsModel
from app.model.session import Session
from app.model.sheet_table import SheetTable
from app.model.signal_lines import COLUMNS
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.tip import plain_tip, set_tip
from app.widgets.lineup.lineup_slips import SlipModel
from app.widgets.signals.signal_table import SignalRows
from tracecore.circuit.probe_sheet import Probe

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


def test_tips_shown_by_hand_are_made_plain() -> None:
    call = re.compile(r"QToolTip\.showText\((?!event\.globalPos\(\), plain_tip\()[^\n]*")
    sources = Path(app.__file__).parent.rglob("*.py")
    assert [found for path in sources for found in call.findall(path.read_text("utf-8"))] == []


def test_no_table_gives_a_signals_name_as_markup(qtbot) -> None:
    """A signal of a stranger's file that is called so had its picture loaded when the pointer stood on it."""
    lines = (SimpleNamespace(cells=(MARKUP,) * len(COLUMNS)),)
    rows = SignalRows()
    rows.lines = lines  # type: ignore[assignment]
    sheet = SheetTable(Session())
    sheet._rows = (Probe("A", "A"),)
    sheet._called = {"A": MARKUP}
    slips = SlipModel()
    slips._cell = lambda _row, _column: MARKUP  # type: ignore[method-assign]
    readings = ReadingsModel()
    readings.pairs = (None,)  # type: ignore[assignment]
    readings._words = lambda _pair, _column: MARKUP  # type: ignore[method-assign]
    for model, column in ((rows, 0), (sheet, 0), (slips, 0), (readings, READINGS_VERDICT)):
        index = SimpleNamespace(row=lambda: 0, column=lambda column=column: column, isValid=lambda: True)
        assert "<img" not in model.data(index, Qt.ItemDataRole.ToolTipRole), model


def test_a_line_that_is_cut_at_any_width_has_its_whole_in_the_tip(qtbot) -> None:
    """Also where its advance in whole pixels is just the room, and a fraction of a pixel cuts letters."""
    line = ElidedLabel("24 MHz · 133.4 µs · 16 channels")
    qtbot.addWidget(line)
    line.show()
    for points in (9, 10.5, 13, 17.5):
        font = line.font()
        font.setPointSizeF(points)
        line.setFont(font)
        wide = line.fontMetrics().horizontalAdvance(line.text())
        for room in range(wide - 3, wide + 3):
            line.resize(room, 30)
            drawn = line.fontMetrics().elidedText(line.text(), Qt.TextElideMode.ElideRight, room)
            assert bool(line.toolTip()) == ("…" in drawn), (points, room - wide)
