"""Every violation of one signal, both sides; filtered as one types, and by kind."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt

from tracecore.quantities import format_time, format_volts, group_digits

if TYPE_CHECKING:
    from tracecore.compare.findings import LevelViolation

Index = QModelIndex | QPersistentModelIndex
COLUMNS = ("Kind", "At cycle", "Volts", "Lasts", "Side")
_ENDS = {
    "weak low": "{v}, low is {l} at most",
    "weak high": "{v}, high is {l} at least",
    "runt": "turns back at {v}",
    "ringing": "comes back to {v}",
    "slow transition": "midway at {v}",
    "steady mid-level": "rests at {v}",
}


def volts_words(row: LevelViolation) -> str:
    """Volts, and the limit where one is broken."""
    return _ENDS.get(row.kind, "{v}").format(v=format_volts(row.volts), l=format_volts(row.limit_v))


class ViolationRows(QAbstractTableModel):
    """One row a violation; the sort role has plain numbers."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: Sequence[LevelViolation] = ()

    def set_rows(self, rows: Sequence[LevelViolation]) -> None:
        """Shows other violations."""
        self.beginResetModel()
        self.rows = tuple(rows)
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
        cycle = "not matched" if row.cycle is None else group_digits(row.cycle)
        lasts = row.stop_ps - row.start_ps
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole):
            # words and figures of the program alone
            return (row.kind, cycle, volts_words(row), format_time(lasts, digits=3), row.side)[index.column()]
        if role == Qt.ItemDataRole.UserRole:
            plain = (row.kind, -1 if row.cycle is None else row.cycle, row.volts, lasts, row.side)
            return plain[index.column()]
        return None

    def words(self, row: int) -> str:
        """All that a row says."""
        return " ".join(str(self.data(self.index(row, k))) for k in range(len(COLUMNS)))

    def kind(self, row: int) -> str:
        """The kind of its violation."""
        return self.rows[row].kind
