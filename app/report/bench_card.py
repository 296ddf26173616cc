"""The bench card: one printed page to take to the cabinet, with boxes to write in.

POWER OFF and POWER ON stand apart, each under its own boxes to tick. The sheet is black on white without a grey: the
known-good side is thin and marked N, the suspect thick and marked S, differences are hatched. +5 V is read before any
level. Its number, typed into the log, opens a form with the same rows.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from app.case.card_rows import found_choices
from app.report.bench_card_figure import can_draw, draw_figure, draw_legend, figure_words
from app.report.bench_card_layout import (
    CAUTION_MM,
    FOOT_MM,
    FORM_MM,
    FOUND_MM,
    GAP_MM,
    HEAD_MM,
    LEGEND_MM,
    MARGIN_MM,
    NOTE_MM,
    Heights,
    heights,
    page_size,
)
from app.report.bench_card_map import CAPTION, draw_map, spots_of
from app.report.bench_card_pen import LEAST_PT, Block, Pen
from app.report.bench_card_rows import RowBlocks, tick_box
from app.report.same_again import PROGRAM
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.case.values import BenchCard
    from tracecore.comparison import Comparison

DEFER = "reminders only; local codes, the maker's manual and licensed practice come first"
CAUTIONS: tuple[str, ...] = (
    "A panel switch or an interlock is no disconnect. Unplug, or open and lock the breaker.",
    "Let supplies bleed; prove dead with a meter tried on a known source just before and just after.",
    "Power down before a card is pulled or seated and before a clip is moved.",
    "5 V at tens of amperes welds and burns: rings and watch off, no slipping probe.",
    "Scope ground clip only on circuit ground known to be earthed; never lift the scope's own earth.",
    "A beep does not prove a contact. Read ohms, the leads' own taken off.",
)
"""Short forms of the report's cautions for the steps on this sheet; never a word that a step is safe."""

MAP_MM = 60.0


def card_pdf(
    card: BenchCard,
    case: OpenCase,
    comparison: Comparison | None,
    *,
    page: str = "A4",
    printed: str = "",
    author: str = "",
) -> bytes:
    """The card as a PDF of one page.

    ``comparison`` gives the figure and what the readings may say; None leaves them out. ``printed`` is the date and
    time to show, ``author`` for whom it is printed; no other time enters the file, so that the same card gives the
    same bytes. What was read already (``card.filled``) is printed into its boxes. Raises RequestError where the page
    size is not known, or the rows do not fit one sheet.
    """
    from app.report.pdf_tags import TaggedCanvas

    width, height = page_size(page)
    buffer = io.BytesIO()
    size = (width / 25.4 * 72, height / 25.4 * 72)
    canvas = TaggedCanvas(buffer, pagesize=size, invariant=1, pageCompression=1, lang="en-GB")
    canvas.setTitle(f"Bench card {card.number}")
    canvas.setAuthor(author or PROGRAM)
    canvas.setSubject(case.named)
    canvas.setCreator(PROGRAM)
    canvas.setViewerPreference("DisplayDocTitle", "true")
    _Sheet(Pen(canvas, height), card, case, comparison, page).draw(printed, author)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue()


class _Sheet:
    """Draws the card from its head to its foot; ``y`` is how far down it has come."""

    def __init__(self, pen: Pen, card: BenchCard, case: OpenCase, comparison: Comparison | None, page: str) -> None:
        self.pen, self.card, self.case, self.page = pen, card, case, page
        self.comparison = comparison
        self.left, self.y = MARGIN_MM, MARGIN_MM
        self.width = page_size(page)[0] - 2 * MARGIN_MM
        self.good, self.suspect = case.good_unit.name, case.suspect_unit.name

    @property
    def right(self) -> float:
        return self.left + self.width

    def draw(self, printed: str, author: str) -> None:
        finding = self.pen.fitted(self.card.finding, self.width, 2, (10.0, 9.0, 8.0), bold=True)
        says = self._lines(self._probe_next(), (8.5, 8.0, 7.5, LEAST_PT))
        sources = self._lines(self._sources(), (7.5, LEAST_PT))
        sizes = self._heights(finding, says, sources)
        if self._has_figure() and not sizes.figure:
            # the figure says more than the sentence does, and needs no reading
            says = Block((), LEAST_PT)
            sizes = self._heights(finding, says, sources)
        self._head(printed, author)
        self._form()
        self._write(finding, bold=True)
        self._write(says)
        self.y += GAP_MM
        if sizes.figure:
            self._figure(sizes.figure)
        rows = RowBlocks(
            self.pen, self.card, self.left, self.width, self.good or "Good unit", self.suspect or "Suspect"
        )
        self.y = rows.draw(self.y, sizes.row)
        self._write(sources)
        self.y += GAP_MM
        self._cautions()
        self._notes(sizes.notes)
        self._found()
        self._foot()

    def _lines(self, words: str, sizes: tuple[float, ...]) -> Block:
        return self.pen.fitted(words, self.width, 2, sizes) if words else Block((), LEAST_PT)

    def _heights(self, *blocks: Block) -> Heights:
        text = sum(len(block.lines) * block.leading for block in blocks) + 2 * GAP_MM
        return heights(self.page, len(self.card.rows), text, len(CAUTIONS), figure=self._has_figure())

    # ---- head

    def _head(self, printed: str, author: str) -> None:
        pen, y = self.pen, self.y
        with pen.part("H1"):
            pen.text(self.left, y + 6.5, f"Bench card {self.card.number}", 20, bold=True)
        number = f"Case {self.case.number}" if self.case.number else "Case without a number"
        pen.text(self.right, y + 6.5, number, 14, bold=True, anchor="end")
        told = " ".join(part for part in (printed, f"for {author}" if author else "") if part)
        wide = pen.text(self.right, y + 13, f"printed {told}", 9.5, anchor="end") if told else 0.0
        title = pen.fitted(self.case.title, self.width - wide - 6, 1, (10.5, 9.5, 8.5, 7.5))
        pen.text(self.left, y + 13, title.lines[0], title.size)
        pen.line(self.left, y + HEAD_MM, self.right, y + HEAD_MM, 0.5)
        self.y = y + HEAD_MM

    def _form(self) -> None:
        """Ruled form boxes; one whose value nobody knows stays empty, to be written in."""
        place, active = self._captured()
        cycle = "" if self.card.cycle is None else f"cycle {group_digits(self.card.cycle)}"
        slot = place.rsplit("-", 1)[0] if "-" in place else self.case.suspect_unit.slot
        boxes = (
            ("Suspect unit", self.case.suspect_unit.name, 0.26, False),
            ("Slot", slot, 0.12, False),
            ("Signal", self.card.signal, 0.17, active == "low"),
            ("Differs from", cycle, 0.23, False),
            ("Good unit", self.case.good_unit.name, 0.22, False),
        )
        x, y = self.left, self.y + GAP_MM
        for label, value, share, low in boxes:
            wide = share * self.width
            self.pen.box(x, y, wide, FORM_MM - 2.5)
            fitted = self.pen.fitted(value, wide - 4, 1, (13.0, 11.5, 10.0, 8.5, LEAST_PT), bold=True)
            with self.pen.part("P"):
                self.pen.text(x + 2, y + 4.2, label, 8.5)
                self.pen.text(x + 2, y + 10.6, fitted.lines[0], fitted.size, bold=True, overline=low)
            x += wide
        self.y = y + FORM_MM - 2.5 + GAP_MM

    def _write(self, block: Block, *, bold: bool = False) -> None:
        with self.pen.part("P"):
            for line in block.lines:
                self.y += block.leading
                self.pen.text(self.left, self.y, line, block.size, bold=bold)

    def _captured(self) -> tuple[str, str]:
        """Pin and active level of the card's signal, by the sheet."""
        for probe in self.case.sheet.probes:
            if probe.signal == self.card.signal:
                return "-".join(part for part in (probe.slot, probe.pin) if part), probe.active
        return "", "high"

    def _probe_next(self) -> str:
        causes = self.comparison.causes if self.comparison is not None else ()
        return next((cause.probe_next for cause in causes if cause.signal == self.card.signal), "")

    def _sources(self) -> str:
        """Where the rows' limits come from: the second line of each, said once for the rows that share it."""
        rows: dict[str, list[int]] = {}
        for number, row in enumerate(self.card.rows, start=1):
            if source := row.limit.partition("\n")[2]:
                rows.setdefault(source, []).append(number)
        told = [f"{_counted(numbers)} {source}" for source, numbers in rows.items()]
        return f"Limits: {'; '.join(told)}." if told else ""

    # ---- figure and map

    def _has_figure(self) -> bool:
        return can_draw(self.card, self.comparison) or bool(spots_of(self.card))

    def _figure(self, height: float) -> None:
        """The figure at the left, the map at the right; either alone at the left."""
        y, base = self.y, self.y + height + 4.2
        drawn, mapped = can_draw(self.card, self.comparison), bool(spots_of(self.card))
        if mapped:
            x = self.right - MAP_MM if drawn else self.left
            pins = ", ".join(f"slot {spot.slot} {spot.name}" for spot in spots_of(self.card))
            with self.pen.figure(f"Where the pins are, seen from the wiring side: {pins}"):
                draw_map(self.pen, self.card, x, y, MAP_MM, height, captured=self._captured()[0])
            with self.pen.part("Caption"):
                self.pen.text(x, base, CAPTION, LEAST_PT)
        if drawn and self.comparison is not None:
            wide = self.width - (MAP_MM + 4 if mapped else 0)
            with self.pen.figure(figure_words(self.card, self.comparison)):
                draw_figure(self.pen, self.card, self.comparison, self.left, y, wide, height)
                finding = self.comparison.signal(self.card.signal)
                draw_legend(self.pen, finding, self.left, base, self.good, self.suspect, wide)
        self.y = y + height + LEGEND_MM

    # ---- foot

    def _cautions(self) -> None:
        pen, y = self.pen, self.y + CAUTION_MM
        pen.triangle(self.left + 2.4, y + 0.6, 4.6)
        with pen.part("H2"):
            wide = pen.text(self.left + 7.5, y, "Cautions", 10.5, bold=True)
        pen.text(self.left + 11 + wide, y, DEFER, 8.5)
        with pen.part("L"):
            for sentence in CAUTIONS:
                y += CAUTION_MM
                pen.disc(self.left + 2.6, y - 1.1, 0.5)
                with pen.part("LI"), pen.part("LBody"):
                    pen.text(self.left + 7.5, y, sentence, 8.5)
        self.y = y + GAP_MM

    def _notes(self, lines: int) -> None:
        pen = self.pen
        with pen.part("H2"):
            wide = pen.text(self.left, self.y + 5, "Notes", 10.5, bold=True) + 3
        others = [words for words in self._found_words() if words not in found_choices(self.card)]
        told = f"Found: {', '.join(others)}. {self.card.notes}" if others else self.card.notes
        written = pen.fitted(told, self.width - wide, lines, (9.0, 8.0, LEAST_PT))
        with pen.part("P"):
            for index in range(lines):
                self.y += NOTE_MM
                pen.line(self.left + (wide if index == 0 else 0), self.y, self.right, self.y, 0.15)
                if index < len(written.lines):
                    pen.text(self.left + wide, self.y - 1.4, written.lines[index], written.size)

    def _found_words(self) -> list[str]:
        return [words.strip() for words in self.card.found.split(",") if words.strip()]

    def _found(self) -> None:
        self.y += FOUND_MM
        base = self.y - 2.2
        with self.pen.part("H2"):
            x = self.left + self.pen.text(self.left, base, "Found", 10.5, bold=True) + 3
        found, choices = self._found_words(), found_choices(self.card)
        size, between = 9.5, 5.0
        while (
            size > LEAST_PT and x + sum(self.pen.width(c, size) + 6 + between for c in choices) > self.right + between
        ):
            size, between = size - 0.5, between - 0.5
        for words in choices:
            x += tick_box(self.pen, x, base, words, size, ticked=words in found) + between

    def _foot(self) -> None:
        """Stands at the foot of the sheet, whatever is above it."""
        pen, y = self.pen, page_size(self.page)[1] - MARGIN_MM - FOOT_MM + 2
        pen.line(self.left, y, self.right, y, 0.5)
        case = f"Case {self.case.number} · " if self.case.number else ""
        pen.text(self.left, y + 5, f"{case}card {self.card.number} · sheet 1 of 1", 8.5)
        pen.text(self.right, y + 5, "Read by ____________ on ______________ at _________", 8.5, anchor="end")


def _counted(numbers: list[int]) -> str:
    """Row numbers in words, runs of three and more as from and to.

    >>> _counted([1, 2, 3, 5])
    'rows 1 to 3, 5:'
    """
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    words = [f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs]
    return f"row{'s' if len(numbers) > 1 else ''} {', '.join(words)}:"
