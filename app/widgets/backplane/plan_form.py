"""The measuring plan: a numbered sheet to print, and its readings typed back by number or taken from a meter's file."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.case.circuit_changes import AddReadings
from app.case.values import now
from app.model.compared_readings import compared_readings
from app.model.session import Session
from app.output_file import write_bytes
from app.report.continuity_words import POWER_OFF, reads
from app.widgets.controls.forms import AskingForm, fit
from app.widgets.controls.label import label
from tracecore.circuit.continuity.plan import MeasuringPlan, plan_between, plan_of, read_meter
from tracecore.circuit.continuity.readings import Reading, ohms_text
from tracecore.circuit.pin_list import PinList
from tracecore.errors import TwinslotError

HEADINGS = ("No.", "From", "To", "Good reads", "Suspect reads, ohm")
LACKING = "What the readings lack"
WIDE_LETTERS = 84
"""Width of the form, in letters of its text."""


class PlanForm(AskingForm):
    """Readings wait in the form until Keep makes them one change of the case, also those typed for another plan.
    ``said`` carries a line of words."""

    said = Signal(str)

    def __init__(self, session: Session, slot: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session = session
        self.typed: dict[int, Reading] = {}
        self._elsewhere: dict[tuple[str, str, str], Reading] = {}
        self.plan = MeasuringPlan(())
        self.setWindowTitle("Measuring plan")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 14, 18, 14)
        self.which = QComboBox()
        self.which.setAccessibleName("Which readings are planned")
        self.which.addItem(LACKING)
        pins = session.case.pins or PinList()
        for name in dict.fromkeys((slot, *(row.slot for row in pins.rows if row.slot))):
            if pins.slot_pairs(name):
                self.which.addItem(f"Every pin of slot {name}", name)
        layout.addWidget(self.which)
        self.caution = label(f"▲ {POWER_OFF}", "warning")
        layout.addWidget(self.caution)
        self.table = QTableWidget(0, len(HEADINGS))
        self.table.setHorizontalHeaderLabels(HEADINGS)
        self.table.verticalHeader().setVisible(False)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setTabKeyNavigation(False)
        head = self.table.horizontalHeader()
        head.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        head.setStretchLastSection(True)
        self.table.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.table.currentCellChanged.connect(lambda row, *_: self.number.setText(str(row + 1)) if row >= 0 else None)
        layout.addWidget(self.table, 1)
        layout.addLayout(self._entry())
        self.note = label("", "muted")
        layout.addWidget(self.note)
        layout.addLayout(self._buttons())
        self.which.currentIndexChanged.connect(lambda _index: self.refill())
        self._fitted = False
        self.refill()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if not self._fitted:
            # the size goes with the letters, and these are known only now
            self._fitted = True
            letter = self.fontMetrics().averageCharWidth()
            fit(self, WIDE_LETTERS * letter, round(0.72 * WIDE_LETTERS * letter))

    def _entry(self) -> QHBoxLayout:
        """A number, then what was read there; Enter goes on to the next number."""
        row = QHBoxLayout()
        self.number, self.ohms = QLineEdit(), QLineEdit()
        for words, field in (("Number", self.number), ("reads, ohm", self.ohms)):
            row.addWidget(label(words, wrap=False))
            field.setAccessibleName(words)
            row.addWidget(field)
        self.ohms.setPlaceholderText("0.2, 2.1k or open")
        self.ohms.setToolTip("What the meter says: 0.2, 2.1k or open; Enter takes it")
        self.number.returnPressed.connect(self.ohms.setFocus)
        self.ohms.returnPressed.connect(self._on_read)
        return row

    def _buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        self.keep = QPushButton("Keep")
        self.keep.setProperty("role", "decision")
        for text, does in (("Sheet to print…", self.ask_sheet), ("From a meter's file…", self.ask_meter)):
            button = QPushButton(text)
            button.setAutoDefault(False)
            button.clicked.connect(does)
            row.addWidget(button)
        row.addStretch(1)
        leave = QPushButton("Cancel")
        leave.clicked.connect(self.reject)
        self.keep.clicked.connect(self.accept)
        for button in (self.keep, leave):
            button.setAutoDefault(False)
            row.addWidget(button)
        return row

    def refill(self) -> None:
        """Shows the chosen plan; what was typed for another one waits."""
        self._elsewhere |= {(r.start, r.end, r.note): r for r in self.typed.values()}
        case = self._session.case
        slot = self.which.currentData()
        if slot:
            self.plan = plan_between((case.pins or PinList()).slot_pairs(slot), case.continuity)
        else:
            self.plan = plan_of(compared_readings(case.continuity).pairs)
        self.typed = {}
        self.table.setRowCount(len(self.plan.rows))
        for index, row in enumerate(self.plan.rows):
            note = f" ({row.note})" if row.note else ""
            for column, text in enumerate((str(row.number), row.start, row.end + note, reads(row.good_ohms), "")):
                self.table.setItem(index, column, QTableWidgetItem(text))
        for row in self.plan.rows:
            waiting = self._elsewhere.pop((row.start, row.end, row.note), None)
            if waiting is not None:
                self._put(row.number, waiting)
        self.number.setText("1" if self.plan.rows else "")
        self._look()

    def _look(self) -> None:
        kept, rows = len(self.typed), len(self.plan.rows)
        nothing = "Nothing lacks: choose a slot, or name pairs in a continuity list." if not rows else ""
        others = len(self._elsewhere)
        more = f"; {others} of other plans wait" if others else ""
        self.note.setText((nothing or f"{kept} of {rows} rows read") + more)
        self.keep.setEnabled(self._holds_readings)

    @property
    def _holds_readings(self) -> bool:
        return bool(self.typed or self._elsewhere)

    @property
    def holds_words(self) -> bool:
        return self._holds_readings or bool(self.ohms.text().strip())

    def _on_read(self) -> None:
        number = self.number.text().strip()
        try:
            reading = self.plan.entered(
                int(number) if number.isdecimal() else 0, self.ohms.text(), read_on=now()[:10], by=self._session.author
            )
        except TwinslotError as error:
            self.note.setText(str(error))
            return
        if reading.ohms is None:
            return
        self._put(int(number), reading)
        self.ohms.clear()
        self.number.setText(str(min(int(number) + 1, len(self.plan.rows))))
        self._look()

    def _put(self, number: int, reading: Reading) -> None:
        self.typed[number] = reading
        item = QTableWidgetItem(ohms_text(reading.ohms))
        self.table.setItem(number - 1, len(HEADINGS) - 1, item)
        self.table.scrollToItem(item)

    def ask_meter(self) -> None:
        """Asks for what a logging meter wrote for the plan."""
        path, _ = QFileDialog.getOpenFileName(self, "Readings of a logging meter", "", "CSV (*.csv);;All files (*)")
        if path:
            self.open_meter(path)

    def open_meter(self, path: str | Path) -> None:
        """Takes a meter's readings in the plan's order into the form."""
        try:
            taken = read_meter(path, self.plan, read_on=now()[:10], by=self._session.author)
        except TwinslotError as error:
            self.note.setText(str(error))
            return
        rows = {(row.start, row.end, row.note): row.number for row in self.plan.rows}
        for reading in taken:
            self._put(rows[reading.start, reading.end, reading.note], reading)
        self._look()

    def ask_sheet(self) -> None:
        """Asks where to write the sheet."""
        path, _ = QFileDialog.getSaveFileName(self, "Measuring plan", "measuring_plan.pdf", "PDF (*.pdf)")
        if path:
            self.write_sheet(path)

    def write_sheet(self, path: str | Path) -> None:
        """Writes the plan as a numbered sheet (PDF)."""
        from app.report.measuring_plan import plan_pdf

        title = f"{self._session.case.named} · {self.which.currentText()}"
        try:
            write_bytes(path, plan_pdf(self.plan, title, printed=now()[:10]))
        except TwinslotError as error:
            self.note.setText(str(error))
            return
        except OSError as error:
            self.note.setText(f"{path}: cannot be written ({error.strerror or error}). Choose another place.")
            return
        self.said.emit(f"Written: {path}, {len(self.plan.rows)} rows")
        self.note.setText(f"Written: {path}")

    def accept(self) -> None:
        """Puts what was typed into the case, as one change."""
        readings = (*(self.typed[number] for number in sorted(self.typed)), *self._elsewhere.values())
        if readings and self._session.change(AddReadings(readings)):
            self.said.emit(f"{len(readings)} readings of the plan taken; Ctrl+Z takes them back")
        super().accept()
