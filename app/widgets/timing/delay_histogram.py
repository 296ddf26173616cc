"""How often each delay comes: good above the line, suspect below it, over the setup window."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtWidgets import QVBoxLayout, QWidget

from app.model.theme import LIGHT, Theme
from app.widgets.controls.signal_name import plain_font

if TYPE_CHECKING:
    from tracecore.compare.timing_comparison import SignalTiming

BINS = 24


class DelayHistogram(QWidget):
    """A plot with an axis in nanoseconds."""

    def __init__(self) -> None:
        super().__init__()
        import pyqtgraph as pg

        self._theme: Theme = LIGHT
        self._scale = 1.0
        self._row: SignalTiming | None = None
        self._period_ps = 1
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        self.plot: Any = pg.PlotWidget(self)
        self.plot.setMenuEnabled(False)
        self.plot.hideButtons()
        self.plot.setMouseEnabled(x=False, y=False)
        self.plot.hideAxis("left")
        self.plot.setLabel("bottom", "delay: good above, suspect below, ns")
        self._window = pg.LinearRegionItem(movable=False)
        self.plot.addItem(self._window)
        self._edge = pg.InfiniteLine(angle=90)
        self._zero = pg.InfiniteLine(angle=0)
        self.plot.addItem(self._edge)
        self.plot.addItem(self._zero)
        self._bars = [pg.BarGraphItem(x=[], height=[], width=1) for _ in range(2)]
        for bars in self._bars:
            self.plot.addItem(bars)
        down.addWidget(self.plot)
        self.setAccessibleName("Transitions by delay")

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        self.setFixedHeight(round(190 * min(scale, 1.5)))
        self.set_row(self._row, self._period_ps)

    def set_row(self, row: SignalTiming | None, period_ps: int) -> None:
        """Shows a signal."""
        import pyqtgraph as pg

        self._row, self._period_ps, theme = row, max(1, period_ps), self._theme
        self.plot.setBackground(theme.panel)
        axis = self.plot.getAxis("bottom")
        axis.setPen(theme.rule_strong)
        axis.setTextPen(theme.muted)
        axis.setTickFont(plain_font(self._scale, 13))
        axis.label.setFont(plain_font(self._scale, 13))
        self._edge.setPen(pg.mkPen(theme.ink, width=1.4))
        self._zero.setPen(pg.mkPen(theme.muted, width=1))
        self._edge.setPos(period_ps / 1000)
        limits = None if row is None else row.limits
        self._window.setVisible(limits is not None and bool(limits.setup_ps))
        if limits is not None and limits.setup_ps:
            self._window.setRegion(((period_ps - limits.setup_ps) / 1000, period_ps / 1000))
            self._window.setBrush(pg.mkBrush(theme.band))
            for line in self._window.lines:
                line.setPen(pg.mkPen(None))
        sides = [] if row is None else [s for s in (row.good, row.suspect) if s is not None and s.count]
        for bars in self._bars:
            bars.setOpts(x=[], height=[], width=1)
        if row is None or not sides:
            return
        low = min(s.least_ps or 0 for s in sides)
        high = max(max(s.most_ps or 0 for s in sides), low + 1)
        # a bin is at least a sample, or a comb would be drawn
        width = max((high - low) / BINS, max(s.resolution_ps for s in sides))
        edges = np.arange(low - width / 2, high + width, width)
        tallest = 0.0
        for bars, side, sign in zip(self._bars, (row.good, row.suspect), (1, -1), strict=True):
            if side is None or not side.count:
                continue
            counts = np.histogram(side.delays_ps, bins=edges)[0]
            # the square root keeps a few late ones in sight beside thousands
            share = np.sqrt(counts / side.count)
            tallest = max(tallest, float(share.max()))
            colour = theme.ink if sign > 0 else theme.suspect
            bars.setOpts(
                x=(edges[:-1] + width / 2) / 1000,
                height=sign * share,
                width=width * 0.86 / 1000,
                pen=pg.mkPen(colour, width=1.2),
                brush=pg.mkBrush(theme.panel if sign > 0 else colour),
            )
        self.plot.setYRange(-tallest * 1.1, tallest * 1.1, padding=0)
        right = max(high + width, period_ps * 1.02 if high > period_ps * 0.5 else high + width)
        self.plot.setXRange((low - width) / 1000, right / 1000, padding=0)
