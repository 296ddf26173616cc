"""Volts of both sides over the family's bands, and back to back beside them how long each level is held."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.signal_name import plain_font
from app.widgets.traces.volt_plot import volt_line
from tracecore.lineup.lineup import TimeMap
from tracecore.pixel_columns import VoltColumns, column_edges_ps
from tracecore.quantities import format_volts, group_digits

if TYPE_CHECKING:
    from tracecore.compare.signal_levels import SignalLevels
    from tracecore.comparison import Comparison

CYCLES_AROUND = 5
PS_PER_S = 1e12
MOST_TAGS = 200


class BandPlot(QWidget):
    """``cycleHere`` carries the good cycle in the middle of what is shown."""

    cycleHere = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        import pyqtgraph as pg

        self._theme: Theme = LIGHT
        self._scale = 1.0
        self._low = False
        self._comparison: Comparison | None = None
        self._row: SignalLevels | None = None
        self._sides: list[tuple[VoltColumns, Any] | None] = [None, None]
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(2)
        self.legend = ElidedLabel("", "muted")
        down.addWidget(self.legend)
        across = QHBoxLayout()
        across.setSpacing(6)
        down.addLayout(across, 1)
        self.plot: Any = pg.PlotWidget(self)
        self.histogram: Any = pg.PlotWidget(self)
        for plot in (self.plot, self.histogram):
            plot.setMenuEnabled(False)
            plot.hideButtons()
            plot.setAntialiasing(True)
        self.plot.setMouseEnabled(x=True, y=False)
        self.histogram.setMouseEnabled(x=False, y=False)
        self.plot.setLabel("left", "volts", units="V")
        self.plot.setLabel("bottom", "good cycle")
        # the axis counts cycles at times in seconds: no prefix belongs to them
        self.plot.getAxis("bottom").enableAutoSIPrefix(False)
        self.histogram.getAxis("bottom").enableAutoSIPrefix(False)
        self.histogram.setYLink(self.plot)
        self.histogram.hideAxis("left")
        self.histogram.setLabel("bottom", "share of time")
        across.addWidget(self.plot, 4)
        across.addWidget(self.histogram, 1)
        self._band = [self._region(plot) for plot in (self.plot, self.histogram)]
        self._rules = [pg.InfiniteLine(angle=0, label="") for _ in range(4)]
        for rule in self._rules:
            rule.label.anchors = [(0.5, 1.0), (0.5, 1.0)]
            self.plot.addItem(rule)
        self._outline = pg.LinearRegionItem(movable=False)
        self.plot.addItem(self._outline)
        self._curves = [self.plot.plot([], []) for _ in range(2)]
        self._bars = [pg.PlotCurveItem() for _ in range(2)]
        for bars in self._bars:
            self.histogram.addItem(bars)
        self._tags = pg.ScatterPlotItem()
        self.plot.addItem(self._tags)
        self.plot.getViewBox().sigXRangeChanged.connect(lambda *_: self._redraw())
        self.plot.getViewBox().sigResized.connect(lambda *_: self._redraw())
        self.setAccessibleName("Volts of both sides over the family's bands")

    @staticmethod
    def _region(plot: Any) -> Any:
        import pyqtgraph as pg

        region = pg.LinearRegionItem(orientation="horizontal", movable=False)
        plot.addItem(region)
        return region

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        self._dress()
        self._show_bars()

    def set_low(self, low: bool) -> None:
        """Gives all height to the plot: the words beside it go, and stay in its description."""
        self._low = low
        self.legend.setVisible(not low)
        for axis in (self.plot.getAxis("bottom"), self.histogram.getAxis("bottom"), self.plot.getAxis("left")):
            axis.showLabel(not low)

    def set_row(self, comparison: Comparison | None, row: SignalLevels | None) -> None:
        """Shows a signal, its first finding in the middle."""
        self._comparison, self._row = comparison, row
        self._sides = [None, None]
        if comparison is not None and row is not None:
            finding = comparison.signal(row.signal)
            to_suspect = TimeMap(comparison.lineup).to_suspect_ps if comparison.lineup else None
            if finding.good_volts is not None:
                self._sides[0] = VoltColumns(finding.good_volts), None
            if finding.suspect_volts is not None:
                self._sides[1] = VoltColumns(finding.suspect_volts), to_suspect
            self._frame()
        self._dress()
        self._show_bars()
        self._redraw()

    def _frame(self) -> None:
        row, comparison = self._row, self._comparison
        assert row is not None
        assert comparison is not None
        there = [side[0].trace for side in self._sides if side is not None]
        lowest = min(-0.6, *(float(t.volts.min()) for t in there))
        highest = max(4.2, *(float(t.volts.max()) for t in there))
        self.plot.setYRange(lowest - 0.1, highest + 0.1, padding=0)
        since = row.finding.since_cycle if row.finding is not None else None
        if since is None:
            since = next((v.cycle for v in row.violations if v.cycle is not None), None)
        edges = comparison.lineup.good_edges_ps
        if since is not None and len(edges) > 1:
            self.show_cycle(since)
        elif len(edges) > 2 * CYCLES_AROUND:
            self.show_cycle(len(edges) // 2, mark=False)
        else:
            self.show_span(there[0].start_ps, there[0].stop_ps)

    def show_span(self, start_ps: int, stop_ps: int) -> None:
        """Shows a stretch of the good side's time."""
        self.plot.setXRange(start_ps / PS_PER_S, max(stop_ps, start_ps + 1) / PS_PER_S, padding=0)

    def show_cycle(self, cycle: int, *, mark: bool = True) -> None:
        """Puts a good cycle in the middle, outlined."""
        assert self._comparison is not None
        edges = self._comparison.lineup.good_edges_ps
        first, last = np.clip([cycle - CYCLES_AROUND, cycle + CYCLES_AROUND + 1], 0, len(edges) - 1)
        k = min(max(cycle, 0), len(edges) - 2)
        self._outline.setVisible(mark)
        self._outline.setRegion((edges[k] / PS_PER_S, edges[k + 1] / PS_PER_S))
        self.show_span(int(edges[first]), int(edges[last]))
        self.cycleHere.emit(cycle)

    # ---- dressing

    def _dress(self) -> None:
        import pyqtgraph as pg
        from PySide6.QtGui import QBrush, QColor

        theme, row = self._theme, self._row
        judged = None if row is None else row.suspect or row.good
        for plot in (self.plot, self.histogram):
            plot.setBackground(theme.panel)
            for side in ("left", "bottom"):
                axis = plot.getAxis(side)
                axis.setPen(theme.rule_strong)
                axis.setTextPen(theme.muted)
                axis.setTickFont(plain_font(self._scale, 14))
                axis.label.setFont(plain_font(self._scale, 14))
        self._curves[0].setPen(pg.mkPen(theme.ink, width=1.2))
        self._curves[1].setPen(pg.mkPen(theme.suspect, width=2.4))
        self._outline.setBrush(pg.mkBrush(None))
        for line in self._outline.lines:
            line.setPen(pg.mkPen(theme.ink, width=2))
        self.histogram.setLabel("bottom", "share of time" if self._scale <= 1.3 else "share")
        self.set_low(self._low)
        self._tags.setSymbol("t1")
        self._tags.setSize(12 * self._scale)
        self._tags.setBrush(pg.mkBrush(theme.warning))
        self._tags.setPen(pg.mkPen(theme.panel))
        for item in (*self._band, *self._rules):
            item.setVisible(judged is not None)
        if judged is None:
            self.legend.setText("")
            return
        receiver, driver = judged.receiver, judged.driver
        for band in self._band:
            band.setRegion((receiver.vil_v, receiver.vih_v))
            band.setBrush(QBrush(QColor(theme.band), Qt.BrushStyle.Dense5Pattern))
            for line in band.lines:
                line.setPen(pg.mkPen(None))
        values = (
            ("VIL", receiver.vil_v, True), ("VIH", receiver.vih_v, True),
            ("VOL", driver.vol_v, False), ("VOH", driver.voh_v, False),
        )  # fmt: skip
        for rule, (word, volts, takes) in zip(self._rules, values, strict=True):
            rule.setPos(volts)
            style = Qt.PenStyle.SolidLine if takes else Qt.PenStyle.DashLine
            rule.setPen(pg.mkPen(theme.band_edge if takes else theme.muted, width=1.4, style=style))
            rule.label.setFormat(word if self._scale > 1.3 else f"{word} {volts:g} V")
            # promise and need stand close together: their words are at different ends
            rule.label.setPosition(0.95 - 0.06 * self._scale if takes else 0.05 + 0.06 * self._scale)
            rule.label.setColor(theme.ink)
            # words over a curve stay words
            rule.label.fill = pg.mkBrush(theme.panel)
            rule.label.setFont(plain_font(self._scale, 13))
        sides = [n for n, s in zip(("good thin", "suspect thick"), self._sides, strict=True) if s is not None]
        words = (
            f"{', '.join(sides)} · solid: the {receiver.name} input takes (VIL, VIH) · "
            f"dashed: the {driver.name} output promises (VOL, VOH)"
        )
        self.legend.setText(words)
        self.setAccessibleDescription(
            f"{words}; undefined from {format_volts(receiver.vil_v)} to {format_volts(receiver.vih_v)}"
        )

    def _show_bars(self) -> None:
        """Good to the left, suspect to the right of one line: the share of time at each level."""
        import pyqtgraph as pg

        row, theme = self._row, self._theme
        widest = 0.0
        sides = (row.good, row.suspect) if row is not None else (None, None)
        for k, (bars, side) in enumerate(zip(self._bars, sides, strict=True)):
            if side is None:
                bars.setData([], [])
                continue
            counts, edges = side.states.counts, side.states.edges_v
            # some neighbouring bins together, so that a level is a bar and no needle
            width = max(1, round(0.06 / max(float(edges[1] - edges[0]), 1e-6)))
            starts = np.arange(0, len(counts), width)
            share = np.sqrt(np.add.reduceat(counts, starts) / counts.sum())
            at = np.append(edges[starts], edges[-1])
            widest = max(widest, float(share.max()))
            sign = -1 if k == 0 else 1
            x = np.repeat(np.concatenate((share, [0.0])), 2)[:-1] * sign
            y = np.repeat(at, 2)[:-1]
            bars.setData(np.concatenate(([0], x, [0])), np.concatenate(([at[0]], y, [at[-1]])))
            bars.setPen(pg.mkPen(theme.ink if k == 0 else theme.suspect, width=1 if k == 0 else 1.6))
            colour = pg.mkColor(theme.suspect)
            colour.setAlpha(120)
            bars.setBrush(pg.mkBrush(None if k == 0 else colour))
            bars.setFillLevel("enclosed")
        self.histogram.setXRange(-widest * 1.1, widest * 1.1, padding=0)
        self.histogram.getAxis("bottom").setTicks([[(0, "0")]])

    def _redraw(self) -> None:
        start, stop = (round(s * PS_PER_S) for s in self.plot.getViewBox().viewRange()[0])
        if stop <= start:
            return
        width = max(50, int(self.plot.getViewBox().width()))
        step = max(1, -(-(stop - start) // width))
        edges = column_edges_ps(start - step, step, width + 2)
        for curve, side in zip(self._curves, self._sides, strict=True):
            if side is None:
                curve.setData([], [])
                continue
            columns, to_own = side
            curve.setData(*volt_line(columns, edges, to_own(edges) if to_own is not None else edges))
        self._number(start, stop)
        self._tag(start, stop)

    def _number(self, start: int, stop: int) -> None:
        """The axis below counts good cycles; without them it tells the time."""
        axis = self.plot.getAxis("bottom")
        edges = self._comparison.lineup.good_edges_ps if self._comparison is not None else np.empty(0, np.int64)
        if len(edges) < 2:
            axis.setTicks(None)
            return
        a, b = edges.searchsorted([start, stop]).tolist()
        stride = max(1, -(-(b - a) // 8))
        shown = range(a - a % stride, b, stride)
        axis.setTicks([[(edges[k] / PS_PER_S, group_digits(k)) for k in shown if k < len(edges)]])

    def _tag(self, start: int, stop: int) -> None:
        """A triangle above each violation in sight."""
        if self._row is None or self._comparison is None:
            self._tags.setData([], [])
            return
        lineup = self._comparison.lineup
        timemap = TimeMap(lineup) if lineup else None
        at: list[float] = []
        volts: list[float] = []
        for v in self._row.violations:
            if len(at) >= MOST_TAGS:
                break
            middle = np.array([(v.start_ps + v.stop_ps) // 2], np.int64)
            on_good = int(middle[0]) if v.side == "good" or timemap is None else int(timemap.to_good_ps(middle)[0])
            if start <= on_good <= stop:
                at.append(on_good / PS_PER_S)
                volts.append(v.volts + 0.25)
        self._tags.setData(at, volts)
