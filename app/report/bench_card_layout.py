"""Heights on a bench card, in millimetres: what must be, and how the room that is left is shared out."""

from __future__ import annotations

from dataclasses import dataclass

from tracecore.errors import RequestError

PAGES_MM: dict[str, tuple[float, float]] = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height. ISO 216 for A4; ANSI/ASME Y14.1 size A for Letter."""
MARGIN_MM = 11.0
BOX_MM = 8.0
"""Height of a box to write in: what a hand with a pencil fills without care."""
LEAST_ROW_MM, FAIR_ROW_MM, BEST_ROW_MM = BOX_MM + 1.0, 10.4, 11.7
LEAST_FIGURE_MM, FAIR_FIGURE_MM, BEST_FIGURE_MM = 26.0, 36.0, 46.0
LEGEND_MM = 6.5
NOTE_MM = 7.0
MOST_NOTES = 5

HEAD_MM, FORM_MM, BAR_MM, HEADING_MM, GAP_MM = 16.5, 15.5, 7.5, 5.2, 2.0
CAUTION_MM, FOUND_MM, FOOT_MM = 4.3, 8.5, 8.5


@dataclass(frozen=True, slots=True)
class Heights:
    """``figure`` is 0 where there is none, or no room for it; ``notes`` is a count of lines."""

    row: float
    figure: float
    notes: int


def heights(page: str, rows: int, text: float, cautions: int, *, figure: bool = True) -> Heights:
    """Shares a page's height among ``rows``, the figure and the lines for notes.

    ``text`` is what the finding and the sources take. Rows come first: no box is lower than ``BOX_MM``, and the
    figure goes before a row does. Raises RequestError where the rows do not fit one sheet.

    >>> heights("A4", 8, 12, 5).row
    11.7
    """
    fixed = (
        HEAD_MM + FORM_MM + text + 2 * (BAR_MM + GAP_MM) + HEADING_MM
        + CAUTION_MM * (cautions + 1) + 2 * GAP_MM + FOUND_MM + FOOT_MM + NOTE_MM
    )  # fmt: skip
    left = page_size(page)[1] - 2 * MARGIN_MM - fixed - rows * LEAST_ROW_MM
    if left < 0:
        most = rows - int(-left // LEAST_ROW_MM) - 1
        raise RequestError(f"The card has {rows} rows; one sheet of {page} takes {most}. Make two cards of it.")
    drawn = 0.0
    if figure and left >= LEAST_FIGURE_MM + LEGEND_MM:
        drawn = LEAST_FIGURE_MM
        left -= LEAST_FIGURE_MM + LEGEND_MM
    row, left = _grown(LEAST_ROW_MM, FAIR_ROW_MM, left, rows)
    if drawn:
        drawn, left = _grown(drawn, FAIR_FIGURE_MM, left, 1)
    notes = 1 + min(2, int(left // NOTE_MM))
    left -= (notes - 1) * NOTE_MM
    row, left = _grown(row, BEST_ROW_MM, left, rows)
    if drawn:
        drawn, left = _grown(drawn, BEST_FIGURE_MM, left, 1)
    return Heights(row, drawn, min(MOST_NOTES, notes + int(left // NOTE_MM)))


def page_size(page: str) -> tuple[float, float]:
    """Width and height of a page by name. Raises RequestError where it is not known."""
    if page not in PAGES_MM:
        raise RequestError(f"Page size {page!r} is not known; expected one of {', '.join(PAGES_MM)}.")
    return PAGES_MM[page]


def _grown(least: float, best: float, left: float, count: int) -> tuple[float, float]:
    """Grows ``count`` alike heights from ``least`` towards ``best`` by what is left; returns height and rest."""
    each = min(best - least, left / max(1, count))
    return round(least + each, 3), left - each * count
