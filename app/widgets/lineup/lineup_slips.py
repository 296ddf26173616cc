"""The slips as a table: where, what changes, a guess at what it is, and the offset from there on."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView

from app.comparison_text import signed
from app.model.lineup_words import change_words, looks_like, offset_after
from app.widgets.controls.tip import plain_tip
from tracecore.comparison import Comparison
from tracecore.lineup.slips import Slip
from tracecore.quantities import group_digits

Index = QModelIndex | QPersistentModelIndex
HEADINGS = ("at cycle", "change", "looks like", "offset after")
ROWS_SHOWN = 4


class SlipModel(QAbstractTableModel):
    """Rows are slips, first first. A guess is made when its row is looked at."""

    def __init__(self) -> None:
        super().__init__()
        self.comparison: Comparison | None = None
        self._guesses: dict[int, str] = {}

    def set_comparison(self, comparison: Comparison | None) -> None:
        """Lists the slips of another comparison."""
        self.beginResetModel()
        self.comparison, self._guesses = comparison, {}
        self.endResetModel()

    @property
    def slips(self) -> tuple[Slip, ...]:
        """The slips that are listed."""
        return self.comparison.lineup.slips if self.comparison is not None else ()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.slips)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(HEADINGS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if role == Qt.ItemDataRole.DisplayRole and orientation == Qt.Orientation.Horizontal:
            return HEADINGS[section]
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if role == Qt.ItemDataRole.DisplayRole:
            return self._cell(index.row(), index.column())
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip(self._cell(index.row(), index.column()))
        return None

    def _cell(self, row: int, column: int) -> str:
        slip = self.slips[row]
        if column == 2:
            if row not in self._guesses and self.comparison is not None:
                self._guesses[row] = looks_like(self.comparison, slip)
            return self._guesses[row]
        return (group_digits(slip.good_cycle), change_words(slip), "", signed(offset_after(slip)))[column]


class SlipTable(QTableView):
    """``chosen`` carries the row, ``opened`` the row that Enter or a double press asks for."""

    chosen = Signal(int)
    opened = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self.slip_model = SlipModel()
        self.setModel(self.slip_model)
        self.setAccessibleName("Slips")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(2, QHeaderView.ResizeMode.Stretch)
        self.selectionModel().currentRowChanged.connect(self._on_current)
        self.doubleClicked.connect(lambda index: self.opened.emit(index.row()))

    def _on_current(self, now: QModelIndex, _before: QModelIndex) -> None:
        if now.isValid():
            self.chosen.emit(now.row())

    def set_comparison(self, comparison: Comparison | None, scale: float) -> None:
        """Lists the slips of another comparison."""
        self.slip_model.set_comparison(comparison)
        self.set_scale(scale)

    def set_scale(self, scale: float) -> None:
        """Takes the text size; four rows are in sight, or as many as there are."""
        line = round(27 * scale)
        self.verticalHeader().setDefaultSectionSize(line)
        self.horizontalHeader().setMinimumHeight(line)
        count = min(max(ROWS_SHOWN, 1), max(1, len(self.slip_model.slips)))
        self.setMinimumHeight(round(line * (count + 1.4)))

    def set_chosen(self, row: int) -> None:
        """Chooses a row and brings it into sight."""
        if 0 <= row < len(self.slip_model.slips) and row != self.currentIndex().row():
            self.selectRow(row)
            self.scrollTo(self.slip_model.index(row, 0))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self.opened.emit(self.currentIndex().row())
        else:
            super().keyPressEvent(event)
