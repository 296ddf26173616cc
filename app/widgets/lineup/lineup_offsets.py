"""Which offset fits: how well each that was tried does, and from where on a rival would make it doubtful."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF

from app.comparison_text import signed
from app.model.lineup_words import doubtful_from, kept_alone
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import set_tip
from app.widgets.lineup.lineup_paper import Drawing
from app.widgets.traces.cycle_scale import nice_stride
from tracecore.lineup.lineup import Candidate, Lineup
from tracecore.quantities import group_digits, percent

RIVAL_WORDS = "a rival above this makes it doubtful"
TABLE_TOP = 168
"""Pixels at 100 % that the plot takes."""


class LineupOffsets(Drawing):
    """Bars as high as each offset fits, with a filled diamond on the one that is taken and an empty one on the next
    best; a dashed line where a rival would make it doubtful."""

    def __init__(self) -> None:
        super().__init__()
        self.offset: int | None = None
        self.candidates: tuple[Candidate, ...] = ()
        self.doubtful_from: float | None = None
        self.setAccessibleName("Which offset fits")
        self.setToolTip("Fit is how much of both captures an offset explains, against the best one")

    def set_lineup(self, lineup: Lineup | None) -> None:
        """Shows the offsets that were tried for a line-up."""
        self.candidates = lineup.candidates if lineup is not None else ()
        # without a line-up none is taken
        self.offset = lineup.offset_cycles if lineup else None
        self.doubtful_from = doubtful_from(lineup) if lineup is not None else None
        what = f"Offsets are{kept_alone(lineup)}. " if lineup is not None and kept_alone(lineup) else ""
        set_tip(self, f"{what}Fit is how much of both captures an offset explains, against the best one")
        self.setAccessibleDescription("; ".join(self._row_words(c) for c in self._rows()))
        self.updateGeometry()
        self.update()

    def _rows(self) -> list[Candidate]:
        """The one taken and the next best."""
        own = [c for c in self.candidates if c.offset_cycles == self.offset]
        return [*own[:1], *[c for c in self.candidates if c.offset_cycles != self.offset][: 1 + (not own)]]

    def _row_words(self, c: Candidate) -> str:
        return (
            f"{signed(c.offset_cycles)}: fit {percent(c.fit)}, {percent(c.agreement)} of states agree, "
            f"{group_digits(c.overlap_cycles)} cycles overlap, {c.disagreeing} signals disagree"
        )

    def sizeHint(self) -> QSize:
        return QSize(300, round(self.px(TABLE_TOP + 24 * (1 + len(self._rows())))))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            if self.candidates:
                self._plot(painter)
                self._table(painter, self.px(TABLE_TOP))
            else:
                area = QRectF(0, 0, self.width(), self.px(30))
                self.words(painter, area, "No offset could be tried.", self.theme.muted)

    def _plot(self, painter: QPainter) -> None:
        theme, left = self.theme, self.px(56)
        plot = QRectF(left, self.px(26), self.width() - left - self.px(10), self.px(92))
        for share in (0.0, 0.5, 1.0):
            y = plot.bottom() - share * plot.height()
            painter.setPen(QPen(QColor(theme.rule_strong if share == 0 else theme.rule), 1))
            painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
            area = QRectF(0, y - self.px(10), left - self.px(6), self.px(20))
            self.words(painter, area, percent(share), theme.muted, right=True)
        tried = [c.offset_cycles for c in self.candidates]
        low, high = min(*tried, 0) - 1, max(*tried, 0) + 1
        self._axis(painter, plot, low, high)
        self._rival_line(painter, plot)
        rows = self._rows()
        for c in reversed(self.candidates):
            x = plot.left() + (c.offset_cycles - low) / (high - low) * plot.width()
            y = plot.bottom() - c.fit * plot.height()
            taken = c.offset_cycles == self.offset
            painter.setPen(QPen(QColor(theme.ink if c in rows else theme.muted), self.px(3 if taken else 1.5)))
            painter.drawLine(QPointF(x, plot.bottom()), QPointF(x, y))
            if c in rows:
                self._diamond(painter, QPointF(x, y), taken)
            if taken:
                text = f"{signed(c.offset_cycles)} is taken"
                wide = self.metrics(bold=True).horizontalAdvance(text)
                at = min(max(x - wide / 2, plot.left()), plot.right() - wide)
                self.words(painter, QRectF(at, 0, wide, self.px(18)), text, theme.ink, bold=True)

    def _rival_line(self, painter: QPainter, plot: QRectF) -> None:
        if self.doubtful_from is None:
            return
        y = plot.bottom() - self.doubtful_from * plot.height()
        painter.setPen(QPen(QColor(self.theme.warning), self.px(1.4), Qt.PenStyle.DashLine))
        painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
        # below the plot, where no bar crosses the words
        y = plot.bottom() + self.px(33)
        painter.drawLine(QPointF(plot.left(), y), QPointF(plot.left() + self.px(26), y))
        left = plot.left() + self.px(34)
        area = QRectF(left, y - self.px(10), self.width() - left, self.px(20))
        self.words(painter, area, RIVAL_WORDS, self.theme.warning_text)

    def _axis(self, painter: QPainter, plot: QRectF, low: int, high: int) -> None:
        room = self.metrics().horizontalAdvance(signed(low if abs(low) > high else high)) + self.px(24)
        stride = nice_stride((high - low) * room / max(1.0, plot.width()))
        end = plot.right() - self.metrics().horizontalAdvance("cycles") - self.px(6)
        for value in range(-(-low // stride) * stride, high + 1, stride):
            x = plot.left() + (value - low) / (high - low) * plot.width()
            text = signed(value)
            half = self.metrics().horizontalAdvance(text) / 2
            if x + half < end and x - half > 0:
                area = QRectF(x - half, plot.bottom() + self.px(3), 2 * half, self.px(20))
                self.words(painter, area, text, self.theme.muted, middle=True)
        area = QRectF(end, plot.bottom() + self.px(3), plot.right() - end, self.px(20))
        self.words(painter, area, "cycles", self.theme.muted, right=True)

    def _diamond(self, painter: QPainter, at: QPointF, filled: bool) -> None:
        half = self.px(6)
        points = [QPointF(at.x() + dx * half, at.y() + dy * half) for dx, dy in ((0, -1), (1, 0), (0, 1), (-1, 0))]
        painter.setPen(QPen(QColor(self.theme.ink), self.px(1.6)))
        painter.setBrush(QColor(self.theme.ink if filled else self.theme.panel))
        painter.drawPolygon(QPolygonF(points))
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _table(self, painter: QPainter, top: float) -> None:
        theme, high = self.theme, self.px(24)
        heads = ("offset", "fit", "agree", "overlap", "disagree")
        lines = [heads]
        for c in self._rows():
            signals = str(c.disagreeing)
            shares = percent(c.fit), percent(c.agreement)
            lines.append((signed(c.offset_cycles), *shares, group_digits(c.overlap_cycles), signals))
        starts = self._starts(lines)
        ends = [*starts[1:], float(self.width())]
        for row, cells in enumerate(lines):
            y = top + row * high
            taken = row > 0 and self._rows()[row - 1].offset_cycles == self.offset
            if row:
                self._diamond(painter, QPointF(self.px(8), y + high / 2), taken)
            for left, right, text in zip(starts, ends, cells, strict=True):
                move = self.px(22) if left == 0 else 0
                area = QRectF(left + move, y, right - left - move - self.px(4), high)
                self.words(painter, area, text, theme.ink if row else theme.muted, bold=taken)

    def _starts(self, lines: Sequence[tuple[str, ...]]) -> list[float]:
        """Where the columns begin: each as wide as its widest words, and what is left between them."""
        metrics = self.metrics(bold=True)
        wide = [max(metrics.horizontalAdvance(line[k]) for line in lines) + self.px(6) for k in range(len(lines[0]))]
        wide[0] += self.px(22)
        gap = max(0.0, (self.width() - sum(wide)) / len(wide))
        return [sum(wide[:k]) + k * gap for k in range(len(wide))]
