"""The table of all signals: filters with counts, a field that finds as one types, and rows that jump."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QItemSelectionModel, QObject, QPoint, Qt, Signal
from PySide6.QtGui import QFont, QFontMetrics, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QButtonGroup,
    QHeaderView,
    QLineEdit,
    QPushButton,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from app.comparison_text import VERDICT_MARKS
from app.model.signal_lines import COLUMNS, GROUPS, Group, counts, signal_lines
from app.widgets.controls.pick_button import PickButton
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from app.widgets.signals.signal_table import SignalFilter, SignalRows

if TYPE_CHECKING:
    from tracecore.comparison import Comparison

GROUP_MARKS: dict[Group, str] = {"diverges": "▲", "agrees": "✓", "cannot tell": VERDICT_MARKS["undecided"]}
LEAST_ROWS = 4
WIDTHS, FAULT = (86, 118, 150, 112, 78, 172, 152), 2
"""Least widths of the columns in pixels at 100 %, and which of them is the fault."""


class AllSignals(QWidget):
    """``chosen`` carries a signal that was looked at here, ``jumped`` one and the cycle to be shown, ``menu_wanted`` a
    signal and a place on the screen. Folded, the table is its head alone: ``opened`` tells of that. ``left`` tells
    that Enter or a double click asked for the traces."""

    chosen = Signal(str)
    jumped = Signal(str, object)
    opened = Signal(bool)
    menu_wanted = Signal(str, QPoint)
    left = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("All signals")
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(4)
        self._telling, self._scale, self._wanted = True, 1.0, 100
        self.least_height = 60
        """Pixels of the table's head and one row."""
        head = QWidget()
        row = self.head = WrapRow(head, gap=6)
        self.fold_button = QPushButton()
        self.fold_button.setProperty("small", True)
        self.fold_button.setCheckable(True)
        self.fold_button.setChecked(True)
        self.fold_button.toggled.connect(lambda on: self.set_open(on, by_hand=True))
        row.addWidget(self.fold_button)
        self._by_hand = False
        self.group: Group | None = None
        self.groups: dict[Group | None, PickButton] = {}
        picks = QButtonGroup(self)
        for group in (None, *GROUPS):
            button = PickButton("", "Only these" if group else "All of them", checked=group is None)
            button.clicked.connect(lambda _on=False, group=group: self._set_group(group))
            picks.addButton(button)
            row.addWidget(button)
            self.groups[group] = button
        self.finder = QLineEdit()
        self.finder.setPlaceholderText("Find a signal")
        self.finder.setAccessibleName("Find a signal")
        self.finder.textChanged.connect(lambda _text: self._filter())
        self.finder.installEventFilter(self)
        row.addWidget(self.finder)
        down.addWidget(head)
        self.rows = SignalRows()
        self.filter = SignalFilter(self.rows)
        self.table = self._made_table()
        down.addWidget(self.table, 1)
        self.table.horizontalHeader().sortIndicatorChanged.connect(lambda _column, _order: self._set_widths())
        self.set_comparison(None)
        self._say_fold()

    def _made_table(self) -> QTableView:
        table = QTableView()
        table.setModel(self.filter)
        table.setAccessibleName("All signals")
        table.setShowGrid(False)
        table.setWordWrap(False)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setTabKeyNavigation(False)
        table.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        table.verticalHeader().hide()
        table.setSortingEnabled(True)
        header = table.horizontalHeader()
        header.setHighlightSections(False)
        header.setStretchLastSection(True)
        header.setSortIndicatorClearable(True)
        header.setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        self.filter.sort(-1)
        table.selectionModel().currentRowChanged.connect(lambda now, _before: self._on_row(now))
        table.doubleClicked.connect(lambda _index: self._jump())
        table.installEventFilter(self)
        table.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        table.customContextMenuRequested.connect(self._on_menu)
        return table

    # ---- what is shown

    def set_comparison(self, comparison: Comparison | None) -> None:
        """Shows the signals of another comparison."""
        lines = signal_lines(comparison)
        self._quietly(lambda: self.rows.set_lines(lines))
        self._set_widths()
        by_group = counts(lines)
        self.groups[None].setText(f"all {len(lines)}")
        for group, number in by_group.items():
            self.groups[group].setText(f"{GROUP_MARKS[group]} {group} {number}")
        self._show_head()
        for button in self.groups.values():
            button.updateGeometry()

    def set_chosen(self, signal: str | None) -> None:
        """The row of a signal that was chosen elsewhere."""
        index = self.filter.index_of(signal)
        flags = QItemSelectionModel.SelectionFlag.ClearAndSelect | QItemSelectionModel.SelectionFlag.Rows
        if index.isValid():
            self._quietly(lambda: self.table.selectionModel().setCurrentIndex(index, flags))
            self.table.scrollTo(index)
        else:
            self._quietly(self.table.clearSelection)

    def set_scale(self, scale: float) -> None:
        """Rows and columns grow with the text."""
        line = round(15 * scale * 1.7)
        self.table.verticalHeader().setDefaultSectionSize(line)
        self.table.horizontalHeader().setMinimumHeight(line)
        self._scale = scale
        self.finder.setFixedWidth(round(150 * scale))
        self._set_widths()
        self.least_height = line * 2 + 4
        self._wanted = line * (LEAST_ROWS + 1) + 6

    def _set_widths(self) -> None:
        """Each column as wide as its words ask; the fault takes what the others leave.

        Where that is more than there is room for, no column takes more than ``WIDTHS``, and the table scrolls.
        """
        header = self.table.horizontalHeader()
        heading = QFont(header.font())
        heading.setBold(True)
        letters, bold = self.table.fontMetrics(), QFontMetrics(heading)
        widths = []
        for column in range(len(COLUMNS)):
            longest = sorted({line.cells[column] for line in self.rows.lines}, key=len)[-3:]
            asked = max((letters.horizontalAdvance(text) for text in longest), default=0) + round(20 * self._scale)
            arrow = 18 if column == header.sortIndicatorSection() else 0
            widths.append(max(asked, bold.horizontalAdvance(COLUMNS[column]) + round((14 + arrow) * self._scale)))
        room = self.width() - self.table.verticalScrollBar().sizeHint().width() - 6
        if sum(widths) > room:
            spare = [1.0 if column == FAULT else 1.25 for column in range(len(COLUMNS))]
            most = [round(width * more * self._scale) for width, more in zip(WIDTHS, spare, strict=True)]
            widths = [min(pair) for pair in zip(widths, most, strict=True)]
        widths[FAULT] += max(0, room - sum(widths))
        for column, width in enumerate(widths):
            self.table.setColumnWidth(column, width)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._set_widths()

    @property
    def table_height(self) -> int:
        """Pixels at which the table shows its head and ``LEAST_ROWS``."""
        return self._wanted

    # ---- folding

    @property
    def is_open(self) -> bool:
        """Is the table unfolded?"""
        return self.fold_button.isChecked()

    def set_open(self, is_open: bool, by_hand: bool = False) -> None:
        """Unfolds the table or folds it to its head; what a person chose by hand stays."""
        if self._by_hand and not by_hand:
            return
        self._by_hand = by_hand
        changed = self.table.isHidden() == is_open
        self.fold_button.blockSignals(True)
        self.fold_button.setChecked(is_open)
        self.fold_button.blockSignals(False)
        self.table.setVisible(is_open)
        self._show_head()
        self._say_fold()
        if changed:
            self.opened.emit(is_open)

    def _show_head(self) -> None:
        """Folded, the head is its button alone; verdicts that no signal has are left out, and the rest adds up."""
        by_group = counts(self.rows.lines)
        for group, button in self.groups.items():
            some = group is None or bool(by_group[group]) or group == self.group
            button.setVisible(self.is_open and some)
        self.finder.setVisible(self.is_open)

    def _say_fold(self) -> None:
        self.fold_button.setText(f"{'▾' if self.is_open else '▸'} All signals")
        set_tip(self.fold_button, "Fold the table to this line" if self.is_open else "Open the table")

    # ---- finding, choosing, jumping

    def begin_find(self) -> None:
        """Opens the table, ready to type a name."""
        self.set_open(True, by_hand=True)
        self.finder.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.finder.selectAll()

    def _set_group(self, group: Group | None) -> None:
        self.group = group
        if not self.is_open:
            self.set_open(True, by_hand=True)
        self._filter()

    def _filter(self) -> None:
        self._quietly(lambda: self.filter.set_filter(self.group, self.finder.text()))

    def _quietly(self, does: Callable[[], object]) -> None:
        """What moves the selection by itself chooses nothing."""
        self._telling = False
        does()
        self._telling = True

    def _on_row(self, index: object) -> None:
        current = self.table.currentIndex()
        if self._telling and current.isValid():
            line = self.filter.line(current)
            if line.first is None:
                self.chosen.emit(line.signal)
            else:
                self.jumped.emit(line.signal, line.first)

    def _jump(self) -> None:
        """To the first cycle at which the signal of the current row diverges."""
        index = self.table.currentIndex()
        if index.isValid():
            line = self.filter.line(index)
            self.jumped.emit(line.signal, line.first)
            self.left.emit()

    def _on_menu(self, at: QPoint) -> None:
        index = self.table.indexAt(at)
        if index.isValid():
            self.table.setCurrentIndex(index)
            self.menu_wanted.emit(self.filter.line(index).signal, self.table.viewport().mapToGlobal(at))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter jumps from the table. In the field Enter and Down go to the first row found, and Esc empties it."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if watched is self.table and enter:
            self._jump()
            return True
        if watched is self.finder and (enter or event.key() == Qt.Key.Key_Down):
            if self.filter.rowCount():
                self.table.setFocus()
                self.table.setCurrentIndex(self.filter.index(0, 0))
                self._jump()
            return True
        if watched is self.finder and event.key() == Qt.Key.Key_Escape and self.finder.text():
            self.finder.clear()
            return True
        return False
