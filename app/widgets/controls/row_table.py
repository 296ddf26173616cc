"""A table that filters as one types: rows that hold every word typed, of one kind where one is chosen."""

from __future__ import annotations

from typing import Protocol

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QSortFilterProxyModel, Qt
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QLineEdit, QTableView

Index = QModelIndex | QPersistentModelIndex


class Worded(Protocol):
    """What a source model says of a row: all its words, and its kind where rows have kinds."""

    def words(self, row: int) -> str: ...
    def kind(self, row: int) -> str: ...


class WordFilter(QSortFilterProxyModel):
    """The filter between a ``Worded`` model of rows and its table; it sorts by the user role's plain values."""

    def __init__(self) -> None:
        super().__init__()
        self.setSortRole(Qt.ItemDataRole.UserRole)
        self._words: tuple[str, ...] = ()
        self._kind = ""

    def set_filter(self, text: str, kind: str = "") -> None:
        """Takes what was typed, and a kind; empty takes all."""
        self._words, self._kind = tuple(text.lower().split()), kind
        self.invalidate()

    def filterAcceptsRow(self, source_row: int, source_parent: Index) -> bool:
        rows: Worded = self.sourceModel()  # type: ignore[assignment]
        if self._kind and rows.kind(source_row) != self._kind:
            return False
        if not self._words:
            return True
        said = rows.words(source_row).lower()
        return all(word in said for word in self._words)

    def row_of(self, index: Index) -> int:
        """The row of the source model that is shown there."""
        return self.mapToSource(index).row()


class RowTable(QTableView):
    """Whole rows, one of them chosen, no grid; sorted by a press on a heading."""

    def __init__(self, shown: WordFilter, name: str, sorted_by: int, stretched: int) -> None:
        super().__init__()
        self.setModel(shown)
        self.setAccessibleName(name)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setSortingEnabled(True)
        self.sortByColumn(sorted_by, Qt.SortOrder.AscendingOrder)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.verticalHeader().hide()
        # a heading stands where its words and figures do
        self.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
        self._stretched = stretched
        self._stretch()

    def set_heading(self, header: QHeaderView) -> None:
        """Takes another heading in place of the plain one."""
        kept = self.horizontalHeader().sortIndicatorSection(), self.horizontalHeader().sortIndicatorOrder()
        self.setHorizontalHeader(header)
        header.setSortIndicator(*kept)
        self._stretch()

    def _stretch(self) -> None:
        self.horizontalHeader().setSectionResizeMode(self._stretched, QHeaderView.ResizeMode.Stretch)


def filter_box(of: str) -> QLineEdit:
    """A box to type words of a row into."""
    box = QLineEdit()
    box.setPlaceholderText("Filter")
    box.setAccessibleName(f"Filter the {of}")
    box.setMaximumWidth(150)
    box.setClearButtonEnabled(True)
    return box
