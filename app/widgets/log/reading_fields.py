"""What a meter said, in the line itself: between which points, on the good and on the suspect side, in which unit."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QObject
from PySide6.QtWidgets import QLineEdit, QWidget

from app.case.values import Reading
from app.widgets.controls.label import label
from app.widgets.controls.wrap_row import WrapRow

_FIELDS = (
    ("Read", "Where it was read", "6-B22 to 7-B04", 190),
    ("good", "Good reads", "0.2", 76),
    ("suspect", "Suspect reads", "180 or open", 110),
    ("unit", "Unit of the reading", "ohm", 66),
)
"""Label, spoken name, example, and width in pixels at 100 %."""


class ReadingFields(QWidget):
    """Shown for a line of kind measured; all of it may stay empty."""

    def __init__(self, keys: QObject) -> None:
        """``keys`` filters the keys of the fields, as it does those of the line."""
        super().__init__()
        row = WrapRow(self)
        self.fields: list[QLineEdit] = []
        for words, spoken, example, _ in _FIELDS:
            row.addWidget(label(words, "muted", wrap=False))
            field = QLineEdit()
            field.setAccessibleName(spoken)
            field.setPlaceholderText(example)
            field.installEventFilter(keys)
            row.addWidget(field)
            self.fields.append(field)

    def set_scale(self, scale: float) -> None:
        """Takes the text size."""
        for field, (*_, wide) in zip(self.fields, _FIELDS, strict=True):
            field.setFixedWidth(round(wide * scale))

    @property
    def texts(self) -> tuple[str, ...]:
        """As typed."""
        return tuple(field.text().strip() for field in self.fields)

    def set_texts(self, texts: Sequence[str]) -> None:
        """Fills the fields; what is not given is empty."""
        for field, text in zip(self.fields, (*texts, "", "", "", ""), strict=False):
            field.setText(text)

    def reading(self) -> Reading | None:
        """The reading; None where nothing was typed. Raises ValueError where something is lacking."""
        where, good, suspect, unit = self.texts
        if not (where or good or suspect):
            return None
        if not where or not (good or suspect):
            raise ValueError("The reading lacks its place or its value. Fill in both, or clear its fields.")
        return Reading(where, good, suspect, unit or "ohm")
