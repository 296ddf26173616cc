"""The first likely cause in one line, where the panel beside the traces has no room: it never leaves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QPushButton, QSizePolicy

from app.comparison_text import summary_of
from app.model.theme import Theme
from app.report.cautions import AT_THE_PINS
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.signal_name import SignalName
from app.widgets.controls.tip import set_tip
from tracecore.compare.fault_kinds import FaultKind
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from tracecore.comparison import Comparison


LARGE = 1.3
"""From this text size on there is no room for a line more."""
ROOM_FOR_ONE = 1000
"""Pixels at 100 % from which on all of it stands on one line."""


def first_sentence(text: str) -> str:
    """Up to the first full stop that ends a sentence.

    >>> first_sentence("6-B22, its driver. If it moves there: a wire.")
    '6-B22, its driver.'
    """
    head, stop, _rest = text.partition(". ")
    return head + "." if stop else text


class FirstCause(QFrame):
    """``asked`` carries an action's name; ``all_wanted`` tells that all causes are to be seen."""

    asked = Signal(str)
    all_wanted = Signal()

    def __init__(self, theme: Theme, scale: float) -> None:
        super().__init__()
        self.setObjectName("card")
        self.setProperty("chosen", True)
        self.setAccessibleName("First likely cause")
        # where a form opens below the traces they give way, never this line
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        grid = QGridLayout(self)
        grid.setContentsMargins(10, 2, 8, 2)
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(0)
        self.rank = label("1", "rank", wrap=False)
        self.name = SignalName("")
        self.mode = label("", "fault", wrap=False)
        self.words = ElidedLabel("", "plain")
        self.caution = ElidedLabel(AT_THE_PINS, "muted")
        self.show_button = QPushButton("Show cycle")
        self.show_button.setProperty("role", "decision")
        set_tip(self.show_button, "Show the cycle at which the finding begins (C)")
        self.show_button.clicked.connect(lambda: self.asked.emit("show_cycle"))
        self.all_button = QPushButton("All causes ▸")
        set_tip(self.all_button, "Open the panel with all likely causes")
        self.all_button.clicked.connect(self.all_wanted)
        for button in (self.show_button, self.all_button):
            button.setProperty("small", True)
        for column, part in enumerate((self.rank, self.name, self.mode)):
            grid.addWidget(part, 0, column, Qt.AlignmentFlag.AlignVCenter)
        grid.setColumnStretch(3, 1)
        grid.addWidget(self.caution, 2, 0, 1, 6)
        grid.addWidget(self.show_button, 0, 4)
        grid.addWidget(self.all_button, 0, 5)
        self._grid, self._scale, self._one_line = grid, scale, True
        self._what_next = ""
        self._place()
        self.set_theme(theme, scale)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self.name.set_theme(theme, scale)
        self._scale = scale
        self._grid.setRowMinimumHeight(0, self.name.sizeHint().height())
        self._place()
        self._tell()

    def _place(self) -> None:
        """The words stand beside the name where there is room, else on a line of their own."""
        self._one_line = self.width() >= ROOM_FOR_ONE * self._scale
        self._grid.removeWidget(self.words)
        self._grid.addWidget(self.words, *((0, 3, 1, 1) if self._one_line else (1, 0, 1, 6)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if self._one_line != (self.width() >= ROOM_FOR_ONE * self._scale):
            self._place()

    def _tell(self) -> None:
        """The caution has a line of its own, or follows on the same one where large text leaves no room for more."""
        if not self._what_next:
            return
        large = self._scale >= LARGE
        self.words.setText(f"{self._what_next} {AT_THE_PINS}" if large else self._what_next)
        self.caution.setVisible(not large)

    def show_cause(self, comparison: Comparison | None) -> None:
        """Says the first cause; without one, what the comparison came to."""
        causes = comparison.causes if comparison is not None else ()
        for part in (self.rank, self.name, self.mode, self.show_button):
            part.setVisible(bool(causes))
        self._what_next = ""
        if not causes:
            self.caution.hide()
            told = summary_of(comparison).headline if comparison is not None else ""
            self.words.setText(told)
            self.setAccessibleDescription(told)
            self.all_button.setText("Verdicts ▸")
            return
        cause = causes[0]
        self.name.set_name(cause.signal, comparison.signal(cause.signal).active if comparison is not None else "high")
        word = "after" if cause.fault_kind == FaultKind.STOPS else "from"
        since = "" if cause.since_cycle is None else f"{word} cycle {group_digits(cause.since_cycle)}. "
        self.mode.setText(cause.fault_mode)
        self.show_button.setText("Show capture" if cause.capture else "Show cycle")
        if cause.chip is not None:
            self.name.hide()
            self.mode.setText(cause.chip.heading)
            since = f"{cause.signal} {cause.fault_mode} {since}"
        self._what_next = f"{since}Probe next: {first_sentence(cause.probe_next)}"
        self._tell()
        shown = self.mode.text() if cause.chip is not None else f"{cause.signal} {cause.fault_mode}"
        self.setAccessibleDescription(f"{shown} {since}Probe next: {cause.probe_next} {AT_THE_PINS}")
        self.all_button.setText("All causes ▸")
