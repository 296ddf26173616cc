"""Marks of the case on the traces: brackets over their time, leader lines, and ruled tags above the rows.

A mark of all signals has leader lines through all rows; one of some signals has brackets on their rows, over the
good trace, under the suspect one, or both. Each kind has a shape: a question mark, a flag for a finding, and for a
reference the surveyor's level bar on its arrow.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen, QPolygonF

from app.case.values import MarkKind
from app.model.theme import Theme
from app.widgets.controls.signal_name import plain_font
from app.widgets.traces.mark_spans import MarkSpan, Tag, place_tags
from app.widgets.traces.trace_geometry import Geometry
from app.widgets.traces.trace_rows import View

SHAPE, TAG_TALL, FOOT, NOTE_GAP = 13, 20, 5, 6
"""At 100 %: width of a shape, height of a tag, height of a bracket's feet, space between a number and its note."""
LEAST_NOTE, MOST_NOTE = 80, 230
"""At 100 %: less of a note than this helps nobody, more of it is for the list."""

MOST_LEADERS = 24
"""With more marks in view their leader lines, and brackets of a few pixels, would hide the traces: the chosen one's
stay."""
SPECK = 4
"""Pixels; a bracket less wide is a tick."""


def draw_kind(painter: QPainter, kind: MarkKind, left: float, middle: float, size: float, colour: str) -> None:
    """The shape of a kind, ``size`` high around ``middle``."""
    ink, top, bottom = QColor(colour), middle - size / 2, middle + size / 2
    pen = QPen(ink, max(1.6, size / 7), Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap, Qt.PenJoinStyle.MiterJoin)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(pen)
    centre = left + size / 2
    if kind == "finding":
        pole = left + size * 0.22
        painter.drawLine(QLineF(pole, top, pole, bottom))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(ink)
        right, low, notch = left + size, top + size * 0.58, left + size * 0.74
        corners = ((pole, top), (right, top), (notch, (top + low) / 2), (right, low), (pole, low))
        painter.drawPolygon(QPolygonF([QPointF(x, y) for x, y in corners]))
    elif kind == "reference":
        bar = top + pen.widthF() / 2
        painter.drawLine(QLineF(left, bar, left + size, bar))
        painter.drawLine(QLineF(centre, bar, centre, bottom))
        painter.drawLine(QLineF(centre, bar + size * 0.12, left + size * 0.12, bottom))
        painter.drawLine(QLineF(centre, bar + size * 0.12, left + size * 0.88, bottom))
    else:
        font = painter.font()
        font.setPixelSize(round(size * 1.25))
        font.setBold(True)
        painter.setFont(font)
        painter.drawText(QRectF(left - size, top - size, 3 * size, 3 * size), Qt.AlignmentFlag.AlignCenter, "?")
    painter.restore()


def tag_metrics(scale: float) -> QFontMetricsF:
    """Of the words in a tag."""
    return QFontMetricsF(plain_font(scale, bold=True))


def tags_for(spans: Sequence[MarkSpan], view: View, chosen: int | None, scale: float) -> tuple[Tag, ...]:
    """The tags of all marks in view, placed for one text scale."""
    metrics = tag_metrics(scale)
    beside = (SHAPE + 15) * scale

    @cache
    def width_of(words: str) -> float:
        return metrics.horizontalAdvance(words) + beside

    def note_width(note: str) -> float:
        return metrics.horizontalAdvance(note) + (NOTE_GAP + 2) * scale

    return place_tags(spans, view, chosen, width_of, note_width, (LEAST_NOTE * scale, MOST_NOTE * scale))


@dataclass(frozen=True, slots=True)
class MarkPen:
    """What marks need; the painter's origin is the widget's. ``rows`` gives the top of each signal's row."""

    painter: QPainter
    geometry: Geometry
    view: View
    theme: Theme
    chosen: int | None

    def _pen(self, chosen: bool, style: Qt.PenStyle = Qt.PenStyle.SolidLine) -> QPen:
        ink = QColor(self.theme.ink if chosen else self.theme.muted)
        return QPen(ink, 2 if chosen else 1, style, Qt.PenCapStyle.FlatCap, Qt.PenJoinStyle.MiterJoin)

    def _ends(self, span: MarkSpan) -> tuple[float, float]:
        """Pixels of the widget, a little outside the plot where the mark goes on."""
        left = min(max(self.view.x_of(span.start_ps), -20.0), self.view.width + 20.0)
        right = min(max(self.view.x_of(span.stop_ps), -20.0), self.view.width + 20.0)
        # a mark too short to be seen keeps the width of a stroke
        right = max(right, left + 2)
        return self.geometry.gutter + int(left) + 0.5, self.geometry.gutter + int(right) + 0.5

    def on_rows(self, spans: Sequence[MarkSpan], rows: Mapping[str, float], bottom: float) -> None:
        """Leader lines and brackets on the rows that are in sight."""
        painter, geometry = self.painter, self.geometry
        painter.save()
        painter.setClipRect(QRectF(geometry.gutter, geometry.top, self.view.width, bottom - geometry.top))
        shown = [span for span in spans if span.within(self.view)]
        crowded = len(shown) > MOST_LEADERS
        for span in shown:
            chosen = span.mark.id == self.chosen
            tops = [rows[s] for s in span.mark.signals if s in rows]
            left, right = self._ends(span)
            if crowded and not chosen and right - left < SPECK:
                continue
            if chosen or not crowded:
                painter.setPen(self._pen(chosen, Qt.PenStyle.DotLine))
                painter.drawLines(self._leader_lines(span, left, right, tops, bottom))
            for top in tops:
                self._row_brackets(span, chosen, left, right, top)
        painter.restore()

    def _leader_lines(
        self, span: MarkSpan, left: float, right: float, tops: Sequence[float], bottom: float
    ) -> list[QLineF]:
        """At both ends through all rows, or from the begin down to the lowest of its rows."""
        top = self.geometry.top
        if not span.mark.signals:
            ends = (left, right) if right - left > 3 else (left,)
            return [QLineF(x, top, x, bottom) for x in ends]
        down = self.geometry.row - 2 if span.mark.side == "suspect" else 1
        return [QLineF(left, top, left, max(tops) + down)] if tops else []

    def _row_brackets(self, span: MarkSpan, chosen: bool, left: float, right: float, top: float) -> None:
        geometry = self.geometry
        self.painter.setPen(QPen(QColor(self.theme.ink), 2 if chosen else 1.3))
        foot = min(FOOT * geometry.scale, geometry.good_high - 2)
        if span.mark.side != "suspect":
            self._bracket(left, right, top + 1.5, foot)
        if span.mark.side != "good":
            self._bracket(left, right, top + geometry.row - 2.5, -foot)

    def _bracket(self, left: float, right: float, y: float, foot: float) -> None:
        lines = [QLineF(left, y, right, y), QLineF(left, y, left, y + foot), QLineF(right, y, right, y + foot)]
        self.painter.drawLines(lines)

    def in_band(self, spans: Sequence[MarkSpan], tags: Sequence[Tag]) -> None:
        """Brackets over the time of each mark, and above them the tags."""
        painter, geometry, scale = self.painter, self.geometry, self.geometry.scale
        painter.save()
        painter.setClipRect(QRectF(geometry.gutter, geometry.numbers - 3, self.view.width, geometry.top))
        foot, ticks = FOOT * scale, []
        y = round(geometry.top - foot - 1) + 0.5
        for span in spans:
            if not span.within(self.view):
                continue
            chosen = span.mark.id == self.chosen
            left, right = self._ends(span)
            if right - left < SPECK and not chosen:
                ticks.append(QLineF(left, y, left, y + foot))
                continue
            painter.setPen(QPen(QColor(self.theme.ink), 2 if chosen else 1.3))
            self._bracket(left, right, y, foot)
        painter.setPen(QPen(QColor(self.theme.ink), 2))
        painter.drawLines(ticks)
        for tag in tags:
            self._tag(tag, self.box_of(tag))
        painter.restore()

    def box_of(self, tag: Tag) -> QRectF:
        """Where a tag stands in the widget."""
        geometry = self.geometry
        left = round(geometry.gutter + tag.left) + 0.5
        return QRectF(left, geometry.numbers - 1.5, round(tag.width) - 1, round(TAG_TALL * geometry.scale))

    def _tag(self, tag: Tag, box: QRectF) -> None:
        painter, scale, chosen = self.painter, self.geometry.scale, tag.holds(self.chosen)
        painter.fillRect(box, QColor(self.theme.tint if chosen else self.theme.panel))
        painter.setPen(QPen(QColor(self.theme.ink if chosen else self.theme.muted), 2 if chosen else 1))
        painter.drawRect(box)
        size = SHAPE * scale * 0.95
        shown = next((s for s in tag.spans if s.mark.id == self.chosen), tag.spans[0])
        area = box.adjusted((SHAPE + 9) * scale, 0, -3 * scale, 0)
        if chosen or len(tag.spans) == 1:
            draw_kind(painter, shown.mark.kind, box.left() + 5 * scale, box.center().y(), size, self.theme.ink)
        else:
            # several kinds under one count: no shape speaks for all of them
            area.setLeft(box.left() + 5 * scale + SHAPE * scale / 2)
        painter.setPen(QColor(self.theme.ink))
        for words, bold in ((tag.words, True), (tag.note, chosen)):
            painter.setFont(plain_font(scale, bold=bold))
            metrics = QFontMetricsF(painter.font())
            text = metrics.elidedText(words, Qt.TextElideMode.ElideRight, area.width() + 1)
            painter.drawText(area, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, text)
            area.setLeft(area.left() + metrics.horizontalAdvance(words) + NOTE_GAP * scale)
