"""The lines of all signals as a table model, sorted by column and filtered by verdict and words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, QSortFilterProxyModel, Qt

from app.model.signal_lines import COLUMNS, Group, SignalLine, wanted
from app.widgets.controls.tip import plain_tip

Index = QModelIndex | QPersistentModelIndex
NUMBERS = (3, 4, 5)
"""Columns that are read from their right end."""


class SignalRows(QAbstractTableModel):
    """One row a signal; the user role has what it is sorted by."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: Sequence[SignalLine] = ()

    def set_lines(self, lines: Sequence[SignalLine]) -> None:
        """Shows other lines."""
        self.beginResetModel()
        self.lines = tuple(lines)
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.lines)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(COLUMNS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return COLUMNS[section]
        if role == Qt.ItemDataRole.ToolTipRole:
            return f"Sort by {COLUMNS[section].lower()}"
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return self._aligned(section)
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        line, column = self.lines[index.row()], index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return line.cells[column]
        if role == Qt.ItemDataRole.ToolTipRole:
            return plain_tip(line.cells[column])
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return self._aligned(column)
        return None

    @staticmethod
    def _aligned(column: int) -> Qt.AlignmentFlag:
        side = Qt.AlignmentFlag.AlignRight if column in NUMBERS else Qt.AlignmentFlag.AlignLeft
        return side | Qt.AlignmentFlag.AlignVCenter


class SignalFilter(QSortFilterProxyModel):
    """Rows of one group that hold every word typed; unsorted, they stand best supported first."""

    def __init__(self, rows: SignalRows) -> None:
        super().__init__()
        self.setSourceModel(rows)
        self._rows = rows
        self._group: Group | None = None
        self._text = ""

    def set_filter(self, group: Group | None, text: str) -> None:
        """Takes a group, None for all, and what was typed."""
        self._group, self._text = group, text
        self.invalidate()

    def filterAcceptsRow(self, source_row: int, source_parent: Index) -> bool:
        return wanted(self._rows.lines[source_row], self._group, self._text)

    def lessThan(self, left: Index, right: Index) -> bool:
        lines, column = self._rows.lines, left.column()
        return lines[left.row()].keys[column] < lines[right.row()].keys[column]

    def line(self, index: Index) -> SignalLine:
        """The line of a row that is shown."""
        return self._rows.lines[self.mapToSource(index).row()]

    def index_of(self, signal: str | None) -> QModelIndex:
        """The row of a signal; an invalid one where it is not shown."""
        for row, line in enumerate(self._rows.lines):
            if line.signal == signal:
                return self.mapFromSource(self._rows.index(row, 0))
        return QModelIndex()
