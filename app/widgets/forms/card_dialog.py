"""Bench cards of the case: chosen by number, filled in, and kept with a line in the log."""

from __future__ import annotations

from PySide6.QtWidgets import QComboBox, QHBoxLayout, QStackedWidget, QVBoxLayout, QWidget

from app.case.change import Change
from app.case.changes import Put, Together
from app.case.circuit_changes import AddReadings
from app.case.counted_readings import card_place, lacking, of_card
from app.case.values import BenchCard, Entry, Reading, now
from app.model.session import Session
from app.model.theme import Theme
from app.widgets.controls.forms import AskingForm, fit, typed
from app.widgets.controls.label import label
from app.widgets.forms.card_form import CardForm


class CardDialog(AskingForm):
    """The form of one card; the box above goes to another, and what was typed in the first one stays."""

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
        self._stack = QStackedWidget()
        layout.addWidget(self._stack, 1)
        self.form: CardForm | None = None
        self._forms: dict[str, CardForm] = {}
        self._began: dict[str, tuple[object, ...]] = {}
        self.numbers.setCurrentText(number)
        self.show_card(self.numbers.currentText())
        self.numbers.currentTextChanged.connect(self.show_card)
        fit(self, round(860 * scale), round(760 * scale))

    def _unkept(self) -> list[str]:
        """Numbers of the cards in which something was typed that is not in the case."""
        return [number for number, form in self._forms.items() if typed(form) != self._began[number]]

    @property
    def holds_words(self) -> bool:
        return bool(self._unkept())

    def show_card(self, number: str) -> None:
        """Shows the card of that number."""
        card = next((c for c in self._session.case.cards if c.number == number), None)
        if card is None:
            return
        if number not in self._forms:
            form = CardForm(card, self._theme, self._scale)
            form.filled.connect(self._keep)
            form.cancelled.connect(self.reject)
            self._stack.addWidget(form)
            self._forms[number], self._began[number] = form, typed(form)
        self.form = self._forms[number]
        self._stack.setCurrentWidget(self.form)

    def _keep(self, card: BenchCard) -> None:
        """The card, its line in the log and its ohms among the case's readings are one change.

        A card that still holds something typed comes next.
        """
        case, author = self._session.case, self._session.author
        before = next((own for own in case.cards if own.id == card.id), card)
        read = lacking(case.continuity, of_card(before, card, now()[:10], author))
        kept: tuple[Change, ...] = (Put(card), Put(card_entry(card, author)))
        if not self._session.change(Together("fill a bench card", (*kept, *([AddReadings(read)] if read else [])))):
            return
        self._began[card.number] = typed(self._forms[card.number])
        left = self._unkept()
        if left:
            self.numbers.setCurrentText(left[0])
        else:
            self.accept()


def card_entry(card: BenchCard, author: str) -> Entry:
    """The log's line about a filled card: every box that holds something is a reading.

    The good value is what the card says of the good side, as it was printed or typed.
    """
    readings = []
    for row, readings_of in zip(card.rows, card.filled, strict=False):
        for box, text in zip(row.boxes, readings_of, strict=False):
            if text.strip():
                where = f"{row.probe}, {box}" if box else card_place(row)
                readings.append(Reading(where, row.good, text.strip(), row.unit))
    count = len(readings)
    words = f"Bench card {card.number}: {count} reading{'s' if count != 1 else ''}"
    found = f"; found: {card.found}" if card.found else ""
    return Entry(0, "measured", words + found, author, now(), card.cycle, readings=tuple(readings), details=card.notes)
