"""The four verdict words as shapes: a tick, a half-filled diamond, a triangle, a dashed box with a question mark."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPen, QPolygonF

from app.model.theme import Theme


def draw_verdict(painter: QPainter, box: QRectF, verdict: str, theme: Theme) -> None:
    """Draws the mark of ``verdict`` into ``box``: within, marginal, violates or cannot be judged."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    size, x, y = box.width(), box.x(), box.y()

    def points(*shares: tuple[float, float]) -> QPolygonF:
        return QPolygonF([QPointF(x + size * a, y + size * b) for a, b in shares])

    if verdict == "within":
        painter.setPen(QPen(QColor(theme.ink), max(1.6, size / 8)))
        painter.drawPolyline(points((0.15, 0.55), (0.4, 0.8), (0.85, 0.2)))
    elif verdict == "marginal":
        painter.setPen(QPen(QColor(theme.warning), max(1.4, size / 10)))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPolygon(points((0.5, 0.05), (0.95, 0.5), (0.5, 0.95), (0.05, 0.5)))
        painter.setBrush(QColor(theme.warning))
        painter.drawPolygon(points((0.5, 0.05), (0.5, 0.95), (0.05, 0.5)))
    elif verdict == "violates":
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.warning))
        painter.drawPolygon(points((0.5, 0.08), (0.95, 0.9), (0.05, 0.9)))
    else:
        painter.setPen(QPen(QColor(theme.ink), 1.2, Qt.PenStyle.DashLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(box.adjusted(1, 1, -1, -1))
        font = QFont(painter.font())
        font.setPixelSize(max(8, round(size * 0.75)))
        font.setBold(True)
        painter.setFont(font)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, "?")
    painter.restore()
