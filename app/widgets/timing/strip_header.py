"""The head of the timing table: over the strips an axis in nanoseconds with the active edges."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRect, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QHeaderView

from app.timing_text import nanoseconds
from app.widgets.controls.signal_name import plain_font
from app.widgets.timing.strip_painter import StripPainter

STRIPS = 1


class StripHeader(QHeaderView):
    """``edge_words`` name the clock and its edge; the axis is the painter's."""

    def __init__(self, painter: StripPainter) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        self._strips = painter
        self.edge_words = ""
        self.setSectionsClickable(True)
        self.setHighlightSections(False)
        self.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)

    def sizeHint(self) -> QSize:
        return QSize(super().sizeHint().width(), round(self._strips.px(50)))

    def paintSection(self, painter: QPainter, rect: QRect, logical: int) -> None:
        if logical != STRIPS:
            super().paintSection(painter, rect, logical)
            return
        strips, theme, area = self._strips, self._strips.theme, QRectF(rect)
        painter.save()
        painter.setClipRect(area)
        painter.fillRect(area, QColor(theme.tint))
        painter.setFont(plain_font(strips.scale, 13))
        metrics = QFontMetricsF(painter.font())
        base = area.bottom() - strips.px(3)
        painter.setPen(QPen(QColor(theme.ink), 1.4))
        painter.drawLine(QLineF(area.x(), base, area.right(), base))
        period = strips.period_ps
        step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 200, 500, 10**3, 10**4, 10**5, 10**9) if period / s <= 6500)
        painter.setPen(QColor(theme.muted))
        for k in range(int(strips.span_ps[1] // (step * 1000)) + 1):
            x = strips.x(area, k * step * 1000)
            painter.drawLine(QLineF(x, base - strips.px(4), x, base))
            text = f"{k * step} ns" if k == 0 else str(k * step)
            painter.drawText(QPointF(x - metrics.horizontalAdvance(text) / 2 + 1, base - strips.px(7)), text)
        painter.setPen(QColor(theme.ink))
        for at, text in ((0, self.edge_words), (period, f"next {nanoseconds(period)}")):
            x = strips.x(area, at)
            left = min(x + strips.px(3), area.right() - metrics.horizontalAdvance(text) - 4)
            painter.drawText(QPointF(left, area.y() + metrics.ascent() + 2), text)
        painter.restore()
