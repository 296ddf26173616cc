"""Columns of a page that scroll, and parts of a splitter whose rows wrap."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QWidget


class AsHighAsItsWidthAsks(QWidget):
    """A part of a splitter whose rows wrap: a splitter does not ask how high that makes it."""

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._ask()

    def event(self, event: QEvent) -> bool:
        taken = super().event(event)
        if event.type() == QEvent.Type.LayoutRequest:
            # larger text, or more of it, at the same width
            self._ask()
        return taken

    def _ask(self) -> None:
        inside = self.layout()
        asked = inside.totalMinimumHeightForWidth(self.width()) if inside is not None else 0
        if asked != self.minimumHeight():
            self.setMinimumHeight(asked)


def scrolled_column(widget: QWidget) -> QScrollArea:
    """A column that scrolls where its words are longer than the window is high, and is never cut at its side."""
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
    area.setWidget(widget)
    return area


def show_instead(area: QScrollArea, widget: QWidget) -> None:
    """Puts a widget into an area. What was there goes with the next turn of the event loop: a part of it may be telling
    of a click just now, and must outlive that."""
    before = area.takeWidget()
    if before is not None:
        before.deleteLater()
    area.setWidget(widget)
