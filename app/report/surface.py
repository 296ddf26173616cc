"""What a figure is painted on: a few strokes that paper, screen and page understand alike.

Units are layout units, x to the right and y down; sizes of letters are in the same units. Colours are named by what
they stand for (fields of a ``Palette``), so that light, dark and black alone are one painting.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape
from typing import Literal, Protocol

from app.report.palette import PAD, Colour, Palette

Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]
Stroke = tuple[float, float, float, float]

HATCH_STEP = 7.0
HATCH_WEIGHT = 1.6


class Surface(Protocol):
    """Takes strokes in layout units."""

    @property
    def width(self) -> float:
        """Layout units from its left to its right edge."""

    def line(self, x1: float, y1: float, x2: float, y2: float, colour: Colour, weight: float, *, dashed: bool) -> None:
        """A straight line; dashed on request."""

    def polyline(self, points: Sequence[Point], colour: Colour, weight: float) -> None:
        """Joined lines with round corners, open and not filled."""

    def polygon(self, points: Sequence[Point], fill: Colour, edge: Colour | None, weight: float) -> None:
        """A closed, filled shape with an edge or without one."""

    def rect(
        self, x: float, y: float, width: float, height: float, fill: Colour | None, edge: Colour | None, weight: float
    ) -> None:
        """A box with square corners."""

    def hatch(self, x: float, y: float, width: float, height: float, colour: Colour) -> None:
        """A box filled with lines at 45 degrees, with a thin edge."""

    def circle(
        self, x: float, y: float, radius: float, fill: Colour | None, edge: Colour | None, weight: float
    ) -> None:
        """A circle; a ring where its fill is the paper's."""

    def text(
        self, x: float, y: float, words: str, colour: Colour, size: float, *, anchor: Anchor, bold: bool, overline: bool
    ) -> None:
        """One line of letters with its base line at ``y``; an overline for names that are active low."""

    def text_width(self, words: str, size: float, *, bold: bool) -> float:
        """How wide a line would be."""


def fitted(surface: Surface, words: str, width: float, size: float, *, bold: bool) -> str:
    """The words, shortened in their middle where they are wider than ``width``."""
    kept = words
    while len(kept) > 3 and surface.text_width(kept, size, bold=bold) > width:
        cut = len(kept) - (2 if "…" in kept else 1)
        kept = words[: (cut + 1) // 2] + "…" + words[len(words) - cut // 2 :]
    return kept


def hatch_lines(x: float, y: float, width: float, height: float, step: float = HATCH_STEP) -> Iterator[Stroke]:
    """The parts of rising lines (``x + y`` constant) ``step`` apart that lie inside a box, each as x1, y1, x2, y2.

    Lines are counted from the origin, so that the hatching of boxes side by side runs on.

    >>> [tuple(round(c, 1) for c in line) for line in hatch_lines(1, 1, 4, 4, step=3)]
    [(1, 3.2, 3.2, 1.0), (3.5, 5.0, 5, 3.5)]
    """
    gap = step * 2**0.5
    index = int((x + y) // gap)
    while index * gap < x + y + width + height:
        total = index * gap
        left, right = max(x, total - y - height), min(x + width, total - y)
        if left < right:
            yield left, total - left, right, total - right
        index += 1


class SvgSurface:
    """Collects strokes as SVG elements. ``name`` makes the hatch pattern's id, so it differs within one page."""

    def __init__(self, width: float, palette: Palette = PAD, name: str = "figure") -> None:
        self._width, self.palette, self.name = width, palette, name
        self.parts: list[str] = []

    @property
    def width(self) -> float:
        """Layout units from its left to its right edge."""
        return self._width

    def svg(self, height: float, title: str, kind: str = "traces") -> str:
        """The whole picture."""
        hatch = (
            f'<defs><pattern id="{self.name}-hatch" width="{HATCH_STEP:g}" height="{HATCH_STEP:g}" '
            f'patternUnits="userSpaceOnUse" patternTransform="rotate(-45)"><line x1="0" y1="0" x2="{HATCH_STEP:g}" '
            f'y2="0" stroke="{self.palette.suspect}" stroke-width="{HATCH_WEIGHT}"/></pattern></defs>'
        )
        used = any(f"url(#{self.name}-hatch)" in part for part in self.parts)
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self._width:g} {height:g}" role="img" '
            f'class="{kind}" font-family="DejaVu Sans, Verdana, sans-serif">'
        )
        return "\n".join([head, f"<title>{escape(title)}</title>", *([hatch] if used else []), *self.parts, "</svg>"])

    def _colours(self, fill: Colour | None, edge: Colour | None, weight: float) -> str:
        filled = "none" if fill is None else getattr(self.palette, fill)
        return f'fill="{filled}"' + (
            f' stroke="{getattr(self.palette, edge)}" stroke-width="{weight:g}"' if edge else ""
        )

    def line(
        self, x1: float, y1: float, x2: float, y2: float, colour: Colour, weight: float, *, dashed: bool = False
    ) -> None:
        """A straight line; dashed on request."""
        dashes = ' stroke-dasharray="4 3"' if dashed else ""
        self.parts.append(
            f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{getattr(self.palette, colour)}" '
            f'stroke-width="{weight:g}"{dashes}/>'
        )

    def polyline(self, points: Sequence[Point], colour: Colour, weight: float) -> None:
        """Joined lines with round corners, open and not filled."""
        path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        self.parts.append(
            f'<polyline points="{path}" fill="none" stroke="{getattr(self.palette, colour)}" '
            f'stroke-width="{weight:g}" stroke-linejoin="round"/>'
        )

    def polygon(self, points: Sequence[Point], fill: Colour, edge: Colour | None = None, weight: float = 0.8) -> None:
        """A closed, filled shape with an edge or without one."""
        path = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
        self.parts.append(f'<path d="M{path}z" {self._colours(fill, edge, weight)}/>')

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
        place = f'x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"'
        self.parts.append(f"<rect {place} {self._colours(fill, edge, weight)}/>")

    def hatch(self, x: float, y: float, width: float, height: float, colour: Colour) -> None:
        """A box filled with lines at 45 degrees, with a thin edge."""
        self.parts.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="url(#{self.name}-hatch)" '
            f'stroke="{getattr(self.palette, colour)}" stroke-width="0.8"/>'
        )

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
        self.parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius:g}" {self._colours(fill, edge, weight)}/>')

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
        over = ' text-decoration="overline"' if overline else ""
        weight = "bold" if bold else "normal"
        self.parts.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" font-weight="{weight}" text-anchor="{anchor}" '
            f'fill="{getattr(self.palette, colour)}"{over}>{escape(words)}</text>'
        )

    def text_width(self, words: str, size: float, *, bold: bool = False) -> float:
        """An estimate: whoever shows the picture chooses the font."""
        return len(words) * size * (0.66 if bold else 0.6)
