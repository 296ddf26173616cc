"""How files of one run are put on one time: the person says it, since no signal of both tells."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFormLayout, QWidget

from app.model.join_files import Parts
from app.widgets.controls.forms import FieldsForm
from app.widgets.controls.label import label
from tracecore.sides.join import TRIGGER

SAME_TRIGGER = "All began with the same trigger"
PLACED_BY = "Placed by the edges of {}"


class PartsForm(FieldsForm):
    """``wanted`` carries "trigger", or the signal by whose edges the files are placed."""

    wanted = Signal(str)

    def __init__(self, parts: Parts, parent: QWidget | None = None) -> None:
        super().__init__("Join files of one run", parent)
        self.body.addWidget(label(f"These count as one capture: {parts.names}."))
        self.how = QComboBox()
        self.how.setAccessibleName("How they are joined")
        self.how.addItem(SAME_TRIGGER, TRIGGER)
        for name in parts.signals:
            self.how.addItem(PLACED_BY.format(name), name)
        rows = QFormLayout()
        rows.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        rows.addRow("One time", self.how)
        self.body.addLayout(rows)
        words = (
            "Nothing in the files shows whether they began together."
            if not parts.signals
            else "A signal that each of them holds shows how they lie to one another; a plain clock does not."
        )
        self.body.addWidget(label(words, "muted"))
        self.body.addStretch(1)
        self.keep.setText("Join them")

    def accept(self) -> None:
        """Hands on how."""
        self.wanted.emit(self.how.currentData())
        super().accept()
