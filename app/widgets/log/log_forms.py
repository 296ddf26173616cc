"""Small forms of the log: a part that moved, a reading, the proof after a repair. Each gives one frozen value."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QSpinBox,
    QWidget,
)

from app.case.counted_readings import counted
from app.case.proof_words import proof_sentence
from app.case.values import Entry, Proof, Reading
from app.model.log_lines import date_code_help, tie_words
from app.model.stock import Offer, donor_place
from app.widgets.controls.forms import FieldsForm
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip

MOST_CAPTURES = 1_000_000
COUNTS = "It joins the readings of Backplane, and the likely causes follow."
ONLY_WRITTEN = "It stays in the log alone. Ohms between two pins, as 6-B22 to 7-B04, can count on Backplane."


class LogForm(FieldsForm):
    """Fields one below the other, Keep and Cancel; ``lacking`` says what is still missing and Keep waits for it."""

    def __init__(self, title: str, parent: QWidget | None = None) -> None:
        super().__init__(title, parent, letters=78)
        self.form = QFormLayout()
        self.form.setVerticalSpacing(8)
        self.form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self.form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        self.body.addLayout(self.form)
        self.body.addStretch(1)
        self.note = label("", "muted")
        self.foot.addWidget(self.note)

    def field(self, words: str, example: str, text: str = "") -> QLineEdit:
        """One more line to fill."""
        made = QLineEdit(text)
        made.setAccessibleName(words)
        made.setPlaceholderText(f"as {example}" if example else "")
        made.textChanged.connect(lambda _text: self.look())
        self.form.addRow(words, made)
        return made

    @property
    def lacking(self) -> str:
        """What is still missing, in a sentence; empty where all is there."""
        raise NotImplementedError

    def look(self) -> None:
        """Says what is missing."""
        lacking = self.lacking
        self.keep.setEnabled(not lacking)
        set_tip(self.keep, lacking)


class PartForm(LogForm):
    """``filled`` carries the part's name and its ways: from, to, date code; the old part's way where it was named.

    ``offers`` gives the donors left for a part number; choosing one fills in the part, from where, and its date code.
    ``stock_wanted`` asks for a stock list.
    """

    filled = Signal(str, object)
    stock_wanted = Signal()

    def __init__(
        self, parent: QWidget | None = None, offers: Callable[[str], tuple[Offer, ...]] = lambda number: ()
    ) -> None:
        super().__init__("Parts moved", parent)
        self._offers, self.offered = offers, tuple[Offer, ...]()
        self.part = self.field("Part", "7474")
        self._stock_row()
        self.form.addRow(label("The part that went in", "strong"))
        self.source = self.field("From", "donor board, position U31")
        self.target = self.field("To", "slot 7, U14")
        self.code = self.field("Date code", "7338")
        self.code_words = label("", "muted")
        self.form.addRow("", self.code_words)
        self.form.addRow(label("The part that came out, where there was one", "strong"))
        self.bag = self.field("To", "bag 14-1, failed")
        self.old_code = self.field("Its date code", "7221")
        self.old_words = label("", "muted")
        self.form.addRow("", self.old_words)
        self.part.textChanged.connect(lambda _text: self.show_offers())
        self.show_offers()
        self.look()

    def _stock_row(self) -> None:
        """What the stock has for this part, and where to open a stock list."""
        self.stock = QComboBox()
        self.stock.setAccessibleName("In stock")
        self.stock.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.stock.setMinimumContentsLength(28)
        self.stock.activated.connect(self._take)
        opens = QPushButton("Stock list…")
        opens.setAutoDefault(False)
        set_tip(opens, "Open a stock list (CSV board,position,number,date_code)")
        opens.clicked.connect(self.stock_wanted)
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addWidget(self.stock, 1)
        row.addWidget(opens)
        self.form.addRow("In stock", row)

    def show_offers(self) -> None:
        """Asks again what the stock has for the part that is typed."""
        number = self.part.text().strip()
        self.offered = self._offers(number) if number else ()
        self.stock.clear()
        nothing = "Nothing in stock fits" if number else "Type the part's number first"
        count = len(self.offered)
        self.stock.addItem(f"{count} in stock may take its place" if count else nothing)
        self.stock.addItems([offer.words for offer in self.offered])
        self.stock.setEnabled(bool(self.offered))

    def _take(self, index: int) -> None:
        """Fills in where the chosen donor is; its number stands for the part that went in."""
        if 0 < index <= len(self.offered):
            donor = self.offered[index - 1].donor
            self.source.setText(donor_place(donor))
            self.code.setText(donor.date_code)
            self.part.blockSignals(True)
            self.part.setText(donor.number)
            self.part.blockSignals(False)
            self.look()

    @property
    def lacking(self) -> str:
        if not (self.part.text().strip() and self.source.text().strip() and self.target.text().strip()):
            return "Name the part, and from where to where it went"
        return ""

    def look(self) -> None:
        if not hasattr(self, "old_words"):
            return
        self.code_words.setText(date_code_help(self.code.text().strip()))
        self.old_words.setText(date_code_help(self.old_code.text().strip()))
        self.note.setText(self.lacking)
        super().look()

    def accept(self) -> None:
        """Gives the moves away."""
        source, target = self.source.text().strip(), self.target.text().strip()
        ways = [(source, target, self.code.text().strip())]
        if self.bag.text().strip():
            ways.append((target, self.bag.text().strip(), self.old_code.text().strip()))
        self.filled.emit(self.part.text().strip(), tuple(ways))
        super().accept()


class ReadingForm(LogForm):
    """``filled`` carries a Reading, with its values as they were typed, and whether it counts on Backplane too."""

    filled = Signal(object, bool)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__("Reading", parent)
        self.where = self.field("Where", "6-B22 to 7-B04")
        self.good = self.field("Good reads", "0.2")
        self.suspect = self.field("Suspect reads", "180")
        self.unit = self.field("Unit", "ohm", "ohm")
        self.counts = QCheckBox("Count it among the readings of Backplane")
        self.counts.setChecked(True)
        self.counts.toggled.connect(lambda _on: self.look())
        self.form.addRow(self.counts)
        self.look()

    @property
    def reading(self) -> Reading:
        """As typed."""
        return Reading(*(field.text().strip() for field in (self.where, self.good, self.suspect, self.unit)))

    @property
    def lacking(self) -> str:
        read = self.good.text().strip() or self.suspect.text().strip()
        return "" if self.where.text().strip() and read else "Name the place and at least one reading"

    def look(self) -> None:
        if hasattr(self, "counts"):
            counts = bool(counted(self.reading))
            self.counts.setEnabled(counts)
            told = COUNTS if counts and self.counts.isChecked() else ONLY_WRITTEN
            self.note.setText(self.lacking or told)
            super().look()

    def accept(self) -> None:
        """Gives the reading away."""
        self.filled.emit(self.reading, self.counts.isEnabled() and self.counts.isChecked())
        super().accept()


class ProofForm(LogForm):
    """``filled`` carries a Proof, and whether it is because of the opened entry."""

    filled = Signal(object, bool)

    def __init__(self, opened: Entry | None, parent: QWidget | None = None) -> None:
        super().__init__("Proof after repair", parent)
        self.captures, self.diverging = QSpinBox(), QSpinBox()
        for words, box in (("Captures after the repair", self.captures), ("Of these diverge", self.diverging)):
            box.setRange(0, MOST_CAPTURES)
            box.setAccessibleName(words)
            box.valueChanged.connect(lambda _value: self.look())
            self.form.addRow(words, box)
        self.words = self.field("Under which conditions", "warm starts")
        self.because = QCheckBox("" if opened is None else f"Because of {tie_words(opened)}"[:70])
        self.because.setVisible(opened is not None)
        self.form.addRow(self.because)
        self.look()

    @property
    def lacking(self) -> str:
        if not self.captures.value():
            return "How many captures after the repair were compared with the good ones?"
        if self.diverging.value() > self.captures.value():
            return "More captures diverge than there are; correct one of the two numbers."
        return ""

    @property
    def proof(self) -> Proof:
        """As typed."""
        return Proof(self.diverging.value(), self.captures.value(), self.words.text().strip())

    def look(self) -> None:
        if hasattr(self, "because"):
            self.note.setText(self.lacking or proof_sentence(self.proof))
            super().look()

    def accept(self) -> None:
        """Gives the proof away."""
        self.filled.emit(self.proof, self.because.isChecked())
        super().accept()
