"""Step 1: the captures of both sides, and the probe sheet that names their channels."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QScrollArea,
    QSplitter,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.case.changes import RemoveCapture, ShowCapture
from app.case.record import SIDE_WORDS, SIDES, Side
from app.model.actions import action
from app.model.capture_cards import cards, side_line
from app.model.sheet_table import SheetTable
from app.pages.page import Desk, Page
from app.widgets.capture_card import CaptureCard
from app.widgets.cause_cards import label
from app.widgets.elided_label import ElidedLabel
from app.widgets.form_head import SideMark
from tracecore.quantities import group_digits

ROOM_FOR_FACTS = 480
"""Pixels at 100 % that a column needs for facts and thumbnail beside a capture's name."""


class SideColumn(QWidget):
    """One side: its head, its cards, and a place to drop files that shrinks to a strip as cards come."""

    def __init__(self, page: Page, side: Side) -> None:
        super().__init__()
        self.side, self.page, self.open_index = side, page, -1
        self.setAcceptDrops(False)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        head = QHBoxLayout()
        head.setSpacing(10)
        self.mark = SideMark(side, page.desk.theme)
        head.addWidget(self.mark)
        head.addWidget(label(SIDE_WORDS[side], "heading", wrap=False))
        self.line = ElidedLabel("", "muted")
        head.addWidget(self.line, 1)
        self.adder = page.button(f"open_{side}", "Add captures…")
        head.addWidget(self.adder)
        layout.addLayout(head)
        self.scroll = QScrollArea()
        self.scroll.setWidgetResizable(True)
        self.scroll.setFrameShape(QFrame.Shape.NoFrame)
        self.scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.scroll.setAccessibleName(f"{SIDE_WORDS[side]} captures")
        layout.addWidget(self.scroll, 1)
        self.cards: list[CaptureCard] = []
        self._was_roomy = True

    def rebuild(self) -> None:
        """Makes the cards anew from the bench."""
        desk = self.page.desk
        self.mark.set_theme(desk.theme)
        self._was_roomy = self._roomy()
        self.line.setVisible(self._was_roomy)
        self.adder.setText("Add captures…" if self._was_roomy else "Add…")
        self.line.setText(side_line(desk.bench, self.side))
        body = QWidget()
        body.setObjectName("columnBody")
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 4, 0)
        column.setSpacing(8)
        self.cards = []
        for words in cards(desk.bench, self.side):
            card = CaptureCard(words, self.side, words.index == self.open_index, desk.theme, self._roomy())
            card.shownWanted.connect(self._show)
            card.removeWanted.connect(self._remove)
            card.openWanted.connect(self._open)
            column.addWidget(card)
            self.cards.append(card)
        column.addWidget(self._target(), 0 if self.cards else 1)
        if self.cards:
            column.addStretch(1)
        self.scroll.setWidget(body)

    def _roomy(self) -> bool:
        """Is there room for facts and thumbnail beside the name?"""
        return self.width() >= ROOM_FOR_FACTS * self.page.desk.scale

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._roomy() != self._was_roomy:
            self.rebuild()

    def _target(self) -> QFrame:
        target = QFrame()
        target.setObjectName("dropTarget")
        half = "left" if self.side == "good" else "right"
        words = f"Drop {SIDE_WORDS[self.side].lower()} files on the {half} half of the window"
        if self.cards:
            strip = QHBoxLayout(target)
            strip.setContentsMargins(14, 8, 14, 8)
            strip.addWidget(ElidedLabel(words + ".", "muted"), 1)
            return target
        box = QVBoxLayout(target)
        box.setContentsMargins(22, 16, 22, 16)
        box.setSpacing(8)
        box.addStretch(1)
        box.addWidget(label(words, "strong"))
        box.addWidget(
            label("Files are known by what is in them, not by their names: sampled rows, change rows, volts.", "muted")
        )
        box.addWidget(self.page.button(f"open_{self.side}", "Choose files…"), 0, Qt.AlignmentFlag.AlignLeft)
        box.addStretch(1)
        return target

    def _show(self, index: int) -> None:
        if index != self.page.desk.bench.case.side(self.side).shown:
            self.page.desk.bench.change(ShowCapture(self.side, index))
        else:
            self.rebuild()

    def _remove(self, index: int) -> None:
        self.open_index = -1
        self.page.desk.bench.change(RemoveCapture(self.side, index))

    def _open(self, index: int) -> None:
        self.open_index = index
        self.rebuild()


class CapturesPage(Page):
    """Two columns of cards above, the sheet below."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.columns = {side: SideColumn(self, side) for side in SIDES}
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 10, 18, 10)
        self.splitter = QSplitter(Qt.Orientation.Vertical)
        self.splitter.setChildrenCollapsible(False)
        sides = QWidget()
        row = QHBoxLayout(sides)
        row.setContentsMargins(0, 0, 0, 4)
        row.setSpacing(18)
        for column in self.columns.values():
            row.addWidget(column, 1)
        self.splitter.addWidget(sides)
        self.splitter.addWidget(self._sheet())
        self.splitter.setStretchFactor(0, 3)
        self.splitter.setStretchFactor(1, 2)
        self.splitter.setSizes([560, 120])
        around = QScrollArea()
        around.setWidgetResizable(True)
        around.setFrameShape(QFrame.Shape.NoFrame)
        around.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        around.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        around.setWidget(self.splitter)
        self.splitter.setAutoFillBackground(False)
        layout.addWidget(around)
        self.refresh("case")
        self.retheme()

    def _sheet(self) -> QWidget:
        area = QWidget()
        layout = QVBoxLayout(area)
        layout.setContentsMargins(0, 4, 0, 0)
        layout.setSpacing(8)
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(label("Probe sheet", "heading", wrap=False))
        self.sheet_line = ElidedLabel("", "muted")
        head.addWidget(self.sheet_line, 1)
        self.opener = self.button("open_sheet", "Open sheet…")
        head.addWidget(self.opener)
        self.saver = self.button("save_sheet", "Save sheet…")
        head.addWidget(self.saver)
        layout.addLayout(head)
        self.model = SheetTable(self.desk.bench)
        self.model.refused.connect(self.said)
        self.table = QTableView()
        self.table.setModel(self.model)
        self.table.setAccessibleName("Probe sheet")
        self.table.setShowGrid(False)
        self.table.setAlternatingRowColors(False)
        self.table.verticalHeader().hide()
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        header = self.table.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setStretchLastSection(True)
        header.setHighlightSections(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        self.table.selectionModel().currentChanged.connect(lambda *_: self.said.emit(self.status()))
        self.empty = QLabel("Add captures, or open a sheet: each channel then gets a row with signal, pin and family.")
        self.empty.setObjectName("muted")
        self.empty.setWordWrap(True)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignTop)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.empty, 1)
        return area

    def refresh(self, what: str) -> None:
        if what in ("case", "checkups"):
            for column in self.columns.values():
                column.rebuild()
            self._refresh_sheet()

    def _refresh_sheet(self) -> None:
        # the table hears of a change after the page does
        self.model.refresh()
        rows = self.model.rowCount()
        self.table.setVisible(rows > 0)
        if self.empty.isVisibleTo(self) != (rows == 0):
            self.empty.setVisible(rows == 0)
            self.splitter.setSizes([420, 340] if rows else [560, 120])
        sheet = self.desk.bench.case.sheet
        self.saver.setEnabled(bool(sheet.probes))
        self.saver.setToolTip(action("save_sheet").hint if sheet.probes else "No channel has a row yet")
        named = sum(sheet.named(self.model.probe_at(r).channel) for r in range(rows))
        parts = ["one sheet for both sides"]
        if rows:
            parts.append(f"{named} of {rows} channels named")
        if sheet.path:
            parts.append(Path(sheet.path).name)
        self.sheet_line.setText(" · ".join(parts))

    def retheme(self) -> None:
        line = round(15 * self.desk.scale * 1.75)
        self.table.verticalHeader().setDefaultSectionSize(line)
        self.table.horizontalHeader().setMinimumHeight(line)
        self.table.setMinimumHeight(line * 5 + 24)
        for column, width in enumerate((110, 130, 100, 90, 100, 80, 70, 130)):
            self.table.setColumnWidth(column, round(width * self.desk.scale))
        for side_column in self.columns.values():
            side_column.scroll.setMinimumHeight(round(110 * self.desk.scale))
            side_column.rebuild()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        short = self.width() < 2 * ROOM_FOR_FACTS * self.desk.scale
        self.opener.setText("Open…" if short else "Open sheet…")
        self.saver.setText("Save…" if short else "Save sheet…")

    def status(self) -> str:
        case = self.desk.bench.case
        count = sum(len(case.side(side).captures) for side in SIDES)
        parts = [f"{group_digits(count)} capture{'s' if count != 1 else ''} on the bench"]
        row = self.table.currentIndex().row()
        if row >= 0:
            parts.append(f"sheet row {row + 1} of {self.model.rowCount()}")
        if self.model.rowCount():
            parts.append("F2 edits a cell, Ctrl+Z takes back")
        return "  ·  ".join(parts)
