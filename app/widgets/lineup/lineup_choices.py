"""All that changes the line-up: clock and edge, cycles to leave out, the offset by hand, the family by default,
and what is allowed."""

from __future__ import annotations

import re

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QShowEvent, QValidator
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QPushButton,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from app.case.record import OpenCase
from app.comparison_text import signed
from app.model.lineup_words import hand_words, kept_alone
from app.model.theme import Theme
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from app.widgets.lineup.lineup_allowances import AllowanceForm
from app.widgets.lineup.lineup_condition import ConditionForm
from tracecore.comparison import Comparison
from tracecore.quantities import MINUS, NARROW_SPACE, format_rate, format_time

FARTHEST = 99_999_999
BEST = "Best candidate"
STEPS = (-10, -1, 1, 10)
PAUSE_MS = 150


class OffsetBox(QSpinBox):
    """Whole cycles, written with sign, narrow spaces and a true minus; typed in any plain way."""

    def textFromValue(self, value: int) -> str:
        return signed(value)

    def valueFromText(self, text: str) -> int:
        return int(_plain_number(text) or 0)

    def validate(self, text: str, position: int) -> tuple[QValidator.State, str, int]:
        plain = _plain_number(text)
        fine = re.fullmatch(r"[+-]?\d{1,8}", plain) is not None
        part = plain in ("", "+", "-")
        state = QValidator.State
        return state.Acceptable if fine else (state.Intermediate if part else state.Invalid), text, position


def _plain_number(text: str) -> str:
    kept = text.removesuffix(" cycles").replace(MINUS, "-")
    return "".join(kept.replace(NARROW_SPACE, "").split())


def _rule() -> QFrame:
    made = QFrame()
    made.setObjectName("rule")
    made.setFixedHeight(1)
    return made


class LineupChoices(QWidget):
    """``clock_set`` carries a name (empty for the best candidate) and an edge; ``offset_set`` an offset, or None,
    ``same_start_set`` whether both captures were triggered by the same event."""

    clock_set = Signal(str, str)
    family_set = Signal(str)
    offset_set = Signal(object)
    same_start_set = Signal(bool)

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("causeBody")
        self.comparison: Comparison | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 4, 8, 8)
        column.setSpacing(7)
        self._clock_part(column)
        column.addWidget(_rule())
        self.condition = ConditionForm()
        column.addWidget(self.condition)
        column.addWidget(_rule())
        self._offset_part(column)
        column.addWidget(_rule())
        column.addWidget(label("Logic family by default", "strong"))
        column.addWidget(self._family_box())
        column.addWidget(_rule())
        self.allowances = AllowanceForm()
        column.addWidget(self.allowances)
        column.addStretch(1)
        self._soon = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._soon.timeout.connect(self._tell_offset)

    def _clock_part(self, column: QVBoxLayout) -> None:
        column.addWidget(label("Clock and edge", "strong"))
        column.addWidget(label("What counts as one cycle", "muted"))
        self.clock = QComboBox()
        self.clock.setAccessibleName("Clock")
        self.clock.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.clock.activated.connect(lambda _index: self._set_clock())
        column.addWidget(self.clock)
        row = QHBoxLayout()
        self.edges = QButtonGroup(self)
        self.edge_buttons: dict[str, QPushButton] = {}
        for edge, arrow in (("rising", "↑"), ("falling", "↓")):
            button = QPushButton(f"{edge} {arrow}")
            button.setCheckable(True)
            button.setProperty("pick", True)
            button.clicked.connect(lambda _checked=False: self._set_clock())
            self.edges.addButton(button)
            self.edge_buttons[edge] = button
            row.addWidget(button, 1)
        column.addLayout(row)
        self.read_at = label("", "muted")
        column.addWidget(self.read_at)

    def _offset_part(self, column: QVBoxLayout) -> None:
        column.addWidget(label("Offset", "strong"))
        self.found = label("", "muted")
        column.addWidget(self.found)
        self.same_start = QCheckBox("Triggered by the same event")
        self.same_start.setToolTip(
            "Both captures began at the same moment, as at a reset: a far offset is hardly believed"
        )
        self.same_start.clicked.connect(lambda _on=False: self.same_start_set.emit(self.same_start.isChecked()))
        column.addWidget(self.same_start)
        self.offset = OffsetBox()
        # the style sheet does not reach the words in there
        self.offset.lineEdit().setTextMargins(self.fontMetrics().averageCharWidth() // 2, 0, 0, 0)
        self.offset.setRange(-FARTHEST, FARTHEST)
        self.offset.setSuffix(" cycles")
        self.offset.setKeyboardTracking(False)
        self.offset.setAccessibleName("Offset in cycles")
        self.offset.valueChanged.connect(lambda _value: self._on_offset())
        column.addWidget(self.offset)
        steps = QWidget()
        row = WrapRow(steps)
        self.step_buttons: dict[int, QPushButton] = {}
        for step in STEPS:
            button = QPushButton(signed(step))
            button.setProperty("small", True)
            button.setAccessibleName(f"{abs(step)} {'more' if step > 0 else 'less'}")
            button.clicked.connect(lambda _checked=False, step=step: self.offset.setValue(self.offset.value() + step))
            row.addWidget(button)
            self.step_buttons[step] = button
        column.addWidget(steps)
        self.at_hand = label("")
        column.addWidget(self.at_hand)
        area = QWidget()
        buttons = WrapRow(area)
        self.set_button, self.find_button = QPushButton("Use this offset"), QPushButton("Back to found")
        self.set_button.clicked.connect(lambda: self.offset_set.emit(self.offset.value()))
        self.find_button.clicked.connect(lambda: self.offset_set.emit(None))
        buttons.addWidget(self.set_button)
        buttons.addWidget(self.find_button)
        column.addWidget(area)

    def _family_box(self) -> QComboBox:
        from tracecore.measure.families import families

        self.family = QComboBox()
        self.family.setAccessibleName("Logic family by default")
        self.family.setToolTip("For channels whose row on the sheet names no family")
        for name in families():
            self.family.addItem(name, name)
        self.family.activated.connect(lambda _index: self.family_set.emit(self.family.currentData()))
        return self.family

    def _set_clock(self) -> None:
        edge = next(name for name, button in self.edge_buttons.items() if button.isChecked())
        self.clock_set.emit(self.clock.currentData() or "", edge)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self.condition.set_theme(theme, scale)

    def set_case(self, case: OpenCase, comparison: Comparison | None, ready: bool) -> None:
        """Follows the case and its newest answer."""
        new, self.comparison = comparison is not self.comparison, comparison
        self._fill_clock(case)
        self.edge_buttons[case.settings.edge].setChecked(True)
        self.family.setCurrentIndex(max(0, self.family.findData(case.settings.family)))
        self.same_start.setChecked(case.settings.same_start)
        self.allowances.set_settings(case.settings)
        # an offset by hand asks for no search
        self.same_start.setEnabled(case.settings.offset is None)
        self.condition.set_case(case.settings.qualifier or "", comparison)
        typed = case.settings.offset
        by_hand = typed is not None
        if comparison is not None and new:
            self.offset.setValue(typed if typed is not None else comparison.lineup.offset_cycles)
        lineup = comparison.lineup if comparison is not None else None
        found = f"Found: {signed(lineup.offset_cycles)}{kept_alone(lineup)}." if lineup and not by_hand else ""
        by_hand_words = "Set by hand. Slips are followed from where it fits."
        self.found.setText(by_hand_words if by_hand else found or "Nothing found yet.")
        self.find_button.setEnabled(by_hand)
        set_tip(self.find_button, "" if by_hand else "The offset is found already")
        self._ready = ready
        self._on_offset()

    def _fill_clock(self, case: OpenCase) -> None:
        names: dict[str, None] = {}
        for state in (case.good, case.suspect):
            for capture in state.captures:
                names.update(dict.fromkeys(case.sheet.probe(c).signal for c in capture.channels))
        if case.settings.clock:
            names[case.settings.clock] = None
        self.clock.clear()
        lineup = self.comparison.lineup if self.comparison is not None else None
        taken = lineup.clock if lineup is not None and case.settings.clock is None else ""
        self.clock.addItem(f"{BEST}: {taken}" if taken else BEST, None)
        for name in names:
            self.clock.addItem(name, name)
        self.clock.setCurrentIndex(max(0, self.clock.findData(case.settings.clock)) if case.settings.clock else 0)
        self.read_at.setText(self._read_words())
        self.read_at.setVisible(bool(self.read_at.text()))

    def _read_words(self) -> str:
        if self.comparison is None or not self.comparison.request.good or len(self.comparison.lineup.good_edges_ps) < 2:
            return ""
        edges = self.comparison.lineup.good_edges_ps
        rate = format_rate((len(edges) - 1) * 1e12 / max(1, int(edges[-1] - edges[0])))
        guard = format_time(self.comparison.request.good[0].resolution_ps)
        return f"{rate} on the good side. States are read {guard}, one sample, before the edge."

    def _on_offset(self) -> None:
        taken = self.comparison is not None and self.comparison.lineup.offset_cycles == self.offset.value()
        by_hand = self.comparison is not None and self.comparison.lineup.status == "by hand"
        usable = self.comparison is not None and not (taken and by_hand)
        self.set_button.setEnabled(usable)
        set_tip(self.set_button, "" if usable else ("This one is used" if taken else "Nothing is compared yet"))
        self._tell_soon()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        self._tell_soon()

    def _tell_soon(self) -> None:
        """What an offset would bring takes a look at some thousand states: only where somebody sees it."""
        if self.isVisible():
            self._soon.start()

    def _tell_offset(self) -> None:
        there = self.comparison is not None and bool(len(self.comparison.lineup.good_edges_ps) > 1)
        words = hand_words(self.comparison, self.offset.value()) if there and self.comparison is not None else ""
        self.at_hand.setText(words)
        self.at_hand.setVisible(bool(words))
        self.at_hand.setAlignment(Qt.AlignmentFlag.AlignTop)
