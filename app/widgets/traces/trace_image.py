"""The crowded part of the paired traces: one picture for all rows, computed column by column with numpy.

Whatever the number of transitions, the picture costs the same: each column shows the state that
``pixel_columns.py`` finds for it. Traces with few transitions in view are left to the painter, which draws them with
slopes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

import numpy as np
from PySide6.QtGui import QColor, QImage

from app.model.theme import Theme
from app.widgets.traces.trace_geometry import Geometry
from app.widgets.traces.trace_rows import TraceRow, View, WordRow
from tracecore.capture import Int64
from tracecore.pixel_columns import NO_DATA, UNKNOWN, TraceColumns

Made = Callable[[Int64], np.ndarray]
"""From the edges of columns to what each column shows."""
MOST_DRAWN = 150
"""Up to this many transitions in view a trace is drawn as a line."""
ALL_BITS = np.uint32(0xFFFFFFFF)
FEW_HATCHED = 12
"""Where less than this part of the columns is hatched, their strokes are set one by one."""
HATCH = 8
"""Pixels from one stroke of a hatching to the next."""


def is_sparse(trace: TraceColumns, view: View) -> bool:
    """Few enough transitions in view to draw each with its slope?"""
    first, stop = trace.visible(view.t0_ps, view.stop_ps)
    return stop - first <= min(MOST_DRAWN, view.width // 5)


@cache
def _rgb(colour: str) -> np.uint32:
    return np.uint32(QColor(colour).rgb())


class TraceImage:
    """Keeps one buffer from frame to frame, and through other sizes as long as it is large enough: memory that is new
    costs more than what is drawn into it."""

    def __init__(self) -> None:
        self._buffer = np.empty(0, np.uint32)
        self._image: QImage | None = None
        self._kept: dict[int, tuple[object, View, np.ndarray]] = {}

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
        if len(self._buffer) < whole * view.width:
            # a quarter more, for a window that is being drawn larger
            self._buffer = np.empty(whole * view.width * 5 // 4, np.uint32)
        buffer = self._buffer[: whole * view.width].reshape(whole, view.width)
        buffer[:] = _rgb(theme.paper)
        strokes, edges = Strokes.over(geometry, view), view.edges_ps()
        for i, row in enumerate(shown):
            part = buffer[i * geometry.row : (i + 1) * geometry.row]
            if isinstance(row, TraceRow) and row.finding.signal == chosen:
                part[:] = _rgb(theme.tint)
            part[-1] = _rgb(theme.rule)
        if len(grid) and shown:
            buffer[: len(shown) * geometry.row, grid] = _rgb(theme.rule)
        for i, row in enumerate(shown):
            if isinstance(row, TraceRow):
                part = buffer[i * geometry.row : (i + 1) * geometry.row]
                self._pair(part, row, geometry, view, theme, strokes, edges)
        window = buffer[above : above + height]
        self._image = QImage(window.data, view.width, height, 4 * view.width, QImage.Format.Format_RGB32)
        return self._image

    def _pair(
        self,
        part: np.ndarray,
        row: TraceRow,
        geometry: Geometry,
        view: View,
        theme: Theme,
        strokes: Strokes,
        edges: Int64,
    ) -> None:
        _hatch(part, self._differing(row, edges, view), geometry, theme, strokes)
        sides = (
            (row.good, geometry.good_high, geometry.good_low, geometry.good_px, "ink"),
            (row.suspect, geometry.suspect_high, geometry.suspect_low, geometry.suspect_px, "suspect"),
        )
        for trace, high, low, thick, fore in sides:
            if trace is not None and not is_sparse(trace, view):
                _trace(part, self._state_columns(trace, edges, view), high, low, thick, theme, fore)

    def _state_columns(self, trace: TraceColumns, edges: Int64, view: View) -> np.ndarray:
        return self._columns(trace, trace.states, edges, view)

    def _differing(self, row: TraceRow, edges: Int64, view: View) -> np.ndarray:
        """Which columns are hatched."""
        return self._columns(row, row.differing.mask, edges, view)

    def _columns(self, of: object, made: Made, edges: Int64, view: View) -> np.ndarray:
        """What is made for each column; after a move by whole pixels only for those that have come into view."""
        kept = self._kept.get(id(of))
        if kept is None or kept[0] is not of or not _only_moved(kept[1], view):
            found = made(edges)
        else:
            found = _shifted(made, kept[2], (view.t0_ps - kept[1].t0_ps) // view.ps_per_px, edges)
        self._kept[id(of)] = (of, view, found)
        return found

    def forget(self) -> None:
        """Lets go of the traces of the comparison before."""
        self._kept.clear()


def _only_moved(before: View, now: View) -> bool:
    """The same scale, and moved by whole pixels less than a view wide?"""
    moved = now.t0_ps - before.t0_ps
    same = (before.ps_per_px, before.width) == (now.ps_per_px, now.width)
    return same and moved % now.ps_per_px == 0 and abs(moved) < now.ps_per_px * now.width


def _shifted(made: Made, kept: np.ndarray, by: int, edges: Int64) -> np.ndarray:
    if by == 0:
        return kept
    if by > 0:
        return np.concatenate((kept[by:], made(edges[-by - 1 :])))
    return np.concatenate((made(edges[: -by + 1]), kept[:by]))


@dataclass(frozen=True, slots=True)
class Strokes:
    """45 degree strokes over a pair, between a line above and one below: ``drawn``, bool[tall, width].

    ``columns`` and ``places`` are the same as places: columns, and places in the rows laid end to end. They stay with
    the traces when the view moves by whole pixels.
    """

    drawn: np.ndarray
    columns: np.ndarray
    places: np.ndarray

    @classmethod
    def over(cls, geometry: Geometry, view: View) -> Strokes:
        """The strokes for one frame."""
        tall = geometry.suspect_low - geometry.good_high + geometry.suspect_px
        return _strokes(tall, view.width, view.t0_ps // view.ps_per_px % HATCH)


@lru_cache(maxsize=2 * HATCH)
def _strokes(tall: int, width: int, phase: int) -> Strokes:
    across = np.arange(width) + phase
    drawn = (across[None, :] + np.arange(tall)[:, None]) % HATCH == 0
    drawn[0] = drawn[-1] = True
    rows, columns = np.nonzero(drawn)
    return Strokes(drawn, columns, rows * width + columns)


def _hatch(part: np.ndarray, mask: np.ndarray, geometry: Geometry, theme: Theme, strokes: Strokes) -> None:
    if not mask.any():
        return
    box = part[geometry.good_high : geometry.good_high + len(strokes.drawn)]
    colour = _rgb(theme.suspect)
    # the outline also has a line where a span begins or ends
    ends = mask.copy()
    ends[1:-1] &= ~(mask[:-2] & mask[2:])
    if np.count_nonzero(mask) < len(mask) // FEW_HATCHED:
        # the rows of a part lie end to end in memory, so a reshaped view writes through
        box.reshape(-1)[strokes.places[mask.take(strokes.columns)]] = colour
        box[:, np.flatnonzero(ends)] = colour
        return
    inked = strokes.drawn & mask
    inked |= ends
    # bits are chosen by masks of all ones or none: a copy with a condition takes several times as long
    chosen = np.multiply(inked, ALL_BITS, dtype=np.uint32, casting="unsafe")
    chosen &= box ^ colour
    box ^= chosen


@cache
def _bands(theme: Theme, fore: str) -> tuple[tuple[np.ndarray, np.ndarray], ...]:
    """Of the middle, the upper and the lower line: what a state keeps of what is there (all bits or none), and its
    colour."""
    line, busy, band = _rgb(getattr(theme, fore)), _rgb(theme.mix(fore, "paper", 0.42)), _rgb(theme.band)
    # LOW, HIGH, UNKNOWN, EDGE, BUSY, NO_DATA
    middle = (None, None, band, line, busy, None)
    upper = (None, line, band, line, line, None)
    lower = (line, None, band, line, line, None)
    return tuple(
        (np.array([0 if c else ALL_BITS for c in colours], np.uint32), np.array([c or 0 for c in colours], np.uint32))
        for colours in (middle, upper, lower)
    )


def _trace(part: np.ndarray, states: np.ndarray, high: int, low: int, thick: int, theme: Theme, fore: str) -> None:
    """``high`` and ``low`` are the middles of the lines; a still column shows one line, a busy one a filled box."""
    line = _rgb(getattr(theme, fore))
    box = part[high - thick // 2 : low - thick // 2 + thick]
    middle = (len(box) - thick) // 2
    parts = (box[thick:-thick], box[:thick], box[-thick:])
    for rows, (kept, colours) in zip(parts, _bands(theme, fore), strict=True):
        rows &= kept.take(states)
        rows |= colours.take(states)
    unknown, nothing = states == UNKNOWN, states == NO_DATA
    if unknown.any():
        np.copyto(box[middle : middle + thick], line, where=unknown)
    if nothing.any():
        nothing[np.arange(len(nothing)) % 4 > 0] = False
        box[len(box) // 2, nothing] = _rgb(theme.muted)
