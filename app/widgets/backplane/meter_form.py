"""The meter: what its leads read alone on either side, below which ohms pins are joined, and from where on raised."""

from __future__ import annotations

import math

from PySide6.QtWidgets import QFormLayout, QLineEdit, QWidget

from app.case.circuit_changes import SetMeter
from app.model.session import Session
from app.widgets.controls.forms import FieldsForm
from app.widgets.controls.label import label
from tracecore.circuit.continuity.readings import ohms_text, parse_ohms

FIELDS = (
    ("Leads alone, known-good side, ohm", "good_leads_ohms", True),
    ("Leads alone, suspect side, ohm", "suspect_leads_ohms", True),
    ("Pins are joined below, ohm", "joins_ohms", False),
    ("Raised from so much above good, ohm", "raised_ohms", False),
)
"""Words, the value's name, and whether it may be nothing."""


class MeterForm(FieldsForm):
    """Keep is one change of the case."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__("Meter", parent)
        self._session = session
        form = QFormLayout()
        self.fields: dict[str, QLineEdit] = {}
        for words, name, _ in FIELDS:
            field = QLineEdit(ohms_text(getattr(session.case.continuity, name)))
            field.setAccessibleName(words)
            field.textChanged.connect(lambda _text: self._look())
            form.addRow(words, field)
            self.fields[name] = field
        self.body.addLayout(form)
        self.body.addWidget(
            label("1 ohm is common practice for both limits. The leads are taken off each reading.", "muted")
        )
        self.note = label("", "fault")
        self.foot.addWidget(self.note)
        self._look()

    @property
    def values(self) -> dict[str, float] | None:
        """As typed; None where a field holds no such ohms."""
        out: dict[str, float] = {}
        for _, name, may_be_none in FIELDS:
            try:
                ohms = parse_ohms(self.fields[name].text() or "0")
            except ValueError:
                return None
            if ohms is None or math.isinf(ohms) or ohms < 0 or (ohms == 0 and not may_be_none):
                return None
            out[name] = ohms
        return out

    def _look(self) -> None:
        fits = self.values is not None
        self.note.setText("" if fits else "Leads are 0 ohm or more, limits above 0: numbers, with k or M.")
        self.keep.setEnabled(fits)

    def accept(self) -> None:
        """Keeps leads and limits in the case."""
        values = self.values
        if values is not None:
            self._session.change(SetMeter(**values))
            super().accept()
