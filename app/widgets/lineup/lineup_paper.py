"""What the drawings of the Line-up page share: a ruled card with a title, a hatch, and a painter set up for words."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QFrame, QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.label import label
from app.widgets.controls.signal_name import plain_font


class LineupCard(QFrame):
    """A ruled box with a title and a few muted words; ``body`` is the layout to fill."""

    def __init__(self, title: str, words: str) -> None:
        super().__init__()
        self.setObjectName("card")
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(14, 9, 14, 10)
        self.body.setSpacing(6)
        head = QHBoxLayout()
        head.setSpacing(12)
        head.addWidget(label(title, "strong", wrap=False), 0, Qt.AlignmentFlag.AlignTop)
        self.words = label(words, "muted")
        head.addWidget(self.words, 1)
        self.body.addLayout(head)


class Drawing(QWidget):
    """A painted widget with a theme and a text size."""

    def __init__(self) -> None:
        super().__init__()
        self.theme: Theme = LIGHT
        self.scale = 1.0
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self.theme, self.scale = theme, scale
        self.updateGeometry()
        self.update()

    def px(self, size: float) -> float:
        """Pixels at this text size."""
        return size * self.scale

    def metrics(self, *, bold: bool = False) -> QFontMetricsF:
        """Of the plain font."""
        return QFontMetricsF(plain_font(self.scale, bold=bold))

    def words(
        self,
        painter: QPainter,
        area: QRectF,
        text: str,
        colour: str,
        *,
        bold: bool = False,
        right: bool = False,
        middle: bool = False,
    ) -> None:
        """One line of words, cut with an ellipsis where room is short."""
        painter.setFont(plain_font(self.scale, bold=bold))
        painter.setPen(QColor(colour))
        flag = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
        flag = Qt.AlignmentFlag.AlignHCenter if middle else flag
        cut = self.metrics(bold=bold).elidedText(text, Qt.TextElideMode.ElideRight, area.width() + 1)
        painter.drawText(area, flag | Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextDontClip, cut)


def hatch(painter: QPainter, area: QRectF, colour: str, step: float = 5.0) -> None:
    """45 degree lines over an area."""
    painter.save()
    painter.setClipRect(area)
    painter.setPen(QPen(QColor(colour), 1.2))
    x = area.left() - area.height()
    while x < area.right():
        painter.drawLine(QPointF(x, area.bottom()), QPointF(x + area.height(), area.top()))
        x += step
    painter.restore()
