"""The trace figure on the screen: the same painting as in the report, with the window's colours and letters."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from app.model.theme import LIGHT, Theme
from app.report.figure import WIDE, FigurePlan, paint_plan, plan_figure
from app.report.surface import HATCH_WEIGHT, hatch_lines
from app.widgets.controls.painting import painting

if TYPE_CHECKING:
    from app.report.palette import Colour
    from app.report.surface import Anchor, Point
    from tracecore.comparison import Comparison

UNIT_PX = 1.25
"""Pixels of a layout unit at 100 %: the smallest letters (12 units) are 15 pixels high."""


class QtSurface:
    """Draws with a painter whose unit is one layout unit; ``width`` of them are to be filled."""

    def __init__(self, painter: QPainter, width: float, theme: Theme = LIGHT) -> None:
        self.painter, self._width, self.theme = painter, width, theme

    @property
    def width(self) -> float:
        """Layout units from its left to its right edge."""
        return self._width

    def _pen(self, colour: Colour, weight: float, *, dashed: bool = False) -> None:
        pen = QPen(QColor(getattr(self.theme, colour)), weight)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        if dashed:
            pen.setDashPattern([4 / weight, 3 / weight])
        self.painter.setPen(pen)
        self.painter.setBrush(Qt.BrushStyle.NoBrush)

    def _ready(self, fill: Colour | None, edge: Colour | None, weight: float) -> None:
        if edge is None:
            self.painter.setPen(Qt.PenStyle.NoPen)
        else:
            self._pen(edge, weight)
        self.painter.setBrush(Qt.BrushStyle.NoBrush if fill is None else QColor(getattr(self.theme, fill)))

    def line(
        self, x1: float, y1: float, x2: float, y2: float, colour: Colour, weight: float, *, dashed: bool = False
    ) -> None:
        """A straight line; dashed on request."""
        self._pen(colour, weight, dashed=dashed)
        self.painter.drawLine(QPointF(x1, y1), QPointF(x2, y2))

    def polyline(self, points: Sequence[Point], colour: Colour, weight: float) -> None:
        """Joined lines with round corners, open and not filled."""
        self._pen(colour, weight)
        self.painter.drawPolyline(QPolygonF([QPointF(*point) for point in points]))

    def polygon(self, points: Sequence[Point], fill: Colour, edge: Colour | None = None, weight: float = 0.8) -> None:
        """A closed, filled shape with an edge or without one."""
        self._ready(fill, edge, weight)
        self.painter.drawPolygon(QPolygonF([QPointF(*point) for point in points]))

    def rect(
        self,
        x: float,
        y: float,
        width: float,
        height: float,
        fill: Colour | None = None,
        edge: Colour | None = None,
        weight: float = 1.0,
    ) -> None:
        """A box with square corners."""
        self._ready(fill, edge, weight)
        self.painter.drawRect(QRectF(x, y, width, height))

    def hatch(self, x: float, y: float, width: float, height: float, colour: Colour) -> None:
        """A box filled with lines at 45 degrees, with a thin edge."""
        self._pen(colour, HATCH_WEIGHT)
        for x1, y1, x2, y2 in hatch_lines(x, y, width, height):
            self.painter.drawLine(QPointF(x1, y1), QPointF(x2, y2))
        self.rect(x, y, width, height, None, colour, 0.8)

    def circle(
        self,
        x: float,
        y: float,
        radius: float,
        fill: Colour | None = None,
        edge: Colour | None = None,
        weight: float = 1.8,
    ) -> None:
        """A circle; a ring where its fill is the paper's."""
        self._ready(fill, edge, weight)
        self.painter.drawEllipse(QPointF(x, y), radius, radius)

    def _font(self, size: float, bold: bool) -> QFont:
        font = QFont(self.painter.font())
        font.setPixelSize(round(size))
        font.setBold(bold)
        return font

    def text(
        self,
        x: float,
        y: float,
        words: str,
        colour: Colour,
        size: float,
        *,
        anchor: Anchor = "start",
        bold: bool = False,
        overline: bool = False,
    ) -> None:
        """One line of letters with its base line at ``y``; an overline for names that are active low."""
        width = self.text_width(words, size, bold=bold)
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        self._pen(colour, size / 12)
        self.painter.setFont(self._font(size, bold))
        self.painter.drawText(QPointF(left, y), words)
        if overline:
            self.painter.drawLine(QPointF(left, y - 0.9 * size), QPointF(left + width, y - 0.9 * size))

    def text_width(self, words: str, size: float, *, bold: bool = False) -> float:
        """How wide a line is in the painter's font."""
        return QFontMetricsF(self._font(size, bold)).horizontalAdvance(words)


class FigureView(QWidget):
    """Shows one figure as wide as it is itself; its height follows. Empty until ``show_figure`` finds one."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._scale = LIGHT, 1.0
        self._plan: FigurePlan | None = None
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def set_theme(self, theme: Theme, scale: float = 1.0) -> None:
        """Takes colours and text size."""
        self._theme, self._scale = theme, scale
        self.updateGeometry()
        self.update()

    def show_figure(
        self,
        comparison: Comparison | None,
        signal: str,
        *,
        cycle: int | None = None,
        rows: Sequence[str] | None = None,
    ) -> bool:
        """Plans the figure; False, and nothing shown, where there is none."""
        self._plan = None if comparison is None else plan_figure(comparison, signal, cycle=cycle, rows=rows)
        self.setAccessibleName(self._plan.title if self._plan else f"No figure of {signal}")
        self.updateGeometry()
        self.update()
        return self._plan is not None

    @property
    def _unit_px(self) -> float:
        return UNIT_PX * self._scale

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return round(self._plan.height * self._unit_px) if self._plan else 0

    def sizeHint(self) -> QSize:
        width = round(WIDE.width * self._unit_px * 0.6)
        return QSize(width, self.heightForWidth(width))

    def minimumSizeHint(self) -> QSize:
        return QSize(round(360 * self._scale), self.heightForWidth(0))

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._plan is None:
            return
        with painting(self) as painter:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.scale(self._unit_px, self._unit_px)
            width = self.width() / self._unit_px
            paint_plan(QtSurface(painter, width, self._theme), self._plan.as_wide(width))
