"""Two leads that look swapped, drawn as crossed links from the good side's signals to the suspect's leads."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.pair_checks import CrossedLeads, Wave
from app.model.theme import Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip

ROW, GAP, LINK, NAME = 1.5, 0.45, 2.0, 1.2
"""Height of a row, the space between the two, the width of the links and the height of a name, in lines of text."""
NARROW = 17
"""Lines of text that must fit side by side; in less width the names stand above the waves."""


class LeadSwap(QWidget):
    """Left the two good signals, right the two leads of the suspect; each link joins what agrees."""

    def __init__(self, crossed: CrossedLeads, theme: Theme) -> None:
        super().__init__()
        self.crossed, self._theme = crossed, theme
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        (a, b), (lead_a, lead_b) = crossed.signals, crossed.leads
        self.setAccessibleName(f"Lead {lead_a} agrees with good {b}, lead {lead_b} with good {a}")
        set_tip(self, self.accessibleName())

    def _line(self) -> float:
        return QFontMetricsF(self.font()).height()

    def _stacked(self, width: int) -> bool:
        return width < NARROW * self._line()

    def heightForWidth(self, width: int) -> int:
        above = NAME if self._stacked(width) else 0.0
        return round(self._line() * (2 * (ROW + above) + GAP)) + 2

    def hasHeightForWidth(self) -> bool:
        return True

    def sizeHint(self) -> QSize:
        width = round(self._line() * 19)
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        width = round(self._line() * 9)
        return QSize(width, self.sizeHint().height())

    def boxes(self) -> tuple[tuple[QRectF, QRectF], tuple[QRectF, QRectF]]:
        """The places of the good waves and of the suspect's, upper and lower."""
        line = self._line()
        above = NAME * line if self._stacked(self.width()) else 0.0
        left, right = (1.0, 1.0) if above else self._name_widths()
        wide = min(self.width() - left - right - LINK * line, 2 * 9 * line) / 2
        rows = [1 + above + i * ((ROW + GAP) * line + above) for i in (0, 1)]
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
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            good, suspect = self.boxes()
            for i in (0, 1):
                self._draw_name(painter, good[i], "good ", self.crossed.signals[i], 0.0)
                self._draw_wave(painter, good[i], self.crossed.good[i], self._theme.good, 1.6)
                self._draw_wave(painter, suspect[i], self.crossed.suspect[i], self._theme.suspect, 2.6)
                self._draw_name(
                    painter, suspect[i], "", f"lead {self.crossed.leads[i]}", suspect[i].right() + self._line() / 2
                )
            painter.setPen(QPen(QColor(self._theme.warning), 2))
            for here, there in ((good[0], suspect[1]), (good[1], suspect[0])):
                painter.drawLine(
                    QPointF(here.right() + 3, here.center().y()), QPointF(there.left() - 3, there.center().y())
                )

    def _draw_name(self, painter: QPainter, box: QRectF, plain: str, name: str, beside: float) -> None:
        """The name of a wave: beside it, from ``beside`` on, or above it where the picture is narrow."""
        bold = QFontMetricsF(self._bold())
        x, baseline = beside, box.center().y() + (bold.ascent() - bold.descent()) / 2
        room = (self.width() - beside) if beside else box.left()
        if self._stacked(self.width()):
            x, baseline, room = box.left(), box.top() - bold.descent() - 1, box.width()
        painter.setFont(self.font())
        painter.setPen(QColor(self._theme.muted))
        painter.drawText(QPointF(x, baseline), plain)
        ahead = QFontMetricsF(self.font()).horizontalAdvance(plain)
        painter.setFont(self._bold())
        painter.setPen(QColor(self._theme.ink))
        text = bold.elidedText(name, Qt.TextElideMode.ElideMiddle, max(1.0, room - ahead))
        painter.drawText(QPointF(x + ahead, baseline), text)

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
