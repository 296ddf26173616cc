"""Paired traces under a hand: mouse, wheel and keys choose, move the view, and place or drag the cursors."""

from __future__ import annotations

from dataclasses import dataclass, replace

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt, Signal
from PySide6.QtGui import QContextMenuEvent, QFocusEvent, QHelpEvent, QKeyEvent, QMouseEvent, QWheelEvent
from PySide6.QtWidgets import QToolTip, QWidget

from app.widgets.controls.tip import plain_tip
from app.widgets.traces.cursor_pair import Cursor, CursorPair, next_transition, snapped
from app.widgets.traces.mark_spans import MarkSpan, full_words, tag_at
from app.widgets.traces.trace_paper import TracePaper
from app.widgets.traces.trace_rows import TraceRow, WordRow

STILL_PX, SNAP_PX, GRAB_PX = 5, 10, 7
"""A press that moves less is a click; a cursor snaps to a transition this near, and is taken hold of this near, so
that no steady hand is needed."""
ARROWS = {Qt.Key.Key_Left: False, Qt.Key.Key_Right: True}


@dataclass(frozen=True, slots=True)
class Press:
    """Where the button went down, the view at that moment, the cursor under it, and whether it moved since."""

    at: QPointF
    t0_ps: int
    cursor: int | None = None
    dragged: bool = False


class PairedTraces(TracePaper):
    """Signals: ``chosenChanged`` a signal's name, ``cursorMoved`` the time under the pointer, ``cursorsChanged`` when
    cursor A or B was placed, ``activated`` signal and time on a double click, ``markWanted`` the number of a mark that
    was clicked, ``menuWanted`` the place under the pointer, None over the names, and where a menu is to open;
    ``viewChanged`` as in ``TracePaper``."""

    chosenChanged = Signal(str)
    cursorMoved = Signal(object)
    cursorsChanged = Signal()
    activated = Signal(str, object)
    markWanted = Signal(int)
    menuWanted = Signal(object, QPoint)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self._press: Press | None = None

    # ---- cursors

    @property
    def pair(self) -> CursorPair:
        """Both cursors, and which of them keys move."""
        return self._pair

    def cursors(self) -> tuple[int | None, int | None]:
        """Times of cursors A and B on the good side's clock, None where not placed."""
        return self._pair.times_ps

    def set_cursor(self, which: int, at: Cursor | int | None) -> None:
        """Places cursor A (0) or B (1), or takes it away."""
        cursor = at if isinstance(at, Cursor) or at is None else Cursor(int(at))
        width = self._view.width
        self._pair = self._pair.placed(which, cursor)
        self._lay_out()
        if self._view.width != width:
            self.axis.again()
            self._moved()
        self.cursorsChanged.emit()
        self.update()

    def place_cursor(self, which: int) -> None:
        """Puts A on the begin of the chosen cycle where that is in view; else A or B in the middle."""
        start, stop = self.view()
        at = start + (stop - start) // 2
        if which == 0 and self._marked is not None:
            begin = int(self.axis.edges_ps[self._marked])
            at = begin if start <= begin < stop else at
        self.set_cursor(which, at)

    def take_cursors_away(self) -> None:
        """Both."""
        for which in (0, 1):
            self.set_cursor(which, None)

    def nudge_cursor(self, forward: bool) -> None:
        """Moves the active cursor by one sample of its side; places A where there is none yet."""
        cursor = self._pair.both[self._pair.active]
        if cursor is None:
            self.place_cursor(self._pair.active)
            return
        step = self._periods.own(cursor)
        self._move_active(replace(cursor, at_ps=cursor.at_ps + (step if forward else -step), side=None, signal=None))

    def step_cursor(self, forward: bool) -> None:
        """Moves the active cursor to the next transition of the chosen signal on either side; from nowhere, to the
        first one in view."""
        row = self._row_of(self._chosen)
        if row is None:
            return
        pair, cursor = self._rows[row], self._pair.both[self._pair.active]
        assert isinstance(pair, TraceRow)
        start, stop = self.view()
        at = cursor.at_ps if cursor is not None else (start - 1 if forward else stop)
        following = next_transition(pair, at, forward)
        if following is not None:
            self._move_active(following)

    def _move_active(self, cursor: Cursor) -> None:
        first, last = self.axis.span
        cursor = replace(cursor, at_ps=min(max(cursor.at_ps, first), last))
        self.set_cursor(self._pair.active, cursor)
        if not self.view()[0] <= cursor.at_ps < self.view()[1]:
            self.centre_on(cursor.at_ps)

    def _cursor_at(self, x: float) -> int | None:
        view = self._view
        return self._pair.nearest(view.time_at(x), GRAB_PX * self._scale * view.ps_per_px)

    def _snapped(self, at: QPointF) -> Cursor:
        """The time of a pixel, or the nearest transition of the row under it."""
        view, row = self._view, self._row_at(at.y())
        reach = SNAP_PX * self._scale * view.ps_per_px
        return snapped(row if isinstance(row, TraceRow) else None, view.time_at(self._plot_x(at)), reach)

    # ---- what lies under the pointer

    def _plot_x(self, at: QPointF) -> float:
        return at.x() - self._geometry.gutter

    def _row_at(self, y: float) -> TraceRow | WordRow | None:
        if y < self._geometry.top or y >= self.height() - self._foot:
            return None
        i = int(y - self._geometry.top + self._bar.value()) // self._geometry.row
        return self._rows[i] if i < len(self._rows) else None

    def marks_at(self, at: QPointF) -> tuple[MarkSpan, ...]:
        """The marks under a place: those of the tag there, or those whose time and signals are there."""
        x, geometry = self._plot_x(at), self._geometry
        if not self._spans or x < 0:
            return ()
        if geometry.numbers - 2 <= at.y() < geometry.top:
            tag = tag_at(self.tags(), x)
            return tag.spans if tag is not None else ()
        row, t_ps = self._row_at(at.y()), self._view.time_at(x)
        signal = row.finding.signal if isinstance(row, TraceRow) else None
        return tuple(
            s for s in self._spans if s.start_ps <= t_ps < s.stop_ps and signal in (s.mark.signals or (signal,))
        )

    def tip_at(self, at: QPointF) -> str:
        """What is told of the marks under a place; empty where there are none."""
        return "\n\n".join(full_words(span.mark) for span in self.marks_at(at))

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            words = self.tip_at(QPointF(event.pos()))
            if words:
                QToolTip.showText(event.globalPos(), plain_tip(words), self)
            else:
                QToolTip.hideText()
            return True
        return super().event(event)

    # ---- mouse

    def _choose(self, signal: str) -> None:
        if signal != self._chosen:
            self.set_chosen(signal)
            self.chosenChanged.emit(signal)

    def _press_tag(self, at: QPointF) -> bool:
        """Asks for the mark of a tag; a tag over several goes from one to the next."""
        if not self._geometry.numbers - 2 <= at.y() < self._geometry.top:
            return False
        under = [span.mark.id for span in self.marks_at(at)]
        if under:
            after = under.index(self._chosen_mark) + 1 if self._chosen_mark in under else 0
            self.markWanted.emit(under[after % len(under)])
        return bool(under)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        at = event.position()
        if event.button() != Qt.MouseButton.LeftButton:
            return
        if at.x() < self._geometry.gutter:
            row = self._row_at(at.y())
            if isinstance(row, TraceRow):
                self._choose(row.finding.signal)
        elif not self._press_tag(at):
            self._press = Press(at, self._view.t0_ps, self._cursor_at(self._plot_x(at)))

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        at, press = event.position(), self._press
        if press is not None:
            self._drag(press, at)
        elif self._plot_x(at) >= 0:
            held = self._cursor_at(self._plot_x(at)) is not None
            self.setCursor(Qt.CursorShape.SplitHCursor if held else Qt.CursorShape.ArrowCursor)
            self.cursorMoved.emit(self._view.time_at(self._plot_x(at)))
        else:
            self.unsetCursor()

    def _drag(self, press: Press, at: QPointF) -> None:
        moved = at.x() - press.at.x()
        if not press.dragged and abs(moved) < STILL_PX:
            return
        self._press = replace(press, dragged=True)
        if press.cursor is not None:
            self.set_cursor(press.cursor, self._snapped(at))
        else:
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
            self.set_view(press.t0_ps - round(moved) * self._view.ps_per_px, self._view.ps_per_px)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        press = self._press
        if press is None or event.button() != Qt.MouseButton.LeftButton:
            return
        self._press = None
        self.unsetCursor()
        if not press.dragged:
            which = 1 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 0
            self.set_cursor(which, self._snapped(press.at))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        row = self._row_at(event.position().y())
        x = self._plot_x(event.position())
        if isinstance(row, TraceRow) and x >= 0:
            self.activated.emit(row.finding.signal, self._view.time_at(x))

    def wheelEvent(self, event: QWheelEvent) -> None:
        x, turned = self._plot_x(event.position()), event.angleDelta()
        if x < 0 or event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._bar.setValue(self._bar.value() - round(turned.y() / 120 * self._geometry.row))
        elif abs(turned.x()) > abs(turned.y()) or event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.pan(-(turned.x() or turned.y()) / 1200)
        elif turned.y():
            self.zoom(2 ** (turned.y() / 240), self._view.time_at(x))
        event.accept()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Chooses what is under the pointer; from the keyboard, what is chosen already."""
        at = QPointF(event.pos())
        by_hand = event.reason() == QContextMenuEvent.Reason.Mouse
        row = self._row_at(at.y()) if by_hand else None
        if isinstance(row, TraceRow):
            self._choose(row.finding.signal)
        x = self._plot_x(at)
        place = self._snapped(at) if by_hand and x >= 0 else None
        self.menuWanted.emit(place, event.globalPos())

    # ---- keys

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Up and Down choose a signal; Shift with an arrow moves the active cursor by a sample, with Ctrl too to the
        next transition of the chosen signal. The rest are actions of the window."""
        shift, control = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier
        key, held = event.key(), event.modifiers() & (shift | control)
        if key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and not held:
            self._choose_beside(-1 if key == Qt.Key.Key_Up else 1)
        elif key in ARROWS and held == shift:
            self.nudge_cursor(ARROWS[Qt.Key(key)])
        elif key in ARROWS and held == shift | control:
            self.step_cursor(ARROWS[Qt.Key(key)])
        elif key == Qt.Key.Key_Escape and self.cursors() != (None, None):
            self.take_cursors_away()
        else:
            super().keyPressEvent(event)

    def _choose_beside(self, step: int) -> None:
        names = self.signals_shown()
        if names:
            now = self._row_of(self._chosen)
            self._choose(names[min(max((now if now is not None else -step) + step, 0), len(names) - 1)])

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.update()
