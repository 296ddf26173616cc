"""What the paired traces show: the good trace above, the suspect's below, on the good side's time axis.

The crowded part of a frame is one picture computed with numpy; the painter adds what is sparse enough to be seen one
by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QRect, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPixmap, QResizeEvent
from PySide6.QtWidgets import QScrollBar, QSizePolicy, QWidget

from app.case.values import RowName
from app.model.theme import LIGHT, Theme
from app.widgets.controls.painting import painting
from app.widgets.traces import leaders
from app.widgets.traces.cursor_pair import CursorPair, Periods, Reading, cursor_words, reading
from app.widgets.traces.cycle_scale import grid_columns
from app.widgets.traces.leaders import LeaderPen
from app.widgets.traces.mark_spans import MarkSpan, Tag, mark_spans
from app.widgets.traces.mark_tags import MarkPen, tags_for
from app.widgets.traces.name_column import NameColumn, NamePicture, gutter_px
from app.widgets.traces.overview import whole_span
from app.widgets.traces.ready_soon import ReadySoon
from app.widgets.traces.row_states import RowState, row_state
from app.widgets.traces.scale_pen import ScalePen
from app.widgets.traces.time_axis import TimeAxis
from app.widgets.traces.trace_geometry import Geometry, fitted
from app.widgets.traces.trace_image import TraceImage
from app.widgets.traces.trace_marks import Pencil, draw_pair
from app.widgets.traces.trace_rows import TraceRow, View, WordRow, trace_rows, word_rows
from app.widgets.traces.word_cells import draw_words
from app.widgets.traces.words import Base

if TYPE_CHECKING:
    from app.case.values import Mark
    from tracecore.comparison import Comparison


class TracePaper(QWidget):
    """Rows, view, marks and cursors, without a hand on them: that is ``PairedTraces``.

    ``viewChanged`` carries start and stop of the view, in good picoseconds.
    """

    viewChanged = Signal(object, object)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(240, 120)
        self._theme: Theme = LIGHT
        self._scale = 1.0
        self._comparison: Comparison | None = None
        self._order: tuple[RowName, ...] | None = None
        self._rows: tuple[TraceRow | WordRow, ...] = ()
        self._made_for: Comparison | None = None
        self._made: tuple[TraceRow, ...] = ()
        self._names = NamePicture()
        self._geometry = Geometry()
        self.axis = TimeAxis()
        self._periods = Periods()
        self._marked: int | None = None
        self._chosen: str | None = None
        self._base: Base = "oct"
        self._marks: tuple[Mark, ...] = ()
        self._spans: tuple[MarkSpan, ...] = ()
        self._chosen_mark: int | None = None
        self._pair = CursorPair()
        self._image = TraceImage()
        self._bar = QScrollBar(Qt.Orientation.Vertical, self)
        self._bar.valueChanged.connect(lambda _value: self.update())
        self._ready_soon = ReadySoon(self)
        self._lay_out()

    # ---- what is shown

    def set_comparison(self, comparison: Comparison | None) -> None:
        """Shows another comparison in full, or nothing."""
        self._comparison = comparison
        self.axis.span = whole_span(comparison)
        self.axis.edges_ps = comparison.lineup.good_edges_ps if comparison is not None else np.empty(0, np.int64)
        self._periods = Periods.of(comparison)
        self._image.forget()
        self._marked = None
        self._pair = CursorPair()
        self._spans = mark_spans(self._marks, self.axis.edges_ps)
        self._make_rows()
        self.fit()

    def set_order(self, rows: Sequence[RowName] | None) -> None:
        """Which rows are shown, and in what order; None shows all as they come."""
        order = tuple(rows) if rows is not None else None
        if order != self._order:
            self._order = order
            self._make_rows()

    def _make_rows(self) -> None:
        comparison = self._comparison
        self._rows = ()
        if comparison is not None:
            words = word_rows(comparison) if len(comparison.lineup.good_edges_ps) > 1 else ()
            made: dict[RowName, TraceRow | WordRow] = {
                RowName("signal", row.finding.signal): row for row in self._signal_rows(comparison)
            }
            made |= {RowName("bus", row.bus): row for row in words}
            order = self._order if self._order is not None else tuple(made)
            self._rows = tuple(made[name] for name in order if name in made)
        self._lay_out()
        self._describe()
        self.update()

    def _signal_rows(self, comparison: Comparison) -> tuple[TraceRow, ...]:
        """The rows of all signals; made once for a comparison, whatever their order."""
        if self._made_for is not comparison:
            self._made_for, self._made = comparison, trace_rows(comparison)
            self._ready_soon.begin(self._made)
        return self._made

    def set_theme(self, theme: Theme, scale: float = 1.0) -> None:
        """Takes colours and text size; rows grow with the text."""
        self._theme, self._scale = theme, min(max(scale, 1.0), 2.0)
        self._lay_out()
        self.axis.again()
        self._moved()

    def set_chosen(self, signal: str | None) -> None:
        """Tints a signal's row and scrolls it into sight."""
        self._chosen = signal
        self._reveal()
        self._describe()
        self.update()

    def _reveal(self) -> None:
        """Scrolls the chosen signal's row into sight."""
        row = self._row_of(self._chosen)
        if row is None:
            return
        top, page = row * self._geometry.row, self._bar.pageStep()
        self._bar.setValue(min(max(self._bar.value(), top + self._geometry.row - page), top))

    def set_marks(self, marks: Sequence[Mark], chosen: int | None) -> None:
        """The marks of the case, and the number of the chosen one."""
        kept = self._marks == tuple(marks)
        self._marks, self._chosen_mark = tuple(marks), chosen
        if not kept:
            self._spans = mark_spans(self._marks, self.axis.edges_ps)
            self._lay_out()
            self._reveal()
            self.axis.again()
            self._describe()
        self.update()

    @property
    def spans(self) -> tuple[MarkSpan, ...]:
        """The marks that have a place in this comparison, by time."""
        return self._spans

    def times_of(self, mark: Mark) -> tuple[int, int]:
        """Start and stop of a mark, also of one that is not in the case yet; (0, 1) where it has no place here."""
        placed = mark_spans((mark,), self.axis.edges_ps)
        return (placed[0].start_ps, placed[0].stop_ps) if placed else (0, 1)

    def area_of(self, start_ps: int, stop_ps: int, signals: Sequence[str] = ()) -> QRectF:
        """Where a stretch of time is drawn: the pixels of its columns, over the rows of ``signals`` or over all."""
        geometry, view = self._geometry, self._view
        left, right = (min(max(view.x_of(t), 0.0), float(view.width)) for t in (start_ps, stop_ps))
        tops = [top for signal, top in self._row_tops().items() if signal in signals]
        top = max(geometry.top, min(tops, default=0.0))
        bottom = min(self.height(), max(tops) + geometry.row if tops else self.height())
        return QRectF(geometry.gutter + left, top, max(1.0, right - left), max(1.0, bottom - top))

    def set_word_base(self, base: Base) -> None:
        """How buses read: "oct", "hex" or "bin"."""
        self._base = base
        self.update()

    def signals_shown(self) -> tuple[str, ...]:
        """Names of the signals in the rows, from the top."""
        return tuple(r.finding.signal for r in self._rows if isinstance(r, TraceRow))

    def _row_of(self, signal: str | None) -> int | None:
        at = (i for i, r in enumerate(self._rows) if isinstance(r, TraceRow) and r.finding.signal == signal)
        return next(at, None)

    def _describe(self) -> None:
        words = f"{len(self.signals_shown())} signals"
        row = self._row_of(self._chosen)
        if row is not None:
            finding = self._rows[row].finding  # type: ignore[union-attr]
            mode = f", {finding.fault_mode}" if finding.fault_mode else ""
            words += f"; chosen {finding.signal} {finding.place}: {finding.verdict}{mode}"
        if self._spans:
            words += f"; {len(self._spans)} mark{'s' if len(self._spans) > 1 else ''}"
        self.setAccessibleDescription(words)

    # ---- the view

    @property
    def _view(self) -> View:
        return self.axis.view

    @property
    def plot_width(self) -> int:
        """Pixels of the time axis."""
        return self._view.width

    @property
    def beside_plot(self) -> tuple[int, int]:
        """Pixels to the left of the time axis, for the names, and to its right."""
        return self._geometry.gutter, self.width() - self._geometry.gutter - self._view.width

    def view(self) -> tuple[int, int]:
        """Start and stop of the visible time on the good side's clock, in picoseconds."""
        return self._view.t0_ps, self._view.stop_ps

    def _moved(self) -> None:
        self.viewChanged.emit(*self.view())
        self.update()

    def set_view(self, t0_ps: int, ps_per_px: float) -> None:
        """Shows the time from ``t0_ps`` on; picoseconds a pixel are whole and at least 1."""
        self.axis.set_view(t0_ps, ps_per_px)
        self._moved()

    def show_between_cursors(self) -> bool:
        """Shows what lies between both cursors, with a little beside it; False until both are placed."""
        placed = sorted(cursor.at_ps for cursor in self._pair.both if cursor is not None)
        if len(placed) < 2 or placed[0] == placed[1]:
            return False
        beside = max(1, (placed[1] - placed[0]) // 40)
        start, stop = placed[0] - beside, placed[1] + beside
        self.set_view(start, max(1.0, (stop - start) / self._view.width))
        return True

    def fit(self) -> None:
        """Shows the whole capture, also after the widget's size has changed."""
        self.axis.fit()
        self._moved()

    def zoom(self, factor: float, at_ps: int | None = None) -> None:
        """Above 1 closer, below 1 wider; what is at ``at_ps`` (the middle by default) stays where it is."""
        self.axis.zoom(factor, at_ps)
        self._moved()

    def pan(self, fraction: float) -> None:
        """Moves by a share of the view; positive is later."""
        self.axis.pan(fraction)
        self._moved()

    def centre_on(self, t_ps: int) -> None:
        """Puts a time in the middle."""
        self.axis.centre_on(t_ps)
        self._moved()

    def show_cycle(self, cycle: int) -> None:
        """Points at a good cycle and puts it in the middle, close enough to be seen."""
        if self.axis.show_cycle(cycle):
            self._marked = cycle
            self._moved()

    def show_span(self, start_ps: int, stop_ps: int) -> None:
        """Puts a stretch of time in the middle, so wide that all of it is seen."""
        self.axis.show_span(start_ps, stop_ps)
        self._moved()

    # ---- layout

    def sizeHint(self) -> QSize:
        return QSize(900, self._geometry.top + self._geometry.row * max(4, len(self._rows)))

    @property
    def _foot(self) -> int:
        """Height of the band of the dimension line: there while both cursors are."""
        return round(leaders.FOOT * self._scale) if self.reading() is not None else 0

    def _lay_out(self) -> None:
        width = max(1, self.width())
        gutter = gutter_px(self._rows, self._scale, width)
        self._geometry = fitted(self._scale, gutter, len(self._rows), self.height(), bool(self._spans))
        # the rows keep their places while the dimension line is there, so that nothing moves under the pointer
        visible = max(1, self.height() - self._geometry.top - self._foot)
        content = len(self._rows) * self._geometry.row
        bar = round(14 * self._scale) if content > visible else 0
        self._bar.setVisible(bar > 0)
        self._bar.setGeometry(width - bar, self._geometry.top, bar, visible)
        self._bar.setRange(0, max(0, content - visible))
        self._bar.setPageStep(visible)
        self._bar.setSingleStep(self._geometry.row // 2)
        self.axis.set_width(width - gutter - bar)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._lay_out()
        if event.size().height() != event.oldSize().height():
            self._reveal()
        self.axis.again()
        self._moved()

    # ---- painting

    def paintEvent(self, event: QPaintEvent) -> None:
        with painting(self) as painter:
            painter.fillRect(self.rect(), QColor(self._theme.paper))
            if self._comparison is not None and self._rows:
                self._paint_rows(painter)
                self._paint_over(painter)
            if self.hasFocus():
                painter.setPen(QPen(QColor(self._theme.ink), 1, Qt.PenStyle.DotLine))
                painter.drawRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5))

    def _paint_rows(self, painter: QPainter) -> None:
        geometry, view = self._geometry, self._view
        height, scroll = self.height() - geometry.top - self._foot, self._bar.value()
        if height <= 0:
            return
        grid = grid_columns(view, self.axis.edges_ps)
        picture = self._image.compose(self._rows, geometry, view, self._theme, grid, self._chosen, height, scroll)
        painter.drawImage(geometry.gutter, geometry.top, picture)
        painter.drawPixmap(0, geometry.top, self._names_picture(height, scroll))
        first = scroll // geometry.row
        for i in range(first, min(len(self._rows), -(-(scroll + height) // geometry.row))):
            top = geometry.top + i * geometry.row - scroll
            painter.save()
            painter.setClipRect(QRect(geometry.gutter, geometry.top, view.width, height))
            painter.translate(geometry.gutter, top)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            self._paint_row(Pencil(painter, geometry, view, self._theme), self._rows[i])
            painter.restore()

    def _names_picture(self, height: int, scroll: int) -> QPixmap:
        cursor = self._pair.both[self._pair.active]
        column = NameColumn(self._geometry, self._theme, self._base, self._chosen)
        at_ps = cursor.at_ps if cursor is not None else None
        return self._names.drawn(column, self._rows, height, scroll, at_ps, self.devicePixelRatioF(), self._state)

    def _state(self, row: TraceRow | WordRow) -> RowState | None:
        """What a row reads at the active cursor; None without one."""
        cursor = self._pair.both[self._pair.active]
        if cursor is None or self._comparison is None:
            return None
        return row_state(row, cursor.at_ps, self.axis.cycle_at(cursor.at_ps), self._comparison, self._base)

    def states(self) -> dict[str, RowState]:
        """What each row that is shown reads at the active cursor, by the name of its signal or bus."""
        found = {}
        for row in self._rows:
            state = self._state(row)
            if state is not None:
                found[row.finding.signal if isinstance(row, TraceRow) else row.bus] = state
        return found

    def _paint_row(self, pencil: Pencil, row: TraceRow | WordRow) -> None:
        if isinstance(row, TraceRow):
            draw_pair(pencil, row)
        elif self._comparison is not None:
            draw_words(pencil, row, self._comparison, self._base)

    def _paint_over(self, painter: QPainter) -> None:
        """What lies over the rows: marks, leader lines with their boxes, cycle numbers."""
        geometry, foot = self._geometry, self._foot
        end = self.height() - foot
        bottom = min(end, geometry.top + len(self._rows) * geometry.row - self._bar.value())
        marks = MarkPen(painter, geometry, self._view, self._theme, self._chosen_mark)
        if self._spans:
            marks.on_rows(self._spans, self._row_tops(), bottom)
        pen, shown = (
            LeaderPen(painter, geometry, self._view, self._theme),
            leaders.in_view(self.axis, self._pair, self._periods, self._marked),
        )
        pen.lines(shown, bottom)
        if self._spans:
            marks.in_band(self._spans, self.tags())
        ScalePen(painter, geometry, self._view, self._theme).draw(self.axis.edges_ps, self._marked, pen.boxes(shown))
        read = self.reading()
        if read is not None:
            ends = [self._view.x_of(c.at_ps) for c in self._pair.both if c is not None]
            pen.dimension((ends[0], ends[1]), read.wordings, end)

    def _row_tops(self) -> dict[str, float]:
        first = self._geometry.top - self._bar.value()
        return {
            row.finding.signal: first + i * self._geometry.row
            for i, row in enumerate(self._rows)
            if isinstance(row, TraceRow)
        }

    def tags(self) -> tuple[Tag, ...]:
        """The tags of the marks in view, from left to right."""
        return tags_for(self._spans, self._view, self._chosen_mark, self._scale)

    # ---- cursors

    def reading(self) -> Reading | None:
        """What lies between the cursors; None until both are placed."""
        return reading(self._pair, self.axis, self._periods)

    def cursor_words(self) -> tuple[str, ...]:
        """Cycle and time of each placed cursor, A first."""
        return tuple(
            cursor_words(which, cursor, self.axis, self._periods)
            for which, cursor in enumerate(self._pair.both)
            if cursor is not None
        )
