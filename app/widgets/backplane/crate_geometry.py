"""Where slots, rows and pins of a crate are drawn, and the way of a net between them: in the gaps, over no foreign pin.

The wiring side is the mirror of the card side: slot 1 at the right, row B left of row A.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from PySide6.QtCore import QPointF, QRectF

from app.case.values import CrateShape
from app.model.crate import PinSpot, columns

INNER = 0.62
"""The share of a slot's place that its connector takes; the rest is the gap in which nets run."""


@dataclass(frozen=True)
class CrateGeometry:
    """A crate drawn into ``width`` by ``height`` pixels; ``head``, ``left`` and ``foot`` are kept free."""

    crate: CrateShape
    wiring: bool
    width: float
    height: float
    head: float
    left: float
    foot: float

    @cached_property
    def _order(self) -> dict[tuple[int, str], int]:
        return {key: index for index, key in enumerate(columns(self.crate, wiring=self.wiring))}

    @property
    def slot_wide(self) -> float:
        """Pixels from one slot to the next."""
        return (self.width - self.left - 6) / self.crate.slots

    @property
    def step(self) -> float:
        """Pixels from one pin to the one below."""
        return (self.height - self.head - self.foot) / self.crate.pins

    def slot_box(self, slot: int) -> QRectF:
        """A slot's connector."""
        place = self.crate.slots - slot if self.wiring else slot - 1
        inner = INNER * self.slot_wide
        x = self.left + place * self.slot_wide + (self.slot_wide - inner) / 2
        return QRectF(x, self.head, inner, self.step * self.crate.pins)

    def row_x(self, slot: int, row: str) -> float:
        """The middle of a row of pins."""
        rows = len(self.crate.rows)
        box = self.slot_box(slot)
        return box.left() + box.width() * (self._order[slot, row] % rows + 0.5) / rows

    def place(self, spot: PinSpot) -> QPointF:
        """Where a pin is drawn."""
        return QPointF(self.row_x(spot.slot, spot.row), self.head + (spot.number - 0.5) * self.step)

    def way(self, one: PinSpot, other: PinSpot, lane: int = 0) -> list[QPointF]:
        """Corners of a line from pin to pin. ``lane`` moves it aside within the gaps, so that lines stay apart."""
        start, end = self.place(one), self.place(other)
        right = end.x() > start.x() or (end.x() == start.x() and self._outer(one) > 0)
        shift = (0.12 + 0.08 * (lane % 3)) * (1 - INNER) * self.slot_wide + 3
        leave = self._leaving(one, start, 1 if right else -1, shift)
        same = one.slot == other.slot
        arrive = self._leaving(other, end, 1 if right == same else -1, shift + 3)
        between = end.y() - self.step / 2 if end.y() >= start.y() else end.y() + self.step / 2
        middle = [QPointF(leave[-1].x(), between), QPointF(arrive[-1].x(), between)]
        return [start, *leave, *middle, *reversed(arrive), end]

    def _outer(self, spot: PinSpot) -> int:
        """-1 where a pin's row is the left one of its slot, 1 where it is the right one, 0 between."""
        rows = len(self.crate.rows)
        index = self._order[spot.slot, spot.row] % rows
        return -1 if index == 0 and rows > 1 else 1 if index == rows - 1 else 0

    def _leaving(self, spot: PinSpot, at: QPointF, towards: int, shift: float) -> list[QPointF]:
        """From a pin into the gap beside its slot, half a step off its row of pins where others lie on the way."""
        box = self.slot_box(spot.slot)
        x = box.right() + shift if towards > 0 else box.left() - shift
        if self._outer(spot) == towards or len(self.crate.rows) == 1:
            return [QPointF(x, at.y())]
        y = at.y() + self.step / 2
        return [QPointF(at.x(), y), QPointF(x, y)]
