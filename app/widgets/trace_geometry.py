"""Where the rows of the paired traces stand, in pixels. Nothing here imports Qt."""

from __future__ import annotations

from dataclasses import dataclass

ROW, LEAST_ROW, TOP = 66, 52, 30
"""Height of a row at 100 %, how far it may be pressed together, and the band of the cycle numbers."""


@dataclass(frozen=True, slots=True)
class Geometry:
    """Sizes for one text scale; ``row`` is the height of every row, ``gutter`` the width of the names."""

    scale: float = 1.0
    gutter: int = 130
    row: int = ROW

    @property
    def top(self) -> int:
        """Height of the band of cycle numbers."""
        return round(TOP * self.scale)

    @property
    def swing(self) -> int:
        """From a high level to a low one."""
        return self.row // 4

    @property
    def gap(self) -> int:
        """From the good side's low to the suspect's high."""
        return round(self.row * 0.19)

    @property
    def good_high(self) -> int:
        """The good side's high level, from the top of its row."""
        return (self.row - 2 * self.swing - self.gap) // 2

    @property
    def good_low(self) -> int:
        """The good side's low level."""
        return self.good_high + self.swing

    @property
    def suspect_high(self) -> int:
        """The suspect's high level."""
        return self.good_low + self.gap

    @property
    def suspect_low(self) -> int:
        """The suspect's low level."""
        return self.suspect_high + self.swing

    @property
    def good_px(self) -> int:
        """Thickness of the good side's line."""
        return max(1, round(0.9 * self.scale))

    @property
    def suspect_px(self) -> int:
        """Thickness of the suspect's line: twice the good side's, or nearly."""
        return max(2, round(2 * self.scale))


def fitted(scale: float, gutter: int, rows: int, height: int) -> Geometry:
    """Rows share the height, from their least to their full size."""
    room = (height - TOP * scale) / max(1, rows)
    return Geometry(scale, gutter, round(min(max(room, LEAST_ROW * scale), ROW * scale)))
