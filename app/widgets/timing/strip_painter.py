"""Paints a row of the timing table: strips of both sides over the setup and hold windows of the part they go into."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from app.model.theme import LIGHT, Theme
from app.timing_text import nanoseconds
from app.widgets.controls.signal_name import draw_signal_name, plain_font
from app.widgets.controls.verdict_mark import draw_verdict
from app.widgets.timing.strip_rows import ROW

if TYPE_CHECKING:
    from app.widgets.timing.strip_rows import Index
    from tracecore.compare.timing_comparison import SignalTiming
    from tracecore.measure.timing import TimingFigures


class StripPainter(QStyledItemDelegate):
    """``span_ps`` is the axis, from a little before the active edge to a little after the next one."""

    def __init__(self) -> None:
        super().__init__()
        self.theme: Theme = LIGHT
        self.scale = 1.0
        self.period_ps = 1
        self.inactive_ps: int | None = None
        self.brief = False
        """Are the words under a difference left out but for what it reads to? The legend has them."""

    @property
    def span_ps(self) -> tuple[float, float]:
        """Ends of the axis."""
        return -0.06 * self.period_ps, 1.22 * self.period_ps

    def px(self, size: float) -> float:
        """Pixels at the text's size."""
        return size * self.scale

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        return QSize(100, round(self.px(56)))

    def name_px(self, row: SignalTiming) -> float:
        """Pixels that name and place of a signal need."""
        name = QFontMetricsF(plain_font(self.scale, 16, bold=True)).horizontalAdvance(row.signal)
        return max(name, self._small_px(_place(row))) + self.px(16)

    def difference_px(self, row: SignalTiming, *, brief: bool) -> float:
        """Pixels that a difference needs."""
        words, below = _difference(row, brief)
        return max(self._word_px(words), self._small_px(below)) + self.px(20)

    def verdict_px(self, row: SignalTiming) -> float:
        """Pixels that a verdict needs, with its shape and its reason."""
        return max(self._word_px(row.verdict), self._small_px(row.why)) + self.px(40)

    def _word_px(self, words: str) -> float:
        return QFontMetricsF(plain_font(self.scale, 15, bold=True)).horizontalAdvance(words)

    def _small_px(self, words: str) -> float:
        return QFontMetricsF(plain_font(self.scale, 13)).horizontalAdvance(words)

    def x(self, box: QRectF, at_ps: float) -> float:
        """Where a delay stands."""
        start, stop = self.span_ps
        return box.x() + box.width() * (min(max(at_ps, start), stop) - start) / (stop - start)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        row: SignalTiming = index.data(ROW)
        area = QRectF(option.rect)
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        painter.save()
        painter.setClipRect(area)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(area, QColor(self.theme.tint if chosen else self.theme.paper))
        painter.setPen(QPen(QColor(self.theme.ink if chosen else self.theme.rule), 2 if chosen else 1))
        painter.drawLine(area.bottomLeft(), area.bottomRight())
        if chosen:
            painter.drawLine(area.topLeft(), area.topRight())
        (self._name, self._strips, self._difference, self._verdict)[index.column()](painter, area, row)
        painter.restore()

    def _words(
        self, painter: QPainter, x: float, y: float, text: str, *, bold: bool = False, small: bool = False
    ) -> None:
        painter.setFont(plain_font(self.scale, 13 if small else 15, bold=bold))
        painter.setPen(QColor(self.theme.muted if small else self.theme.ink))
        painter.drawText(QPointF(x, y), text)

    def _name(self, painter: QPainter, area: QRectF, row: SignalTiming) -> None:
        painter.setFont(plain_font(self.scale, 16, bold=True))
        painter.setPen(QColor(self.theme.ink))
        draw_signal_name(
            painter, area.x() + self.px(8), area.y() + self.px(24), row.signal, row.active, area.width() - self.px(12)
        )
        self._words(painter, area.x() + self.px(8), area.y() + self.px(44), "", small=True)
        metrics = painter.fontMetrics()
        text = metrics.elidedText(_place(row), Qt.TextElideMode.ElideRight, int(area.width() - self.px(12)))
        painter.drawText(QPointF(area.x() + self.px(8), area.y() + self.px(44)), text)

    def _strips(self, painter: QPainter, area: QRectF, row: SignalTiming) -> None:
        theme = self.theme
        if row.limits is not None:
            setup, hold = row.limits.setup_ps or 0, row.limits.hold_ps or 0
            least = self.px(2)
            for start, stop, colour in (
                (0.0, float(hold), theme.band_edge),
                (float(self.period_ps - setup), float(self.period_ps), theme.band),
                (float(self.period_ps), float(self.period_ps + hold), theme.band_edge),
            ):
                left, right = self.x(area, start), self.x(area, stop)
                if right > left:
                    painter.fillRect(QRectF(left, area.y(), max(least, right - left), area.height()), QColor(colour))
        painter.setPen(QPen(QColor(theme.ink), 1.4))
        for at in (0, self.period_ps):
            x = self.x(area, at)
            painter.drawLine(QLineF(x, area.y(), x, area.bottom()))
        if self.inactive_ps is not None:
            painter.setPen(QPen(QColor(theme.muted), 1, Qt.PenStyle.DashLine))
            x = self.x(area, self.inactive_ps)
            painter.drawLine(QLineF(x, area.y(), x, area.bottom()))
        for n, (side, words) in enumerate(((row.good, "good"), (row.suspect, "suspect"))):
            y = area.y() + self.px(12 + 22 * n)
            if side is None or not side.count:
                why = "not captured" if side is None else f"{words} never moves"
                self._words(painter, self.x(area, self.period_ps * 0.3), y + self.px(12), why, small=True)
                continue
            self._strip(painter, area, y, side, good=n == 0)

    def _strip(self, painter: QPainter, area: QRectF, y: float, side: TimingFigures, *, good: bool) -> None:
        """Thick from the earliest to p95, a thin line to the latest, a tick at the median, one sample at both ends."""
        theme, high = self.theme, self.px(9)
        least, p95, most = side.least_ps or 0, side.p95_ps or 0, side.most_ps or 0
        a, b, c = (self.x(area, at) for at in (least, p95, most))
        middle = y + high / 2
        painter.setPen(QPen(QColor(theme.rule_strong), 1))
        painter.setBrush(QColor(theme.side))
        left, right = self.x(area, least - side.resolution_ps), self.x(area, most + side.resolution_ps)
        painter.drawRect(QRectF(left, middle - high / 2, a - left, high))
        painter.drawRect(QRectF(c, middle - high / 2, right - c, high))
        colour = QColor(theme.ink if good else theme.suspect)
        painter.setPen(QPen(colour, 1.2 if good else 2))
        painter.drawLine(QLineF(b, middle, c, middle))
        painter.setBrush(QColor(theme.panel) if good else colour)
        painter.drawRect(QRectF(a, middle - high / 2, max(b - a, self.px(2)), high))
        painter.drawLine(QLineF(b, middle - high / 2, b, middle + high / 2))
        painter.setBrush(colour)
        painter.setPen(Qt.PenStyle.NoPen)
        if good:
            painter.drawEllipse(QPointF(c, middle), self.px(4), self.px(4))
        else:
            painter.drawRect(QRectF(c - self.px(3.5), middle - self.px(3.5), self.px(7), self.px(7)))
        painter.setPen(QPen(QColor(theme.ink), self.px(3)))
        x = self.x(area, side.median_ps or 0)
        painter.drawLine(QLineF(x, middle - self.px(8), x, middle + self.px(8)))

    def _difference(self, painter: QPainter, area: QRectF, row: SignalTiming) -> None:
        left, top = area.x() + self.px(10), area.y()
        words, below = _difference(row, self.brief)
        self._words(painter, left, top + self.px(25), words, bold=row.differs)
        if row.differs:
            painter.setPen(QPen(QColor(self.theme.suspect), 2))
            painter.drawLine(QLineF(left, top + self.px(29), left + self.px(36), top + self.px(29)))
        self._words(painter, left, top + self.px(46), below, small=True)

    def _verdict(self, painter: QPainter, area: QRectF, row: SignalTiming) -> None:
        left, top = area.x() + self.px(10), area.y()
        draw_verdict(painter, QRectF(left, top + self.px(11), self.px(16), self.px(16)), row.verdict, self.theme)
        self._words(painter, left + self.px(24), top + self.px(25), row.verdict, bold=row.verdict == "violates")
        painter.setFont(plain_font(self.scale, 13))
        painter.setPen(QColor(self.theme.muted))
        text = painter.fontMetrics().elidedText(row.why, Qt.TextElideMode.ElideRight, int(area.width() - self.px(38)))
        painter.drawText(QPointF(left + self.px(24), top + self.px(46)), text)


def _place(row: SignalTiming) -> str:
    return f"{row.place} into {row.into}" if row.into else row.place or "no part given"


def _difference(row: SignalTiming, brief: bool) -> tuple[str, str]:
    """A difference, and what stands below it."""
    if row.difference_ps is None or row.difference_reads_to_ps is None:
        return "none", "no transitions" if brief else "no transitions on a side"
    reads_to = f"±{nanoseconds(row.difference_reads_to_ps)}"
    return nanoseconds(row.difference_ps, sign=True), reads_to if brief else f"medians, {reads_to}"
