"""The slots and pins of a bench card as a small map of the wiring side.

Only pins written as a row letter and a number can be placed. Seen from the wiring side the crate is mirrored: slot 1
is at the right, and row B left of row A. A slot is drawn open at its foot, since only the pins on the card are known.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

from app.case.card_rows import PIN

if TYPE_CHECKING:
    from app.case.values import BenchCard
    from app.report.bench_card_pen import Pen

MOST_SLOTS = 4
HEAD_MM, FOOT_MM, COLUMN_MM = 15.5, 2.0, 8.6
TITLE, CAPTION = "Wiring side, slot 1 at the right", "Pin 1 drawn at the top; square: captured"


@dataclass(frozen=True, slots=True)
class Spot:
    """One pin: slot, row letter and number."""

    slot: int
    row: str
    number: int

    @property
    def name(self) -> str:
        """The pin as it is printed, without its slot."""
        return f"{self.row}{self.number:02d}"


def spots_of(card: BenchCard) -> tuple[Spot, ...]:
    """The pins whose levels the card asks for, in the order of its rows; those without letter and number left out.

    Slots beyond the fourth are left out as well: they would not fit.
    """
    spots: list[Spot] = []
    for row in card.rows:
        if row.boxes == ("low", "high") and (spot := _spot(row.probe)) is not None:
            spots.append(spot)
    slots = list(dict.fromkeys(spot.slot for spot in spots))[:MOST_SLOTS]
    return tuple(dict.fromkeys(spot for spot in spots if spot.slot in slots))


def _spot(place: str) -> Spot | None:
    match = PIN.fullmatch(place)
    return Spot(int(match[1]), match[2], int(match[3])) if match else None


def wiring_side(spots: tuple[Spot, ...]) -> tuple[tuple[int, ...], tuple[str, ...]]:
    """Slots and row letters from left to right, both falling.

    >>> wiring_side((Spot(6, "B", 22), Spot(7, "B", 4), Spot(7, "A", 2)))
    ((7, 6), ('B', 'A'))
    """
    slots = sorted({spot.slot for spot in spots}, reverse=True)
    rows = {spot.row for spot in spots}
    # a row B has a row A beside it; rows far down the alphabet stand alone
    letters = rows if max(rows) > "D" else {chr(code) for code in range(ord("A"), ord(max(rows)) + 1)}
    return tuple(slots), tuple(sorted(letters, reverse=True))


def draw_map(pen: Pen, card: BenchCard, x: float, y: float, width: float, height: float, *, captured: str) -> None:
    """Draws the map into a ruled box; ``captured`` is the pin that gets the square."""
    spots = spots_of(card)
    slots, letters = wiring_side(spots)
    pen.box(x, y, width, height)
    pen.text(x + 2, y + 4.2, TITLE, 7.5)
    top, bottom = y + HEAD_MM, y + height - FOOT_MM
    last = max(spot.number for spot in spots)
    step = (bottom - top - 3) / max(1, last)
    pitch = (width - 9) / len(slots)
    inner = min(COLUMN_MM, 0.42 * pitch)
    size = 8.5 if len(slots) < MOST_SLOTS else 7
    for index, slot in enumerate(slots):
        left = x + 8 + index * pitch
        pen.text(left + inner / 2, y + 9.6, str(slot), 11, bold=True, anchor="middle")
        _column(pen, left, inner, letters, top, bottom, last, step)
        _spots(pen, [s for s in spots if s.slot == slot], letters, left, inner, top, step, captured, size)
    for number in sorted({1, last}):
        pen.text(x + 6.8, top + 2 + (number - 1) * step + 0.9, str(number), 7, bold=True, anchor="end")


def _column(
    pen: Pen, left: float, inner: float, letters: tuple[str, ...], top: float, bottom: float, last: int, step: float
) -> None:
    """One slot: its rows of pins as ticks, open at the foot."""
    for x1, x2, y1, y2 in (
        (left, left + inner, top, top), (left, left, top, bottom), (left + inner, left + inner, top, bottom)
    ):  # fmt: skip
        pen.line(x1, y1, x2, y2, 0.35)
    for place, letter in enumerate(letters):
        across = _across(left, inner, len(letters), place)
        pen.text(across, top - 1.2, letter, 7.5, bold=True, anchor="middle")
        # ticks nearer than a millimetre would print as a grey bar
        for number in range(1, last + 1, max(1, ceil(1.0 / step))):
            down = top + 2 + (number - 1) * step
            pen.line(across - 0.7, down, across + 0.7, down, 0.12)


def _spots(
    pen: Pen, spots: list[Spot], letters: tuple[str, ...], left: float, inner: float, top: float, step: float,
    captured: str, size: float,
) -> None:  # fmt: skip
    lowest = -1e9
    for spot in sorted(spots, key=lambda s: s.number):
        across = _across(left, inner, len(letters), letters.index(spot.row))
        down = top + 2 + (spot.number - 1) * step
        if spot == _spot(captured):
            pen.box(across - 0.9, down - 0.9, 1.8, 1.8, 0.1, ink=True)
        else:
            pen.disc(across, down, 1.0)
        # names of near pins move down, so that they do not touch
        base = max(down, lowest + 3.2)
        pen.line(across, down, left + inner + 1.2, base, 0.25)
        pen.text(left + inner + 1.5, base + 1.0, spot.name, size, bold=True)
        lowest = base


def _across(left: float, inner: float, count: int, place: int) -> float:
    return left + inner * (place + 0.5) / count
