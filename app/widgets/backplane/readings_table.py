"""The readings of both sides as a table; the suspect's ohms are typed where they are asked for."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem

from app.model.crate import BackplaneView
from app.report.continuity_words import ohms_words, verdict_words
from app.widgets.backplane.pin_shapes import READING_MARKS
from tracecore.circuit.continuity.comparison import Pair, Verdict
from tracecore.circuit.pin_list import GROUNDS

HEADINGS = ("From", "To", "Net", "Good, ohm", "Suspect, ohm", "Verdict", "Read on")
SUSPECT_COLUMN = 4


def _net(nets: dict[str, str], pair: Pair) -> str:
    """The net of a pair; a reading to ground belongs to the other pin's."""
    named = [net for net in (nets.get(pair.start, ""), nets.get(pair.end, "")) if net]
    return next((net for net in named if net.replace(" ", "").lower() not in GROUNDS), named[0] if named else "none")


class ReadingsTable(QTableWidget):
    """Emits ``typed`` with both pins, whether the card was in, and the text; ``chosen`` with the second pin."""

    typed = Signal(str, str, bool, str)
    chosen = Signal(str)

    def __init__(self) -> None:
        super().__init__(0, len(HEADINGS))
        self.setHorizontalHeaderLabels(HEADINGS)
        self.verticalHeader().setVisible(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.horizontalHeader().setSectionResizeMode(5, QHeaderView.ResizeMode.Stretch)
        self.setAccessibleName("Readings of both backplanes")
        self.setTabKeyNavigation(False)
        self.only: Verdict | None = None
        self._pairs: tuple[Pair, ...] = ()
        self._filling = False
        self.itemChanged.connect(self._on_typed)
        self.itemSelectionChanged.connect(self._on_row)

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """The pairs in view, by row."""
        return self._pairs

    def set_view(self, view: BackplaneView) -> None:
        """Shows the pairs of a view, those of the filter alone."""
        self._filling = True
        nets = {spot.name: spot.net for spot in view.spots}
        self._pairs = tuple(p for p in view.pairs if self.only is None or p.verdict == self.only)
        self.setRowCount(len(self._pairs))
        for row, pair in enumerate(self._pairs):
            last = pair.readings[-1]
            read_on = " ".join(part for part in (last.read_on, last.by) if part)
            cells = (
                pair.start,
                pair.end,
                _net(nets, pair),
                ohms_words(pair.good_ohms) or ("joined over others" if "good" in pair.over else ""),
                ohms_words(pair.suspect_ohms),
                f"{READING_MARKS[pair.verdict]}  {verdict_words(pair)}",
                read_on,
            )
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                if column != SUSPECT_COLUMN:
                    item.setFlags(item.flags() & ~Qt.ItemFlag.ItemIsEditable)
                else:
                    item.setToolTip("Type what the suspect backplane reads: a number with k or M, or open")
                self.setItem(row, column, item)
        head = self.horizontalHeader()
        # as the style draws the bold headings, at any size of text; the verdict takes the rest
        head.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        head.setSectionResizeMode(5, QHeaderView.ResizeMode.Stretch)
        self._filling = False

    def _on_typed(self, item: QTableWidgetItem) -> None:
        if self._filling or item.column() != SUSPECT_COLUMN or not item.text().strip():
            return
        pair = self._pairs[item.row()]
        self.typed.emit(pair.start, pair.end, pair.card_in, item.text())

    def _on_row(self) -> None:
        row = self.currentRow()
        if not self._filling and 0 <= row < len(self._pairs):
            self.chosen.emit(self._pairs[row].end)
