"""A measuring plan on paper: numbered rows with a box to write in, in the manner of the bench card, over as many
sheets as it takes. Black on white; POWER OFF and its boxes to tick stand on every sheet."""

from __future__ import annotations

import io

from app.report.bench_card import CAUTIONS, DEFER
from app.report.bench_card_layout import BAR_MM, BOX_MM, CAUTION_MM, FOOT_MM, GAP_MM, MARGIN_MM, page_size
from app.report.bench_card_pen import LEAST_PT, Pen
from app.report.bench_card_rows import tick_box
from app.report.continuity_words import reads
from tracecore.circuit.continuity.plan import MeasuringPlan, Planned

ROW_MM = BOX_MM + 2.4
_HEAD_MM, _HEADING_MM = 17.0, 6.0
_COLUMNS_MM = (12.0, 40.0, 68.0, 106.0)
"""Where from, to, good and the box begin, from the left margin."""
_TICKS = ("unplugged", "supplies bled", "proved dead", "cards out of these slots")


def plan_pdf(plan: MeasuringPlan, title: str, *, page: str = "A4", printed: str = "") -> bytes:
    """The plan as a PDF. ``title`` says for which slot or signal it is; ``printed`` is the date to show.

    The same plan gives the same bytes. Raises RequestError where the page size is not known.
    """
    from reportlab.pdfgen.canvas import Canvas

    width, height = page_size(page)
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(width / 25.4 * 72, height / 25.4 * 72), invariant=1, pageCompression=1)
    canvas.setTitle("Measuring plan")
    canvas.setCreator("Twinslot")
    most = rows_a_sheet(page)
    sheets = [plan.rows[at : at + most] for at in range(0, len(plan.rows), most)] or [()]
    for number, rows in enumerate(sheets, start=1):
        _sheet(Pen(canvas, height), width - 2 * MARGIN_MM, height, plan, rows, title, printed, (number, len(sheets)))
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def rows_a_sheet(page: str = "A4") -> int:
    """How many rows fit one sheet.

    >>> rows_a_sheet("A4") > 15
    True
    """
    fixed = _HEAD_MM + BAR_MM + _HEADING_MM + CAUTION_MM * (len(CAUTIONS) + 1) + FOOT_MM + 4 * GAP_MM
    return int((page_size(page)[1] - 2 * MARGIN_MM - fixed) // ROW_MM)


def _sheet(
    pen: Pen, width: float, height: float, plan: MeasuringPlan, rows: tuple[Planned, ...], title: str, printed: str,
    of: tuple[int, int],
) -> None:  # fmt: skip
    left, y = MARGIN_MM, MARGIN_MM
    pen.text(left, y + 6.5, "Measuring plan", 20, bold=True)
    if printed:
        pen.text(left + width, y + 6.5, f"printed {printed}", 9.5, anchor="end")
    block = pen.fitted(title, width, 1, (10.5, 9.5, 8.5, LEAST_PT))
    pen.text(left, y + 12.8, block.lines[0], block.size)
    y += _HEAD_MM
    _bar(pen, left, y, width)
    y += BAR_MM
    names = ("From", "To", "Good reads" if plan.side == "suspect" else "Suspect reads", f"{plan.side} reads, ohm")
    for at, words in zip(_COLUMNS_MM, names, strict=True):
        pen.text(left + at, y + 4.2, words.capitalize(), 8.5)
    y += _HEADING_MM
    for row in rows:
        _row(pen, left, y, width, row)
        y += ROW_MM
    _cautions(pen, left, y + GAP_MM)
    foot = height - MARGIN_MM - FOOT_MM + 2
    pen.line(left, foot, left + width, foot, 0.5)
    pen.text(left, foot + 5, f"Measuring plan · sheet {of[0]} of {of[1]}", 8.5)
    pen.text(left + width, foot + 5, "Read by ____________ on ______________ at _________", 8.5, anchor="end")


def _bar(pen: Pen, left: float, y: float, width: float) -> None:
    pen.box(left, y, width, BAR_MM)
    pen.box(left, y, 30, BAR_MM, ink=True)
    pen.text(left + 15, y + 5.1, "POWER OFF", 10, bold=True, anchor="middle", paper=True)
    x = left + 33.5
    for words in _TICKS:
        x += tick_box(pen, x, y + 5.1, words, 8.5) + 4.5


def _row(pen: Pen, left: float, y: float, width: float, row: Planned) -> None:
    middle = y + ROW_MM / 2
    pen.text(left + 4.5, middle + 1.9, str(row.number), 13, bold=True, anchor="middle")
    pen.text(left + _COLUMNS_MM[0], middle + 1.5, row.start, 11, bold=True)
    pen.text(left + _COLUMNS_MM[1], middle + 1.5, row.end, 11, bold=True)
    if row.good_ohms is None:
        pen.line(left + _COLUMNS_MM[2], middle + 1.8, left + _COLUMNS_MM[3] - 6, middle + 1.8)
    else:
        pen.text(left + _COLUMNS_MM[2], middle + 1.5, reads(row.good_ohms), 10)
    pen.box(left + _COLUMNS_MM[3], middle - BOX_MM / 2, 38, BOX_MM, 0.4)
    if row.note:
        block = pen.fitted(row.note, width - _COLUMNS_MM[3] - 42, 2, (8.5, LEAST_PT))
        for index, line in enumerate(block.lines):
            pen.text(left + _COLUMNS_MM[3] + 41, middle + 1.2 + index * block.leading, line, block.size)
    pen.line(left, y + ROW_MM, left + width, y + ROW_MM, 0.15)


def _cautions(pen: Pen, left: float, y: float) -> None:
    y += CAUTION_MM
    pen.triangle(left + 2.4, y + 0.6, 4.6)
    wide = pen.text(left + 7.5, y, "Cautions", 10.5, bold=True)
    pen.text(left + 11 + wide, y, DEFER, 8.5)
    for sentence in CAUTIONS:
        y += CAUTION_MM
        pen.disc(left + 2.6, y - 1.1, 0.5)
        pen.text(left + 7.5, y, sentence, 8.5)
