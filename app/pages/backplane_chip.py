"""The chip view of the Backplane page: a chip of the pin list, judged by the nets that were captured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from app.model.chip_view import ChipView, chip_view
from app.pages.page import PageContext
from app.widgets.backplane.chip_drawing import ChipDrawing
from app.widgets.controls.label import label

if TYPE_CHECKING:
    from tracecore.chips import ChipOnBothSides

HEADINGS = ("Inputs", "Should be", "Is", "Times", "Wrong")
NOTHING = (
    "No chip can be judged yet. Open a pin list whose rows name chips with their numbers, such as U7 74181, "
    "and the nets on their legs; an output of the chip has to be among the captured signals."
)
CAUTION = "▲ Power down before a clip is set or moved. Local codes and qualified persons decide how this is worked on."


class ChipPane(QWidget):
    """Outline, answer and input states of the chosen chip."""

    def __init__(self, context: PageContext) -> None:
        super().__init__()
        self.context = context
        self.found: tuple[ChipOnBothSides, ...] = ()
        self.view: ChipView | None = None
        self._judged_for: tuple[object, object] | None = None
        self.choice = QComboBox()
        self.choice.setAccessibleName("Which chip")
        self.drawing = ChipDrawing()
        self.title, self.does = label("", "heading"), label("", "muted")
        self.good, self.suspect = label(""), label("", "strong")
        self.told, self.may = label(""), label("", "muted")
        self.summary = label("", "strong")
        self.states = QTableWidget(0, len(HEADINGS))
        self.states.setHorizontalHeaderLabels(HEADINGS)
        self.states.verticalHeader().setVisible(False)
        self.states.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.states.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.states.horizontalHeader().setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        self.states.setAccessibleName("Input states seen")
        self.states.setTabKeyNavigation(False)
        layout = QHBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addLayout(self._left(), 3)
        layout.addWidget(self._right(), 2)
        self.choice.currentIndexChanged.connect(self._on_choice)
        self.states.itemSelectionChanged.connect(self._on_state)

    def _left(self) -> QVBoxLayout:
        column = QVBoxLayout()
        for part in (self.choice, self.title, self.does):
            column.addWidget(part)
        column.addWidget(self.drawing, 3)
        self.legend = label("thin: known-good   thick: suspect   hatched: does not obey   ring: may be open", "muted")
        column.addWidget(self.legend)
        column.addWidget(self.summary)
        column.addWidget(self.states, 2)
        return column

    def _right(self) -> QScrollArea:
        inside = QWidget()
        column = QVBoxLayout(inside)
        self.caution = label(CAUTION, "warning")
        for part in (self.good, self.suspect, self.told, self.caution, label("May take its place", "strong"), self.may):
            column.addWidget(part)
        column.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(inside)
        return area

    def retheme(self) -> None:
        """Takes colours and text size."""
        self.drawing.set_theme(self.context.theme, self.context.scale)

    def refresh(self) -> None:
        """Judges the chips where the comparison or the pin list changed, and this view is seen."""
        session = self.context.session
        pins, comparison = session.case.pins, session.comparison
        if not self.isVisible() or self._judged_for == (id(pins), id(comparison)):
            return
        from tracecore.chips import chips_on_both_sides

        self._judged_for = (id(pins), id(comparison))
        self.found = chips_on_both_sides(comparison, pins) if pins is not None and comparison is not None else ()
        self.choice.blockSignals(True)
        self.choice.clear()
        self.choice.addItems([f"{c.chip.name} · {c.chip.number}" for c in self.found])
        self.choice.blockSignals(False)
        self._on_choice(0)

    def showEvent(self, event: object) -> None:
        self.refresh()

    def _on_choice(self, index: int) -> None:
        comparison = self.context.session.comparison
        if comparison is None or not 0 <= index < len(self.found):
            self.view = None
            self.title.setText("Chip")
            self.does.setText(NOTHING)
            for part in (self.good, self.suspect, self.told, self.may, self.summary):
                part.setText("")
            self.states.setRowCount(0)
            self.drawing.set_view(None)
            return
        self._put(chip_view(comparison, self.found[index], self.context.session.chosen.cycle))

    def _put(self, view: ChipView) -> None:
        self.view = view
        self.title.setText(view.title)
        self.does.setText(view.does)
        self.good.setText(f"Known-good: {view.good}")
        self.suspect.setText(f"Suspect: {view.suspect}")
        self.told.setText("\n".join(view.told))
        self.may.setText("\n".join(f"{number}: {words}" for number, words in view.replacements))
        self.summary.setText(view.summary)
        self.drawing.set_view(view)
        self.states.setRowCount(len(view.states))
        for row, state in enumerate(view.states):
            wrong = f"▨ {state.wrong}" if state.wrong else "✓"
            for column, text in enumerate((state.inputs, state.should, state.does, str(state.times), wrong)):
                self.states.setItem(row, column, QTableWidgetItem(text))

    def _on_state(self) -> None:
        """A row takes the cursor to the first cycle in which it was seen."""
        comparison, row = self.context.session.comparison, self.states.currentRow()
        if self.view is None or comparison is None or not 0 <= row < len(self.view.states):
            return
        lineup = comparison.lineup
        at = self.view.states[row].state.first_ps
        cycle = int(lineup.suspect_edges_ps.searchsorted(at, side="right")) - 1 - lineup.offset_cycles
        index = self.choice.currentIndex()
        if 0 <= cycle < len(lineup.good_edges_ps) - 1 and 0 <= index < len(self.found):
            self.drawing.set_view(chip_view(comparison, self.found[index], cycle))
