"""One key from any page: a strip at the foot of the window in which a line of the log is written at once."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QVBoxLayout

from app.case.values import Entry
from app.model.log_changes import line_change
from app.model.session import Session
from app.model.theme import Theme
from app.widgets.log.log_line import LineStrip

ROOM_FOR_CHOICES = 560
"""Pixels of the window's height at 100 % from which on kind, cycle and mark stand above the words."""


class QuickLine(QFrame):
    """Enter keeps the line and closes the strip, Esc leaves it. ``signed`` carries other initials."""

    kept = Signal(str)
    signed = Signal(str)
    closed = Signal()

    def __init__(self, session: Session, theme: Theme, scale: float) -> None:
        super().__init__()
        self.setObjectName("quickLine")
        self._session = session
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        self.strip = LineStrip(theme, with_picture=False)
        self._scale = scale
        self.strip.set_look(theme, scale)
        self.strip.kept.connect(self._keep)
        self.strip.left.connect(self.close_up)
        down.addWidget(self.strip)

    def set_look(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self._scale = scale
        self.strip.set_look(theme, scale)
        self._fit()

    def _fit(self) -> None:
        """What the line is written about stays in sight above it."""
        self.strip.set_brief(self.window().height() < ROOM_FOR_CHOICES * self._scale)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def begin(self) -> None:
        """Opens the strip; cycle and mark are those that are looked at, the words of an unfinished line stay."""
        chosen, case = self._session.chosen, self._session.case
        if not self.strip.words.text():
            self.strip.begin()
        self.strip.set_author(self._session.author)
        self.strip.set_cycle(chosen.cycle)
        marked = next((m for m in case.marks if m.id == chosen.mark), None)
        inside = (
            marked is not None
            and chosen.cycle is not None
            and (marked.first_cycle <= chosen.cycle <= marked.last_cycle)
        )
        self.strip.set_marks(case.marks, marked.id if inside and marked is not None else None)
        self._fit()
        self.show()
        self.strip.words.setFocus()

    def close_up(self) -> None:
        """Leaves the strip."""
        self.hide()
        self.closed.emit()

    def _keep(self, entry: Entry) -> None:
        if entry.author != self._session.author:
            self.signed.emit(entry.author)
        change = line_change(self._session.case, entry, counts=True)
        if self._session.change(change):
            self.strip.words.clear()
            self.strip.begin()
            self.close_up()
            self.kept.emit(f"In the log: {entry.kind}, {entry.text}")
