"""Bench cards of the case: chosen by number, filled in, and kept with a line in the log."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox, QHBoxLayout, QVBoxLayout, QWidget

from app.case.changes import Put, Together
from app.case.values import BenchCard, Entry, Reading, now
from app.model.session import Session
from app.model.theme import Theme
from app.widgets.controls.forms import AskingForm, fit
from app.widgets.controls.label import label
from app.widgets.forms.card_form import CardForm


class CardDialog(AskingForm):
    """The form of one card; the box above goes to another."""

    def __init__(
        self, session: Session, number: str, theme: Theme, scale: float, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._session, self._theme, self._scale = session, theme, scale
        self.setWindowTitle("Bench card")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 10, 0, 0)
        head = QHBoxLayout()
        head.setContentsMargins(18, 0, 18, 0)
        head.addWidget(label("Card", "strong", wrap=False))
        self.numbers = QComboBox()
        self.numbers.addItems([card.number for card in session.case.cards])
        self.numbers.setAccessibleName("Number of the card")
        head.addWidget(self.numbers)
        head.addStretch(1)
        layout.addLayout(head)
        self._layout = layout
        self.form: CardForm | None = None
        self.numbers.setCurrentText(number)
        self.show_card(self.numbers.currentText())
        self.numbers.currentTextChanged.connect(self.show_card)
        fit(self, round(860 * scale), round(760 * scale))

    def written_in(self) -> QWidget:
        return self.form or self

    def show_card(self, number: str) -> None:
        """Shows the card of that number."""
        card = next((c for c in self._session.case.cards if c.number == number), None)
        if card is None:
            return
        if self.form is not None:
            self._layout.removeWidget(self.form)
            self.form.hide()
            self.form.deleteLater()
        self.form = CardForm(card, self._theme, self._scale)
        self.form.filled.connect(self._keep)
        self._layout.addWidget(self.form, 1)
        self.take_as_begun()

    def _keep(self, card: BenchCard) -> None:
        """The card and its line in the log are one change."""
        if self._session.change(
            Together("fill a bench card", (Put(card), Put(card_entry(card, self._session.author))))
        ):
            self.accept()


def card_entry(card: BenchCard, author: str) -> Entry:
    """The log's line about a filled card: every box that holds something is a reading.

    The good value is what the card says of the good side, as it was printed or typed.
    """
    readings = []
    for row, typed in zip(card.rows, card.filled, strict=False):
        for box, text in zip(row.boxes, typed, strict=False):
            if text.strip():
                where = f"{row.probe}, {box}" if box else row.probe
                readings.append(Reading(where, row.good, text.strip(), row.unit))
    count = len(readings)
    words = f"Bench card {card.number}: {count} reading{'s' if count != 1 else ''}"
    found = f"; found: {card.found}" if card.found else ""
    return Entry(0, "measured", words + found, author, now(), card.cycle, readings=tuple(readings), details=card.notes)
