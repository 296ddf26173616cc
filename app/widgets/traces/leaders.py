"""Leader lines over the traces, each with its words in a ruled box, and the dimension line between two cursors."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from app.model.theme import Theme
from app.widgets.controls.signal_name import plain_font
from app.widgets.traces.cursor_pair import CursorPair, Periods, cursor_words
from app.widgets.traces.time_axis import TimeAxis
from app.widgets.traces.trace_geometry import Geometry, spread
from app.widgets.traces.trace_rows import View
from tracecore.quantities import group_digits

FOOT = 32
"""Height of the band of the dimension line at 100 %."""


@dataclass(frozen=True, slots=True)
class Leader:
    """A line at a pixel of the plot; ``short`` serves where the boxes would not find room with ``words``."""

    x: float
    words: str
    short: str
    style: Qt.PenStyle


def in_view(axis: TimeAxis, pair: CursorPair, periods: Periods, marked: int | None) -> list[Leader]:
    """Leaders of the ``marked`` cycle and of both cursors, as far as they are in view."""
    view, found = axis.view, []
    if marked is not None:
        words = group_digits(marked)
        found.append(Leader(view.x_of(int(axis.edges_ps[marked])), words, words, Qt.PenStyle.SolidLine))
    styles = (Qt.PenStyle.DashLine, Qt.PenStyle.DashDotLine)
    for which, (cursor, style) in enumerate(zip(pair.both, styles, strict=True)):
        if cursor is not None:
            words, short = (cursor_words(which, cursor, axis, periods, time=time) for time in (True, False))
            found.append(Leader(view.x_of(cursor.at_ps), words, short, style))
    return [leader for leader in found if 0 <= leader.x < view.width]


@dataclass(frozen=True, slots=True)
class LeaderPen:
    """What leaders need; the painter's origin is the widget's, ``right`` the end of the plot."""

    painter: QPainter
    geometry: Geometry
    view: View
    theme: Theme

    @property
    def right(self) -> int:
        """Where the plot ends."""
        return self.geometry.gutter + self.view.width

    def lines(self, leaders: Sequence[Leader], bottom: float) -> None:
        """The lines, from the band of cycle numbers down to ``bottom``."""
        for leader in leaders:
            x = self.geometry.gutter + int(leader.x) + 0.5
            self.painter.setPen(QPen(QColor(self.theme.ink), 1, leader.style))
            self.painter.drawLine(QPointF(x, self.geometry.numbers - 4), QPointF(x, bottom))

    def boxes(self, leaders: Sequence[Leader]) -> list[QRectF]:
        """Draws the boxes in the band of cycle numbers, beside one another and clear of the names; returns them."""
        painter, geometry = self.painter, self.geometry
        font = plain_font(geometry.scale, bold=True)
        metrics = QFontMetricsF(font)
        words = [leader.words for leader in leaders]
        room = self.view.width - 3 * len(leaders)
        if sum(metrics.horizontalAdvance(w) + 10 for w in words) > room:
            words = [leader.short for leader in leaders]
        widths = [round(metrics.horizontalAdvance(w)) + 10 for w in words]
        wanted = [geometry.gutter + leader.x - wide / 2 for leader, wide in zip(leaders, widths, strict=True)]
        lefts = spread(wanted, widths, geometry.gutter + 1, self.right - 1)
        painter.setFont(font)
        boxes = []
        for left, wide, text in zip(lefts, widths, words, strict=True):
            box = QRectF(round(left) + 0.5, 1.5, wide, geometry.numbers - 6)
            self._box(box, text)
            boxes.append(box)
        return boxes

    def _box(self, box: QRectF, words: str) -> None:
        self.painter.fillRect(box, QColor(self.theme.panel))
        self.painter.setPen(QPen(QColor(self.theme.ink), 1))
        self.painter.drawRect(box)
        self.painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)

    def dimension(self, ends: tuple[float, float], wordings: Sequence[str], top: float) -> QRectF:
        """The line from cursor to cursor with its arrow heads, and under it what lies between; returns the box.

        The first of ``wordings`` that fits is written.
        """
        painter, geometry, scale = self.painter, self.geometry, self.geometry.scale
        painter.fillRect(QRectF(geometry.gutter, top, self.view.width, FOOT * scale), QColor(self.theme.paper))
        left, right = (geometry.gutter + min(max(x, 0.0), float(self.view.width)) for x in sorted(ends))
        y = round(top + 4 * scale) + 0.5
        painter.setPen(QPen(QColor(self.theme.ink), 1))
        painter.drawLine(QLineF(left, y, right, y))
        painter.setBrush(QColor(self.theme.ink))
        for x, inside, heads in ((left, 1, min(ends) >= 0), (right, -1, max(ends) <= self.view.width)):
            if heads and right - left > 18 * scale:
                tail = x + inside * 8 * scale
                head = [QPointF(x, y), QPointF(tail, y - 2.5 * scale), QPointF(tail, y + 2.5 * scale)]
                painter.drawPolygon(QPolygonF(head))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        font = plain_font(scale, bold=True)
        metrics = QFontMetricsF(font)
        words = next((w for w in wordings if metrics.horizontalAdvance(w) + 14 <= self.view.width), wordings[-1])
        wide = round(metrics.horizontalAdvance(words)) + 12
        (start,) = spread([(left + right - wide) / 2], [wide], geometry.gutter + 1, self.right - 1)
        box = QRectF(round(start) + 0.5, round(top + 9 * scale) + 0.5, wide, round((FOOT - 11) * scale))
        painter.setFont(font)
        self._box(box, words)
        return box
