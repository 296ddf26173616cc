"""The margins of one signal as bars from the input's limit, with what is promised as a dashed mark."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.signal_name import plain_font
from app.widgets.controls.verdict_mark import draw_verdict
from tracecore.quantities import format_volts

if TYPE_CHECKING:
    from tracecore.compare.signal_levels import SignalLevels


class MarginBars(QWidget):
    """Low margin above, high margin below, good first."""

    def __init__(self) -> None:
        super().__init__()
        self._theme: Theme = LIGHT
        self._scale = 1.0
        self._row: SignalLevels | None = None
        self.setAccessibleName("Margins")
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        self.updateGeometry()
        self.update()

    def set_row(self, row: SignalLevels | None) -> None:
        """Shows a signal's margins."""
        self._row = row
        self.setAccessibleDescription(", ".join(" ".join(line) for _, lines in self.told() for line in lines))
        self.update()

    def told(self) -> list[tuple[str, list[tuple[str, str]]]]:
        """What the bars say: for low and high margin, side and words."""
        row = self._row
        if row is None:
            return []
        out = []
        for title, name in (("Low margin", "low_margin_v"), ("High margin", "high_margin_v")):
            lines = []
            for side, figures in (("good", row.good), ("suspect", row.suspect)):
                margin = None if figures is None else getattr(figures, name)
                lines.append(
                    (side, "no volts" if figures is None else "none" if margin is None else format_volts(margin))
                )
            out.append((title, lines))
        return out

    def sizeHint(self) -> QSize:
        return QSize(round(280 * self._scale), round(176 * self._scale))

    def minimumSizeHint(self) -> QSize:
        return QSize(round(200 * self._scale), round(176 * self._scale))

    def paintEvent(self, event: QPaintEvent) -> None:
        row = self._row
        if row is None:
            return
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            theme, s = self._theme, self._scale
            judged = row.suspect or row.good
            if judged is None:
                return
            zero, unit = 118 * s, (self.width() - 200 * s) / 1.6
            for k, (title, lines) in enumerate(self.told()):
                top = 88 * s * k
                promised = judged.promised_low_v if k == 0 else judged.promised_high_v
                painter.setFont(plain_font(s, 15, bold=True))
                painter.setPen(QColor(theme.ink))
                painter.drawText(QPointF(0, top + 16 * s), title)
                painter.setFont(plain_font(s, 13))
                painter.setPen(QColor(theme.muted))
                painter.drawText(QPointF(zero, top + 16 * s), f"{format_volts(promised)} promised")
                painter.fillRect(QRectF(zero, top + 22 * s, max(0.0, promised) * unit, 56 * s), QColor(theme.tint))
                for n, (side, words) in enumerate(lines):
                    figures = row.good if n == 0 else row.suspect
                    margin = None if figures is None else (figures.low_margin_v if k == 0 else figures.high_margin_v)
                    self._bar(painter, top + (30 + 24 * n) * s, side, words, margin, zero, unit)
                painter.setPen(QPen(QColor(theme.ink), 2))
                painter.drawLine(QLineF(zero, top + 22 * s, zero, top + 78 * s))
                painter.setPen(QPen(QColor(theme.ink), 1.4, Qt.PenStyle.DashLine))
                x = zero + promised * unit
                painter.drawLine(QLineF(x, top + 22 * s, x, top + 78 * s))

    def _bar(
        self, painter: QPainter, y: float, side: str, words: str, margin: float | None, zero: float, unit: float
    ) -> None:
        theme, s, good = self._theme, self._scale, side == "good"
        colour = QColor(theme.ink if good else theme.suspect)
        painter.setBrush(colour)
        painter.setPen(Qt.PenStyle.NoPen)
        if good:
            painter.drawEllipse(QPointF(5 * s, y + 8 * s), 4 * s, 4 * s)
        else:
            painter.drawRect(QRectF(s, y + 4 * s, 8 * s, 8 * s))
        painter.setFont(plain_font(s, 14))
        painter.setPen(QColor(theme.ink))
        painter.drawText(QPointF(14 * s, y + 13 * s), side)
        end = zero
        if margin is not None:
            length = min(max(margin, -0.3), 1.7) * unit
            box = QRectF(min(zero, zero + length), y + 2 * s, abs(length), 12 * s)
            painter.setPen(QPen(colour, 1.4))
            painter.setBrush(Qt.BrushStyle.NoBrush if good else colour)
            painter.drawRect(box)
            end = max(zero, zero + length)
            if margin < 0:
                draw_verdict(painter, QRectF(zero + 6 * s, y + s, 14 * s, 14 * s), "violates", theme)
                end = zero + 20 * s
        painter.setFont(plain_font(s, 15, bold=margin is None or margin < 0))
        painter.setPen(QColor(theme.ink))
        painter.drawText(QPointF(end + 8 * s, y + 13 * s), words)
