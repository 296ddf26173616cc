"""The figure of a bench card: the report's painter in black alone, with N and S beside the traces, and its legend."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from app.report.bench_card_pen import LEAST_PT, MM, Pen
from app.report.figure import CARD, FigureStyle, paint_figure, plan_figure
from app.report.palette import BLACK

if TYPE_CHECKING:
    from app.case.values import BenchCard
    from tracecore.compare.findings import SignalFinding
    from tracecore.comparison import Comparison

LEAST_UNIT_MM, BEST_UNIT_MM = 0.207, 0.25
"""Millimetres of a layout unit: at the least, the figure's smallest letters (12 units) are 7 points high."""
_SIZES = (8.5, 8.0, 7.5, LEAST_PT)

Mark = Callable[[Pen, float, float], None]
"""Draws a sample at ``x`` around the middle height ``y``."""


def can_draw(card: BenchCard, comparison: Comparison | None) -> bool:
    """Is there a figure of the card's signal at its cycle?"""
    return comparison is not None and plan_figure(comparison, card.signal, cycle=card.cycle, style=CARD) is not None


def rows_of(card: BenchCard, comparison: Comparison, most: int) -> tuple[str, ...]:
    """The clock, the driver's own pin where it was captured, and the signal; the signal first of all to stay."""
    finding = comparison.signal(card.signal)
    driver = [s.signal for s in comparison.signals if finding.driver and s.place == finding.driver]
    return tuple(dict.fromkeys([card.signal, *driver, comparison.lineup.clock]))[:most]


def card_style(height_mm: float, rows: int) -> tuple[float, FigureStyle]:
    """Millimetres of a layout unit, and the sizes with which so many rows fill the height."""
    unit = min(BEST_UNIT_MM, max(LEAST_UNIT_MM, height_mm / CARD.height(rows)))
    row = (height_mm / unit - CARD.height(0)) / rows
    share = row / CARD.row
    return unit, replace(
        CARD,
        row=row,
        swing=CARD.swing * share,
        good_high=CARD.good_high * share,
        suspect_high=CARD.suspect_high * share,
    )


def draw_figure(
    pen: Pen, card: BenchCard, comparison: Comparison, x: float, y: float, width: float, height: float
) -> None:
    """Paints the figure into a ruled box."""
    from app.report.pdf_surface import PdfSurface

    most = max(1, min(3, int((height / LEAST_UNIT_MM - CARD.height(0)) // (0.85 * CARD.row))))
    names = rows_of(card, comparison, most)
    unit, style = card_style(height, len(names))
    pen.canvas.saveState()
    path = pen.canvas.beginPath()
    path.rect(x * MM, pen.up(y + height), width * MM, height * MM)
    pen.canvas.clipPath(path, stroke=0, fill=0)
    surface = PdfSurface(pen.canvas, x * MM, pen.up(y), unit * MM, width / unit, BLACK)
    paint_figure(surface, comparison, card.signal, cycle=card.cycle, rows=names, style=style)
    pen.canvas.restoreState()
    pen.box(x, y, width, height)


def figure_words(card: BenchCard, comparison: Comparison) -> str:
    """What the figure shows, for who cannot see it."""
    plan = plan_figure(comparison, card.signal, cycle=card.cycle, style=CARD)
    return "" if plan is None else plan.title


def draw_legend(pen: Pen, finding: SignalFinding, x: float, y: float, good: str, suspect: str, width: float) -> None:
    """What stands for what, as far as the figure has it; ``good`` and ``suspect`` name the units, or are empty."""
    parts: list[tuple[str, Mark, float]] = [
        (f"N {good}, good" if good else "N known-good", _good_line, 10.0),
        (f"S {suspect}, suspect" if suspect else "S suspect", _suspect_line, 10.0),
    ]  # fmt: skip
    if len(finding.difference_on_good_ps):
        parts.append(("they differ", _hatched, 9.5))
    if finding.levels:
        parts.append(("outside limits", _triangle, 5.5))
    if not len(finding.difference_on_good_ps) and (finding.missing_transitions or finding.extra_transitions):
        parts.append(("partner missing", _ring, 5.0))
    marks = sum(wide for _, _, wide in parts) + 4 * (len(parts) - 1)
    size = next((s for s in _SIZES if sum(pen.width(w, s) for w, _, _ in parts) + marks <= width), _SIZES[-1])
    fixed = sum(pen.width(words, size) for words, _, _ in parts[2:])
    # two long names share what is left between them
    most = (width - marks - fixed) / 2
    both = sum(pen.width(words, size) for words, _, _ in parts[:2]) <= 2 * most
    for index, (words, mark, wide) in enumerate(parts):
        mark(pen, x, y - 1.1)
        room = most if index < 2 and not both else width
        line = pen.fitted(words, room, 1, (size,)).lines[0]
        x += wide + pen.text(x + wide, y, line, size) + 4


def _good_line(pen: Pen, x: float, y: float) -> None:
    pen.line(x, y, x + 8, y, 0.3)
    pen.disc(x + 4, y, 0.9)


def _suspect_line(pen: Pen, x: float, y: float) -> None:
    pen.line(x, y, x + 8, y, 0.75)
    pen.box(x + 3.1, y - 0.9, 1.8, 1.8, 0.1, ink=True)


def _hatched(pen: Pen, x: float, y: float) -> None:
    from app.report.pdf_surface import PdfSurface

    PdfSurface(pen.canvas, x * MM, pen.up(y - 1.6), BEST_UNIT_MM * MM, 100, BLACK).hatch(0, 0, 30, 13, "suspect")


def _triangle(pen: Pen, x: float, y: float) -> None:
    from app.report.pdf_surface import PdfSurface

    surface = PdfSurface(pen.canvas, x * MM, pen.up(y - 1.3), BEST_UNIT_MM * MM, 100, BLACK)
    surface.polygon([(1, 10), (13, 10), (7, 0)], "warning")


def _ring(pen: Pen, x: float, y: float) -> None:
    pen.canvas.setLineWidth(0.45 * MM)
    pen.canvas.circle((x + 2) * MM, pen.up(y), 1.1 * MM, stroke=1, fill=0)
