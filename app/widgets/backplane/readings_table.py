"""Continuity as a table with entry where one reads it: chosen net first, then what differs."""

from __future__ import annotations

from PySide6.QtCore import QSignalBlocker, QSize, Signal
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView

from app.model.crate import BackplaneView
from app.model.readings_model import VERDICT_COLUMN, ReadingsModel
from tracecore.circuit.continuity.comparison import Pair, Verdict

LEAST_ROWS = 4


class ReadingsTable(QTableView):
    """Emits ``chosen`` with the second pin of a row; what is typed comes from ``readings.typed``."""

    chosen = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.readings = ReadingsModel()
        self.setModel(self.readings)
        self.setWordWrap(False)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.verticalHeader().setVisible(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.setAccessibleName("Readings of both backplanes")
        self.setTabKeyNavigation(False)
        self.only: Verdict | None = None
        self.selectionModel().currentRowChanged.connect(self._on_row)

    def sizeHint(self) -> QSize:
        # a column that may scroll makes itself as high as its parts would like to be
        return QSize(super().sizeHint().width(), self.minimumHeight())

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """The pairs in view, by row."""
        return self.readings.pairs

    def set_scale(self, scale: float) -> None:
        """Takes the text size: no less than four rows stay in sight."""
        line = round(15 * scale * 1.75)
        self.verticalHeader().setDefaultSectionSize(line)
        self.horizontalHeader().setMinimumHeight(line)
        head = max(line, self.horizontalHeader().sizeHint().height())
        # large text brings a bar below the rows
        bar = self.horizontalScrollBar().sizeHint().height()
        self.setMinimumHeight(head + line * LEAST_ROWS + bar + 6)

    def set_view(self, view: BackplaneView) -> None:
        """Shows the pairs of a view; the row that was current stays so, wherever its pair stands now."""
        row = self.currentIndex().row()
        kept = self.pairs[row] if 0 <= row < len(self.pairs) else None
        with QSignalBlocker(self.selectionModel()):
            self.readings.set_view(view, self.only)
            for index, pair in enumerate(self.pairs if kept is not None else ()):
                if kept is not None and (pair.start, pair.end, pair.card_in) == (kept.start, kept.end, kept.card_in):
                    self.selectRow(index)
                    break
        head = self.horizontalHeader()
        head.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        head.setResizeContentsPrecision(60)
        head.setSectionResizeMode(VERDICT_COLUMN, QHeaderView.ResizeMode.Stretch)
        # what is stretched is never narrower than its heading
        head.setMinimumSectionSize(head.sectionSizeHint(VERDICT_COLUMN))

    def _on_row(self) -> None:
        row = self.currentIndex().row()
        if 0 <= row < len(self.pairs):
            self.chosen.emit(self.pairs[row].end)
