"""Step 1: the captures of both sides, and the probe sheet that names their channels."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QMenu, QPushButton, QScrollArea, QSplitter, QVBoxLayout, QWidget

from app.case.changes import EditCapture, LeaveAlone, MoveCapture, RemoveCapture, ShowCapture
from app.case.lead_corrections import RestoreLeads
from app.case.name_words import sheet_name
from app.case.record import SIDE_WORDS, SIDES, Side
from app.case.side_changes import SetSideSheet
from app.model.actions import action
from app.model.capture_cards import bench_line, edited_capture, sheet_words
from app.model.lead_offers import LeadOffer
from app.model.sheet_table import SheetTable
from app.pages.page import Page, PageContext
from app.widgets.captures.begin_row import BeginRow
from app.widgets.captures.capture_card import ROOM_FOR_FACTS
from app.widgets.captures.name_row import NameRow
from app.widgets.captures.sheet_view import SheetView
from app.widgets.captures.side_column import SideColumn
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from tracecore.errors import RequestError

LARGE = 1.3
COLUMN_WIDTHS = (100, 120, 90, 76, 84, 64, 54, 124)


class CapturesPage(Page):
    """Two columns of cards above, the sheet below. ``asked`` is the capture that a card's button was about.

    On an empty page stand the cases opened lately, which ``recent`` names, and the demo: ``case_wanted`` carries a
    path, ``demo_wanted`` a name.
    """

    case_wanted = Signal(str)
    demo_wanted = Signal(str)

    def __init__(self, context: PageContext, recent: Callable[[], tuple[tuple[str, str], ...]] = tuple) -> None:
        super().__init__(context)
        self._recent = recent
        self.begin: BeginRow | None = None
        self.asked: tuple[Side, int] = ("good", 0)
        self.columns = {side: self._column(side) for side in SIDES}
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
        self._layout = layout
        self.refresh("case")
        self.retheme()

    def _column(self, side: Side) -> SideColumn:
        column = SideColumn(self.context, self.button, side)
        column.shownWanted.connect(lambda index: self._show(side, index))
        column.opened.connect(self._share_room)
        column.wanted.connect(lambda what, index: self._deed(side, what, index))
        column.described.connect(lambda index, *texts: self._describe(side, index, *texts))
        column.swapWanted.connect(self._swap)
        column.leaveWanted.connect(self._leave)
        return column

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
        self.one_side = QPushButton("One side ▾")
        set_tip(self.one_side, "A probe sheet of one side alone, where the sides were clipped or named otherwise")
        self.one_side.setAccessibleName("Probe sheet of one side")
        self.one_side.setMenu(QMenu(self.one_side))
        head.addWidget(self.one_side)
        self.saver = self.button("save_sheet", "Save sheet…")
        head.addWidget(self.saver)
        layout.addLayout(head)
        self.names = NameRow()
        self.names.wanted.connect(self.context.session.change)
        layout.addWidget(self.names)
        self.model = SheetTable(self.context.session, self.context.theme)
        self.model.refused.connect(self.said)
        self.table = SheetView(self.model)
        self.table.swapWanted.connect(self._swap)
        self.table.selectionModel().currentChanged.connect(lambda *_: self.said.emit(self.status()))
        self.empty = label("Add captures, or open a sheet: each channel then gets a row with signal, pin and family.")
        self.empty.setObjectName("muted")
        self.empty.setAlignment(Qt.AlignmentFlag.AlignTop)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.empty, 1)
        return area

    def _share_room(self) -> None:
        """An open card gets the room that the sheet does not need for its first rows."""
        is_open = any(card.details is not None for column in self.columns.values() for card in column.cards)
        rows = self.model.rowCount() > 0
        self._set_least()
        self.splitter.setSizes(([900, 1] if is_open else [420, 340]) if rows else [560, 120])
        accused = [self.model.row_of(channel) for offer in self.model.offers for channel in offer.channels]
        if is_open and accused and accused[0] is not None:
            row = self.model.index(accused[0], 0)
            QTimer.singleShot(0, lambda: self.table.scrollTo(row, SheetView.ScrollHint.PositionAtCenter))

    def _set_least(self) -> None:
        """Large text: the page scrolls rather than cutting the cards down to one."""
        is_open = any(card.details is not None for column in self.columns.values() for card in column.cards)
        least = 110 if self.context.scale < LARGE else (270 if is_open else 200)
        for column in self.columns.values():
            column.scroll_area.setMinimumHeight(round(least * self.context.scale))

    # ---- what the cards ask for

    def _show(self, side: Side, index: int) -> None:
        if index != self.context.session.case.side(side).shown:
            self.context.session.change(ShowCapture(side, index))
        else:
            # a radio button that was on already went off under the finger
            self.columns[side].cards[index].radio.setChecked(True)

    def _deed(self, side: Side, what: str, index: int) -> None:
        session = self.context.session
        held = session.case.side(side).captures[index]
        self.asked = (side, index)
        if what == "remove":
            session.change(RemoveCapture(side, index))
        elif what == "move":
            session.change(MoveCapture(side, index))
        elif what == "leads_back":
            session.change(RestoreLeads(held.key))
        else:
            self.context.act(f"{what}_capture")

    def _describe(self, side: Side, index: int, name: str, note: str, taken: str) -> None:
        captures = self.context.session.case.side(side).captures
        if index >= len(captures):
            return
        try:
            self.context.session.change(EditCapture(edited_capture(captures[index], name, note, taken)))
        except RequestError as error:
            self.said.emit(str(error))

    def _swap(self, offer: LeadOffer) -> None:
        self.context.session.change(offer.change)

    def _leave(self, offer: LeadOffer) -> None:
        self.context.session.change(LeaveAlone(offer.key, offer.what))

    # ---- following the session

    def refresh(self, what: str) -> None:
        if what in ("case", "comparison", "checkups"):
            for column in self.columns.values():
                column.rebuild()
            self._refresh_sheet()
            self._refresh_begin()

    def _refresh_begin(self) -> None:
        """What one may begin with, as long as the case holds no capture."""
        empty = not self.context.session.case.captures
        if empty and self.begin is None:
            from demo_traces import CASES

            self.begin = BeginRow([(case.name, case.listed) for case in CASES.values()])
            self.begin.case_wanted.connect(self.case_wanted)
            self.begin.demo_wanted.connect(self.demo_wanted)
            self._layout.insertWidget(0, self.begin)
        if self.begin is not None:
            if empty:
                self.begin.set_cases(self._recent())
            self.begin.setVisible(empty)

    def _refresh_sheet(self) -> None:
        # the table hears of a change after the page does
        self.model.refresh()
        rows = self.model.rowCount()
        self.table.setVisible(rows > 0)
        self.table.place_offers()
        if self.empty.isVisibleTo(self) != (rows == 0):
            self.empty.setVisible(rows == 0)
            self.splitter.setSizes([420, 340] if rows else [560, 120])
        case = self.context.session.case
        sheet = case.sheet
        self.names.show_case(case)
        self._fill_one_side()
        self.saver.setEnabled(bool(sheet.probes))
        set_tip(self.saver, action("save_sheet").hint if sheet.probes else "No channel has a row yet")
        own = [f"{SIDE_WORDS[s].lower()}: {sheet_name(o.path)}" for s in SIDES if (o := case.side(s).sheet) is not None]
        parts = own or ["one sheet for both sides"]
        words = sheet_words(self.context.session)
        if words:
            parts.append(words)
        if sheet.path:
            parts.append(Path(sheet.path).name)
        self.sheet_line.setText(" · ".join(parts))

    def _fill_one_side(self) -> None:
        """What can be done about the sheets of one side."""
        menu = self.one_side.menu()
        menu.clear()
        for side in SIDES:
            row = action(f"{side}_sheet")
            menu.addAction(row.text).triggered.connect(lambda _on=False, name=row.name: self.context.act(name))
        for side in SIDES:
            if self.context.session.case.side(side).sheet is not None:
                words = f"Without the sheet of the {SIDE_WORDS[side].lower()} side"
                menu.addAction(words).triggered.connect(lambda _on=False, side=side: self._without_sheet(side))

    def _without_sheet(self, side: Side) -> None:
        self.context.session.change(SetSideSheet(side, None))

    def retheme(self) -> None:
        self.model.set_theme(self.context.theme)
        self.table.set_scale(self.context.scale, COLUMN_WIDTHS)
        for side_column in self.columns.values():
            side_column.rebuild()
        self._set_least()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        short = self.width() < 2 * ROOM_FOR_FACTS * self.context.scale
        self.opener.setText("Open…" if short else "Open sheet…")
        self.saver.setText("Save…" if short else "Save sheet…")
        self.one_side.setText("Side ▾" if short else "One side ▾")

    def show_drop(self, side: Side | None) -> None:
        for name, column in self.columns.items():
            column.show_drop(name == side)

    def begins_at(self) -> QWidget | None:
        return self.columns["good"].adder if not self.context.session.case.captures else self.table

    def status(self) -> str:
        parts = [bench_line(self.context.session)]
        row = self.table.currentIndex().row()
        if row >= 0:
            probe = self.model.probe_at(row)
            place = "-".join(part for part in (probe.slot, probe.pin) if part)
            pin = f", pin {place}" if place else ""
            parts.append(f"sheet row {row + 1} of {self.model.rowCount()}: channel {probe.channel}{pin}")
        if self.model.rowCount():
            parts.append("F2 edits a cell, Ctrl+Z takes back")
        return "  ·  ".join(parts)
