"""The numbers and ticks along the top of the traces, as they are drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QFontMetricsF, QPainter

from app.model.theme import Theme
from app.widgets.controls.signal_name import plain_font
from app.widgets.traces.cycle_scale import cycle_labels, time_labels
from app.widgets.traces.trace_geometry import Geometry
from app.widgets.traces.trace_rows import View
from tracecore.capture import Int64


@dataclass(frozen=True, slots=True)
class ScalePen:
    """What the scale needs; the painter's origin is the widget's."""

    painter: QPainter
    geometry: Geometry
    view: View
    theme: Theme

    def draw(self, edges_ps: Int64, marked: int | None, taken: Sequence[QRectF]) -> None:
        """The numbers of the cycles that begin at ``edges_ps``, or times without a line-up; not the ``marked`` cycle's,
        and none that a leader's box in ``taken`` would touch."""
        painter, geometry, view, theme = self.painter, self.geometry, self.view, self.theme
        font = plain_font(geometry.scale)
        metrics = QFontMetricsF(font)
        digit = metrics.horizontalAdvance("0")
        labels, ticks = cycle_labels(view, edges_ps, digit) if len(edges_ps) > 1 else ([], [])
        if not labels:
            # without a line-up, and beside the active edges, the scale tells the time
            labels, ticks = time_labels(view, digit)
        painter.setFont(font)
        painter.setPen(QColor(theme.muted))
        for label in labels:
            if label.cycle is not None and label.cycle == marked:
                continue
            width = metrics.horizontalAdvance(label.text)
            left = label.x - width / 2 if label.centred else label.x + 4
            area = QRectF(geometry.gutter + left, 2, width, geometry.numbers - 6)
            inside = left >= -2 and left + width <= view.width + 2
            if inside and not any(area.adjusted(-4, 0, 4, 0).intersects(box) for box in taken):
                painter.drawText(QPointF(area.left(), geometry.numbers * 0.66), label.text)
        for x in ticks:
            tick = QRectF(geometry.gutter + x, geometry.numbers * 0.25, 1, geometry.numbers * 0.75)
            if not any(tick.intersects(box) for box in taken):
                painter.fillRect(tick, QColor(theme.muted))
