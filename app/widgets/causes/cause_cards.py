"""Likely causes as cards, best supported first; the chosen one opens with its evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from app.comparison_text import (
    SHOW_IN_WINDOW,
    VERDICT_MARKS,
    next_step,
    repeats_sentences,
    summary_of,
    varies_sentences,
)
from app.model.theme import Theme
from app.report.cautions import AT_THE_PINS
from app.widgets.controls.label import label
from app.widgets.controls.scrolled_column import show_instead
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from tracecore.outcome import Reason
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from tracecore.compare.findings import Cause, SignalFinding
    from tracecore.comparison import Comparison

CARD_BUTTONS = (
    ("Show cycle", "show_cycle", "Show the cycle at which the finding begins"),
    ("Go to pin", "go_to_pin", "Show its pin, its net and the readings on the Backplane page"),
    ("Mark", "mark", "Mark the chosen cycle"),
    ("In log", "write_in_log", "Take it down in the log as suspected"),
    ("Copy", "copy_finding", "Put the finding's text on the clipboard"),
)
"""Words, the action's name, the tip."""
SHOW_CAPTURE = "Show capture"
"""In place of Show cycle where the shown capture is sound."""
LARGE = 1.3
"""From this text size on closed cards are their heads alone, and what to do stands above the evidence, so that little
has to be scrolled."""


def finding_text(comparison: Comparison, cause: Cause) -> str:
    """A finding in plain lines, for a letter or a logbook."""
    finding = comparison.signal(cause.signal)
    place = finding.place or "pin not on the sheet"
    lines = [
        f"{cause.rank}. {cause.heading(place)}",
        cause.shows_as(place) if cause.chip is not None else "",
        cause.summary,
        *(f"{label}: {value}" for label, value in cause.readings),
        *cause.because,
        f"Probe next: {cause.probe_next}",
        AT_THE_PINS,
    ]
    return "\n".join(line for line in lines if line) + "\n"


class CauseCard(QFrame):
    """``wanted`` carries the rank; ``asked`` an action's name."""

    wanted = Signal(int)
    asked = Signal(str)

    def __init__(
        self, cause: Cause, comparison: Comparison, chosen: bool, theme: Theme, scale: float, no_pin: str = ""
    ) -> None:
        super().__init__()
        self.cause, self._no_pin = cause, no_pin
        self.setObjectName("card")
        self.setProperty("chosen", chosen)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        shown = f"{cause.signal}, {cause.fault_mode}"
        self.setAccessibleName(f"Likely cause {cause.rank}: {f'{cause.heading()}; {shown}' if cause.chip else shown}")
        self.setAccessibleDescription(cause.summary)
        grid = QGridLayout(self)
        grid.setContentsMargins(12, 9, 12, 9)
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(5)
        grid.setColumnStretch(1, 1)
        grid.addWidget(label(str(cause.rank), "rank", wrap=False), 0, 0, Qt.AlignmentFlag.AlignTop)
        self._head(grid, comparison.signal(cause.signal), theme, scale)
        large = scale >= LARGE
        if chosen or not large:
            grid.addWidget(label(cause.summary, "muted"), 1, 1)
            if not cause.capture:
                self._strip(grid, comparison, theme)
        if chosen:
            parts = (self._evidence, self._what_next)
            # at the foot of a long card the buttons would be out of sight
            for part in (self._buttons, *(reversed(parts) if large else parts)):
                part(grid)

    def _head(self, grid: QGridLayout, finding: SignalFinding, theme: Theme, scale: float) -> None:
        head = QHBoxLayout()
        head.setSpacing(round(10 * scale))
        column = QVBoxLayout()
        if self.cause.chip is not None:
            column.addWidget(label(self.cause.chip.heading, "fault"))
        from app.widgets.controls.signal_name import SignalName

        name = SignalName(finding.signal, finding.active)
        name.set_theme(theme, scale)
        head.addWidget(name)
        mode = label(self.cause.fault_mode, "fault")
        # on the line of the larger name
        mode.setContentsMargins(0, 0, 0, round(3 * scale))
        head.addWidget(mode, 1, Qt.AlignmentFlag.AlignBottom)
        column.addLayout(head)
        grid.addLayout(column, 0, 1)

    def _strip(self, grid: QGridLayout, comparison: Comparison, theme: Theme) -> None:
        from app.widgets.causes.cause_strip import CauseStrip

        strip = CauseStrip()
        strip.set_finding(comparison, self.cause.signal)
        strip.set_theme(theme)
        grid.addWidget(strip, 2, 1)

    def _evidence(self, grid: QGridLayout) -> None:
        pairs = QGridLayout()
        pairs.setHorizontalSpacing(10)
        pairs.setColumnStretch(1, 1)
        for row, (what, value) in enumerate(self.cause.readings):
            pairs.addWidget(label(what, "muted"), row, 0, Qt.AlignmentFlag.AlignTop)
            pairs.addWidget(label(value), row, 1)
        grid.addLayout(pairs, grid.rowCount(), 1)
        for sentence in self.cause.because:
            grid.addWidget(label(sentence), grid.rowCount(), 1)

    def _what_next(self, grid: QGridLayout) -> None:
        grid.addWidget(label("Probe next", "strong"), grid.rowCount(), 1)
        grid.addWidget(label(self.cause.probe_next), grid.rowCount(), 1)
        grid.addWidget(label(AT_THE_PINS, "muted"), grid.rowCount(), 1)

    def _buttons(self, grid: QGridLayout) -> None:
        area = QWidget()
        buttons = WrapRow(area)
        for text, name, tip in CARD_BUTTONS:
            if name == "show_cycle" and self.cause.capture:
                text, tip = SHOW_CAPTURE, f"Compare {self.cause.capture} in full, in which it was seen"
            if name == "go_to_pin" and self.cause.chip is not None:
                text, tip = (
                    "Go to chip",
                    f"Show the legs and input states of {self.cause.chip.name} on the Backplane page",
                )
            button = QPushButton(text)
            button.setProperty("role", "decision" if name == "show_cycle" else "")
            button.setProperty("small", True)
            set_tip(button, tip)
            button.clicked.connect(lambda _checked=False, name=name: self.asked.emit(name))
            if name == "go_to_pin" and self._no_pin:
                button.setEnabled(False)
                set_tip(button, self._no_pin)
            buttons.addWidget(button)
        grid.addWidget(area, max(3, grid.rowCount()), 0, 1, 2)
        if self._no_pin:
            # a grey button with no word beside it would be a riddle
            grid.addWidget(label(f"{self._no_pin}.", "muted"), grid.rowCount(), 1)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.wanted.emit(self.cause.rank)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.wanted.emit(self.cause.rank)
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        self.setProperty("focused", True)
        self.style().polish(self)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.setProperty("focused", False)
        self.style().polish(self)


class CauseCards(QScrollArea):
    """All cards, one open. Without a cause it lists each signal's verdict instead."""

    wanted = Signal(int)
    asked = Signal(str)

    def __init__(self, theme: Theme, scale: float) -> None:
        super().__init__()
        self.setObjectName("causeCards")
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._theme, self._scale = theme, scale
        self.cards: list[CauseCard] = []
        self._opened: CauseCard | None = None

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and size; shown with the next ``show_causes``."""
        self._theme, self._scale = theme, scale

    def show_causes(self, comparison: Comparison | None, chosen: int | None, no_pin: str = "") -> None:
        """Builds the cards anew; the chosen one is scrolled into view. ``no_pin`` says why its pin cannot be shown."""
        body = QWidget()
        body.setObjectName("causeBody")
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 6, 0)
        column.setSpacing(10)
        self.cards = []
        opened: CauseCard | None = None
        if comparison is not None and comparison.causes:
            self._tell_elsewhere(column, comparison)
        for cause in comparison.causes if comparison is not None else ():
            assert comparison is not None
            card = CauseCard(cause, comparison, cause.rank == chosen, self._theme, self._scale, no_pin)
            card.wanted.connect(self.wanted)
            card.asked.connect(self.asked)
            column.addWidget(card)
            self.cards.append(card)
            opened = card if cause.rank == chosen else opened
        if comparison is not None and not comparison.causes:
            _list_verdicts(column, comparison)
        if comparison is not None:
            _tell_many(column, comparison)
        column.addStretch(1)
        show_instead(self, body)
        self._opened = opened
        self.show_heading()
        # words that wrap know their height only after a turn of the event loop
        QTimer.singleShot(0, self, self.show_heading)

    def _tell_elsewhere(self, column: QVBoxLayout, comparison: Comparison) -> None:
        """Says so where the shown pair agrees and another capture does not."""
        if comparison.outcome.reason is not Reason.OTHER_CAPTURE:
            return
        column.addWidget(label("No divergence in the shown pair", "strong"))
        column.addWidget(label(f"{comparison.outcome.text} {next_step(comparison.outcome, SHOW_IN_WINDOW)}", "warning"))

    def show_heading(self) -> None:
        """The open card begins at the top of the panel: its signal and fault are what is read first."""
        body = self.widget()
        if self._opened is None or body is None:
            return
        body.adjustSize()
        first = self.cards[0] is self._opened
        self.verticalScrollBar().setValue(0 if first else self._opened.y())

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        QTimer.singleShot(0, self, self.show_heading)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            QTimer.singleShot(0, self, self.show_heading)


def _tell_many(column: QVBoxLayout, comparison: Comparison) -> None:
    """What all suspect captures say together, and what varies among the known-good ones."""
    groups = (
        ("Over all suspect captures", repeats_sentences(comparison.repeats)),
        ("Known-good captures", varies_sentences(comparison.tolerance)),
    )
    for title, sentences in groups:
        if sentences:
            column.addWidget(label(title, "strong"))
        for sentence in sentences:
            column.addWidget(label(sentence))


_TITLES = {"agrees": "No divergence found", "diverges": "It diverges", "cannot tell": "Cannot tell"}


def _list_verdicts(column: QVBoxLayout, comparison: Comparison) -> None:
    summary = summary_of(comparison)
    column.addWidget(label(_TITLES[summary.word], "strong"))
    column.addWidget(label(comparison.outcome.text, "plain" if summary.word == "agrees" else "warning"))
    if summary.do:
        column.addWidget(label(summary.do))
    if not comparison.lineup:
        column.addWidget(label(comparison.lineup.reason))
    grid = QGridLayout()
    grid.setColumnStretch(2, 1)
    grid.setHorizontalSpacing(10)
    for row, finding in enumerate(comparison.signals):
        grid.addWidget(label(VERDICT_MARKS[finding.verdict], wrap=False), row, 0)
        grid.addWidget(label(finding.signal, "strong", wrap=False), row, 1)
        cycles = f", {group_digits(finding.compared_cycles)} cycles" if finding.compared_cycles else ""
        grid.addWidget(label(finding.verdict + cycles, "muted"), row, 2)
    column.addLayout(grid)
