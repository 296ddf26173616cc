"""Draws the tags at transitions that break a limit of their receiving part: a wedge against a bar, and words."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, Qt
from PySide6.QtGui import QColor, QPen, QPolygonF

if TYPE_CHECKING:
    from app.widgets.traces.limit_tags import LimitTags
    from app.widgets.traces.trace_marks import Pencil

ROOM = 16
"""Pixels at 100 % in which one tag stands for all."""
MOST_WORDS = 12


def draw_limit_tags(
    pencil: Pencil,
    tags: LimitTags,
    clear_band: Callable[[int], tuple[float, float]],
    say: Callable[[float, float, str], object],
) -> None:
    """Draws those in view; ``clear_band`` gives the free height at a time, ``say`` writes words beside a place."""
    view, painter, scale = pencil.view, pencil.painter, pencil.geometry.scale
    part = view.visible(tags.at_ps)
    if part.start == part.stop:
        return
    x = view.x(tags.at_ps[part])
    _, keep = np.unique((x // (ROOM * scale)).astype(np.int64), return_index=True)
    size, few = 5.0 * scale, part.stop - part.start <= MOST_WORDS
    for i in keep.tolist():
        top, bottom = clear_band(int(tags.at_ps[part.start + i]))
        left, middle = float(x[i]) + 5 * scale, (top + bottom) / 2
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(pencil.theme.warning))
        corners = ((0.0, -size), (1.5 * size, 0.0), (0.0, size))
        painter.drawPolygon(QPolygonF([QPointF(left + dx, middle + dy) for dx, dy in corners]))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(QColor(pencil.theme.warning), max(1.6, 1.6 * scale)))
        end = left + 1.5 * size + 1.5 * scale
        painter.drawLine(QLineF(end, middle - size, end, middle + size))
        if few:
            say(float(x[i]), end - float(x[i]) + 5 * scale, tags.words[part.start + i])
