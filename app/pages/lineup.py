"""Step 2: which cycle of the suspect is which cycle of the good one, and how sure that is."""

from __future__ import annotations

import re

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent, QValidator
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QScrollArea,
    QSpinBox,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.case.changes import SetClock, SetFamily, SetOffset
from app.messages import lineup_sentence, percent, signed
from app.pages.page import Desk, Page
from app.widgets.cause_cards import label
from app.widgets.side_panel import SidePanel
from tracecore.compare.lineup import Lineup
from tracecore.quantities import MINUS, NARROW_SPACE, group_digits

HEADINGS = ("Offset", "Agreement", "Overlap", "Signals that differ")
FARTHEST = 99_999_999
ROOM_FOR_TABLE = 420
"""Pixels at 100 % that the table keeps before the panel folds by itself."""
BEST = "Best candidate"


class OffsetBox(QSpinBox):
    """Whole cycles, written with sign, narrow spaces and a true minus; typed in any plain way."""

    def textFromValue(self, value: int) -> str:
        return signed(value)

    def valueFromText(self, text: str) -> int:
        return int(_plain_number(text) or 0)

    def validate(self, text: str, position: int) -> object:
        plain = _plain_number(text)
        fine = re.fullmatch(r"[+-]?\d{1,8}", plain) is not None
        part = plain in ("", "+", "-")
        state = QValidator.State
        return state.Acceptable if fine else (state.Intermediate if part else state.Invalid), text, position


def _plain_number(text: str) -> str:
    kept = text.removesuffix(" cycles").replace(MINUS, "-")
    return "".join(kept.replace(NARROW_SPACE, "").split())


class LineupPage(Page):
    """Verdict and candidates at the left; at the right all that changes the answer."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(18, 0, 0, 0)
        layout.setSpacing(18)
        layout.addLayout(self._left(), 1)
        self.panel = self._right()
        layout.addWidget(self.panel)
        self.refresh("case")
        self.retheme()

    def _left(self) -> QVBoxLayout:
        left = QVBoxLayout()
        left.setSpacing(10)
        left.setContentsMargins(0, 12, 0, 0)
        left.addWidget(label("Line-up", "heading", wrap=False))
        self.verdict = label("")
        self.reason = label("", "muted")
        left.addWidget(self.verdict)
        left.addWidget(self.reason)
        left.addWidget(label("Offsets tried, best first. Offset +12 means: suspect cycle = good cycle + 12.", "muted"))
        self.table = QTableWidget(0, len(HEADINGS))
        self.table.setHorizontalHeaderLabels(HEADINGS)
        self.table.setAccessibleName("Offsets tried")
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setShowGrid(False)
        self.table.verticalHeader().hide()
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setStretchLastSection(True)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setHighlightSections(False)
        left.addWidget(self.table, 1)
        left.addSpacing(10)
        return left

    def _right(self) -> SidePanel:
        panel = SidePanel("What decides it", "Every change is compared at once", self.desk.theme)
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        scroll.setWidget(self._choices())
        panel.body.addWidget(scroll)
        return panel

    def _choices(self) -> QWidget:
        panel = QWidget()
        panel.setObjectName("causeBody")
        form = QFormLayout(panel)
        form.setContentsMargins(0, 6, 8, 8)
        form.setVerticalSpacing(12)
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapAllRows)
        self.clock, self.edge, self.family = QComboBox(), QComboBox(), QComboBox()
        self.edge.addItem("rising ↑", "rising")
        self.edge.addItem("falling ↓", "falling")
        from tracecore.measure.families import families

        for name in families():
            self.family.addItem(name, name)
        for box in (self.clock, self.edge):
            box.activated.connect(lambda _index: self._set_clock())
        self.family.activated.connect(lambda _i: self.desk.bench.change(SetFamily(self.family.currentData())))
        self.offset = OffsetBox()
        self.offset.setRange(-FARTHEST, FARTHEST)
        self.offset.setSuffix(" cycles")
        self.offset.setKeyboardTracking(False)
        self.offset.setAccessibleName("Offset in cycles")
        form.addRow("Clock", self.clock)
        form.addRow("Active edge", self.edge)
        form.addRow("Logic family by default", self.family)
        self.family.setToolTip("For channels whose row on the sheet names no family")
        form.addRow("Offset by hand", self._offset_row())
        self.by_hand = label("", "muted")
        form.addRow(self.by_hand)
        return panel

    def _offset_row(self) -> QWidget:
        from PySide6.QtWidgets import QPushButton

        area = QWidget()
        row = QVBoxLayout(area)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(8)
        row.addWidget(self.offset)
        buttons = QHBoxLayout()
        self.set_button = QPushButton("Set by hand")
        self.find_button = QPushButton("Find it")
        self.set_button.clicked.connect(lambda: self.desk.bench.change(SetOffset(self.offset.value())))
        self.find_button.clicked.connect(lambda: self.desk.bench.change(SetOffset(None)))
        buttons.addWidget(self.set_button)
        buttons.addWidget(self.find_button)
        row.addLayout(buttons)
        return area

    def _set_clock(self) -> None:
        self.desk.bench.change(SetClock(self.clock.currentData(), self.edge.currentData()))

    def refresh(self, what: str) -> None:
        if what in ("case", "comparison"):
            self._fill_choices()
            self._fill_answer()

    def _fill_choices(self) -> None:
        case = self.desk.bench.case
        names: dict[str, None] = {}
        for state in (case.good, case.suspect):
            for capture in state.captures:
                names.update(dict.fromkeys(case.sheet.probe(c).signal for c in capture.channels))
        self.clock.clear()
        self.clock.addItem(BEST, None)
        for name in names:
            self.clock.addItem(name, name)
        self.clock.setCurrentIndex(max(0, self.clock.findData(case.clock)) if case.clock else 0)
        self.edge.setCurrentIndex(self.edge.findData(case.edge))
        self.family.setCurrentIndex(max(0, self.family.findData(case.family)))
        self.find_button.setEnabled(case.offset is not None)
        self.find_button.setToolTip("" if case.offset is not None else "The offset is found already")
        self.set_button.setEnabled(self.desk.bench.ready)
        self.set_button.setToolTip("" if self.desk.bench.ready else "Add a capture to each side first")

    def _fill_answer(self) -> None:
        bench = self.desk.bench
        self.table.setRowCount(0)
        if bench.comparison is None:
            waiting = "Being compared…" if bench.ready else "Add a known-good and a suspect capture first."
            self.verdict.setText(bench.trouble or waiting)
            self.reason.setText("")
            return
        lineup = bench.comparison.lineup
        self.verdict.setText(lineup_sentence(lineup))
        self.reason.setText(lineup.reason if lineup else "")
        self.offset.setValue(lineup.offset_cycles)
        self.by_hand.setText("Set by hand: nothing vouches for it but you." if lineup.status == "by hand" else "")
        self._fill_table(lineup)

    def _fill_table(self, lineup: Lineup) -> None:
        self.table.setRowCount(len(lineup.candidates))
        for row, candidate in enumerate(lineup.candidates):
            cells = (
                signed(candidate.offset_cycles),
                percent(candidate.agreement),
                f"{group_digits(candidate.overlap_cycles)} cycles",
                group_digits(candidate.disagreeing),
            )
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                font = item.font()
                font.setBold(candidate.offset_cycles == lineup.offset_cycles)
                item.setFont(font)
                self.table.setItem(row, column, item)

    def retheme(self) -> None:
        line = round(27 * self.desk.scale)
        self.panel.set_scale(self.desk.theme, self.desk.scale)
        self._fold_for_room()
        self.table.verticalHeader().setDefaultSectionSize(line)
        self.table.horizontalHeader().setMinimumHeight(line)
        self.table.horizontalHeader().setMinimumSectionSize(round(110 * self.desk.scale))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fold_for_room()

    def _fold_for_room(self) -> None:
        self.panel.fold(self.width() - self.panel.open_width < ROOM_FOR_TABLE * self.desk.scale)

    def status(self) -> str:
        comparison = self.desk.bench.comparison
        if comparison is None or not comparison.lineup:
            return "No line-up yet"
        drift = comparison.lineup.drift_ppm
        return "" if drift is None else f"Drift over the longest run: {signed(round(drift))} ppm"
