"""The names at the left of the paired traces: signal and pin, bus and base."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPixmap

from app.model.theme import Theme
from app.widgets.controls.painting import painting
from app.widgets.controls.signal_name import draw_signal_name, fixed_font, plain_font
from app.widgets.traces.row_states import RowState
from app.widgets.traces.trace_geometry import Geometry
from app.widgets.traces.trace_rows import TraceRow, WordRow
from app.widgets.traces.words import BASE_WORDS, Base


def _name_px(row: TraceRow | WordRow) -> int:
    return 15 if isinstance(row, WordRow) else 18


def gutter_px(rows: tuple[TraceRow | WordRow, ...], scale: float, width: int) -> int:
    """Width of the column: as the widest name needs, up to three tenths of the widget."""
    widest = 0.0
    for row in rows:
        name = row.short_name if isinstance(row, WordRow) else row.finding.signal
        widest = max(widest, QFontMetricsF(plain_font(scale, _name_px(row), bold=True)).horizontalAdvance(name))
    return round(min(max(widest + 28 * scale, 116 * scale), 0.3 * width))


@dataclass(frozen=True, slots=True)
class NameColumn:
    """What a name needs to be drawn; the painter's origin is the widget's."""

    geometry: Geometry
    theme: Theme
    base: Base
    chosen: str | None

    def draw(self, painter: QPainter, row: TraceRow | WordRow, top: int, state: RowState | None = None) -> None:
        """One name, with its rule below; the chosen one on its tint. ``state`` stands at the right, good above."""
        geometry, theme, scale = self.geometry, self.theme, self.geometry.scale
        if isinstance(row, TraceRow) and row.finding.signal == self.chosen:
            painter.fillRect(0, top, geometry.gutter, geometry.row, QColor(theme.tint))
            painter.fillRect(0, top, round(3 * scale), geometry.row, QColor(theme.ink))
        painter.fillRect(0, top + geometry.row - 1, geometry.gutter, 1, QColor(theme.rule))
        left, width = 8 * scale, geometry.gutter - 14 * scale
        if state is not None:
            width -= self._draw_state(painter, state, top, isinstance(row, WordRow))
        painter.setFont(plain_font(scale, _name_px(row), bold=True))
        painter.setPen(QColor(theme.ink))
        if isinstance(row, WordRow):
            fits = painter.fontMetrics().horizontalAdvance(row.name) <= width
            name, active, below = (row.name if fits else row.short_name), "high", BASE_WORDS[self.base]
        else:
            name, active, below = row.finding.signal, row.finding.active, row.finding.place
        draw_signal_name(painter, left, top + geometry.row * 0.48, name, active, width)
        painter.setFont(plain_font(scale) if isinstance(row, WordRow) else fixed_font(scale))
        painter.setPen(QColor(theme.muted))
        painter.drawText(QPointF(left, top + geometry.row * 0.80), below)

    def _draw_state(self, painter: QPainter, state: RowState, top: int, word: bool) -> float:
        """Both sides' states beside their traces, the suspect's bold where they differ; returns the width taken."""
        geometry, theme, scale = self.geometry, self.theme, self.geometry.scale
        lines = (
            (0.48, 0.80)
            if word
            else ((geometry.good_low + 1) / geometry.row, (geometry.suspect_low + 1) / geometry.row)
        )
        widest = 0.0
        for text, share, fore, bold in (
            (state.good, lines[0], theme.ink, False),
            (state.suspect, lines[1], theme.suspect_text, state.differs),
        ):
            painter.setFont(fixed_font(scale, 16, bold=bold))
            painter.setPen(QColor(fore))
            wide = painter.fontMetrics().horizontalAdvance(text)
            painter.drawText(QPointF(geometry.gutter - 6 * scale - wide, top + geometry.row * share), text)
            widest = max(widest, wide + 8 * scale)
        return widest


class NamePicture:
    """All names in sight as one picture, drawn anew only where something of them is another."""

    def __init__(self) -> None:
        self._look: tuple[object, ...] = ()
        self._picture = QPixmap()

    def drawn(
        self,
        column: NameColumn,
        rows: Sequence[TraceRow | WordRow],
        height: int,
        scroll: int,
        at_ps: int | None,
        ratio: float,
        state: Callable[[TraceRow | WordRow], RowState | None],
    ) -> QPixmap:
        """The picture from ``scroll`` pixels below the first row's top; ``at_ps`` is where the states are read."""
        look = (column, tuple(rows), height, scroll, at_ps, ratio)
        if look == self._look:
            return self._picture
        geometry = column.geometry
        picture = QPixmap(QSize(geometry.gutter, height) * ratio)
        picture.setDevicePixelRatio(ratio)
        picture.fill(QColor(column.theme.paper))
        with painting(picture) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            first = scroll // geometry.row
            for i in range(first, min(len(rows), -(-(scroll + height) // geometry.row))):
                painter.save()
                column.draw(painter, rows[i], i * geometry.row - scroll, state(rows[i]))
                painter.restore()
        self._look, self._picture = look, picture
        return picture
