"""The form that describes a crate: slots, rows, pins a row and names, from a common shape or from the pins named."""

from __future__ import annotations

import re

from PySide6.QtWidgets import (
    QComboBox,
    QFormLayout,
    QLineEdit,
    QPlainTextEdit,
    QSpinBox,
    QWidget,
)

from app.case.circuit_changes import SetCrate
from app.case.values import MOST_PINS, MOST_ROWS, MOST_SLOTS, CrateShape
from app.model.crate import COMMON_SHAPES
from app.model.session import Session
from app.widgets.controls.forms import FieldsForm
from app.widgets.controls.label import label

BY_PINS = "As the named pins need it"
_ROW = re.compile(r"[A-Z]{1,2}")


class CrateForm(FieldsForm):
    """Keep is one change of the case; the shape that the pins need is kept as none, so that it grows with them."""

    def __init__(self, session: Session, now: CrateShape, parent: QWidget | None = None) -> None:
        super().__init__("Describe the crate", parent)
        self._session, self._by_pins = session, now
        form = QFormLayout()
        self.start = QComboBox()
        self.start.addItems(["As below", BY_PINS, *(name for name, _ in COMMON_SHAPES)])
        self.slots, self.pins = QSpinBox(), QSpinBox()
        self.slots.setRange(1, MOST_SLOTS)
        self.pins.setRange(1, MOST_PINS)
        self.rows, self.names = QLineEdit(), QPlainTextEdit()
        self.rows.setPlaceholderText("A B")
        self.names.setPlaceholderText("One line for each slot, from slot 1 on, such as Clock")
        self.names.setTabChangesFocus(True)
        for words, field in (
            ("Begin from", self.start), ("Slots", self.slots), ("Rows of pins", self.rows), ("Pins a row", self.pins),
            ("Names of slots", self.names),
        ):  # fmt: skip
            field.setAccessibleName(words)
            form.addRow(words, field)
        self.body.addLayout(form)
        self.note = label("", "muted")
        self.foot.addWidget(self.note)
        self._fill(now)
        self.start.currentIndexChanged.connect(self._on_start)
        self.rows.textChanged.connect(lambda _text: self._look())
        self.names.textChanged.connect(self._look)
        self.slots.valueChanged.connect(lambda _value: self._look())
        self._look()

    def _fill(self, shape: CrateShape) -> None:
        self.slots.setValue(shape.slots)
        self.pins.setValue(shape.pins)
        self.rows.setText(" ".join(shape.rows))
        if shape.names:
            self.names.setPlainText("\n".join(shape.names))

    def _on_start(self, index: int) -> None:
        if index > 1:
            self._fill(COMMON_SHAPES[index - 2][1])
        self._look()

    @property
    def shape(self) -> CrateShape | None:
        """As typed; None where the named pins are to decide."""
        if self.start.currentText() == BY_PINS:
            return None
        names = [line.strip() for line in self.names.toPlainText().split("\n")]
        while names and not names[-1]:
            names.pop()
        return CrateShape(self.slots.value(), tuple(self.rows.text().upper().split()), self.pins.value(), tuple(names))

    @property
    def lacking(self) -> str:
        """What is still wrong, in a sentence."""
        shape = self.shape
        if shape is None:
            return ""
        if not shape.rows or len(shape.rows) > MOST_ROWS or len(set(shape.rows)) != len(shape.rows):
            return f"Name 1 to {MOST_ROWS} rows, each once, parted by spaces, such as A B."
        if any(not _ROW.fullmatch(row) for row in shape.rows):
            return "A row is one or two letters, such as A."
        if len(shape.names) > shape.slots:
            return f"{len(shape.names)} slots are named and there are {shape.slots}. Take lines out, or add slots."
        return ""

    def _look(self) -> None:
        given = self.shape is not None
        for field in (self.slots, self.rows, self.pins, self.names):
            field.setEnabled(given)
        self.note.setText(self.lacking or ("" if given else "The crate has what sheet, pin list and readings name."))
        self.keep.setEnabled(not self.lacking)

    def accept(self) -> None:
        """Keeps the shape in the case, where it was changed at all."""
        if self.lacking:
            return
        described = self._session.case.crate
        if self.shape != described and (described is not None or self.shape != self._by_pins):
            self._session.change(SetCrate(self.shape))
        super().accept()
