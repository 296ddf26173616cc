"""How the suspect's clock drifts against the good one's, slips taken out."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF

from app.widgets.controls.painting import painting
from app.widgets.lineup.lineup_paper import Drawing
from app.widgets.traces.cycle_scale import nice_stride
from tracecore.lineup.drift import DriftCurve
from tracecore.quantities import format_time, group_digits


class LineupDrift(Drawing):
    """Suspect time less good time of the same cycle: squares on a thick line, the good clock a thin one at 0."""

    def __init__(self) -> None:
        super().__init__()
        self.curve: DriftCurve | None = None
        self.amount, self.reads_ps = "", 1
        self.setAccessibleName("Drift")

    def set_curve(self, curve: DriftCurve | None, amount: str, reads_ps: int) -> None:
        """Shows another drift; ``amount`` is written above the plot. ``reads_ps`` is what one point reads to: steps of
        that size shall not fill the plot."""
        self.curve, self.amount, self.reads_ps = curve, amount, reads_ps
        self.setAccessibleDescription(amount or "not known")
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(300, round(self.px(150)))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            if self.curve is None or len(self.curve.cycles) < 2:
                area = QRectF(0, 0, self.width(), self.px(30))
                self.words(painter, area, "No drift is known without matched cycles.", self.theme.muted)
            else:
                self._plot(painter, self.curve)

    def _plot(self, painter: QPainter, curve: DriftCurve) -> None:
        theme = self.theme
        low, high = min(0, int(curve.apart_ps.min())), max(0, int(curve.apart_ps.max()))
        least = 4 * max(1, self.reads_ps)
        if high - low < least:
            low, high = (min(low, -least // 2), max(high, least // 2))
        span = high - low
        ends = [low, 0, high] if low < 0 < high else [low, high]
        ends = [v for v in dict.fromkeys(ends) if v == 0 or abs(v) > span * 0.25]
        texts = {v: format_time(v, digits=3, sign=v > 0) for v in ends}
        left = max(self.metrics().horizontalAdvance(t) for t in texts.values()) + self.px(8)
        plot = QRectF(left, self.px(22), self.width() - left - self.px(8), self.px(100))
        y_of = {v: plot.top() + (high - v) / span * plot.height() for v in ends}
        for v, y in y_of.items():
            painter.setPen(QPen(QColor(theme.good if v == 0 else theme.rule), self.px(1.6) if v == 0 else 1))
            painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
            area = QRectF(0, y - self.px(10), left - self.px(6), self.px(20))
            self.words(painter, area, texts[v], theme.muted, right=True)
        first, last = int(curve.cycles[0]), int(curve.cycles[-1])
        points = [
            QPointF(
                plot.left() + (c - first) / max(1, last - first) * plot.width(),
                plot.top() + (high - t) / span * plot.height(),
            )
            for c, t in zip(curve.cycles.tolist(), curve.apart_ps.tolist(), strict=True)
        ]
        painter.setPen(QPen(QColor(theme.suspect), self.px(2.4)))
        painter.drawPolyline(QPolygonF(points))
        self._squares(painter, points)
        self._cycles(painter, plot, first, last)
        # the amount stands where the line is not: above the plot
        self.words(
            painter, QRectF(0, 0, self.width(), self.px(18)), self.amount, theme.suspect_text, bold=True, right=True
        )

    def _squares(self, painter: QPainter, points: list[QPointF]) -> None:
        half, before = self.px(3), -1e9
        painter.setPen(QPen(QColor(self.theme.suspect), self.px(1.4)))
        painter.setBrush(QColor(self.theme.panel))
        for point in points:
            if point.x() - before > self.px(16):
                painter.drawRect(QRectF(point.x() - half, point.y() - half, 2 * half, 2 * half))
                before = point.x()
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _cycles(self, painter: QPainter, plot: QRectF, first: int, last: int) -> None:
        room = self.metrics().horizontalAdvance(group_digits(last)) + self.px(30)
        stride = nice_stride((last - first) * room / max(1.0, plot.width()))
        taken = 0.0
        for value in range(-(-first // stride) * stride, last + 1, stride):
            text = f"cycle {group_digits(value)}" if not taken else group_digits(value)
            wide = self.metrics().horizontalAdvance(text)
            x = plot.left() + (value - first) / max(1, last - first) * plot.width()
            at = max(x - wide / 2, 0.0)
            if at > taken and at + wide <= self.width():
                area = QRectF(at, plot.bottom() + self.px(5), wide, self.px(20))
                self.words(painter, area, text, self.theme.muted)
                taken = at + wide + self.px(8)
