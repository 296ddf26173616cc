"""The crowded part of the paired traces: one picture for all rows, computed column by column with numpy.

Whatever the number of transitions, the picture costs the same: each column shows the state that ``columns.py`` finds
for it. Traces with few transitions in view are left to the painter, which draws them with slopes.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PySide6.QtGui import QColor, QImage

from app.model.theme import Theme
from app.widgets.trace_geometry import Geometry
from app.widgets.trace_rows import TraceRow, View, WordRow
from tracecore.capture import Int64
from tracecore.columns import BUSY, EDGE, HIGH, LOW, NO_DATA, UNKNOWN, TraceColumns, span_mask

MOST_DRAWN = 150
"""Up to this many transitions in view a trace is drawn as a line."""
HATCH = 8
"""Pixels from one stroke of a hatching to the next."""


def is_sparse(trace: TraceColumns, view: View) -> bool:
    """Few enough transitions in view to draw each with its slope?"""
    first, stop = trace.visible(view.t0_ps, view.stop_ps)
    return stop - first <= min(MOST_DRAWN, view.width // 5)


def _rgb(colour: str) -> np.uint32:
    return np.uint32(QColor(colour).rgb())


class TraceImage:
    """Keeps one buffer from frame to frame."""

    def __init__(self) -> None:
        self._buffer = np.empty((0, 0), np.uint32)
        self._image: QImage | None = None

    def compose(
        self,
        rows: Sequence[TraceRow | WordRow],
        geometry: Geometry,
        view: View,
        theme: Theme,
        grid: np.ndarray,
        chosen: str | None,
        height: int,
        scroll: int,
    ) -> QImage:
        """A picture of ``view.width`` x ``height`` pixels from ``scroll`` pixels below the first row's top.

        It shares its memory with this object: draw it before the next call.
        """
        first = scroll // geometry.row
        shown = rows[first : -(-(scroll + height) // geometry.row)]
        above = scroll - first * geometry.row
        whole = max(len(shown) * geometry.row, above + height)
        if self._buffer.shape != (whole, view.width):
            self._buffer = np.empty((whole, view.width), np.uint32)
        buffer = self._buffer
        buffer[:] = _rgb(theme.paper)
        strokes = _strokes(geometry, view)
        for i, row in enumerate(shown):
            part = buffer[i * geometry.row : (i + 1) * geometry.row]
            if isinstance(row, TraceRow) and row.finding.signal == chosen:
                part[:] = _rgb(theme.tint)
            part[-1] = _rgb(theme.rule)
        if len(grid) and shown:
            buffer[: len(shown) * geometry.row, grid] = _rgb(theme.rule)
        for i, row in enumerate(shown):
            if isinstance(row, TraceRow):
                self._pair(buffer[i * geometry.row : (i + 1) * geometry.row], row, geometry, view, theme, strokes)
        window = buffer[above : above + height]
        self._image = QImage(window.data, view.width, height, 4 * view.width, QImage.Format.Format_RGB32)
        return self._image

    def _pair(
        self, part: np.ndarray, row: TraceRow, geometry: Geometry, view: View, theme: Theme, strokes: np.ndarray
    ) -> None:
        edges = view.edges_ps()
        _hatch(part, row.finding.difference_on_good_ps, edges, geometry, theme, strokes)
        sides = (
            (row.good, geometry.good_high, geometry.good_low, geometry.good_px, "ink"),
            (row.suspect, geometry.suspect_high, geometry.suspect_low, geometry.suspect_px, "suspect"),
        )
        for trace, high, low, thick, fore in sides:
            if trace is not None and not is_sparse(trace, view):
                _trace(part, trace.states(edges), high, low, thick, theme, fore)


def _strokes(geometry: Geometry, view: View) -> np.ndarray:
    """45 degree strokes over a pair; they stay with the traces when the view moves by whole pixels."""
    tall = geometry.suspect_low - geometry.good_high + geometry.suspect_px
    across = np.arange(view.width) + (view.t0_ps // view.ps_per_px) % HATCH
    return (across[None, :] + np.arange(tall)[:, None]) % HATCH == 0


def _hatch(
    part: np.ndarray, spans_ps: Int64, edges: Int64, geometry: Geometry, theme: Theme, strokes: np.ndarray
) -> None:
    mask = span_mask(spans_ps, edges)
    if not mask.any():
        return
    box = part[geometry.good_high : geometry.good_high + len(strokes)]
    colour = _rgb(theme.suspect)
    np.copyto(box, colour, where=strokes & mask)
    # an outline: above, below, and where a span begins or ends
    np.copyto(box[0], colour, where=mask)
    np.copyto(box[-1], colour, where=mask)
    ends = mask.copy()
    ends[1:-1] &= ~(mask[:-2] & mask[2:])
    np.copyto(box, colour, where=ends)


def _trace(
    part: np.ndarray, states: np.ndarray, high: int, low: int, thick: int, theme: Theme, fore: str
) -> None:
    """``high`` and ``low`` are the middles of the lines; a still column shows one line, a busy one a filled box."""
    colour = _rgb(getattr(theme, fore))
    top, bottom = high - thick // 2, low - thick // 2
    box = part[top : bottom + thick]
    busy, unknown = states == BUSY, states == UNKNOWN
    if busy.any():
        np.copyto(box, _rgb(theme.mix(fore, "paper", 0.42)), where=busy)
    if unknown.any():
        np.copyto(box, _rgb(theme.band), where=unknown)
        middle = (len(box) - thick) // 2
        np.copyto(box[middle : middle + thick], colour, where=unknown)
    np.copyto(box, colour, where=states == EDGE)
    np.copyto(box[:thick], colour, where=busy | (states == HIGH))
    np.copyto(box[-thick:], colour, where=busy | (states == LOW))
    nothing = states == NO_DATA
    if nothing.any():
        nothing[np.arange(len(nothing)) % 4 > 0] = False
        box[len(box) // 2, nothing] = _rgb(theme.muted)
