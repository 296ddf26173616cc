"""Where the rows of the paired traces stand, in pixels. Nothing here imports Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

ROW, LEAST_ROW, NUMBERS, MARKS = 66, 52, 30, 28
"""Height of a row at 100 %, how far it may be pressed together, the bands of the cycle numbers and of the marks."""


@dataclass(frozen=True, slots=True)
class Geometry:
    """Sizes for one text scale; ``row`` is the height of every row, ``gutter`` the width of the names.

    ``marked`` gives the marks a band of their own under the cycle numbers.
    """

    scale: float = 1.0
    gutter: int = 130
    row: int = ROW
    marked: bool = False

    @property
    def numbers(self) -> int:
        """Height of the band of cycle numbers."""
        return round(NUMBERS * self.scale)

    @property
    def top(self) -> int:
        """Where the first row begins."""
        return round((NUMBERS + MARKS * self.marked) * self.scale)

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


def fitted(scale: float, gutter: int, rows: int, height: int, marked: bool = False) -> Geometry:
    """Rows share the height, from their least to their full size."""
    room = (height - (NUMBERS + MARKS * marked) * scale) / max(1, rows)
    return Geometry(scale, gutter, round(min(max(room, LEAST_ROW * scale), ROW * scale)), marked)


def spread(lefts: Sequence[float], widths: Sequence[float], low: float, high: float, gap: float = 3) -> list[float]:
    """Boxes beside one another between ``low`` and ``high``, in the order of their wanted middles.

    Each stands where it wants to, or as near as the others let it. Where they do not fit they overhang ``high``.

    >>> spread([0, 5, 90], [10, 10, 10], 0, 100)
    [0, 13, 90]
    >>> spread([95, 95], [10, 10], 0, 100)
    [77, 90]
    """
    order = sorted(range(len(lefts)), key=lambda i: 2 * lefts[i] + widths[i])
    placed = list(lefts)
    end = low
    for i in order:
        placed[i] = max(placed[i], end)
        end = placed[i] + widths[i] + gap
    end = high
    for i in reversed(order):
        placed[i] = min(placed[i], end - widths[i])
        end = placed[i] - gap
    end = low
    for i in order:
        placed[i] = max(placed[i], end)
        end = placed[i] + widths[i] + gap
    return placed
