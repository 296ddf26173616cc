"""The pairs of two continuity lists as a table; what a side reads is typed where it is read."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal

from app.model.crate import BackplaneView
from app.model.plain_tip import plain_tip
from app.report.continuity_words import ohms_words, verdict_words
from tracecore.circuit.continuity.comparison import Pair, Verdict
from tracecore.circuit.continuity.readings import Side
from tracecore.circuit.pin_list import GROUNDS

HEADINGS = ("From", "To", "Net", "Good, ohm", "Suspect, ohm", "Verdict", "Read on")
GOOD_COLUMN, SUSPECT_COLUMN, VERDICT_COLUMN = 3, 4, 5
_SIDES: dict[int, Side] = {GOOD_COLUMN: "good", SUSPECT_COLUMN: "suspect"}
READING_MARKS: dict[Verdict, str] = {
    "same": "=",
    "open": "○ – ○",
    "extra": "⌒",
    "raised": "↑",
    "lower": "↓",
    "varies": "~",
    "to measure": "□",
}
"""Before the words of a verdict, so that it is told by shape too."""
Index = QModelIndex | QPersistentModelIndex


class ReadingsModel(QAbstractTableModel):
    """Emits ``typed`` with both pins, whether the card was in, the side, and the text."""

    typed = Signal(str, str, bool, str, str)

    def __init__(self) -> None:
        super().__init__()
        self.pairs: tuple[Pair, ...] = ()
        self._view: BackplaneView | None = None

    def set_view(self, view: BackplaneView, only: Verdict | None) -> None:
        """Shows the pairs of a view, those of one verdict alone where it is named."""
        self.beginResetModel()
        self._view = view
        self.pairs = tuple(pair for pair in view.pairs if only is None or pair.verdict == only)
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.pairs)

    def columnCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(HEADINGS)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = 0) -> Any:
        if role == Qt.ItemDataRole.DisplayRole and orientation == Qt.Orientation.Horizontal:
            return HEADINGS[section]
        return None

    def data(self, index: Index, role: int = 0) -> Any:
        pair, column = self.pairs[index.row()], index.column()
        if role == Qt.ItemDataRole.DisplayRole:
            return self._words(pair, column)
        if role == Qt.ItemDataRole.ToolTipRole and column in _SIDES:
            return f"Type what the {_SIDES[column]} backplane reads: a number with k or M, or open"
        if role == Qt.ItemDataRole.ToolTipRole and column == VERDICT_COLUMN:
            # the column takes what is left of the width, which may be less than its words
            return plain_tip(self._words(pair, column))
        if role == Qt.ItemDataRole.TextAlignmentRole and column in _SIDES:
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if role == Qt.ItemDataRole.EditRole:
            return ""
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        base = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return base | Qt.ItemFlag.ItemIsEditable if index.column() in _SIDES else base

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        text = str(value).strip()
        if role != Qt.ItemDataRole.EditRole or not text:
            return False
        pair = self.pairs[index.row()]
        self.typed.emit(pair.start, pair.end, pair.card_in, _SIDES[index.column()], text)
        return True

    def _words(self, pair: Pair, column: int) -> str:
        last = pair.readings[-1]
        if column == 2:
            return self._net(pair)
        if column in _SIDES:
            ohms = pair.good_ohms if column == GOOD_COLUMN else pair.suspect_ohms
            return ohms_words(ohms) or ("joined over others" if _SIDES[column] in pair.over else "")
        return (
            pair.start,
            pair.end,
            "",
            "",
            "",
            f"{READING_MARKS[pair.verdict]}  {verdict_words(pair)}",
            " ".join(part for part in (last.read_on, last.by) if part),
        )[column]

    def _net(self, pair: Pair) -> str:
        """The net of a pair; a reading to ground belongs to the other pin's."""
        nets = self._view.nets if self._view is not None else {}
        named = [net for net in (nets.get(pair.start, ""), nets.get(pair.end, "")) if net]
        return next(
            (net for net in named if net.replace(" ", "").lower() not in GROUNDS), named[0] if named else "none"
        )
