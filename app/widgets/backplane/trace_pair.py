"""The two traces of one signal, small: good thin above, suspect thick below, hatched where they differ."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QSize
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.theme import Theme
from app.report.figure import FigurePlan, FigureStyle, paint_pair, plan_figure
from app.widgets.controls.figure_view import QtSurface
from app.widgets.controls.painting import painting

if TYPE_CHECKING:
    from tracecore.comparison import Comparison

STYLE = FigureStyle(300, 2, 2, 0, 34, 10, 3, 19, grid_weight=0.3, numbers=False)
HIGH = 36


class TracePair(QWidget):
    """Empty where the signal was not captured on both sides, or nothing lines up."""

    def __init__(self, theme: Theme, scale: float) -> None:
        super().__init__()
        self._theme, self._scale = theme, scale
        self.plan: FigurePlan | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def show_signal(self, comparison: Comparison | None, signal: str, cycle: int | None) -> bool:
        """Takes the signal's traces around a good cycle; False where there are none."""
        self.plan = None
        if comparison is not None and signal:
            self.plan = plan_figure(comparison, signal, cycle=cycle, rows=(signal,), style=STYLE)
        self.setVisible(self.plan is not None)
        if self.plan is not None:
            self.setAccessibleName(self.plan.title)
        self.update()
        return self.plan is not None

    def sizeHint(self) -> QSize:
        return QSize(round(200 * self._scale), round(HIGH * self._scale))

    def minimumSizeHint(self) -> QSize:
        return QSize(round(120 * self._scale), round(HIGH * self._scale))

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.plan is None:
            return
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.scale(self._scale, self._scale)
            width = self.width() / self._scale
            paint_pair(QtSurface(painter, width, self._theme), self.plan.as_wide(width))
