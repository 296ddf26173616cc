"""The whole capture as a strip: where cycles diverge, the marks of the case, and the part that the traces show."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QHelpEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPixmap, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QToolTip, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.tip import plain_tip
from app.widgets.traces.divergence_bars import draw_bars, shares_over_time
from app.widgets.traces.mark_spans import MarkSpan, full_words, mark_spans
from tracecore.capture import Int64

if TYPE_CHECKING:
    from app.case.values import Mark
    from tracecore.comparison import Comparison

HEIGHT, BOX, LEAST_BOX = 46, 4, 14
"""Height of the strip, how far the window box stands out of it, its least width."""
TICK, TICK_REACH = 14, 5
"""Height of a mark's tick, and how near the pointer must be to it."""


def whole_span(comparison: Comparison | None) -> tuple[int, int]:
    """Start and stop of the comparison on the good time axis; (0, 1) where there is nothing to see."""
    findings = comparison.signals if comparison is not None else ()
    traces = [f.good_trace for f in findings if f.good_trace is not None]
    if not traces:
        traces = [t for f in findings if (t := f.suspect_on_good or f.suspect_trace) is not None]
    if not traces:
        return 0, 1
    start = min(t.start_ps for t in traces)
    return start, max(start + 1, max(t.stop_ps for t in traces))


def any_diverging(comparison: Comparison) -> Int64:
    """Good cycles at which any signal diverges, increasing."""
    seen = np.zeros(max(1, len(comparison.lineup.good_edges_ps)), bool)
    for finding in comparison.signals:
        seen[finding.diverging_cycles] = True
    return np.flatnonzero(seen).astype(np.int64)


class Overview(QWidget):
    """Bars as tall as the share of diverging cycles; the chosen signal's stand out. Marks hang from the top as ticks.

    A click or a drag moves the window box: ``viewRequested`` carries start and stop in good picoseconds. A click on a
    tick asks for its mark: ``markWanted`` carries its number.
    """

    viewRequested = Signal(object, object)
    markWanted = Signal(int)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme: Theme = LIGHT
        self._comparison: Comparison | None = None
        self._chosen: str | None = None
        self._span = (0, 1)
        self._view: tuple[int, int] | None = None
        self._all: Int64 = np.empty(0, np.int64)
        self._shares: tuple[np.ndarray, np.ndarray] | None = None
        self._picture: QPixmap | None = None
        self._grip: float | None = None
        self._marks: tuple[Mark, ...] = ()
        self._spans: tuple[MarkSpan, ...] = ()
        self._chosen_mark: int | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAccessibleName("Whole capture")
        self.setToolTip("Where cycles diverge, over the whole capture. Click or drag to move the view.")

    def set_theme(self, theme: Theme, scale: float = 1.0) -> None:
        """Takes the colours."""
        self._theme = theme
        self._draw_anew()

    def _draw_anew(self) -> None:
        self._picture = None
        self.update()

    def set_comparison(self, comparison: Comparison | None) -> None:
        """Shows another comparison, or nothing."""
        self._comparison = comparison
        self._span = whole_span(comparison)
        self._place_marks()
        self._all = any_diverging(comparison) if comparison is not None else np.empty(0, np.int64)
        self._shares = None
        self._draw_anew()

    def set_chosen(self, signal: str | None) -> None:
        """The signal whose cycles stand out; where it has none, those of all signals do."""
        self._chosen = signal
        self._shares = None
        self._draw_anew()

    def set_marks(self, marks: Sequence[Mark], chosen: int | None) -> None:
        """The marks of the case, and the number of the chosen one."""
        self._marks, self._chosen_mark = tuple(marks), chosen
        self._place_marks()
        self._draw_anew()

    def _place_marks(self) -> None:
        edges = self._comparison.lineup.good_edges_ps if self._comparison is not None else np.empty(0, np.int64)
        self._spans = mark_spans(self._marks, edges) if self._comparison is not None else ()
        count = len(self._spans)
        self.setAccessibleDescription(f"{count} mark{'' if count == 1 else 's'}" if count else "")

    def set_view_span(self, start_ps: object, stop_ps: object) -> None:
        """What the traces show, in good picoseconds."""
        self._view = (int(start_ps), int(stop_ps))  # type: ignore[call-overload]
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(400, HEIGHT + 2 * BOX)

    def strip(self) -> QRectF:
        """The ruled box of the strip, in pixels."""
        return QRectF(0.5, BOX + 0.5, self.width() - 1, HEIGHT - 1)

    def x_of(self, at_ps: int) -> float:
        """Pixel of a time."""
        start, stop = self._span
        return 1 + (at_ps - start) / (stop - start) * (self.width() - 2)

    def time_at(self, x: float) -> int:
        """Time of a pixel, whole picoseconds."""
        start, stop = self._span
        return start + round((x - 1) / max(1, self.width() - 2) * (stop - start))

    def window_box(self) -> QRectF | None:
        """The box around what the traces show; None where they show everything or nothing is known."""
        if self._view is None or self._comparison is None:
            return None
        left, right = (min(max(self.x_of(t), 1.0), self.width() - 1.0) for t in self._view)
        if right - left < LEAST_BOX:
            left = min(max((left + right - LEAST_BOX) / 2, 1), self.width() - LEAST_BOX - 1)
            right = left + LEAST_BOX
        return QRectF(left, 1, right - left, self.height() - 2)

    def _columns(self) -> tuple[np.ndarray, np.ndarray]:
        """Shares of all signals and of the chosen one, for each pixel between the rules."""
        if self._shares is None:
            comparison, width = self._comparison, max(1, self.width() - 2)
            nothing = np.zeros(width)
            edges_ps = comparison.lineup.good_edges_ps if comparison is not None else np.empty(0, np.int64)
            if comparison is None or len(edges_ps) < 2:
                return nothing, nothing
            start, stop = self._span
            columns = np.linspace(start, stop, width + 1).round().astype(np.int64)
            chosen = next((f for f in comparison.signals if f.signal == self._chosen), None)
            own = chosen.diverging_cycles if chosen is not None and len(chosen.diverging_cycles) else self._all
            self._shares = (shares_over_time(self._all, edges_ps, columns), shares_over_time(own, edges_ps, columns))
        return self._shares

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._shares = self._picture = None

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.drawPixmap(0, 0, self._strip_picture())
            box = self.window_box()
            if box is not None:
                pen = QPen(QColor(self._theme.ink), 2)
                pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
                painter.setPen(pen)
                painter.drawRect(box)

    def _strip_picture(self) -> QPixmap:
        """All but the window box, which alone moves with the view: bars, compared parts and ticks may be thousands."""
        if self._picture is None or self._picture.devicePixelRatioF() != self.devicePixelRatioF():
            self._picture = QPixmap(self.size() * self.devicePixelRatioF())
            self._picture.setDevicePixelRatio(self.devicePixelRatioF())
            self._picture.fill(Qt.GlobalColor.transparent)
            with painting(self._picture) as painter:
                self._paint_strip(painter)
        return self._picture

    def _paint_strip(self, painter: QPainter) -> None:
        theme, strip = self._theme, self.strip()
        painter.fillRect(strip, QColor(theme.panel))
        everything, own = self._columns()
        inside = strip.adjusted(0.5, 4, -0.5, -0.5)
        draw_bars(painter, inside, everything, theme.mix("suspect", "panel", 0.3))
        draw_bars(painter, inside, own, theme.mix("suspect", "panel", 0.85))
        self._mark_compared(painter, strip)
        self._paint_ticks(painter, strip)
        painter.setPen(QPen(QColor(theme.rule_strong), 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(strip)

    def _mark_compared(self, painter: QPainter, strip: QRectF) -> None:
        """A rule under what was compared: the rest has no partner on the other side."""
        if self._comparison is None:
            return
        edges = self._comparison.lineup.good_edges_ps
        for run in self._comparison.lineup.runs:
            left = self.x_of(int(edges[run.good_start]))
            right = self.x_of(int(edges[min(run.good_start + run.length, len(edges) - 1)]))
            painter.fillRect(QRectF(left, strip.bottom() - 1, right - left, 2), QColor(self._theme.muted))

    def _paint_ticks(self, painter: QPainter, strip: QRectF) -> None:
        """A tick from the top for each mark, as wide as it lasts; the chosen one's goes all the way down."""
        for span in sorted(self._spans, key=lambda s: s.mark.id == self._chosen_mark):
            chosen = span.mark.id == self._chosen_mark
            left = int(self.x_of(span.start_ps))
            wide = max(3 if chosen else 2, int(self.x_of(span.stop_ps)) - left)
            tick = QRectF(left, strip.top(), wide, TICK)
            # clear of the bars: a tick among them would not be seen
            painter.fillRect(tick.adjusted(-2, 0, 2, 2), QColor(self._theme.panel))
            painter.fillRect(tick, QColor(self._theme.ink))
            if chosen:
                stem = QRectF(tick.center().x() - 1, strip.top(), 2, strip.height())
                painter.fillRect(stem.adjusted(-1, 0, 1, 0), QColor(self._theme.panel))
                painter.fillRect(stem, QColor(self._theme.ink))
                painter.fillRect(tick, QColor(self._theme.ink))

    def marks_at(self, at: QPointF) -> tuple[MarkSpan, ...]:
        """The marks whose ticks are under a place, or nearly."""
        if at.y() > BOX + TICK + TICK_REACH:
            return ()
        x = at.x()
        return tuple(
            s for s in self._spans if self.x_of(s.start_ps) - TICK_REACH <= x <= self.x_of(s.stop_ps) + TICK_REACH
        )

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            words = "\n\n".join(full_words(span.mark) for span in self.marks_at(QPointF(event.pos())))
            if words:
                QToolTip.showText(event.globalPos(), plain_tip(words), self)
                return True
        return super().event(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton or self._comparison is None:
            return
        under = [span.mark.id for span in self.marks_at(event.position())]
        if under:
            after = under.index(self._chosen_mark) + 1 if self._chosen_mark in under else 0
            self.markWanted.emit(under[after % len(under)])
            return
        box = self.window_box()
        held = box is not None and box.left() <= event.position().x() <= box.right()
        self._grip = event.position().x() - box.center().x() if held and box is not None else 0.0
        if not held:
            self._ask(event.position())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self._grip is not None:
            self._ask(event.position() - QPointF(self._grip, 0))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._grip = None

    def _ask(self, centre: QPointF) -> None:
        start, stop = self._view if self._view is not None else self._span
        half = max(1, (stop - start) // 2)
        middle = self.time_at(centre.x())
        self.viewRequested.emit(middle - half, middle - half + (stop - start))
