"""Both captures whole, the good one above: what is matched, where cycles slip, and what has no partner."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen

from app.model.lineup_words import tag_words
from app.widgets.controls.painting import painting
from app.widgets.lineup.lineup_paper import Drawing, hatch
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.slips import Slip
from tracecore.quantities import group_digits

LEAST_MARK = 6.0
"""Pixels at 100 % that a slip is wide at least."""


@dataclass(frozen=True, slots=True)
class StripMark:
    """The slips ``first`` (closed) to ``stop`` (open), drawn as one from pixel ``left`` to ``right``."""

    first: int
    stop: int
    left: float
    right: float


def strip_marks(spans: Sequence[tuple[float, float]], least: float) -> list[StripMark]:
    """Marks of at least ``least`` pixels for spans in order; those that would touch become one.

    >>> [(m.first, m.stop) for m in strip_marks([(0, 1), (3, 4), (40, 90)], 6)]
    [(0, 2), (2, 3)]
    """
    marks: list[StripMark] = []
    for i, (left, right) in enumerate(spans):
        if right - left < least:
            middle = (left + right) / 2
            left, right = middle - least / 2, middle + least / 2
        if marks and left <= marks[-1].right + 1:
            last = marks[-1]
            marks[-1] = StripMark(last.first, i + 1, last.left, max(last.right, right))
        else:
            marks.append(StripMark(i, i + 1, left, right))
    return marks


@dataclass(frozen=True, slots=True)
class StripAxis:
    """Good cycles on which both captures are laid: ``good`` and ``suspect`` first and last, the suspect's on the
    good count."""

    good: tuple[int, int]
    suspect: tuple[int, int]

    @property
    def whole(self) -> tuple[int, int]:
        """From the first cycle of either to the last."""
        return min(self.good[0], self.suspect[0]), max(self.good[1], self.suspect[1], 1)


def strip_axis(lineup: Lineup) -> StripAxis:
    """Where both captures lie on the good count; the ends of the suspect go by the first and last run's offset."""
    good, suspect = max(0, len(lineup.good_edges_ps) - 1), max(0, len(lineup.suspect_edges_ps) - 1)
    if not lineup.runs:
        return StripAxis((0, good), (0, suspect))
    first, last = lineup.runs[0], lineup.runs[-1]
    start = first.good_start - first.suspect_start
    return StripAxis((0, good), (start, suspect - last.suspect_start + last.good_start))


class LineupStrip(Drawing):
    """``chosen`` carries the slip under the hand or the arrow keys, ``opened`` the one that Enter asks for."""

    chosen = Signal(int)
    opened = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self.lineup: Lineup | None = None
        self.at = -1
        self.marks: list[StripMark] = []
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Whole capture")

    @property
    def slips(self) -> tuple[Slip, ...]:
        """The slips that are drawn."""
        return self.lineup.slips if self.lineup is not None else ()

    def set_lineup(self, lineup: Lineup | None) -> None:
        """Shows another line-up; no slip is chosen."""
        self.lineup, self.at = lineup, -1
        self._describe()
        self.update()

    def set_chosen(self, number: int) -> None:
        """Chooses a slip, counted from 0; -1 chooses none."""
        self.at = number
        self._describe()
        self.update()

    def _describe(self) -> None:
        count = len(self.slips)
        words = f"{count} slip{'' if count == 1 else 's'}"
        if 0 <= self.at < count:
            words += f"; chosen: {tag_words(self.slips[self.at])}"
        self.setAccessibleDescription(words)

    def sizeHint(self) -> QSize:
        return QSize(400, round(self.px(76 if self.slips else 46)))

    def minimumSizeHint(self) -> QSize:
        return QSize(200, self.sizeHint().height())

    def _x(self, cycle: float) -> float:
        assert self.lineup is not None
        first, last = strip_axis(self.lineup).whole
        edge = self.px(12)
        return edge + (cycle - first) / max(1, last - first) * (self.width() - 2 * edge)

    def _place(self) -> None:
        spans = [(self._x(s.good_cycle), self._x(s.good_cycle + s.missing)) for s in self.slips]
        self.marks = strip_marks(spans, self.px(LEAST_MARK))

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self.theme
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            box = QRectF(0.5, 0.5, self.width() - 1, self.px(42))
            painter.fillRect(box, QColor(theme.panel))
            painter.setPen(QPen(QColor(theme.rule_strong), 1))
            painter.drawRect(box)
            if self.lineup is not None:
                self._place()
                rows = self.px(13), self.px(30)
                self._lines(painter, rows)
                for mark in self.marks:
                    self._mark(painter, mark, rows)
                self._tags(painter, self.px(50))
            if self.hasFocus():
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(QPen(QColor(theme.ink), 2, Qt.PenStyle.DotLine))
                painter.drawRect(box.adjusted(2, 2, -2, -2))

    def _lines(self, painter: QPainter, rows: tuple[float, float]) -> None:
        assert self.lineup is not None
        axis, theme = strip_axis(self.lineup), self.theme
        if self.lineup.runs:
            self._alone(painter, axis.good, axis.suspect, rows[0])
            self._alone(painter, axis.suspect, axis.good, rows[1])
        painter.setPen(QPen(QColor(theme.good), self.px(1.6)))
        painter.drawLine(QPointF(self._x(axis.good[0]), rows[0]), QPointF(self._x(axis.good[1]), rows[0]))
        painter.setPen(QPen(QColor(theme.suspect), self.px(2.8)))
        painter.drawLine(QPointF(self._x(axis.suspect[0]), rows[1]), QPointF(self._x(axis.suspect[1]), rows[1]))
        half = self.px(4)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(theme.good))
        # beside the line, clear of what stands at its beginning
        left = [self._x(side[0]) - self.px(6) for side in (axis.good, axis.suspect)]
        painter.drawEllipse(QPointF(left[0], rows[0]), half, half)
        painter.setBrush(QColor(theme.suspect))
        painter.drawRect(QRectF(left[1] - half, rows[1] - half, 2 * half, 2 * half))

    def _alone(self, painter: QPainter, own: tuple[int, int], other: tuple[int, int], y: float) -> None:
        """Crossed boxes where one side alone has cycles."""
        painter.setBrush(QColor(self.theme.panel))
        for first, last in ((own[0], min(own[1], other[0])), (max(own[0], other[1]), own[1])):
            if last > first:
                wide = max(self.px(8), self._x(last) - self._x(first))
                left = self._x(first) if first == own[0] else self._x(last) - wide
                area = QRectF(left, y - self.px(6), wide, self.px(12))
                painter.setPen(QPen(QColor(self.theme.muted), 1))
                painter.drawRect(area)
                painter.drawLine(area.bottomLeft(), area.topRight())

    def _mark(self, painter: QPainter, mark: StripMark, rows: tuple[float, float]) -> None:
        theme, wide = self.theme, mark.right - mark.left
        kinds = {s.kind for s in self.slips[mark.first : mark.stop]}
        half = self.px(7)
        if "diverged" in kinds:
            area = QRectF(mark.left, rows[0] - half, wide, rows[1] - rows[0] + 2 * half)
            painter.fillRect(area, QColor(theme.panel))
            hatch(painter, area, theme.suspect)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(theme.suspect), 1))
            painter.drawRect(area)
        if "unsure" in kinds:
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(theme.suspect), 1, Qt.PenStyle.DashLine))
            painter.drawRect(QRectF(mark.left, rows[0] - half, wide, rows[1] - rows[0] + 2 * half))
        if "missing" in kinds:
            painter.fillRect(QRectF(mark.left, rows[0] - half, wide, 2 * half), QColor(theme.good))
        if "inserted" in kinds:
            painter.fillRect(QRectF(mark.left, rows[1] - half, wide, 2 * half), QColor(theme.suspect))
        if mark.first <= self.at < mark.stop:
            x = (mark.left + mark.right) / 2
            painter.setPen(QPen(QColor(theme.ink), self.px(2)))
            painter.drawLine(QPointF(x, 1), QPointF(x, self.px(50)))

    def _tags(self, painter: QPainter, top: float) -> None:
        """Words below the marks, the chosen one first; those without room are left to the table."""
        taken: list[tuple[float, float]] = []
        order = sorted(self.marks, key=lambda m: not m.first <= self.at < m.stop)
        for mark in order:
            bold = mark.first <= self.at < mark.stop
            text = tag_words(self.slips[self.at if bold else mark.first])
            if mark.stop - mark.first > 1:
                text = f"{group_digits(mark.stop - mark.first)} slips" + (f" · {text}" if bold else "")
            wide = self.metrics(bold=bold).horizontalAdvance(text) + self.px(12)
            left = min(max((mark.left + mark.right - wide) / 2, 0.5), self.width() - wide - 0.5)
            if any(left < b + 4 and left + wide > a - 4 for a, b in taken):
                continue
            taken.append((left, left + wide))
            area = QRectF(left, top, wide, self.px(23))
            painter.fillRect(area, QColor(self.theme.tint if bold else self.theme.panel))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(QColor(self.theme.ink), 2 if bold else 1))
            painter.drawRect(area)
            self.words(painter, area, text, self.theme.ink, bold=bold, middle=True)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if not self.slips:
            return
        self._place()
        x = event.position().x()
        away = [max(m.left - x, x - m.right, 0.0) for m in self.marks]
        mark = self.marks[int(np.argmin(away))]
        # another press on a mark of several goes on to its next
        inside = mark.first <= self.at < mark.stop
        self.chosen.emit(mark.first + (self.at + 1 - mark.first) % (mark.stop - mark.first) if inside else mark.first)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if self.at >= 0:
            self.opened.emit(self.at)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        last = len(self.slips) - 1
        key = event.key()
        steps = {Qt.Key.Key_Right: self.at + 1, Qt.Key.Key_Left: max(self.at, 1) - 1}
        steps |= {Qt.Key.Key_Home: 0, Qt.Key.Key_End: last}
        if last >= 0 and key in steps:
            self.chosen.emit(min(max(steps[Qt.Key(key)], 0), last))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.at >= 0:
            self.opened.emit(self.at)
        else:
            super().keyPressEvent(event)
