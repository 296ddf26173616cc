"""The box that chooses the capture of a side that is compared in full: disc for good, square for suspect."""

from __future__ import annotations

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QRadioButton

from app.model.theme import Theme
from app.widgets.controls.painting import painting


class ShownBox(QRadioButton):
    """A radio button drawn in the shape of its side."""

    def __init__(self, side: str, theme: Theme) -> None:
        super().__init__()
        self._side, self._theme = side, theme
        self.setAutoExclusive(False)

    def sizeHint(self) -> QSize:
        size = round(self.fontMetrics().height() * 1.15)
        return QSize(size, size)

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def hitButton(self, pos) -> bool:  # type: ignore[no-untyped-def]
        return self.rect().contains(pos)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self._theme
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            size = min(self.width(), self.height()) - 3
            box = QRectF(1.5, (self.height() - size) / 2, size, size)
            colour = QColor(theme.good if self._side == "good" else theme.suspect)
            painter.setPen(QPen(colour if self.isChecked() else QColor(theme.muted), 2 if self.isChecked() else 1))
            painter.setBrush(QColor(theme.panel))
            painter.drawRect(box)
            if self.isChecked():
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(colour)
                inner = box.adjusted(size * 0.25, size * 0.25, -size * 0.25, -size * 0.25)
                if self._side == "good":
                    painter.drawEllipse(inner)
                else:
                    painter.drawRect(inner)
            if self.hasFocus():
                painter.setPen(QPen(QColor(theme.ink), 1, Qt.PenStyle.DotLine))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRect(self.rect().adjusted(0, 0, -1, -1))
