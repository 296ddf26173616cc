"""A line of words that is cut with an ellipsis where room is short; the tooltip then has it whole."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip


class ElidedLabel(QLabel):
    """A label that may be narrower than its text."""

    def __init__(self, text: str = "", name: str = "", parent: QWidget | None = None) -> None:
        super().__init__(text, parent)
        self.setObjectName(name)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def minimumSizeHint(self) -> QSize:
        return QSize(40, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._tell()

    def setText(self, text: str) -> None:
        super().setText(text)
        self._tell()

    def _shown(self) -> str:
        room = self.contentsRect().width()
        return self.fontMetrics().elidedText(self.text(), Qt.TextElideMode.ElideRight, room)

    def _tell(self) -> None:
        # an advance in whole pixels may be as wide as the room, and the text be cut all the same
        set_tip(self, self.text() if self._shown() != self.text() else "")

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setPen(self.palette().color(self.foregroundRole()))
            painter.drawText(self.contentsRect(), int(self.alignment() | Qt.AlignmentFlag.AlignVCenter), self._shown())
