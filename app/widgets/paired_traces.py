"""Paired traces: each signal's good trace above, the suspect's below, on the good side's time axis.

The view is whole picoseconds: the time at the left edge and picoseconds a pixel. The crowded part of a frame is one
picture computed with numpy; the painter adds what is sparse enough to be seen one by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QScrollBar, QSizePolicy, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.cycle_scale import cycle_labels, grid_columns, time_labels
from app.widgets.overview import whole_span
from app.widgets.signal_name import draw_signal_name, fixed_font, plain_font
from app.widgets.trace_geometry import Geometry, fitted
from app.widgets.trace_image import TraceImage
from app.widgets.trace_marks import Pencil, draw_pair
from app.widgets.trace_rows import TraceRow, View, WordRow, trace_rows, word_rows
from app.widgets.word_cells import draw_words
from app.widgets.words import BASE_WORDS, Base
from tracecore.capture import Int64
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from tracecore.comparison import Comparison

CLOSE_CYCLES = 11
"""Cycles in view where one is shown."""
STILL_PX, SNAP_PX = 5, 10
"""A press that moves less is a click; a cursor snaps to a transition this near, so that no steady hand is needed."""


def _name_px(row: TraceRow | WordRow) -> int:
    return 15 if isinstance(row, WordRow) else 18


def _name_width(row: TraceRow | WordRow, scale: float) -> float:
    name = row.short_name if isinstance(row, WordRow) else row.finding.signal
    return QFontMetricsF(plain_font(scale, _name_px(row), bold=True)).horizontalAdvance(name)


def _clear_of(boxes: Sequence[QRectF], box: QRectF, width: int) -> QRectF:
    """``box`` moved aside where it would cover another: to the right, or to the left at the widget's edge."""
    for step in (1, -1):
        moved = QRectF(box)
        for other in sorted(boxes, key=lambda b: step * b.left()):
            if moved.intersects(other):
                moved.moveLeft(other.right() + 3 if step > 0 else other.left() - 3 - moved.width())
        if moved.left() >= 0 and moved.right() <= width:
            return moved
    return box


class PairedTraces(QWidget):
    """Signals: ``viewChanged`` start and stop, ``chosenChanged`` a signal's name, ``cursorMoved`` the time under the
    pointer, ``cursorsChanged`` when cursor A or B was placed, ``activated`` signal and time on a double click."""

    viewChanged = Signal(object, object)
    chosenChanged = Signal(str)
    cursorMoved = Signal(object)
    cursorsChanged = Signal()
    activated = Signal(str, object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(240, 120)
        self._theme: Theme = LIGHT
        self._scale = 1.0
        self._comparison: Comparison | None = None
        self._order: list[str] | None = None
        self._rows: tuple[TraceRow | WordRow, ...] = ()
        self._geometry = Geometry()
        self._view = View(0, 1000, 1)
        self._span = (0, 1)
        self._fitted = True
        self._wanted_cycle: int | None = None
        self._close_up = False
        self._marked: int | None = None
        self._chosen: str | None = None
        self._base: Base = "oct"
        self._cursors: list[int | None] = [None, None]
        self._press: tuple[QPointF, int, bool] | None = None
        self._image = TraceImage()
        self._bar = QScrollBar(Qt.Orientation.Vertical, self)
        self._bar.valueChanged.connect(lambda _value: self.update())
        self._lay_out()

    # ---- what is shown

    def set_comparison(self, comparison: Comparison | None) -> None:
        """Shows another comparison in full, or nothing."""
        self._comparison = comparison
        self._order = None
        self._span = whole_span(comparison)
        self._image.forget()
        self._marked = None
        self._cursors = [None, None]
        self._make_rows()
        self.fit()

    def set_order(self, signals: Sequence[str] | None) -> None:
        """Which signals are shown, and in what order; None shows all as compared."""
        self._order = list(signals) if signals is not None else None
        self._make_rows()

    def _make_rows(self) -> None:
        comparison = self._comparison
        self._rows = ()
        if comparison is not None:
            words = word_rows(comparison, self._order) if len(comparison.lineup.good_edges_ps) > 1 else ()
            self._rows = (*trace_rows(comparison, self._order), *words)
        self._lay_out()
        self._describe()
        self.update()

    def set_theme(self, theme: Theme, scale: float = 1.0) -> None:
        """Takes colours and text size; rows grow with the text."""
        self._theme, self._scale = theme, min(max(scale, 1.0), 2.0)
        self._lay_out()
        self._reapply()
        self.update()

    def set_chosen(self, signal: str | None) -> None:
        """Tints a signal's row and scrolls it into sight."""
        self._chosen = signal
        row = self._row_of(signal)
        if row is not None:
            top, page = row * self._geometry.row, self._bar.pageStep()
            if top < self._bar.value():
                self._bar.setValue(top)
            elif top + self._geometry.row > self._bar.value() + page:
                self._bar.setValue(top + self._geometry.row - page)
        self._describe()
        self.update()

    def set_word_base(self, base: Base) -> None:
        """How buses read: "oct", "hex" or "bin"."""
        self._base = base
        self.update()

    def signals_shown(self) -> tuple[str, ...]:
        """Names of the signals in the rows, from the top."""
        return tuple(r.finding.signal for r in self._rows if isinstance(r, TraceRow))

    def _row_of(self, signal: str | None) -> int | None:
        names = self.signals_shown()
        return names.index(signal) if signal in names else None

    def _describe(self) -> None:
        words = f"{len(self.signals_shown())} signals"
        row = self._row_of(self._chosen)
        if row is not None:
            finding = self._rows[row].finding  # type: ignore[union-attr]
            mode = f", {finding.fault_mode}" if finding.fault_mode else ""
            words += f"; chosen {finding.signal} {finding.place}: {finding.verdict}{mode}"
        self.setAccessibleDescription(words)

    # ---- the view

    @property
    def plot_width(self) -> int:
        """Pixels of the time axis."""
        return self._view.width

    def view(self) -> tuple[int, int]:
        """Start and stop of the visible time on the good side's clock, in picoseconds."""
        return self._view.t0_ps, self._view.stop_ps

    def set_view(self, t0_ps: int, ps_per_px: float) -> None:
        """Shows the time from ``t0_ps`` on; picoseconds a pixel are whole and at least 1."""
        self._fitted, self._wanted_cycle, self._close_up = False, None, False
        self._show(int(t0_ps), ps_per_px)

    def _show(self, t0_ps: int, ps_per_px: float) -> None:
        start, stop = self._span
        per_px = int(min(max(1, round(ps_per_px)), max(1, self._fit_ps_per_px())))
        span = per_px * self._view.width
        # at least a half of the view stays on the capture
        t0 = min(max(t0_ps, start - span // 2), max(start, stop - span // 2))
        if per_px == self._fit_ps_per_px():
            t0 = start
        self._view = View(t0, per_px, self._view.width)
        self.viewChanged.emit(*self.view())
        self.update()

    def _fit_ps_per_px(self) -> int:
        start, stop = self._span
        return max(1, -(-(stop - start) // self._view.width))

    def fit(self) -> None:
        """Shows the whole capture, also after the widget's size has changed."""
        self._fitted, self._wanted_cycle, self._close_up = True, None, False
        self._show(self._span[0], self._fit_ps_per_px())

    def zoom(self, factor: float, at_ps: int | None = None) -> None:
        """Above 1 closer, below 1 wider; what is at ``at_ps`` (the middle by default) stays where it is."""
        view = self._view
        at = at_ps if at_ps is not None else view.t0_ps + (view.stop_ps - view.t0_ps) // 2
        wanted = view.ps_per_px / factor
        # rounding must not hold a small step back
        per_px = max(1, int(wanted) if factor > 1 else -int(-wanted // 1))
        per_px = min(per_px, self._fit_ps_per_px())
        x = (at - view.t0_ps) / view.ps_per_px
        self.set_view(at - round(x * per_px), per_px)

    def pan(self, fraction: float) -> None:
        """Moves by a share of the view; positive is later."""
        view = self._view
        self.set_view(view.t0_ps + round(fraction * view.width) * view.ps_per_px, view.ps_per_px)

    def centre_on(self, t_ps: int) -> None:
        """Puts a time in the middle."""
        self.set_view(int(t_ps) - self._view.width * self._view.ps_per_px // 2, self._view.ps_per_px)

    def show_cycle(self, cycle: int) -> None:
        """Marks a good cycle and puts it in the middle, close enough to be seen."""
        edges = self._edges()
        if not 0 <= cycle < len(edges) - 1:
            return
        self._marked = cycle
        begin, cycle_ps = int(edges[cycle]), int(edges[cycle + 1] - edges[cycle])
        per_px = self._view.ps_per_px
        again = self._close_up and self._wanted_cycle is not None
        if again or self._fitted or not 20 <= cycle_ps / per_px <= self._view.width / 3:
            per_px = max(1, CLOSE_CYCLES * cycle_ps // self._view.width)
            self._close_up = True
        self._fitted, self._wanted_cycle = False, cycle
        self._show(begin + cycle_ps // 2 - per_px * self._view.width // 2, per_px)

    def _edges(self) -> Int64:
        return self._comparison.lineup.good_edges_ps if self._comparison is not None else np.empty(0, np.int64)

    # ---- layout

    def sizeHint(self) -> QSize:
        return QSize(900, self._geometry.top + self._geometry.row * max(4, len(self._rows)))

    def _lay_out(self) -> None:
        width = max(1, self.width())
        widest = max((_name_width(row, self._scale) for row in self._rows), default=0.0)
        gutter = round(min(max(widest + 28 * self._scale, 116 * self._scale), 0.3 * width))
        self._geometry = fitted(self._scale, gutter, len(self._rows), self.height())
        visible = max(1, self.height() - self._geometry.top)
        content = len(self._rows) * self._geometry.row
        bar = round(14 * self._scale) if content > visible else 0
        self._bar.setVisible(bar > 0)
        self._bar.setGeometry(width - bar, self._geometry.top, bar, visible)
        self._bar.setRange(0, max(0, content - visible))
        self._bar.setPageStep(visible)
        self._bar.setSingleStep(self._geometry.row // 2)
        self._view = View(self._view.t0_ps, self._view.ps_per_px, max(1, width - gutter - bar))

    def _reapply(self) -> None:
        """After a change of size the view that was asked for holds again."""
        if self._fitted:
            self.fit()
        elif self._wanted_cycle is not None:
            self.show_cycle(self._wanted_cycle)
        else:
            self._show(self._view.t0_ps, self._view.ps_per_px)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._lay_out()
        self._reapply()

    # ---- painting

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.paper))
        if self._comparison is not None and self._rows:
            self._paint_rows(painter)
            self._paint_scale(painter, self._paint_leaders(painter))
        if self.hasFocus():
            painter.setPen(QPen(QColor(self._theme.ink), 1, Qt.PenStyle.DotLine))
            painter.drawRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5))
        painter.end()

    def _paint_rows(self, painter: QPainter) -> None:
        geometry, view = self._geometry, self._view
        height, scroll = self.height() - geometry.top, self._bar.value()
        if height <= 0:
            return
        grid = grid_columns(view, self._edges())
        picture = self._image.compose(
            self._rows, geometry, view, self._theme, grid, self._chosen, height, scroll
        )
        painter.drawImage(geometry.gutter, geometry.top, picture)
        first = scroll // geometry.row
        for i in range(first, min(len(self._rows), -(-(scroll + height) // geometry.row))):
            top = geometry.top + i * geometry.row - scroll
            painter.save()
            painter.setClipRect(QRect(0, geometry.top, geometry.gutter + view.width, height))
            self._paint_name(painter, self._rows[i], top)
            painter.setClipRect(QRect(geometry.gutter, geometry.top, view.width, height))
            painter.translate(geometry.gutter, top)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            self._paint_row(Pencil(painter, geometry, view, self._theme), self._rows[i])
            painter.restore()

    def _paint_row(self, pencil: Pencil, row: TraceRow | WordRow) -> None:
        if isinstance(row, TraceRow):
            draw_pair(pencil, row)
        elif self._comparison is not None:
            draw_words(pencil, row, self._comparison, self._base)

    def _paint_name(self, painter: QPainter, row: TraceRow | WordRow, top: int) -> None:
        geometry, theme, scale = self._geometry, self._theme, self._scale
        words = isinstance(row, WordRow)
        if not words and row.finding.signal == self._chosen:
            painter.fillRect(0, top, geometry.gutter, geometry.row, QColor(theme.tint))
            edge = round(3 * scale)
            painter.fillRect(0, top, edge, geometry.row, QColor(theme.ink))
        painter.fillRect(0, top + geometry.row - 1, geometry.gutter, 1, QColor(theme.rule))
        left, width = 8 * scale, geometry.gutter - 14 * scale
        painter.setFont(plain_font(scale, _name_px(row), bold=True))
        painter.setPen(QColor(theme.ink))
        if words:
            fits = painter.fontMetrics().horizontalAdvance(row.name) <= width
            name, active = (row.name if fits else row.short_name), "high"
        else:
            name, active = row.finding.signal, row.finding.active
        draw_signal_name(painter, left, top + geometry.row * 0.48, name, active, width)
        below = BASE_WORDS[self._base] if words else row.finding.place
        painter.setFont(plain_font(scale) if words else fixed_font(scale))
        painter.setPen(QColor(theme.muted))
        painter.drawText(QPointF(left, top + geometry.row * 0.80), below)

    def _paint_scale(self, painter: QPainter, taken: list[QRectF]) -> None:
        """Cycle numbers, or times without a line-up; those that a leader's box would touch are left out."""
        geometry, view, theme = self._geometry, self._view, self._theme
        font = plain_font(self._scale)
        metrics = QFontMetricsF(font)
        digit = metrics.horizontalAdvance("0")
        edges = self._edges()
        labels, ticks = cycle_labels(view, edges, digit) if len(edges) > 1 else time_labels(view, digit)
        painter.setFont(font)
        painter.setPen(QColor(theme.muted))
        for label in labels:
            if label.cycle is not None and label.cycle == self._marked:
                continue
            width = metrics.horizontalAdvance(label.text)
            left = label.x - width / 2 if label.centred else label.x + 4
            area = QRectF(geometry.gutter + left, 2, width, geometry.top - 6)
            inside = left >= -2 and left + width <= view.width + 2
            if inside and not any(area.adjusted(-4, 0, 4, 0).intersects(box) for box in taken):
                painter.drawText(QPointF(area.left(), geometry.top * 0.66), label.text)
        for x in ticks:
            tick = QRectF(geometry.gutter + x, geometry.top * 0.25, 1, geometry.top * 0.75)
            painter.fillRect(tick, QColor(theme.muted))

    def _leaders(self) -> list[tuple[float, str, Qt.PenStyle]]:
        """The marked cycle and both cursors as far as they are in view: pixel, words, kind of line."""
        wanted: list[tuple[int, str, Qt.PenStyle]] = []
        if self._marked is not None:
            wanted.append((int(self._edges()[self._marked]), group_digits(self._marked), Qt.PenStyle.SolidLine))
        styles = (("A", Qt.PenStyle.DashLine), ("B", Qt.PenStyle.DashDotLine))
        for at_ps, (name, style) in zip(self._cursors, styles, strict=True):
            if at_ps is not None:
                cycle = self.cycle_at(at_ps)
                wanted.append((at_ps, name if cycle is None else f"{name} {group_digits(cycle)}", style))
        placed = [(self._view.x_of(at), words, style) for at, words, style in wanted]
        return [leader for leader in placed if 0 <= leader[0] < self._view.width]

    def _paint_leaders(self, painter: QPainter) -> list[QRectF]:
        """Draws each leader line with its number in a ruled box on top; returns the boxes."""
        geometry, theme = self._geometry, self._theme
        font = plain_font(self._scale, bold=True)
        metrics = QFontMetricsF(font)
        painter.setFont(font)
        bottom = min(self.height(), geometry.top + len(self._rows) * geometry.row - self._bar.value())
        boxes: list[QRectF] = []
        for at, words, style in self._leaders():
            x = geometry.gutter + int(at) + 0.5
            wide = round(metrics.horizontalAdvance(words)) + 10
            left = round(min(max(x - wide / 2, 1), self.width() - wide - 1)) + 0.5
            box = _clear_of(boxes, QRectF(left, 1.5, wide, geometry.top - 6), self.width())
            painter.setPen(QPen(QColor(theme.ink), 1, style))
            painter.drawLine(QPointF(x, box.bottom()), QPointF(x, bottom))
            painter.fillRect(box, QColor(theme.panel))
            painter.setPen(QPen(QColor(theme.ink), 1))
            painter.drawRect(box)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)
            boxes.append(box)
        return boxes

    # ---- cursors

    def cursors(self) -> tuple[int | None, int | None]:
        """Times of cursors A and B on the good side's clock, None where not placed."""
        return self._cursors[0], self._cursors[1]

    def set_cursor(self, which: int, t_ps: int | None) -> None:
        """Places cursor A (0) or B (1), or takes it away."""
        self._cursors[which] = int(t_ps) if t_ps is not None else None
        self.cursorsChanged.emit()
        self.update()

    def cycle_at(self, t_ps: int) -> int | None:
        """The good cycle of a time; None outside the active edges."""
        edges = self._edges()
        cycle = int(edges.searchsorted(t_ps, side="right")) - 1
        return cycle if 0 <= cycle < len(edges) - 1 else None

    def _snapped(self, x: float, row: TraceRow | WordRow | None) -> int:
        """The time of a pixel, or of the nearest transition of the row under it."""
        at = self._view.time_at(x)
        if not isinstance(row, TraceRow):
            return at
        near: list[int] = []
        for trace in (row.good, row.suspect):
            if trace is not None:
                i = int(trace.transitions_ps.searchsorted(at))
                near += trace.transitions_ps[max(0, i - 1) : i + 1].tolist()
        best = min(near, key=lambda t: abs(t - at), default=at)
        return best if abs(best - at) <= SNAP_PX * self._scale * self._view.ps_per_px else at

    # ---- mouse and keys

    def _row_at(self, y: float) -> TraceRow | WordRow | None:
        if y < self._geometry.top:
            return None
        i = int(y - self._geometry.top + self._bar.value()) // self._geometry.row
        return self._rows[i] if i < len(self._rows) else None

    def _choose(self, signal: str) -> None:
        if signal != self._chosen:
            self.set_chosen(signal)
            self.chosenChanged.emit(signal)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() != Qt.MouseButton.LeftButton:
            return
        if event.position().x() < self._geometry.gutter:
            row = self._row_at(event.position().y())
            if isinstance(row, TraceRow):
                self._choose(row.finding.signal)
            return
        self._press = (event.position(), self._view.t0_ps, False)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        x = event.position().x() - self._geometry.gutter
        if self._press is not None:
            start, t0, dragged = self._press
            moved = event.position().x() - start.x()
            if dragged or abs(moved) >= STILL_PX:
                self._press = (start, t0, True)
                self.setCursor(Qt.CursorShape.ClosedHandCursor)
                self.set_view(t0 - round(moved) * self._view.ps_per_px, self._view.ps_per_px)
        elif x >= 0:
            self.cursorMoved.emit(self._view.time_at(x))

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._press is None or event.button() != Qt.MouseButton.LeftButton:
            return
        start, _, dragged = self._press
        self._press = None
        self.unsetCursor()
        if not dragged:
            which = 1 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 0
            self.set_cursor(which, self._snapped(start.x() - self._geometry.gutter, self._row_at(start.y())))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        row = self._row_at(event.position().y())
        x = event.position().x() - self._geometry.gutter
        if isinstance(row, TraceRow) and x >= 0:
            self.activated.emit(row.finding.signal, self._view.time_at(x))

    def wheelEvent(self, event: QWheelEvent) -> None:
        x, turned = event.position().x() - self._geometry.gutter, event.angleDelta()
        if x < 0 or event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._bar.setValue(self._bar.value() - round(turned.y() / 120 * self._geometry.row))
        elif abs(turned.x()) > abs(turned.y()) or event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.pan(-(turned.x() or turned.y()) / 1200)
        elif turned.y():
            self.zoom(2 ** (turned.y() / 240), self._view.time_at(x))
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and Down choose a signal; [ and ] place A and B, with Shift they step to the next transition of the
        chosen signal; Escape takes both away. Zoom and pan are actions of the window."""
        key = event.key()
        if key in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self._choose_beside(-1 if key == Qt.Key.Key_Up else 1)
        elif key in (Qt.Key.Key_BracketLeft, Qt.Key.Key_BracketRight):
            self._place_by_key(0 if key == Qt.Key.Key_BracketLeft else 1)
        elif key in (Qt.Key.Key_BraceLeft, Qt.Key.Key_BraceRight):
            self._step_by_key(0 if key == Qt.Key.Key_BraceLeft else 1)
        elif key == Qt.Key.Key_Escape and self.cursors() != (None, None):
            self._cursors[0] = None
            self.set_cursor(1, None)
        else:
            super().keyPressEvent(event)

    def _choose_beside(self, step: int) -> None:
        names = self.signals_shown()
        if names:
            now = self._row_of(self._chosen)
            self._choose(names[min(max((now if now is not None else -step) + step, 0), len(names) - 1)])

    def _place_by_key(self, which: int) -> None:
        edges = self._edges()
        start, stop = self.view()
        middle = start + (stop - start) // 2
        marked = int(edges[self._marked]) if self._marked is not None else middle
        self.set_cursor(which, marked if which == 0 and start <= marked < stop else middle)

    def _step_by_key(self, which: int) -> None:
        """To the next transition of the chosen signal on either side; after the last one, back to the first in view."""
        row = self._row_of(self._chosen)
        if row is None:
            return
        pair = self._rows[row]
        start, stop = self.view()
        at = self._cursors[which]
        after = at if at is not None and start <= at < stop else start - 1
        assert isinstance(pair, TraceRow)
        following = [
            int(t.transitions_ps[i])
            for t in (pair.good, pair.suspect)
            if t is not None and (i := int(t.transitions_ps.searchsorted(after, side="right"))) < len(t.transitions_ps)
        ]
        inside = [t for t in following if t < stop]
        if inside:
            self.set_cursor(which, min(inside))
        elif at is not None:
            self._cursors[which] = None
            self._step_by_key(which)

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.update()
