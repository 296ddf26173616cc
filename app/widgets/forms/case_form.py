"""The form that describes a case: its name and number, the two units, and who signs."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFormLayout, QGridLayout, QLineEdit, QWidget

from app.case.changes import NameCase, SetUnit, Together
from app.case.record import SIDE_WORDS, SIDES, UNTITLED
from app.case.values import Unit
from app.model.session import Session
from app.widgets.controls.forms import FieldsForm
from app.widgets.controls.label import label

UNIT_FIELDS = (("name", "Name"), ("serial", "Serial number"), ("slot", "Slot"), ("note", "Note"))


class CaseForm(FieldsForm):
    """``signed`` carries the initials. All that was typed is one change of the case."""

    signed = Signal(str)

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__("Describe the case", parent, letters=78)
        self._session = session
        case, layout = session.case, self.body
        head = QFormLayout()
        self.title = _field("" if case.title == UNTITLED else case.title, "South crate stops at the third fetch")
        self.number = _field(case.number, "14")
        self.initials = _field(session.author, "R.")
        head.addRow("Case", self.title)
        head.addRow("Number", self.number)
        head.addRow("Signed by", self.initials)
        layout.addLayout(head)
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        self.fields: dict[str, dict[str, QLineEdit]] = {}
        for column, side in enumerate(SIDES, start=1):
            grid.addWidget(label(SIDE_WORDS[side], "strong", wrap=False), 0, column)
            self.fields[side] = {}
            for row, (name, words) in enumerate(UNIT_FIELDS, start=1):
                if column == 1:
                    grid.addWidget(label(words, "muted", wrap=False), row, 0)
                field = _field(getattr(case.unit(side), name), "")
                field.setAccessibleName(f"{words}, {SIDE_WORDS[side].lower()} side")
                grid.addWidget(field, row, column)
                self.fields[side][name] = field
        layout.addLayout(grid)
        layout.addStretch(1)

    def accept(self) -> None:
        """Keeps what was typed."""
        initials = self.initials.text().strip()
        if initials != self._session.author:
            self.signed.emit(initials)
        units = [
            SetUnit(side, Unit(**{name: field.text().strip() for name, field in self.fields[side].items()}))
            for side in SIDES
        ]
        named = NameCase(self.title.text().strip() or UNTITLED, self.number.text().strip())
        self._session.change(Together("describe the case", (named, *units)))
        super().accept()


def _field(text: str, example: str) -> QLineEdit:
    field = QLineEdit(text)
    field.setPlaceholderText(f"as {example}" if example else "")
    return field
