"""Two leads that look swapped, drawn as crossed links from the good side's signals to the suspect's leads."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.pair_checks import CrossedLeads, Wave
from app.model.theme import Theme

ROW, GAP, LINK = 1.5, 0.45, 2.0
"""Height of a row, the space between the two and the width of the links, in lines of text."""


class LeadSwap(QWidget):
    """Left the two good signals, right the two leads of the suspect; each link joins what agrees."""

    def __init__(self, crossed: CrossedLeads, theme: Theme) -> None:
        super().__init__()
        self.crossed, self._theme = crossed, theme
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        (a, b), (lead_a, lead_b) = crossed.signals, crossed.leads
        self.setAccessibleName(f"Lead {lead_a} agrees with good {b}, lead {lead_b} with good {a}")
        self.setToolTip(self.accessibleName())

    def _line(self) -> float:
        return QFontMetricsF(self.font()).height()

    def sizeHint(self) -> QSize:
        line = self._line()
        return QSize(round(line * 19), round(line * (2 * ROW + GAP)) + 2)

    def minimumSizeHint(self) -> QSize:
        return QSize(round(self._line() * 9), self.sizeHint().height())

    def boxes(self) -> tuple[tuple[QRectF, QRectF], tuple[QRectF, QRectF]]:
        """The places of the good waves and of the suspect's, upper and lower."""
        line = self._line()
        left, right = self._name_widths()
        wide = min(self.width() - left - right - LINK * line, 2 * 9 * line) / 2
        rows = [1 + i * (ROW + GAP) * line for i in (0, 1)]
        high, there = ROW * line, left + wide + LINK * line
        good, suspect = ([QRectF(x, y, wide, high) for y in rows] for x in (left, there))
        return (good[0], good[1]), (suspect[0], suspect[1])

    def _name_widths(self) -> tuple[float, float]:
        bold, line = QFontMetricsF(self._bold()), self._line()
        plain = QFontMetricsF(self.font()).horizontalAdvance("good ")
        left = plain + max(bold.horizontalAdvance(s) for s in self.crossed.signals)
        right = max(bold.horizontalAdvance(f"lead {c}") for c in self.crossed.leads)
        most = self.width() * 0.3
        return min(left, most) + line * 0.5, min(right, most) + line * 0.5

    def _bold(self) -> QFont:
        font = QFont(self.font())
        font.setBold(True)
        return font

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        good, suspect = self.boxes()
        for i in (0, 1):
            self._draw_good_name(painter, good[i], self.crossed.signals[i])
            self._draw_wave(painter, good[i], self.crossed.good[i], self._theme.good, 1.6)
            self._draw_wave(painter, suspect[i], self.crossed.suspect[i], self._theme.suspect, 2.6)
            painter.setFont(self._bold())
            painter.setPen(QColor(self._theme.ink))
            at = QPointF(suspect[i].right() + self._line() * 0.5, self._baseline(suspect[i]))
            painter.drawText(at, f"lead {self.crossed.leads[i]}")
        painter.setPen(QPen(QColor(self._theme.warning), 2))
        for here, there in ((good[0], suspect[1]), (good[1], suspect[0])):
            painter.drawLine(
                QPointF(here.right() + 3, here.center().y()), QPointF(there.left() - 3, there.center().y())
            )
        painter.end()

    def _baseline(self, box: QRectF) -> float:
        metrics = QFontMetricsF(self._bold())
        return box.center().y() + (metrics.ascent() - metrics.descent()) / 2

    def _draw_good_name(self, painter: QPainter, box: QRectF, name: str) -> None:
        painter.setFont(self.font())
        painter.setPen(QColor(self._theme.muted))
        painter.drawText(QPointF(0, self._baseline(box)), "good")
        painter.setFont(self._bold())
        painter.setPen(QColor(self._theme.ink))
        painter.drawText(QPointF(QFontMetricsF(self.font()).horizontalAdvance("good "), self._baseline(box)), name)

    def _draw_wave(self, painter: QPainter, box: QRectF, wave: Wave, colour: str, thick: float) -> None:
        painter.setPen(QPen(QColor(self._theme.rule_strong), 1))
        painter.setBrush(QColor(self._theme.panel))
        painter.drawRect(box)
        if not wave:
            return
        inner = box.adjusted(6, 6, -6, -6)
        step, height = inner.width() / len(wave), {0: 1.0, 1: 0.0, 2: 0.5}
        points: list[QPointF] = []
        for i, level in enumerate(wave):
            y = inner.top() + inner.height() * height[level]
            points += [QPointF(inner.left() + i * step, y), QPointF(inner.left() + (i + 1) * step, y)]
        painter.setPen(QPen(QColor(colour), thick))
        painter.drawPolyline(QPolygonF(points))
