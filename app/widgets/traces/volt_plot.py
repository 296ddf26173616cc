"""Volts of both sides over the family's bands, beside the paired traces."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.signal_name import plain_font
from tracecore.capture import AnalogTrace, Int64
from tracecore.lineup.lineup import TimeMap
from tracecore.measure.families import family
from tracecore.pixel_columns import VoltColumns, column_edges_ps
from tracecore.quantities import format_volts

if TYPE_CHECKING:
    from collections.abc import Callable

    from tracecore.comparison import Comparison

    ToSuspect = Callable[[Int64], Int64]

HEIGHT, CYCLES_AROUND = 190, 6
PS_PER_S = 1e12


def volt_line(columns: VoltColumns, edges_ps: Int64, own_ps: Int64) -> tuple[np.ndarray, np.ndarray]:
    """Seconds on the good axis and volts of one trace, no extreme lost.

    ``edges_ps`` int64[W+1] are column edges on the good axis, ``own_ps`` the same instants on the trace's own clock.
    Columns with samples give their lowest and highest volts; those finer than the samples join one sample to the next.
    """
    low, high = columns.extremes(own_ps)
    filled = np.flatnonzero(~np.isnan(low))
    low, high = low[filled], high[filled]
    middle = (edges_ps[:-1] + (edges_ps[1:] - edges_ps[:-1]) // 2)[filled] / PS_PER_S
    # the line enters a column at the end that is nearer to where it comes from
    falling = np.zeros(len(filled), bool)
    falling[1:] = low[:-1] + high[:-1] > low[1:] + high[1:]
    volts = np.empty(2 * len(filled), np.float64)
    volts[0::2], volts[1::2] = np.where(falling, high, low), np.where(falling, low, high)
    return np.repeat(middle, 2), volts


class VoltPlot(QWidget):
    """A plot with axes, made when it is first needed: it brings pyqtgraph in."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme: Theme = LIGHT
        self._scale = 1.0
        self._plot: Any = None
        self._curves: list[Any] = []
        self._sides: list[tuple[VoltColumns, ToSuspect | None] | None] = [None, None]
        self._limits: tuple[float, float] = (0.8, 2.0)
        self._span = (0, 1)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._layout.setSpacing(2)
        self._legend = ElidedLabel("", "muted")
        self._layout.addWidget(self._legend)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName("Volts")
        self._frame = (HEIGHT, 0, 0)
        self._grow()

    def _grow(self) -> None:
        height, left, right = self._frame
        self.setFixedHeight(min(height, round(HEIGHT * self._scale)))
        self._layout.setContentsMargins(0, 0, right, 0)
        if self._plot is not None:
            # under the traces the columns of time are theirs, and so are the numbers where room is short
            self._plot.showAxis("bottom", height >= round(HEIGHT * self._scale))
            self._plot.getAxis("left").setWidth(left or None)

    def set_theme(self, theme: Theme, scale: float = 1.0) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        self._grow()
        if self._plot is not None:
            self._dress()

    def set_frame(self, most_height: int, left: int, right: int) -> None:
        """Pixels: no taller than ``most_height``; the volts stand ``left``, and ``right`` stays free, as with the
        traces above, so that the same column is the same time."""
        self._frame = (most_height, left, right)
        self._grow()

    def set_finding(self, comparison: Comparison, signal: str) -> None:
        """Shows the volts of one signal around its first divergence, over the bands of its family."""
        finding = comparison.signal(signal)
        limits = family(finding.family or comparison.request.family)
        timemap = TimeMap(comparison.lineup)
        to_suspect = timemap.to_suspect_ps if comparison.lineup else None
        self.set_traces(finding.good_volts, finding.suspect_volts, limits.vil_v, limits.vih_v, to_suspect, self._theme)
        edges = comparison.lineup.good_edges_ps
        if finding.first_divergence is not None and len(edges) > 1:
            cycle = finding.first_divergence.cycle
            around = np.clip([cycle - CYCLES_AROUND, cycle + CYCLES_AROUND + 1], 0, len(edges) - 1)
            self.set_view(int(edges[around[0]]), int(edges[around[1]]))

    def set_traces(
        self,
        good: AnalogTrace | None,
        suspect: AnalogTrace | None,
        vil_v: float,
        vih_v: float,
        to_suspect_ps: ToSuspect | None,
        theme: Theme,
    ) -> None:
        """Shows both traces in full. ``to_suspect_ps`` carries good times, int64[N] sorted, to the suspect's clock."""
        self._theme = theme
        self._limits = vil_v, vih_v
        self._sides = [
            (VoltColumns(good), None) if good is not None else None,
            (VoltColumns(suspect), to_suspect_ps) if suspect is not None else None,
        ]
        self._make()
        self._dress()
        there = [t for t in (good, suspect) if t is not None]
        if there:
            shown = good if good is not None else there[0]
            self._span = shown.start_ps, shown.stop_ps
            lowest = min(0.0, *(float(t.volts.min()) for t in there))
            highest = max(5.0, *(float(t.volts.max()) for t in there))
            self._plot.setYRange(lowest - 0.2, highest + 0.2, padding=0)
            self.set_view(*self._span)
        self._tell()

    def set_view(self, start_ps: int, stop_ps: int) -> None:
        """Shows a time span of the good side's clock."""
        if self._plot is not None:
            self._plot.setXRange(start_ps / PS_PER_S, max(stop_ps, start_ps + 1) / PS_PER_S, padding=0)
            self._redraw()

    def _tell(self) -> None:
        vil, vih = self._limits
        sides = [n for n, s in zip(("known-good thin", "suspect thick"), self._sides, strict=True) if s is not None]
        words = f"{', '.join(sides)} · low up to {format_volts(vil)}, high from {format_volts(vih)}, undefined between"
        self._legend.setText(words)
        self.setAccessibleDescription(words)

    # ---- the plot

    def _make(self) -> None:
        if self._plot is not None:
            return
        import pyqtgraph as pg

        self._plot = pg.PlotWidget(self)
        self._plot.setMenuEnabled(False)
        self._plot.hideButtons()
        self._plot.setMouseEnabled(x=True, y=False)
        self._plot.setLabel("left", "volts", units="V")
        self._plot.setLabel("bottom", "time on the good side's clock", units="s")
        self._plot.setAntialiasing(True)
        self._plot.getPlotItem().layout.setContentsMargins(0, 0, 0, 0)
        self._band = pg.LinearRegionItem(orientation="horizontal", movable=False)
        self._rules = [pg.InfiniteLine(angle=0) for _ in range(2)]
        self._plot.addItem(self._band)
        for rule in self._rules:
            self._plot.addItem(rule)
        self._curves = [self._plot.plot([], []) for _ in range(2)]
        self._plot.getViewBox().sigXRangeChanged.connect(lambda *_: self._redraw())
        self._plot.getViewBox().sigResized.connect(lambda *_: self._redraw())
        self._layout.addWidget(self._plot, 1)
        self._grow()

    def _dress(self) -> None:
        import pyqtgraph as pg
        from PySide6.QtGui import QBrush, QColor

        theme = self._theme
        self._plot.setBackground(theme.panel)
        for side in ("left", "bottom"):
            axis = self._plot.getAxis(side)
            axis.setPen(theme.rule_strong)
            axis.setTextPen(theme.muted)
            axis.setTickFont(plain_font(self._scale))
            axis.label.setFont(plain_font(self._scale))
        self._band.setRegion(self._limits)
        self._band.setBrush(QBrush(QColor(theme.band), Qt.BrushStyle.Dense4Pattern))
        for line in self._band.lines:
            line.setPen(pg.mkPen(None))
        for rule, limit in zip(self._rules, self._limits, strict=True):
            rule.setPos(limit)
            rule.setPen(pg.mkPen(theme.band_edge, width=1))
        self._curves[0].setPen(pg.mkPen(theme.ink, width=1))
        self._curves[1].setPen(pg.mkPen(theme.suspect, width=2))

    def _redraw(self) -> None:
        start, stop = (round(s * PS_PER_S) for s in self._plot.getViewBox().viewRange()[0])
        width = max(50, self._plot.width())
        # a column beyond each end, so that the line runs on
        step = max(1, -(-(stop - start) // width))
        edges = column_edges_ps(start - step, step, width + 2)
        for curve, side in zip(self._curves, self._sides, strict=True):
            if side is None:
                curve.setData([], [])
                continue
            columns, to_own = side
            curve.setData(*volt_line(columns, edges, to_own(edges) if to_own is not None else edges))
