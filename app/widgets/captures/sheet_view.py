"""The probe sheet on the page: rows that a check-up accuses carry its words, and the button that puts them right."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, Qt, Signal
from PySide6.QtGui import QPainter, QRegion, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHeaderView,
    QPushButton,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
)

from app.model.lead_offers import LeadOffer
from app.model.sheet_table import COLUMNS, SheetTable
from app.widgets.controls.tip import set_tip

Index = QModelIndex | QPersistentModelIndex
LAST = len(COLUMNS) - 1
NOTE = 270
"""Pixels at 100 % of the last column, at least."""
ROOM_FOR_NOTE = 250
"""Pixels at 100 % that a note keeps; where less is left the button beside it is not shown."""


class SheetCells(QStyledItemDelegate):
    """Paints the ground of accused rows, and leaves room in a note for the button that lies at its right."""

    def __init__(self, view: SheetView) -> None:
        super().__init__(view)
        self._view = view

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        ground = index.data(Qt.ItemDataRole.BackgroundRole)
        if ground is not None and not option.state & QStyle.StateFlag.State_Selected:
            # a style sheet on the cells hides the ground that the model names
            painter.fillRect(option.rect, ground)
        super().paint(painter, option, index)

    def initStyleOption(self, option: QStyleOptionViewItem, index: Index) -> None:
        super().initStyleOption(option, index)
        room = self._view.room_for_button(index.row()) if index.column() == LAST else 0
        if room:
            width = option.rect.width() - room - 12
            option.text = option.fontMetrics.elidedText(option.text, Qt.TextElideMode.ElideRight, width)


class SheetView(QTableView):
    """``swapWanted`` carries the offer whose button was pressed."""

    swapWanted = Signal(object)

    def __init__(self, model: SheetTable) -> None:
        super().__init__()
        self._buttons: list[tuple[LeadOffer, QPushButton]] = []
        self._sheet, self._scale = model, 1.0
        self.setModel(model)
        self.setAccessibleName("Probe sheet")
        self.setShowGrid(False)
        self.setWordWrap(False)
        # Tab goes on to the next part of the page; arrows go from cell to cell
        self.setTabKeyNavigation(False)
        self.verticalHeader().hide()
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        header = self.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setStretchLastSection(True)
        header.setHighlightSections(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        header.sectionResized.connect(lambda *_: self._place())
        self.setItemDelegate(SheetCells(self))
        self.verticalScrollBar().valueChanged.connect(lambda _: self._place())
        self.horizontalScrollBar().valueChanged.connect(lambda _: self._place())

    def set_scale(self, scale: float, widths: tuple[int, ...]) -> None:
        """Takes the text size."""
        self._scale = scale
        line = round(15 * scale * 1.75)
        self.verticalHeader().setDefaultSectionSize(line)
        self.horizontalHeader().setMinimumHeight(line)
        self.setMinimumHeight(line * 5 + 24)
        for column, width in enumerate(widths):
            self.setColumnWidth(column, round(width * scale))
        self._room_for_notes()
        self.place_offers()

    def place_offers(self) -> None:
        """Makes the buttons of what is offered now."""
        for _, button in self._buttons:
            button.hide()
            button.deleteLater()
        self._buttons = []
        several = len({offer.key for offer in self._sheet.offers}) > 1
        for offer in self._sheet.offers:
            # where two captures have mistakes, a button says whose leads it is about
            words = f"{offer.words} in {offer.capture}" if several else offer.words
            button = QPushButton(words, self.viewport())
            button.setProperty("small", True)
            set_tip(button, offer.effect)
            button.clicked.connect(lambda _checked=False, offer=offer: self.swapWanted.emit(offer))
            self._buttons.append((offer, button))
        self._place()

    def room_for_button(self, row: int) -> int:
        """Pixels at the right of a row that a button takes; 0 where none lies there."""
        shown = [button for _, button in self._buttons if button.isVisibleTo(self)]
        lying = [b for b in shown if self.rows_of(b)[0] <= row <= self.rows_of(b)[1]]
        return max((button.width() + 8 for button in lying), default=0)

    def rows_of(self, button: QPushButton) -> tuple[int, int]:
        """First and last row that the button lies on."""
        area = button.geometry()
        return self.rowAt(area.top() + 1), self.rowAt(area.bottom() - 1)

    def _place(self) -> None:
        taken = QRegion()
        for offer, button in self._buttons:
            rows = sorted(r for c in offer.channels if (r := self._sheet.row_of(c)) is not None)
            if not rows:
                button.hide()
                continue
            areas: list[QRect] = [self.visualRect(self._sheet.index(r, LAST)) for r in rows]
            size = button.sizeHint()
            if areas[0].width() < size.width() + ROOM_FOR_NOTE * self._scale:
                # the words come first; the capture's card has the same button
                button.hide()
                continue
            right = min(areas[0].right(), self.viewport().width()) - size.width() - 6
            # over all its rows where they are neighbours, beside the first one otherwise
            pair = areas[0].united(areas[-1]) if rows[-1] - rows[0] == len(rows) - 1 else areas[0]
            top = pair.center().y() - size.height() // 2
            place = QRect(right, top, size.width(), min(size.height(), max(pair.height(), 1)))
            if taken.intersects(place):
                # another one lies there; again, the card has the same button
                button.hide()
                continue
            taken += place
            button.setGeometry(place)
            button.show()
        self.viewport().update()

    def _room_for_notes(self) -> None:
        """Notes keep a width that can be read: where it is not left over, the table scrolls sideways."""
        header = self.horizontalHeader()
        least = round(NOTE * self._scale)
        before = sum(self.columnWidth(column) for column in range(LAST))
        stretches = self.viewport().width() - before >= least
        header.setStretchLastSection(stretches)
        if not stretches:
            self.setColumnWidth(LAST, least)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._room_for_notes()
        self._place()
