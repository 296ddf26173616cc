"""What the painter draws over the picture: lines with slopes, ties, rings, triangles and words that stand clear."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from app.model.theme import Theme
from app.widgets.controls.signal_name import plain_font
from app.widgets.traces.limit_pen import draw_limit_tags
from app.widgets.traces.line_array import draw_lines
from app.widgets.traces.trace_geometry import Geometry
from app.widgets.traces.trace_image import is_sparse
from app.widgets.traces.trace_rows import TraceRow, View
from tracecore.capture import UNKNOWN, Int64
from tracecore.pixel_columns import TraceColumns
from tracecore.quantities import format_time, format_volts

MOST_TIES, MOST_WORDS, TRIANGLE_ROOM = 80, 12, 16


@dataclass(frozen=True, slots=True)
class Pencil:
    """What every mark needs; the painter's origin is the plot's left edge and the row's top."""

    painter: QPainter
    geometry: Geometry
    view: View
    theme: Theme

    def pen(self, colour: str, width: float) -> QPen:
        """A pen with square ends in one of the theme's colours."""
        ink = QColor(getattr(self.theme, colour))
        return QPen(ink, width, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap, Qt.PenJoinStyle.RoundJoin)


def draw_pair(pencil: Pencil, row: TraceRow) -> None:
    """Everything of one signal that is not in the picture already."""
    geometry = pencil.geometry
    if row.good is not None and row.suspect is not None:
        _ties(pencil, row)
    sides = (
        (row.good, geometry.good_high, geometry.good_px, "ink", "not captured"),
        (row.suspect, geometry.suspect_high, geometry.suspect_px, "suspect", row.suspect_words),
    )
    for trace, high, thick, colour, words in sides:
        if trace is None:
            _words_instead(pencil, words, high)
        elif is_sparse(trace, pencil.view):
            _line(pencil, trace, high, thick, colour)
    _rings(pencil, row)
    _violations(pencil, row)
    draw_limit_tags(
        pencil,
        row.limits,
        lambda at_ps: _clear_band(row, geometry, at_ps),
        lambda x, away, words: _words_clear(pencil, row, x, away, words),
    )
    if row.good is not None and row.suspect is not None:
        _moved_words(pencil, row)


def _words_instead(pencil: Pencil, words: str, high: int) -> None:
    painter, geometry = pencil.painter, pencil.geometry
    painter.setFont(plain_font(geometry.scale))
    painter.setPen(QColor(pencil.theme.muted))
    area = QRectF(8, high - 6, pencil.view.width, geometry.swing + 12)
    painter.drawText(area, Qt.AlignmentFlag.AlignVCenter, words)


def outline(trace: TraceColumns, view: View, high: float, low: float, slope: float) -> np.ndarray:
    """Corner points of a trace in view: float64[2 n + 2, 2]. Slopes shrink where transitions lie close together."""
    first, stop = trace.visible(view.t0_ps, view.stop_ps)
    x = view.x(trace.transitions_ps[first:stop])
    height = np.array([low, high, (low + high) / 2])[trace.levels[first : stop + 1]]
    begin = view.x(np.array([trace.start_ps, trace.stop_ps], np.int64))
    apart = np.empty(len(x) + 1)
    apart[1:-1] = x[1:] - x[:-1]
    apart[0], apart[-1] = (x[0] - begin[0], begin[1] - x[-1]) if len(x) else (begin[1] - begin[0],) * 2
    half = np.minimum(slope, np.minimum(apart[:-1], apart[1:]) * 0.3)
    points = np.empty((2 * len(x) + 2, 2))
    points[0] = begin[0], height[0]
    points[1:-1:2, 0], points[1:-1:2, 1] = x - half, height[:-1]
    points[2:-1:2, 0], points[2:-1:2, 1] = x + half, height[1:]
    points[-1] = begin[1], height[-1]
    return points


def _line(pencil: Pencil, trace: TraceColumns, high: int, thick: int, colour: str) -> None:
    view, geometry, painter = pencil.view, pencil.geometry, pencil.painter
    if trace.start_ps >= view.stop_ps or trace.stop_ps <= view.t0_ps:
        return
    # a line of odd thickness is crisp on the middle of a pixel, an even one on its edge
    middle = 0.5 if thick % 2 else 0.0
    top, bottom = high + middle, high + geometry.swing + middle
    _unknown_boxes(pencil, trace, top, bottom)
    points = outline(trace, view, top, bottom, 2.2 * geometry.scale)
    pen = pencil.pen(colour, thick)
    # Qt strokes a thick line of many corners as one outline, at thirty times the cost of its pieces; the square
    # ends close the corners
    pen.setCapStyle(Qt.PenCapStyle.SquareCap)
    painter.setPen(pen)
    draw_lines(painter, np.hstack((points[:-1], points[1:])))


def _unknown_boxes(pencil: Pencil, trace: TraceColumns, top: float, bottom: float) -> None:
    first, stop = trace.visible(pencil.view.t0_ps, pencil.view.stop_ps)
    for i in np.flatnonzero(trace.levels[first : stop + 1] == UNKNOWN).tolist():
        left = trace.start_ps if first + i == 0 else int(trace.transitions_ps[first + i - 1])
        right = trace.stop_ps if first + i == len(trace.transitions_ps) else int(trace.transitions_ps[first + i])
        x = pencil.view.x(np.array([left, right], np.int64))
        pencil.painter.fillRect(QRectF(x[0], top, x[1] - x[0], bottom - top), QColor(pencil.theme.band))


def _ties(pencil: Pencil, row: TraceRow) -> None:
    """Thin lines from a good transition to its twin; those that moved are ochre and heavier."""
    ties, view, geometry = row.finding.ties, pencil.view, pencil.geometry
    kinds = (
        (ties.good_ps, ties.suspect_on_good_ps, "muted", 1.0),
        (ties.moved_good_ps, ties.moved_suspect_on_good_ps, "warning", 1.5 * geometry.scale),
    )
    for good, suspect, colour, width in kinds:
        part = _pairs_in_view(view, good, suspect)
        if not 0 < part.stop - part.start <= MOST_TIES:
            continue
        pencil.painter.setPen(pencil.pen(colour, width))
        ends = np.empty((part.stop - part.start, 4))
        ends[:, 0], ends[:, 2] = view.x(good[part]), view.x(suspect[part])
        ends[:, 1], ends[:, 3] = geometry.good_low + 1, geometry.suspect_high - geometry.suspect_px / 2
        draw_lines(pencil.painter, ends)


def _pairs_in_view(view: View, good: Int64, suspect: Int64) -> slice:
    """Pairs of which either end is in view; where one end's are too many to be drawn, these alone."""
    if not len(good):
        return slice(0, 0)
    one = view.visible(good)
    if one.stop - one.start > MOST_TIES:
        return one
    other = view.visible(suspect)
    if one.start == one.stop:
        return other
    return one if other.start == other.stop else slice(min(one.start, other.start), max(one.stop, other.stop))


def _lone(row: TraceRow, view: View) -> np.ndarray:
    """Pixels of the transitions without a twin."""
    ties = row.finding.ties
    found = [times[view.visible(times)] for times in (ties.missing_ps, ties.extra_on_good_ps)]
    return view.x(np.sort(np.concatenate(found)))


def _rings(pencil: Pencil, row: TraceRow) -> None:
    """An open ring where a twin is missing; where there are too many to tell apart the hatching serves."""
    geometry, lone = pencil.geometry, _lone(row, pencil.view)
    if not 0 < len(lone) <= pencil.view.width // TRIANGLE_ROOM:
        return
    radius = 4.2 * geometry.scale
    _, keep = np.unique((lone // (2 * radius + 2)).astype(np.int64), return_index=True)
    middle = (geometry.good_low + geometry.suspect_high) / 2
    pencil.painter.setPen(pencil.pen("suspect", 1.7 * geometry.scale))
    pencil.painter.setBrush(QColor(pencil.theme.panel))
    for x in lone[keep].tolist():
        pencil.painter.drawEllipse(QPointF(x, middle), radius, radius)
    pencil.painter.setBrush(Qt.BrushStyle.NoBrush)


def _clear_band(row: TraceRow, geometry: Geometry, at_ps: int) -> tuple[float, float]:
    """From the good line down to the suspect's at a time: what stands between touches neither."""

    def level(trace: TraceColumns | None) -> int:
        if trace is None:
            return UNKNOWN
        return int(trace.levels[int(trace.transitions_ps.searchsorted(at_ps, side="right"))])

    top = geometry.good_high if level(row.good) == 1 else geometry.good_low
    bottom = geometry.suspect_low if level(row.suspect) == 0 else geometry.suspect_high
    return float(top), float(bottom)


def _violations(pencil: Pencil, row: TraceRow) -> None:
    view, geometry, painter = pencil.view, pencil.geometry, pencil.painter
    part = view.visible(row.levels_ps)
    if part.start == part.stop:
        return
    x = view.x(row.levels_ps[part])
    # of those closer together than a triangle is wide, one is drawn
    _, keep = np.unique((x // TRIANGLE_ROOM).astype(np.int64), return_index=True)
    size, away, few = 5.5 * geometry.scale, 6 * geometry.scale, part.stop - part.start <= MOST_WORDS
    for i in keep.tolist():
        at_ps, violation = int(row.levels_ps[part.start + i]), row.levels[part.start + i]
        top, bottom = _clear_band(row, geometry, at_ps)
        # clear of a ring that may stand on the same transition
        centre = QPointF(float(x[i]) + size + away, (top + bottom) / 2)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(pencil.theme.warning))
        corners = ((-size, 0.85 * size), (size, 0.85 * size), (0.0, -0.95 * size))
        painter.drawPolygon(QPolygonF([centre + QPointF(dx, dy) for dx, dy in corners]))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if few:
            side = "good side: " if violation.side == "good" else ""
            words = f"{side}{violation.kind} {format_volts(violation.volts)}"
            _words_clear(pencil, row, float(x[i]), 2 * size + away + 6, words)


def _moved_words(pencil: Pencil, row: TraceRow) -> None:
    ties, view = row.finding.ties, pencil.view
    part = view.visible(ties.moved_good_ps)
    if not 0 < part.stop - part.start <= MOST_WORDS:
        return
    written = -np.inf
    for good, suspect in zip(
        ties.moved_good_ps[part].tolist(), ties.moved_suspect_on_good_ps[part].tolist(), strict=True
    ):
        x = max(view.x_of(good), view.x_of(suspect))
        late = suspect - good
        words = f"{format_time(late, digits=3, sign=True)} {'late' if late > 0 else 'early'}"
        # said once a stretch, not at each pair
        if x > written + view.width / 3 and _words_clear(pencil, row, x, 10, words):
            written = x


def _words_clear(pencil: Pencil, row: TraceRow, x: float, away: float, words: str) -> bool:
    """Writes ``words`` to the right of ``x`` if nothing there is in their way."""
    geometry, view, painter = pencil.geometry, pencil.view, pencil.painter
    font = plain_font(geometry.scale, bold=True)
    metrics = QFontMetricsF(font)
    left = x + away
    right = left + metrics.horizontalAdvance(words)
    top, bottom = _clear_band(row, geometry, view.time_at(left))
    if right > view.width or bottom - top < metrics.capHeight() + 8 or not _is_clear(row, view, x + 1, right + 4):
        return False
    painter.setFont(font)
    painter.setPen(QColor(pencil.theme.warning_text))
    painter.drawText(QPointF(left, (top + bottom + metrics.capHeight()) / 2), words)
    return True


def _is_clear(row: TraceRow, view: View, left: float, right: float) -> bool:
    """Does nothing happen between two pixels: no transition, no violation, no difference?"""
    from_ps, to_ps = view.time_at(left), view.time_at(right)
    span = np.array([from_ps, max(to_ps, from_ps + 1)], np.int64)
    for trace in (row.good, row.suspect):
        if trace is None or np.diff(trace.transitions_ps.searchsorted(span))[0]:
            return False
    if np.diff(row.levels_ps.searchsorted(span))[0]:
        return False
    return not bool(row.differing.mask(span)[0])
