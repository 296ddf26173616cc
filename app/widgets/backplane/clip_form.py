"""A chip under a test clip: its number, and the pin list gets a row for each leg that a channel is named after."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFormLayout, QLineEdit, QWidget

from app.case.circuit_changes import SetPinList
from app.model.session import Session
from app.widgets.controls.forms import FieldsForm
from app.widgets.controls.label import label
from tracecore.circuit.pin_list import Direction, PinList, Pinned
from tracecore.errors import TwinslotError

if TYPE_CHECKING:
    from tracecore.circuit.parts.catalogue import Part
    from tracecore.comparison import Comparison


def clip_rows(comparison: Comparison, name: str, text: str) -> tuple[Pinned, ...]:
    """The rows of a chip whose legs the suspect's channels are named after, or the sheet's column pin names.

    Supply legs are tied to their nets. Raises RequestError where the table has no such part, or no channel is a leg.
    """
    from tracecore.circuit.parts.catalogue import exact_number, find_part
    from tracecore.circuit.parts.clip import legs_of
    from tracecore.circuit.parts.outputs import output_values

    part = find_part(text)
    number = exact_number(text, part)
    sheet = comparison.request.sheet
    legs = legs_of(comparison.request.suspect[0], part, {}, sheet)
    outputs = output_values(part, number)
    rows = []
    for leg, channel in sorted(legs.items()):
        if leg in part.signals:
            direction = _direction(part, part.signals[leg], outputs)
            rows.append(Pinned(sheet.probe(channel).signal, "", "", name, number, str(leg), direction, "clip"))
    rows += [
        Pinned(net, "", "", name, number, str(leg), "supply", "clip")
        for net, leg in (("GND", part.gnd), ("+5V", part.vcc))
    ]
    return tuple(rows)


def _direction(part: Part, name: str, outputs: Collection[str]) -> Direction:
    """Seen from the chip."""
    if name not in outputs:
        return "in"
    return "three-state" if name in part.enables else "open collector" if name in part.open_collector else "out"


class ClipForm(FieldsForm):
    """Keep puts the rows into the pin list, as one change of the case."""

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__("Chip under a test clip", parent)
        self._session = session
        form = QFormLayout()
        self.number, self.name = QLineEdit(), QLineEdit("U1")
        self.number.setPlaceholderText("74LS138")
        for words, field in (("Number on the chip", self.number), ("Its name on the board", self.name)):
            field.setAccessibleName(words)
            field.textChanged.connect(lambda _text: self._look())
            form.addRow(words, field)
        self.body.addLayout(form)
        self.body.addWidget(
            label(
                "Channels are legs where they are called 7, pin 7 or P07, or where the sheet's pin is a number.",
                "muted",
            )
        )
        self.note = label("", "fault")
        self.foot.addWidget(self.note)
        self._look()

    def _look(self) -> None:
        self.keep.setEnabled(bool(self.number.text().strip() and self.name.text().strip().isalnum()))

    def accept(self) -> None:
        """Takes the legs; where they cannot be found a sentence says why, and the form stays."""
        comparison = self._session.comparison
        if comparison is None:
            self.note.setText("Nothing is compared yet: add the clip's captures of both sides first.")
            return
        try:
            rows = clip_rows(comparison, self.name.text().strip(), self.number.text().strip())
        except TwinslotError as error:
            self.note.setText(str(error))
            return
        pins = self._session.case.pins or PinList()
        kept = tuple(row for row in pins.rows if row.part != rows[0].part)
        if self._session.change(SetPinList(PinList((*kept, *rows), pins.path))):
            super().accept()
