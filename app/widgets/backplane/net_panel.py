"""The chosen net at the right: its pins with their traces, where the readings put the fault, and what to read next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QFrame, QGridLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from app.model.crate import BackplaneView, NetPin
from app.model.theme import LIGHT, Theme
from app.report.continuity_words import located_words, may_say, next_words, slow_rise_words
from app.widgets.backplane.pin_shapes import ICON, pin_icon
from app.widgets.backplane.trace_pair import TracePair
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from tracecore.compare.fault_kinds import FaultKind

if TYPE_CHECKING:
    from tracecore.comparison import Comparison

MOST_PINS = 12
"""A net of more pins shows so many; the table has the rest."""


class PinRow(QWidget):
    """One pin of the net: its shape, name, part it plays, words, and both traces. ``wanted`` carries the pin."""

    wanted = Signal(str)

    def __init__(self, pin: NetPin, theme: Theme, scale: float, *, chosen: bool) -> None:
        super().__init__()
        self.pin = pin
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 4)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(1)
        grid.setColumnStretch(1, 1)
        mark = QLabel()
        size = round(ICON * scale)
        mark.setPixmap(pin_icon(pin.verdict, theme, scale).pixmap(size, size))
        grid.addWidget(mark, 0, 0, Qt.AlignmentFlag.AlignTop)
        part = f" · {pin.part}" if pin.part else ""
        name = f"{'▸ ' if chosen else ''}{pin.point}  {pin.role}{part}"
        grid.addWidget(label(name, "strong" if chosen else "plain"), 0, 1)
        self.words = label(pin.words, "fault" if pin.verdict in ("diverges", "level", "timing") else "muted")
        grid.addWidget(self.words, 1, 1)
        self.traces = TracePair(theme, scale)
        grid.addWidget(self.traces, 2, 1)
        self.setAccessibleName(f"{pin.point}, {pin.role}{part}: {pin.words}")

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.wanted.emit(self.pin.point)


class NetPanel(QWidget):
    """Emits ``typed`` with what was read for the next reading, ``wanted`` with a pin that was clicked."""

    typed = Signal(str)
    wanted = Signal(str)
    plan_wanted = Signal()
    card_wanted = Signal()
    cause_wanted = Signal()
    log_wanted = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._theme, self._scale = LIGHT, 1.0
        self.rows: list[PinRow] = []
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 4, 10, 8)
        layout.setSpacing(6)
        self.title, self.counts = label("", "heading"), label("", "muted")
        layout.addWidget(self.title)
        layout.addWidget(self.counts)
        self.key = label("Wire: — same   – ○ – to measure   –○  ○– parted", "muted")
        layout.addWidget(self.key)
        self.pins = QVBoxLayout()
        self.pins.setSpacing(2)
        layout.addLayout(self.pins)
        layout.addWidget(self._card())
        self.says_head = label("What the reading may say", "strong")
        layout.addWidget(self.says_head)
        self.says = QGridLayout()
        self.says.setHorizontalSpacing(10)
        self.says.setColumnStretch(1, 1)
        layout.addLayout(self.says)
        layout.addStretch(1)
        area = QWidget()
        buttons = WrapRow(area)
        self.back = QPushButton("To the cause")
        set_tip(self.back, "Go to this signal among the likely causes in Compare")
        self.log, self.bench, self.plan = (
            QPushButton(text) for text in ("Write in log", "Bench card…", "Measuring plan…")
        )
        set_tip(self.log, "Take what was read on this net down in the log, as measured")
        for button, told in (
            (self.back, self.cause_wanted), (self.log, self.log_wanted), (self.bench, self.card_wanted),
            (self.plan, self.plan_wanted),
        ):  # fmt: skip
            button.setProperty("small", True)
            button.clicked.connect(told)
            buttons.addWidget(button)
        layout.addWidget(area)

    def _card(self) -> QFrame:
        """The finding, the next reading, and the field to type it in."""
        self.finding, self.next = label("", "strong"), label("")
        self.entry = QLineEdit()
        self.entry.setAccessibleName("Suspect reads, ohm")
        self.entry.setPlaceholderText("0.2, 2.1k or open")
        self.entry.setToolTip("What the meter says: 0.2, 2.1k or open")
        self.write = QPushButton("Write in table")
        self.write.setProperty("role", "decision")
        self.card = QFrame()
        self.card.setObjectName("card")
        self.card.setProperty("chosen", True)
        inside = QVBoxLayout(self.card)
        for part in (self.finding, self.next):
            inside.addWidget(part)
        self.reads = label("Suspect reads, ohm", wrap=False)
        for below in (self.reads, self.entry, self.write):
            inside.addWidget(below)
        self.write.clicked.connect(self._send)
        self.entry.returnPressed.connect(self._send)
        return self.card

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size; shown with the next view."""
        self._theme, self._scale = theme, scale

    def set_view(
        self, view: BackplaneView, comparison: Comparison | None, cycle: int | None, lacking: str = ""
    ) -> None:
        """Shows the net of the chosen pin, with its traces around a good cycle; ``lacking`` says why there is none."""
        nothing = "No pin to show" if lacking else "No pin is named yet"
        self.title.setText(f"Net {view.net}" if view.net else view.chosen or nothing)
        self._show_pins(view, comparison, cycle)
        if lacking:
            self.counts.setText(f"{lacking}.")
        self.finding.setText(located_words(view.place) if view.place else "")
        self.finding.setVisible(view.place is not None)
        step = view.step
        causes = comparison.causes if comparison is not None else ()
        mine = {pin.signal for pin in view.net_pins}
        slow = [c.signal for c in causes if c.signal in mine and c.fault_kind is FaultKind.SLOW_RISE]
        first = f"{slow_rise_words(slow[0])} " if slow else ""
        self.next.setText(f"{first}Next: {next_words(step)}" if step is not None else "")
        for part in (self.next, self.entry, self.write, self.reads, self.says_head):
            part.setVisible(step is not None)
        self.card.setVisible(step is not None or view.place is not None)
        _clear(self.says)
        for row, (answer, told) in enumerate(may_say(step) if step is not None else ()):
            # as wide as its words at any text size, which may change while it stands
            self.says.addWidget(label(answer, "strong", wrap=False), row, 0, Qt.AlignmentFlag.AlignTop)
            self.says.addWidget(label(told), row, 1)
        self.back.setVisible(any(cause.signal in mine for cause in causes))

    def _show_pins(self, view: BackplaneView, comparison: Comparison | None, cycle: int | None) -> None:
        _clear(self.pins)
        self.rows = []
        roles = [pin.role for pin in view.net_pins]
        drivers, receivers = roles.count("driver"), roles.count("receiver")
        counts = f"{drivers} driver{'' if drivers == 1 else 's'}, {receivers} receiver{'' if receivers == 1 else 's'}"
        unknown = "Neither the probe sheet nor a pin list knows its driver."
        self.counts.setText(counts if view.net_pins else unknown)
        for pin in view.net_pins[:MOST_PINS]:
            row = PinRow(pin, self._theme, self._scale, chosen=pin.point == view.chosen)
            row.traces.show_signal(comparison, pin.signal, cycle)
            row.wanted.connect(self.wanted)
            self.pins.addWidget(row)
            self.rows.append(row)
        if len(view.net_pins) > MOST_PINS:
            self.pins.addWidget(label(f"and {len(view.net_pins) - MOST_PINS} more pins", "muted"))

    def _send(self) -> None:
        if self.entry.text().strip():
            self.typed.emit(self.entry.text())
            self.entry.clear()


def _clear(layout: QVBoxLayout | QGridLayout) -> None:
    """Takes all widgets out of a layout."""
    while (item := layout.takeAt(0)) is not None:
        widget = item.widget()
        if widget is not None:
            widget.hide()
            widget.deleteLater()
