"""Go to a cycle or a time, counted on either side."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFormLayout, QLineEdit, QWidget

from app.model.go_to import Side, parse_place
from app.widgets.controls.forms import FieldsForm
from app.widgets.controls.label import label

SIDES: tuple[tuple[str, Side], ...] = (("Known-good side", "good"), ("Suspect side", "suspect"))


class GoToForm(FieldsForm):
    """``wanted`` carries a Place. What cannot be one is told, and the form stays."""

    wanted = Signal(object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Go to a cycle or a time", parent, letters=60)
        rows = QFormLayout()
        rows.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        rows.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.place = QLineEdit()
        self.place.setAccessibleName("Cycle, or time with its unit")
        self.place.setPlaceholderText("as 1004 or 2.5 us")
        self.side = QComboBox()
        self.side.setAccessibleName("Counted on")
        for words, side in SIDES:
            self.side.addItem(words, side)
        rows.addRow("Cycle or time", self.place)
        rows.addRow("Counted on", self.side)
        self.body.addLayout(rows)
        self.note = label("", "warning")
        self.body.addWidget(self.note)
        self.body.addStretch(1)
        self.keep.setText("Go there")

    def accept(self) -> None:
        """Hands the place on, or says why it is none."""
        try:
            place = parse_place(self.place.text(), self.side.currentData())
        except ValueError as error:
            self.note.setText(str(error))
            self.fit()
            return
        self.wanted.emit(place)
        super().accept()
