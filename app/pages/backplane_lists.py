"""The lists on the Backplane page: pin list and wire list as tables, checked while they are typed."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QButtonGroup,
    QFileDialog,
    QFrame,
    QHeaderView,
    QPushButton,
    QScrollArea,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.case.circuit_changes import SetPinList, SetWireList
from app.model.list_table import ListTable, PinTable, WireTable
from app.model.page_context import PageContext
from app.output_file import write_text
from app.report.list_words import (
    MOST_FAULTS,
    fault_lines,
    hint_words,
    hints_of,
    learnt_lines,
    learnt_of,
    reach_words,
)
from app.widgets.controls.label import label
from app.widgets.controls.pick_button import PickButton
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from tracecore.circuit.pin_list import PinList, read_pin_list
from tracecore.circuit.wire_list import read_wire_list
from tracecore.errors import TwinslotError


class ListView(QTableView):
    """Delete takes the chosen rows out."""

    def __init__(self, rows: ListTable, name: str) -> None:
        super().__init__()
        self.rows = rows
        self.setModel(rows)
        self.setAccessibleName(name)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectItems)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        head = self.horizontalHeader()
        head.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        head.setStretchLastSection(True)

    def chosen_rows(self) -> set[int]:
        """Rows in which a cell is chosen."""
        return {index.row() for index in self.selectedIndexes()}

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Delete and self.state() != QAbstractItemView.State.EditingState:
            self.rows.remove(self.chosen_rows())
        else:
            super().keyPressEvent(event)


class ListsPane(QWidget):
    """Emits ``said`` with a line for the bottom of the window."""

    said = Signal(str)

    def __init__(self, context: PageContext) -> None:
        super().__init__()
        self.context = context
        session = context.session
        self.pins, self.wires = PinTable(session), WireTable(session)
        self.pin_view, self.wire_view = ListView(self.pins, "Pin list"), ListView(self.wires, "Wire list")
        around = QVBoxLayout(self)
        around.setContentsMargins(0, 0, 0, 0)
        area, inside = QScrollArea(), QWidget()
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setWidget(inside)
        around.addWidget(area)
        layout = QVBoxLayout(inside)
        layout.setContentsMargins(0, 0, 8, 0)
        layout.setSpacing(6)
        layout.addLayout(self._head())
        for view in (self.pin_view, self.wire_view):
            layout.addWidget(view, 1)
            view.rows.told.connect(self._on_told)
        self.waits, self.faults = label("", "fault"), label("", "warning")
        self.reach, self.learnt = label("", "muted"), label("")
        for part in (self.waits, self.faults, self.reach, self.learnt):
            layout.addWidget(part)
        self._turn()

    def _head(self) -> WrapRow:
        row = WrapRow()
        group = QButtonGroup(self)
        self.pins_button = PickButton("Pin list", "A row a pin: its net, and the leg of the chip behind it", True)
        self.wires_button = PickButton("Wire list", "A row for each output of a part: which nets it is made from")
        for pick in (self.pins_button, self.wires_button):
            group.addButton(pick)
            row.addWidget(pick)
        group.buttonClicked.connect(lambda _button: self._turn())
        self.teach = QPushButton("Take learnt pins")
        for button, tip, does in (
            (QPushButton("New row"), "Go to the empty row at the end", self.do_new_row),
            (QPushButton("Remove rows"), "Take the chosen rows out (Delete)", self.do_remove),
            (QPushButton("Open…"), "Open a list; it takes the place of this one", self.ask_open),
            (QPushButton("Save as…"), "Write this list as CSV", self.ask_save),
            (self.teach, "Add the pins that the good side's readings put on a net", self.do_teach),
        ):
            button.setProperty("small", True)
            set_tip(button, tip)
            button.clicked.connect(does)
            row.addWidget(button)
        return row

    # ---- following the session

    @property
    def view(self) -> ListView:
        """The list that is shown."""
        return self.pin_view if self.pins_button.isChecked() else self.wire_view

    def refresh(self, what: str) -> None:
        """Takes the lists from the case, and checks them where they are looked at."""
        if what in ("case", "comparison", "opened"):
            self.pins.refresh()
            self.wires.refresh()
            if self.isVisible():
                self._tell()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._tell()

    def retheme(self) -> None:
        """Takes the text size."""
        line = round(15 * self.context.scale * 1.75)
        for view in (self.pin_view, self.wire_view):
            view.verticalHeader().setDefaultSectionSize(line)
            view.setMinimumHeight(line * 5)
            view.horizontalHeader().setDefaultSectionSize(round(120 * self.context.scale))

    def status(self) -> str:
        """How long both lists are."""
        return f"Pin list: {len(self.pins.pins.rows)} rows · wire list: {len(self.wires.wires.rows)} rows"

    def _turn(self) -> None:
        pins = self.pins_button.isChecked()
        self.pin_view.setVisible(pins)
        self.wire_view.setVisible(not pins)
        self.waits.setText("")
        self._tell()

    def _tell(self) -> None:
        """What stands below the list that is shown."""
        session = self.context.session
        captured = {s.signal for s in session.comparison.signals} if session.comparison is not None else set()
        faults: tuple[str, ...]
        told: list[str] = []
        self.teach.setVisible(False)
        if self.pins_button.isChecked():
            pins = self.pins.pins
            faults = fault_lines(pins)
            self.reach.setText(reach_words(pins, captured) if captured and pins.rows else "")
            found = learnt_of(session.case)
            told = [*learnt_lines(found), *(hint_words(hint) for hint in hints_of(session.comparison, pins))]
            self.teach.setVisible(bool(found.rows))
        else:
            wires = self.wires.wires
            faults = tuple(n.sentence for n in wires.notices(captured)) if captured and wires.rows else ()
            self.reach.setText(wires.use(captured) if captured and wires.rows else "")
        more = (f"and {len(faults) - MOST_FAULTS} more",) if len(faults) > MOST_FAULTS else ()
        self.faults.setText("\n".join(f"▲ {line}" for line in (*faults[:MOST_FAULTS], *more)))
        self.learnt.setText("\n".join(told))
        for part in (self.faults, self.reach, self.learnt, self.waits):
            part.setVisible(bool(part.text()))
        self.said.emit(self.status())

    def _on_told(self, sentence: str) -> None:
        self.waits.setText(sentence)
        self.waits.setVisible(bool(sentence))
        if sentence:
            self.said.emit(sentence)

    # ---- what is done

    def do_new_row(self) -> None:
        """Puts the keys on the empty row."""
        last = self.view.rows.rowCount() - 1
        self.view.setCurrentIndex(self.view.rows.index(last, 0))
        self.view.setFocus()

    def do_remove(self) -> None:
        """Takes the chosen rows out."""
        self.view.rows.remove(self.view.chosen_rows())

    def do_teach(self) -> None:
        """Adds the pins that were learnt, as one change."""
        rows = learnt_of(self.context.session.case).rows
        pins = self.pins.pins
        if rows and self.context.session.change(SetPinList(PinList((*pins.rows, *rows), pins.path))):
            self.said.emit(f"{len(rows)} pins taken from readings; Ctrl+Z takes them back")

    def ask_open(self) -> None:
        """Asks for a list."""
        path, _ = QFileDialog.getOpenFileName(self, "Open a list", "", "CSV (*.csv);;All files (*)")
        if path:
            self.open_list(path)

    def open_list(self, path: str | Path) -> None:
        """Takes a list into the case; where it cannot be read a sentence says why."""
        pins = self.pins_button.isChecked()
        try:
            change = SetPinList(read_pin_list(path)) if pins else SetWireList(read_wire_list(path))
            self.context.session.change(change)
        except TwinslotError as error:
            self._on_told(str(error))

    def ask_save(self) -> None:
        """Asks where to write the list."""
        path, _ = QFileDialog.getSaveFileName(self, "Save the list", "", "CSV (*.csv)")
        if path:
            self.save_list(path)

    def save_list(self, path: str | Path) -> None:
        """Writes the list that is shown."""
        try:
            write_text(path, self.view.rows.text())
        except TwinslotError as error:
            self._on_told(str(error))
            return
        except OSError as error:
            self._on_told(f"{path}: cannot be written ({error.strerror or error}). Choose another place.")
            return
        self.said.emit(f"Written: {path}")
