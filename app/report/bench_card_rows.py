"""The rows of a bench card: POWER OFF and POWER ON, each under its own boxes to tick, never mixed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from app.case.card_rows import card_slots
from app.report.bench_card_layout import BAR_MM, BOX_MM, FAIR_ROW_MM, GAP_MM, HEADING_MM
from app.report.bench_card_pen import LEAST_PT, Pen

if TYPE_CHECKING:
    from app.case.values import BenchCard, CardRow

PROBE_MM, HOW_MM, GOOD_MM, READS_MM = 10.0, 37.5, 83.5, 124.0
"""Where the columns begin, from the left margin; what is right of the last stretches with the sheet."""
_SIZES = (9.0, 8.5, 8.0, 7.5, LEAST_PT)
_TICK_MM = 4.1
MOST_NAMED = 8
"""Slots named beside their box to tick; more stand in the rows alone."""


class RowBlocks:
    """Draws both blocks at ``left``, ``width`` wide; ``good`` and ``suspect`` name the two units."""

    def __init__(self, pen: Pen, card: BenchCard, left: float, width: float, good: str, suspect: str) -> None:
        self.pen, self.card, self.left, self.width = pen, card, left, width
        self.good, self.suspect = good, suspect

    def draw(self, y: float, height: float) -> float:
        """Draws from ``y`` down with rows ``height`` high; returns where it ends."""
        slots = card_slots(self.card)
        words = f"slot{'s' if len(slots) > 1 else ''} {', '.join(slots)}"
        if not 0 < len(slots) <= MOST_NAMED:
            words = "these slots"
        y = self._block("off", ("unplugged", "supplies bled", "proved dead", f"cards out of {words}"), y, height)
        return self._block("on", ("cards seated", "clips set before switching on", "scope earth known"), y, height)

    def _block(self, power: Literal["off", "on"], ticks: tuple[str, ...], y: float, height: float) -> float:
        y = self._bar(f"POWER {power.upper()}", ticks, y)
        with self.pen.part("Table"):
            if power == "off":
                with self.pen.part("TR"):
                    self._headings(y)
                y += HEADING_MM
            for index, row in enumerate(self.card.rows):
                if row.power == power:
                    filled = self.card.filled[index] if index < len(self.card.filled) else ()
                    with self.pen.part("TR"):
                        self._row(index + 1, row, filled, y, height)
                    y += height
        return y + GAP_MM

    def _bar(self, title: str, ticks: tuple[str, ...], y: float) -> float:
        pen = self.pen
        pen.box(self.left, y, self.width, BAR_MM)
        pen.box(self.left, y, 30, BAR_MM, ink=True)
        with pen.part("H2"):
            pen.text(self.left + 15, y + 5.1, title, 10, bold=True, anchor="middle", paper=True)
        sizes = (9.5, 9.0, 8.5, 8.0, 7.5, LEAST_PT)
        room = self.width - 33.5
        size = next((s for s in sizes if sum(pen.width(t, s) + 10.5 for t in ticks) < room), LEAST_PT)
        x = self.left + 33.5
        for words in ticks:
            x += tick_box(pen, x, y + 5.1, words, size) + 4.5
        return y + BAR_MM

    def _headings(self, y: float) -> None:
        for at, words, wide in (
            (PROBE_MM, "Probe", HOW_MM - PROBE_MM),
            (HOW_MM, "How", GOOD_MM - HOW_MM),
            (GOOD_MM, self.good, READS_MM - GOOD_MM - 2),
            (READS_MM, f"{self.suspect} reads", self.width - READS_MM),
        ):
            fitted = self.pen.fitted(words, wide, 1, (8.5, 8.0, LEAST_PT))
            with self.pen.part("TH", scope="Column"):
                self.pen.text(self.left + at, y + 3.9, fitted.lines[0], fitted.size)

    def _row(self, number: int, row: CardRow, filled: tuple[str, ...], y: float, height: float) -> None:
        pen, middle = self.pen, y + height / 2
        big = 15 if number < 10 else 12.5
        head, to, rest = row.probe.partition(" to ")
        tall = 11.0 if height >= FAIR_ROW_MM else 10.0
        words = f"{head}\nto {rest}" if to else head
        # the number is that of the row's probe, and has no heading of its own
        with pen.part("TH", scope="Row"):
            pen.text(self.left + 4, middle + 1.9, str(number), big, bold=True, anchor="middle")
            self._cell(PROBE_MM, HOW_MM - PROBE_MM - 1, words, middle, 2, (tall, *_SIZES), bold=True)
        with pen.part("TD"):
            self._cell(HOW_MM, GOOD_MM - HOW_MM - 2, row.where, middle, 3, _SIZES)
        with pen.part("TD"):
            self._good(row, middle)
        with pen.part("TD"):
            self._boxes(row, filled, middle)
        pen.line(self.left, y + height, self.left + self.width, y + height, 0.15)

    def _cell(
        self, at: float, wide: float, words: str, middle: float, most: int, sizes: tuple[float, ...], *,
        bold: bool = False,
    ) -> None:  # fmt: skip
        block = self.pen.fitted(words, wide, most, sizes, bold)
        # letters reach about 0.73 of their size above the base line
        base = middle - (len(block.lines) - 1) * block.leading / 2 + 0.36 * block.size * 25.4 / 72
        for line in block.lines:
            self.pen.text(self.left + at, base, line, block.size, bold=bold)
            base += block.leading

    def _good(self, row: CardRow, middle: float) -> None:
        """What the good unit reads, or a line to write it on; the limit below."""
        left, wide = self.left + GOOD_MM, READS_MM - GOOD_MM - 2
        if row.good:
            block = self.pen.fitted(row.good, wide, 1, (10.5, *_SIZES), bold=True)
            self.pen.text(left, middle - 0.9, block.lines[0], block.size, bold=True)
        else:
            self.pen.line(left, middle - 0.7, left + wide - 12, middle - 0.7)
            self.pen.text(left + wide - 11, middle - 0.9, row.unit, 9)
        block = self.pen.fitted(row.limit.partition("\n")[0], wide, 1, _SIZES)
        self.pen.text(left, middle + 3.3, block.lines[0], block.size)

    def _boxes(self, row: CardRow, filled: tuple[str, ...], middle: float) -> None:
        """Empty boxes, or what was read; a box with a name has it at its left."""
        pen, room = self.pen, self.width - READS_MM
        unit = 9.0 if len(row.boxes) > 1 else 12.0
        each = (room - unit) / len(row.boxes)
        for index, name in enumerate(row.boxes):
            x = self.left + READS_MM + index * each
            named = 9.0 if name else 0.0
            if name:
                pen.text(x, middle + 1.2, name, 9)
            pen.box(x + named, middle - BOX_MM / 2, each - named - 1.5, BOX_MM, 0.4)
            if index < len(filled) and filled[index]:
                block = pen.fitted(filled[index], each - named - 4, 2, (10.5, *_SIZES))
                base = middle + 1.2 - (len(block.lines) - 1) * block.leading / 2
                for line in block.lines:
                    pen.text(x + named + 1.2, base, line, block.size)
                    base += block.leading
        # what was typed with a unit of its own must not stand beside another one
        if not filled or not all(any(c.isalpha() for c in text) for text in filled):
            pen.text(self.left + self.width - unit + 1, middle + 1.2, row.unit, 9)


def tick_box(pen: Pen, x: float, base: float, words: str, size: float, *, ticked: bool = False) -> float:
    """A box to tick with its words at the right; returns how wide both are."""
    top = base - 1.3 - _TICK_MM / 2
    pen.box(x, top, _TICK_MM, _TICK_MM, 0.4)
    if ticked:
        pen.line(x + 0.7, top + 0.7, x + _TICK_MM - 0.7, top + _TICK_MM - 0.7, 0.6)
        pen.line(x + 0.7, top + _TICK_MM - 0.7, x + _TICK_MM - 0.7, top + 0.7, 0.6)
    with pen.part("P", alt=f"{words}: ticked" if ticked else ""):
        return 6.0 + pen.text(x + 6.0, base, words, size)
