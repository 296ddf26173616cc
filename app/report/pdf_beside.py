"""A flowable with something to its left: a mark before words, or the rail that ties what belongs together."""

from __future__ import annotations

from typing import Literal

from reportlab.platypus import Flowable

from app.report.palette import Colour
from app.report.pdf_surface import PdfSurface
from app.report.pdf_tags import marked
from app.report.shapes import Shape, paint_shape

Rail = Literal["", "cause", "strong", "entry"]
SHAPE_ROOM = 12.0
RAIL_ROOM = {"": 0.0, "cause": 10.0, "strong": 10.0, "entry": 32.0}


class Beside(Flowable):  # type: ignore[misc]
    """Draws ``inner`` moved right by ``indent``; the mark stands beside its first line, the rail runs along all of it.

    Broken over pages, the rail goes on and the mark stays with the first part. ``above`` and ``below`` are room that
    the rail runs through, so that it has no gaps; ``ruled`` draws a rule across the top; links jump to ``anchor``.
    """

    def __init__(
        self,
        inner: Flowable,
        indent: float,
        *,
        shape: Shape | None = None,
        colour: Colour = "ink",
        size: float = 9.0,
        rail: Rail = "",
        above: float = 0.0,
        below: float = 0.0,
        ruled: bool = False,
        anchor: str = "",
    ) -> None:
        super().__init__()
        self.inner, self.indent = inner, indent
        self.shape, self.colour, self.size = shape, colour, size
        self.rail, self.above, self.below = rail, above, below
        self.ruled, self.anchor = ruled, anchor

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Its size within a width and height in points."""
        _, tall = self.inner.wrap(width - self.indent, max(1.0, height - self.above - self.below))
        self.width, self.height = width, tall + self.above + self.below
        return self.width, self.height

    def split(self, width: float, height: float) -> list[Flowable]:
        """Its parts, the first no taller than ``height``; none where it cannot be broken there."""
        parts = self.inner.split(width - self.indent, height - self.above)
        below = self.below
        if len(parts) == 1:
            # all of it fits but for the room below
            below = max(0.0, height - self.above - parts[0].wrap(width - self.indent, height)[1])
        return [self._part(part, i == 0, below if i == len(parts) - 1 else 0.0) for i, part in enumerate(parts)]

    def _part(self, inner: Flowable, first: bool, below: float) -> Beside:
        """One part of it after a break; what stands at its top stays with the first."""
        made = Beside(inner, self.indent, colour=self.colour, size=self.size, rail=self.rail, below=below)
        if first:
            made.shape, made.above, made.ruled, made.anchor = self.shape, self.above, self.ruled, self.anchor
        return made

    def draw(self) -> None:
        """Draws it at the canvas's origin."""
        if self.anchor:
            self.canv.bookmarkHorizontal(self.anchor, 0, self.height)
        with marked(self.canv, None):
            self._draw_beside()
        self.inner.drawOn(self.canv, self.indent, self.below)

    def _draw_beside(self) -> None:
        """Rule, rail and mark: the words say the same."""
        surface = PdfSurface(self.canv, 0, self.height, 1, self.width)
        if self.ruled:
            surface.line(0, 0, self.width, 0, "rule_strong", 0.5)
        if self.rail == "entry":
            for x in (19, 21.5):
                surface.line(x, 0, x, self.height, "muted", 0.5)
        elif self.rail:
            strong = self.rail == "strong"
            surface.line(1, 0, 1, self.height, "ink" if strong else "rule_strong", 2.2 if strong else 1.2)
        if self.shape:
            left = 4.0 if self.rail == "entry" else 0.0
            paint_shape(surface, self.shape, left, self.above + 1.4, self.size, self.colour)
