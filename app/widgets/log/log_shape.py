"""The shapes of the log's margin column, as in a paper logbook: one for each kind of entry."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.log_lines import SHAPE_WORDS, Shape
from app.model.theme import Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip


def draw_shape(painter: QPainter, box: QRectF, shape: Shape, theme: Theme, back: str = "") -> None:
    """One shape in a square; ``back`` is the colour behind it, the panel's unless it is named."""
    ink, paper = QColor(theme.ink), QColor(back or theme.panel)
    size = min(box.width(), box.height())
    area = QRectF(box.center().x() - size / 2, box.center().y() - size / 2, size, size)
    painter.setPen(QPen(ink, max(1.6, size / 9)))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    round_area = area.adjusted(size * 0.08, size * 0.08, -size * 0.08, -size * 0.08)
    if shape == "ring":
        painter.drawEllipse(round_area)
    elif shape == "diamond":
        painter.drawPolygon(_points(area, (0.5, 0.02), (0.98, 0.5), (0.5, 0.98), (0.02, 0.5)))
    elif shape == "rule":
        _rule(painter, area, size)
    elif shape == "square":
        painter.fillRect(area.adjusted(size * 0.08, size * 0.08, -size * 0.08, -size * 0.08), ink)
    elif shape == "cross":
        painter.drawEllipse(area)
        for start, stop in (((0.32, 0.32), (0.68, 0.68)), ((0.32, 0.68), (0.68, 0.32))):
            painter.drawLine(_at(area, *start), _at(area, *stop))
    else:
        painter.setBrush(ink)
        painter.drawEllipse(round_area)
        if shape == "tick":
            painter.setPen(QPen(paper, max(1.6, size / 8)))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPolyline(_points(area, (0.28, 0.52), (0.44, 0.68), (0.72, 0.35)))


def _rule(painter: QPainter, area: QRectF, size: float) -> None:
    """A measuring rule with four divisions."""
    body = QRectF(area.x(), area.y() + size * 0.22, size, size * 0.56)
    painter.drawRect(body)
    for share, length in ((0.22, 0.2), (0.41, 0.3), (0.6, 0.2), (0.79, 0.3)):
        x = body.x() + size * share
        painter.drawLine(QPointF(x, body.y()), QPointF(x, body.y() + size * length))


def _at(area: QRectF, x: float, y: float) -> QPointF:
    return QPointF(area.x() + area.width() * x, area.y() + area.height() * y)


def _points(area: QRectF, *shares: tuple[float, float]) -> QPolygonF:
    return QPolygonF([_at(area, x, y) for x, y in shares])


class ShapeMark(QWidget):
    """One shape, as high as a line of text."""

    def __init__(self, shape: Shape, theme: Theme, larger: float = 1.0, back: str = "") -> None:
        super().__init__()
        self._shape, self._theme, self._larger, self._back = shape, theme, larger, back
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(SHAPE_WORDS[shape])
        set_tip(self, SHAPE_WORDS[shape])

    def sizeHint(self) -> QSize:
        line = round(self.fontMetrics().height() * self._larger)
        return QSize(line, line)

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            edge = max(2.0, self.width() * 0.12)
            draw_shape(
                painter, QRectF(self.rect()).adjusted(edge, edge, -edge, -edge), self._shape, self._theme, self._back
            )
