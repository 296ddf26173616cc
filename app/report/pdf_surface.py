"""A figure on a page of a PDF: strokes in layout units, drawn as vectors with letters that go into the file."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from app.report.palette import PAD, Colour, Palette
from app.report.pdf_letters import BOLD, PLAIN, line_width, printable
from app.report.surface import HATCH_WEIGHT, hatch_lines

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

    from app.report.surface import Anchor, Point


class PdfSurface:
    """Draws on ``canvas`` with the upper left corner at ``left_pt``, ``top_pt`` (points, counted up from the lower left
    corner as a PDF does); one layout unit is ``scale`` points, and ``width`` layout units are to be filled."""

    def __init__(
        self, canvas: Canvas, left_pt: float, top_pt: float, scale: float, width: float, palette: Palette = PAD
    ) -> None:
        self.canvas, self.palette = canvas, palette
        self._left, self._top, self._scale, self._width = left_pt, top_pt, scale, width

    @property
    def width(self) -> float:
        """Layout units from its left to its right edge."""
        return self._width

    def _at(self, x: float, y: float) -> Point:
        return self._left + x * self._scale, self._top - y * self._scale

    def _pen(self, colour: Colour, weight: float, *, dashed: bool = False) -> None:
        from reportlab.lib.colors import HexColor

        self.canvas.setStrokeColor(HexColor(getattr(self.palette, colour)))
        self.canvas.setLineWidth(weight * self._scale)
        self.canvas.setLineJoin(1)
        self.canvas.setLineCap(0)
        self.canvas.setDash([4 * self._scale, 3 * self._scale] if dashed else [])

    def _ready(self, fill: Colour | None, edge: Colour | None, weight: float) -> dict[str, int]:
        """Sets fill and pen; which of both to use."""
        from reportlab.lib.colors import HexColor

        if fill is not None:
            self.canvas.setFillColor(HexColor(getattr(self.palette, fill)))
        if edge is not None:
            self._pen(edge, weight)
        return {"fill": int(fill is not None), "stroke": int(edge is not None)}

    def line(
        self, x1: float, y1: float, x2: float, y2: float, colour: Colour, weight: float, *, dashed: bool = False
    ) -> None:
        """A straight line; dashed on request."""
        self._pen(colour, weight, dashed=dashed)
        self.canvas.line(*self._at(x1, y1), *self._at(x2, y2))

    def polyline(self, points: Sequence[Point], colour: Colour, weight: float) -> None:
        """Joined lines with round corners, open and not filled."""
        self._pen(colour, weight)
        self.canvas.drawPath(self._path(points), stroke=1, fill=0)

    def _path(self, points: Sequence[Point]):  # type: ignore[no-untyped-def]
        path = self.canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._at(*point))
        return path

    def polygon(self, points: Sequence[Point], fill: Colour, edge: Colour | None = None, weight: float = 0.8) -> None:
        """A closed, filled shape with an edge or without one."""
        path = self._path(points)
        path.close()
        self.canvas.drawPath(path, **self._ready(fill, edge, weight))

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
        size = width * self._scale, height * self._scale
        self.canvas.rect(*self._at(x, y + height), *size, **self._ready(fill, edge, weight))

    def hatch(self, x: float, y: float, width: float, height: float, colour: Colour) -> None:
        """A box filled with lines at 45 degrees, with a thin edge."""
        self._pen(colour, HATCH_WEIGHT)
        for x1, y1, x2, y2 in hatch_lines(x, y, width, height):
            self.canvas.line(*self._at(x1, y1), *self._at(x2, y2))
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
        self.canvas.circle(*self._at(x, y), radius * self._scale, **self._ready(fill, edge, weight))

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
        from reportlab.lib.colors import HexColor

        width = self.text_width(words, size, bold=bold)
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        self.canvas.setFillColor(HexColor(getattr(self.palette, colour)))
        self.canvas.setFont(BOLD if bold else PLAIN, size * self._scale)
        self.canvas.drawString(*self._at(left, y), printable(words))
        if overline:
            self.line(left, y - 0.86 * size, left + width, y - 0.86 * size, colour, size / 12)

    def text_width(self, words: str, size: float, *, bold: bool = False) -> float:
        """How wide a line is in the font that goes into the file."""
        return line_width(words, size, bold=bold)
