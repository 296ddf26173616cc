"""The chip on the Backplane page: a chip of the pin list, judged by the nets that were captured."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QButtonGroup,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QHeaderView,
    QPushButton,
    QSplitter,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.model.chip_view import ChipView, chip_view
from app.model.circuit_lines import chip_line as chip_entry
from app.model.jobs import Jobs
from app.model.log_changes import line_change
from app.model.page_context import PageContext
from app.report.chip_words import chip_line
from app.widgets.backplane.chip_drawing import ChipDrawing
from app.widgets.controls.figure_view import FigureView
from app.widgets.controls.forms import open_form
from app.widgets.controls.label import label
from app.widgets.controls.pick_button import PickButton
from app.widgets.controls.scrolled_column import scrolled_column
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from tracecore.lineup.runs import good_cycle_of
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from tracecore.compare.chips import ChipOnBothSides

STATES, PINS = (
    ("Inputs", "Should be", "Is", "Times", "Wrong"),
    ("Leg", "Net", "Known-good", "Suspect", "Suspect beside good"),
)
NOTHING = (
    "No chip can be judged yet. Open a pin list whose rows name chips with their numbers, such as U7 74181, "
    "and the nets on their legs; an output of the chip has to be among the captured signals. Captures of a test clip "
    "need no list: Clip… asks for the number on the chip."
)
CAUTION = "▲ Power down before a clip is set or moved. Local codes and qualified persons decide how this is worked on."
LEAST_DRAWING = 210
BESIDE = 1020
"""From this width on, at text of 100 %, the table stands beside the chip."""
MOST_INPUTS = 10
"""So many inputs get a column each; of more, all levels stand in one."""


class ChipPane(QWidget):
    """Outline, answer, input states and traces of the chosen chip; the judging is a job."""

    said = Signal(str)
    turned = Signal()

    def __init__(self, context: PageContext, jobs: Jobs) -> None:
        super().__init__()
        self.context, self.jobs = context, jobs
        self.found: tuple[ChipOnBothSides, ...] = ()
        self.view: ChipView | None = None
        self._judged_for: tuple[object, object] | None = None
        self._followed: int | None = None
        self._wanted = ""
        self.drawing = ChipDrawing()
        self.drawing.chosen.connect(self._on_leg)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        across = QSplitter(Qt.Orientation.Horizontal)
        across.addWidget(scrolled_column(self._left()))
        self.answer = self._right()
        self.answer_area = scrolled_column(self.answer)
        across.addWidget(self.answer_area)
        across.setStretchFactor(0, 3)
        across.setStretchFactor(1, 1)
        across.setSizes([880, 350])
        layout.addWidget(across)
        self.choice.currentIndexChanged.connect(lambda index: self._show(index, None))
        self.table.itemSelectionChanged.connect(self._on_row)

    # ---- the parts

    def _left(self) -> QWidget:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(5)
        row = QHBoxLayout()
        top = Qt.AlignmentFlag.AlignTop
        self.choice = QComboBox()
        self.choice.setAccessibleName("Which chip")
        row.addWidget(self.choice, 0, top)
        clip = QPushButton("Clip…")
        clip.setProperty("small", True)
        set_tip(clip, "Say which chip a test clip was on; its legs come into the pin list")
        clip.clicked.connect(self.open_clip_form)
        row.addWidget(clip, 0, top)
        self.does = label("", "muted")
        row.addWidget(self.does, 1, top)
        row.addStretch(0)
        column.addLayout(row)
        # beside each other where the window is wide, else one below the other
        self.pair = QSplitter(Qt.Orientation.Horizontal)
        self.pair.addWidget(self.drawing)
        self.pair.addWidget(self._tables())
        self.pair.setSizes([380, 420])
        column.addWidget(self.pair, 1)
        self.legend, self.settling, self.figure = label("", "muted"), label("", "muted"), FigureView()
        for part in (self.legend, self.settling, self.figure):
            column.addWidget(part)
        return inside

    def _tables(self) -> QWidget:
        """Input states, or pin by pin."""
        area = QWidget()
        column = QVBoxLayout(area)
        column.setContentsMargins(0, 0, 0, 0)
        heads = WrapRow()
        group = QButtonGroup(self)
        self.states_button = PickButton("Input states", "What it should show and what it shows", True)
        self.pins_button = PickButton("Pin by pin", "How each leg moves on both boards")
        for button in (self.states_button, self.pins_button):
            group.addButton(button)
            heads.addWidget(button)
        group.buttonClicked.connect(lambda _button: self._fill_table())
        self.summary = label("", "muted", wrap=False)
        heads.addWidget(self.summary)
        column.addLayout(heads)
        self.table = QTableWidget(0, len(STATES))
        self.table.verticalHeader().setVisible(False)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setTabKeyNavigation(False)
        column.addWidget(self.table, 1)
        return area

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        wide = self.width() >= BESIDE * self.context.scale
        self.pair.setOrientation(Qt.Orientation.Horizontal if wide else Qt.Orientation.Vertical)

    def _right(self) -> QWidget:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(12, 4, 10, 8)
        self.head = label("", "heading")
        self.good, self.suspect, self.told = label(""), label("", "strong"), label("")
        self.card = QFrame()
        self.card.setObjectName("card")
        self.card.setProperty("chosen", True)
        box = QVBoxLayout(self.card)
        box.addWidget(self.suspect)
        box.addWidget(self.told)
        self.outputs, self.may = label("", "muted"), label("")
        self.caution, self.may_head = label(CAUTION, "warning"), label("May take its place", "strong")
        for part in (self.head, self.good, self.card, self.caution, self.may_head, self.may, self.outputs):
            column.addWidget(part)
        column.addStretch(1)
        area = QWidget()
        buttons = WrapRow(area)
        for text, does in (
            ("Write in log", self.write_in_log),
            ("To the pin", lambda: self.context.act("go_to_pin")),
        ):
            button = QPushButton(text)
            button.setProperty("small", True)
            button.clicked.connect(does)
            buttons.addWidget(button)
        column.addWidget(area)
        return inside

    # ---- following the session

    def retheme(self) -> None:
        """Takes colours and text size."""
        theme, scale = self.context.theme, self.context.scale
        self.drawing.set_theme(theme, scale)
        self.drawing.setMinimumHeight(round(LEAST_DRAWING * scale))
        self.figure.set_theme(theme, scale)
        line = round(15 * scale * 1.75)
        self.table.verticalHeader().setDefaultSectionSize(line)
        self.table.setMinimumHeight(line * 5)

    def refresh(self, what: str) -> None:
        """Judges anew where the comparison or the pin list changed, and follows the cursor's cycle."""
        session = self.context.session
        if not self.isVisible():
            return
        if self._judged_for != self._asked:
            self._judge()
        elif self.view is not None and session.chosen.cycle not in (None, self._followed):
            # the cursor went elsewhere, here or while another page was open
            self._followed = session.chosen.cycle
            self._show(self.choice.currentIndex(), session.chosen.cycle)
        elif what == "case" and self.view is not None:
            self._show(self.choice.currentIndex(), self.view.cycle)

    @property
    def _asked(self) -> tuple[object, object]:
        session = self.context.session
        return id(session.case.pins), id(session.answer)

    def _judge(self) -> None:
        """Starts the job; what was found before leaves the page at once."""
        session = self.context.session
        pins, comparison = session.case.pins, session.answer
        asked = self._judged_for = self._asked
        self._followed = session.chosen.cycle
        if pins is None or comparison is None:
            self.jobs.stop("chips", quietly=True)
            self._on_judged(asked, ())
            return
        self._on_judged(asked, ())
        self.does.setText("Judging the chips of the pin list…")

        def work(tell: Callable[[float, str], None]) -> tuple[ChipOnBothSides, ...]:
            from tracecore.compare.chips import chips_on_both_sides

            return chips_on_both_sides(comparison, pins, lambda share: tell(share, "judging chips"))

        self.jobs.request("chips", work, lambda found: self._on_judged(asked, found), self.said.emit)

    def _on_judged(self, asked: tuple[object, object], found: tuple[ChipOnBothSides, ...]) -> None:
        if asked != self._asked:
            return
        self.found = found
        self.choice.blockSignals(True)
        self.choice.clear()
        self.choice.addItems([chip_line(chip) for chip in found])
        self.choice.setVisible(bool(found))
        self.choice.blockSignals(False)
        self.to_chip(self._wanted)

    def to_chip(self, name: str) -> None:
        """Shows the chip of that name, or the first one; once they are judged where they are not yet."""
        self._wanted = name if not self.found else ""
        index = next((i for i, own in enumerate(self.found) if own.chip.name == name), 0)
        self.choice.blockSignals(True)
        self.choice.setCurrentIndex(index)
        self.choice.blockSignals(False)
        self._show(index, None)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self.refresh("case")

    def _fit_answer(self) -> None:
        """The answer's words are never cut at their side."""
        room = self.answer_area.verticalScrollBar().sizeHint().width() + 4
        self.answer_area.setMinimumWidth(self.answer.minimumSizeHint().width() + room)

    @property
    def heading(self) -> str:
        """The chip and what it is."""
        return f"{self.view.name} · {self.view.number}, {self.view.part_title}" if self.view is not None else "Chip"

    def status(self) -> str:
        """The cycle whose levels stand beside the legs."""
        if self.view is None:
            return "No chip to show"
        return f"{self.view.name}: levels at good cycle {group_digits(self.view.cycle)} · {self.view.settling}"

    def _show(self, index: int, cycle: int | None) -> None:
        session = self.context.session
        comparison = session.comparison
        there = comparison is not None and 0 <= index < len(self.found)
        for part in (
            self.card, self.table, self.states_button, self.pins_button, self.may_head, self.legend, self.settling,
            self.figure,
        ):  # fmt: skip
            part.setVisible(there)
        if comparison is None or not there:
            self.view = None
            self.does.setText(NOTHING)
            for part in (self.head, self.good, self.suspect, self.told, self.outputs, self.may, self.summary):
                part.setText("")
            self.drawing.set_view(None)
        else:
            self._put(chip_view(comparison, self.found[index], cycle, session.case.donors))
            self._fill_table()
        # words that are not there take no room
        for part in (self.head, self.good, self.outputs, self.may, self.summary, self.does):
            part.setVisible(bool(part.text()))
        self._fit_answer()
        self.turned.emit()
        self.said.emit(self.status())

    def _put(self, view: ChipView) -> None:
        self.view = view
        # the heading has the plain title already
        same = view.does.rstrip(".").lower() == view.part_title.lower()
        self.does.setText("" if same else view.does)
        self.head.setText(f"What {view.name} does")
        self.good.setText(f"Known-good: {view.good}")
        self.suspect.setText(f"Suspect: {view.suspect}")
        self.told.setText(view.told[0] if view.told else "")
        self.outputs.setText("\n".join(view.told[1:]))
        self.may.setText("\n".join(f"{number}: {words}" for number, words in view.replacements))
        self.summary.setText(view.summary)
        self.settling.setText(view.settling)
        self.legend.setText(
            f"Levels at good cycle {group_digits(view.cycle)}, known-good thin, suspect thick. Hatched: does not obey "
            "its inputs. Ring: may be open."
        )
        self.drawing.set_view(view)
        nets = view.traced
        comparison = self.context.session.comparison
        shown = bool(nets) and self.figure.show_figure(comparison, nets[0], cycle=view.cycle, rows=nets)
        self.figure.setVisible(shown)

    def _fill_table(self) -> None:
        view = self.view
        if view is None:
            return
        pins = self.pins_button.isChecked()
        self.table.setAccessibleName("Pin by pin" if pins else "Input states seen")
        apart = not pins and 0 < len(view.inputs) <= MOST_INPUTS
        heads = list(PINS if pins else STATES)
        if apart:
            heads[:1] = [name.removesuffix("_n") for name in view.inputs]
        legs = [leg for leg in view.legs if leg.words]
        with_blocked = self.table.blockSignals(True)
        self.table.setRowCount(0)
        self.table.setColumnCount(len(heads))
        self.table.setHorizontalHeaderLabels(heads)
        self.table.setRowCount(len(legs) if pins else len(view.states))
        if pins:
            for row, leg in enumerate(legs):
                self._fill_row(row, (f"{leg.number} {leg.name}", leg.net, leg.good_words, leg.suspect_words, leg.words))
        else:
            for row, state in enumerate(view.states):
                wrong = f"▨ {group_digits(state.wrong)}" if state.wrong else "✓"
                levels = tuple(state.inputs.split()) if apart else (state.inputs,)
                self._fill_row(row, (*levels, state.should, state.does, group_digits(state.times), wrong))
        self.table.blockSignals(with_blocked)
        head = self.table.horizontalHeader()
        head.setMinimumSectionSize(round(20 * self.context.scale))
        head.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        head.setStretchLastSection(False)
        self.table.resizeColumnsToContents()
        room = self.table.viewport().width() - sum(self.table.columnWidth(k) for k in range(len(heads)))
        # never narrower than its words
        head.setStretchLastSection(room > 0)

    def _fill_row(self, row: int, texts: tuple[str, ...]) -> None:
        for column, text in enumerate(texts):
            self.table.setItem(row, column, QTableWidgetItem(text))

    def open_clip_form(self) -> None:
        """Asks which chip the clip was on."""
        from app.widgets.backplane.clip_form import ClipForm

        self.clip_form = ClipForm(self.context.session, self)
        open_form(self.clip_form)

    def write_in_log(self) -> None:
        """Takes what the chip does down in the log."""
        session, index = self.context.session, self.choice.currentIndex()
        if not 0 <= index < len(self.found):
            self.said.emit("No chip to write of")
        elif session.change(line_change(session.case, chip_entry(self.found[index], session.author))):
            self.said.emit(f"Written in the log as entry {session.case.entries[-1].id}; Ctrl+Z takes it back")

    # ---- choosing

    def _on_row(self) -> None:
        """An input state takes the cursor to the first cycle in which it was seen; a leg chooses its net."""
        row = self.table.currentRow()
        if self.view is None or row < 0:
            return
        if self.pins_button.isChecked():
            self._on_leg([leg for leg in self.view.legs if leg.words][row].number)
            return
        comparison = self.context.session.comparison
        if comparison is None or row >= len(self.view.states):
            return
        lineup = comparison.lineup
        at = self.view.states[row].state.first_ps
        cycle = good_cycle_of(lineup.runs, int(lineup.suspect_edges_ps.searchsorted(at, side="right")) - 1)
        index = self.choice.currentIndex()
        if 0 <= cycle < len(lineup.good_edges_ps) - 1 and 0 <= index < len(self.found):
            # the table stays as it is: the row is chosen in it
            self._put(chip_view(comparison, self.found[index], cycle, self.context.session.case.donors))
            self.said.emit(self.status())

    def _on_leg(self, number: int) -> None:
        """A leg's net becomes the chosen signal, where it was captured."""
        leg = next((leg for leg in self.view.legs if leg.number == number), None) if self.view is not None else None
        session = self.context.session
        if leg is None or session.comparison is None:
            return
        if leg.net in {s.signal for s in session.comparison.signals}:
            session.choose(signal=leg.net, cycle=self.view.cycle if self.view is not None else None)
        self.said.emit(f"Leg {leg.number} {leg.name} · {leg.net or 'not wired'}: {leg.words or 'not captured'}")
