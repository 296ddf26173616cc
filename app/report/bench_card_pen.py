"""Draws on a sheet of paper in black alone: millimetres from its upper left corner, sizes of letters in points.

The letters are embedded, so that the sheet prints alike everywhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from app.report.pdf_letters import BOLD, PLAIN, known_letters, line_width, printable

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas

    from app.report.pdf_tags import Element, Role

MM = 72 / 25.4
"""Points in a millimetre."""
LEAST_PT = 7.0
"""No letter on the sheet is smaller."""


@dataclass(frozen=True, slots=True)
class Block:
    """Lines of one size in points."""

    lines: tuple[str, ...]
    size: float

    @property
    def leading(self) -> float:
        """Millimetres from one base line to the next."""
        return 1.25 * self.size / MM


class Pen:
    """Draws on one page of a canvas that is ``height_mm`` high. Words belong to the part that they are written in, and
    strokes to none but a figure: screen readers go by the parts."""

    def __init__(self, canvas: Canvas, height_mm: float) -> None:
        known_letters()
        self.canvas, self.height_mm = canvas, height_mm
        self._part: Element | None = None
        self._in_figure = False
        canvas.setStrokeColorRGB(0, 0, 0)
        canvas.setFillColorRGB(0, 0, 0)

    @contextmanager
    def part(self, role: Role, *, alt: str = "", scope: Literal["", "Row", "Column"] = "") -> Iterator[None]:
        """What is written meanwhile is a part of that role, inside the part that is open now."""
        from app.report.pdf_tags import Element

        outer = self._part
        self._part = Element(role, outer, alt=alt, scope=scope)
        yield
        self._part = outer

    @contextmanager
    def figure(self, alt: str) -> Iterator[None]:
        """What is drawn and written meanwhile is one figure; ``alt`` is read in its place."""
        from app.report.pdf_tags import Element, marked

        with marked(self.canvas, Element("Figure", self._part, alt=alt)):
            self._in_figure = True
            yield
            self._in_figure = False

    def _marked(self, part: Element | None) -> AbstractContextManager[None]:
        from app.report.pdf_tags import marked

        return nullcontext() if self._in_figure else marked(self.canvas, part)

    @staticmethod
    def _paragraph() -> Element:
        from app.report.pdf_tags import Element

        return Element("P")

    def up(self, y_mm: float) -> float:
        """Points from the lower edge of the page."""
        return (self.height_mm - y_mm) * MM

    def line(self, x1: float, y1: float, x2: float, y2: float, weight: float = 0.25) -> None:
        """A straight line; ``weight`` in millimetres."""
        with self._marked(None):
            self.canvas.setLineWidth(weight * MM)
            self.canvas.line(x1 * MM, self.up(y1), x2 * MM, self.up(y2))

    def box(self, x: float, y: float, width: float, height: float, weight: float = 0.35, *, ink: bool = False) -> None:
        """A ruled box with its upper left corner at ``x``, ``y``; ``ink`` fills it with black."""
        with self._marked(None):
            self.canvas.setLineWidth(weight * MM)
            self.canvas.rect(x * MM, self.up(y + height), width * MM, height * MM, stroke=1, fill=int(ink))

    def disc(self, x: float, y: float, radius: float) -> None:
        """A filled disc."""
        with self._marked(None):
            self.canvas.circle(x * MM, self.up(y), radius * MM, stroke=0, fill=1)

    def triangle(self, x: float, base: float, width: float) -> None:
        """A filled warning triangle with a mark in it, centred at ``x`` and standing on ``base``."""
        path, height = self.canvas.beginPath(), 0.9 * width
        path.moveTo((x - width / 2) * MM, self.up(base))
        path.lineTo((x + width / 2) * MM, self.up(base))
        path.lineTo(x * MM, self.up(base - height))
        path.close()
        with self._marked(None):
            self.canvas.drawPath(path, stroke=0, fill=1)
            self.canvas.setFillColorRGB(1, 1, 1)
            self.canvas.rect((x - 0.25) * MM, self.up(base - 1.3), 0.5 * MM, 1.4 * MM, stroke=0, fill=1)
            self.canvas.rect((x - 0.25) * MM, self.up(base - 0.5), 0.5 * MM, 0.5 * MM, stroke=0, fill=1)
            self.canvas.setFillColorRGB(0, 0, 0)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float = 9,
        *,
        bold: bool = False,
        anchor: Literal["start", "middle", "end"] = "start",
        paper: bool = False,
        overline: bool = False,
    ) -> float:
        """Writes one line with its base at ``y``; returns its width. ``paper`` writes white on a filled box."""
        words = printable(words)
        width = self.width(words, size, bold)
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        with self._marked(self._part or self._paragraph()):
            self.canvas.setFont(BOLD if bold else PLAIN, size)
            if paper:
                self.canvas.setFillColorRGB(1, 1, 1)
            self.canvas.drawString(left * MM, self.up(y), words)
            self.canvas.setFillColorRGB(0, 0, 0)
        if overline:
            top = y - 0.85 * size / MM
            self.line(left, top, left + width, top, 0.3)
        return width

    @staticmethod
    def width(words: str, size: float, bold: bool = False) -> float:
        """How wide a line is, in millimetres."""
        return line_width(words, size, bold=bold) / MM

    def wrapped(self, words: str, width: float, size: float, bold: bool = False) -> list[str]:
        """The words in lines that fit ``width``; broken at spaces, and within a word only where it is wider."""
        lines: list[str] = []
        for paragraph in printable(words).split("\n"):
            line = ""
            for word in paragraph.split(" "):
                joined = f"{line} {word}" if line else word
                while self.width(joined, size, bold) > width:
                    if line:
                        lines.append(line)
                        joined, line = word, ""
                        continue
                    fits = next(
                        n for n in range(len(word), 0, -1) if n == 1 or self.width(word[:n], size, bold) <= width
                    )
                    if fits == len(word):
                        break
                    lines.append(word[:fits])
                    joined = word = word[fits:]
                line = joined
            lines.append(line)
        return lines

    def fitted(self, words: str, width: float, most: int, sizes: tuple[float, ...], bold: bool = False) -> Block:
        """The words at the first of ``sizes`` at which they take ``most`` lines; else the last size, cut with dots."""
        for size in sizes:
            lines = self.wrapped(words, width, size, bold)
            if len(lines) <= most:
                return Block(tuple(lines), size)
        kept = lines[:most]
        while kept[-1] and self.width(kept[-1] + "…", sizes[-1], bold) > width:
            kept[-1] = kept[-1][:-1]
        return Block((*kept[:-1], kept[-1] + "…"), sizes[-1])
