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
        for at_ns, text, left in self._labels(area, metrics):
            x = strips.x(area, at_ns * 1000)
            painter.setPen(QColor(theme.muted))
            painter.drawLine(QLineF(x, base - strips.px(4), x, base))
            painter.drawText(QPointF(left, base - strips.px(7)), text)
        painter.setPen(QColor(theme.ink))
        free = area.x()
        for at, text in ((0, self.edge_words), (period, f"next {nanoseconds(period)}")):
            wide = metrics.horizontalAdvance(text)
            left = min(strips.x(area, at) + strips.px(3), area.right() - wide - 4)
            if left >= free:
                painter.drawText(QPointF(left, area.y() + metrics.ascent() + 2), text)
                free = left + wide + strips.px(8)
        painter.restore()

    def _labels(self, area: QRectF, metrics: QFontMetricsF) -> list[tuple[int, str, float]]:
        """Nanoseconds, words and left ends of the numbers of the axis, as close as they stand clear of one another."""
        strips = self._strips
        most_ns = int(strips.span_ps[1] // 1000)
        for step in (k * 10**n for n in range(10) for k in (1, 2, 5)):
            if most_ns // step > 40:
                continue
            out, free, clear = [], area.x() - strips.px(4), True
            for at in range(0, most_ns + 1, step):
                text = "0 ns" if at == 0 else str(at)
                wide = metrics.horizontalAdvance(text)
                left = strips.x(area, at * 1000) - wide / 2
                left = max(left, area.x()) if at == 0 else left
                if left + wide > area.right():
                    break
                clear = clear and left >= free
                out.append((at, text, left))
                free = left + wide + strips.px(5)
            if clear:
                return out
        return []
