"""Rows of the timing table: a signal, its strips, the difference of medians, and the verdict; filtered as one types."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from app.timing_text import difference_words, side_words
from app.widgets.controls.tip import plain_tip

if TYPE_CHECKING:
    from tracecore.compare.timing_comparison import SignalTiming, TimingReport

Index = QModelIndex | QPersistentModelIndex
COLUMNS = ("Signal", "Delay after the active edge", "Difference", "Verdict")
ROW = Qt.ItemDataRole.UserRole + 1
_ORDER = {"violates": 0, "cannot be judged": 1, "marginal": 2, "within": 3}


def row_words(row: SignalTiming) -> str:
    """All that a row says, for a reader of the screen and for the filter."""
    into = f" into {row.into}" if row.into else ""
    return (
        f"{row.signal} {row.place}{into}: good {side_words(row.good)}, suspect {side_words(row.suspect)}, "
        f"difference {difference_words(row)}, {row.verdict}, {row.why}"
    )


class StripRows(QAbstractTableModel):
    """One row a signal."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: Sequence[SignalTiming] = ()
        self.report: TimingReport | None = None

    def set_report(self, report: TimingReport | None) -> None:
        """Shows another report, in its order: worst first."""
        self.beginResetModel()
        self.report, self.rows = report, () if report is None else report.rows
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(COLUMNS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        if role != Qt.ItemDataRole.DisplayRole or orientation != Qt.Orientation.Horizontal:
            return None
        return COLUMNS[section]

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        row = self.rows[index.row()]
        if role == ROW:
            return row
        if role in (Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleTextRole):
            return plain_tip(row_words(row)) if role == Qt.ItemDataRole.ToolTipRole else row_words(row)
        if role == Qt.ItemDataRole.UserRole:
            delay = row.suspect.median_ps if row.suspect is not None and row.suspect.count else None
            return (
                row.signal,
                float("inf") if delay is None else delay,
                -1.0 if row.difference_ps is None else abs(row.difference_ps),
                index.row() if row.limits is None else _ORDER[row.verdict] * 10_000 + index.row() - 10**6,
            )[index.column()]
        return None

    def words(self, row: int) -> str:
        """All that a row says."""
        return row_words(self.rows[row])

    def kind(self, row: int) -> str:
        """Its verdict."""
        return self.rows[row].verdict
