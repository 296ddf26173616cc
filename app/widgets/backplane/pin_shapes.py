"""Shapes of pins and of readings: each verdict has one, besides its colour."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QColor, QIcon, QPainter, QPen, QPixmap, QPolygonF

from app.model.crate import PinVerdict
from app.model.theme import Theme
from app.widgets.controls.painting import painting


def draw_pin(painter: QPainter, x: float, y: float, size: float, verdict: PinVerdict, theme: Theme) -> None:
    """One pin: disc agrees, hatched square diverges, triangle level, slant timing, short line not probed."""
    half = size / 2
    painter.setBrush(Qt.BrushStyle.NoBrush)
    if verdict == "agrees":
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.ink))
        painter.drawEllipse(QPointF(x, y), half * 0.6, half * 0.6)
    elif verdict == "diverges":
        painter.setPen(QPen(QColor(theme.suspect), max(1.2, size / 9)))
        painter.setBrush(QBrush(QColor(theme.suspect), Qt.BrushStyle.BDiagPattern))
        painter.drawRect(QRectF(x - half * 0.8, y - half * 0.8, size * 0.8, size * 0.8))
    elif verdict == "level":
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.warning))
        points = (
            QPointF(x, y - half * 0.9),
            QPointF(x + half * 0.9, y + half * 0.8),
            QPointF(x - half * 0.9, y + half * 0.8),
        )
        painter.drawPolygon(QPolygonF(points))
    elif verdict == "timing":
        painter.setPen(QPen(QColor(theme.warning), max(2.0, size / 4)))
        painter.drawLine(QPointF(x - half * 0.4, y + half * 0.7), QPointF(x + half * 0.4, y - half * 0.7))
    else:
        painter.setPen(QPen(QColor(theme.rule_strong), 1.2))
        painter.drawLine(QPointF(x - half * 0.5, y), QPointF(x + half * 0.5, y))


ICON = 18
"""Pixels of a legend's shape at 100 %."""


def pin_icon(verdict: PinVerdict, theme: Theme, scale: float) -> QIcon:
    """The shape alone, for the legend; it grows with the text."""
    size = round(ICON * scale)
    picture = QPixmap(size, size)
    picture.fill(Qt.GlobalColor.transparent)
    with painting(picture) as painter:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        draw_pin(painter, size / 2, size / 2, size * 15 / ICON, verdict, theme)
    return QIcon(picture)
