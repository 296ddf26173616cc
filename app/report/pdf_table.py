"""Tables of a report on pages: columns as wide as their words want, the head again on each page."""

from __future__ import annotations

from dataclasses import replace
from itertools import zip_longest

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable, Paragraph
from reportlab.platypus import Table as Grid

from app.report.blocks import Cell, Table, text_of, words
from app.report.palette import PAD
from app.report.pdf_beside import SHAPE_ROOM, Beside
from app.report.pdf_letters import line_width, printable
from app.report.pdf_markup import TABLE_PT, looks, markup

PADDING = 4.0


def grid(table: Table, width: float) -> Flowable:
    """The table as wide as ``width`` points, breakable between rows, and within one that is taller than a page."""
    rows = [[Paragraph(markup(words(title)), looks()["head"]) for title in table.head]] if table.head else []
    rows += [[_cell(table, number, i, cell) for i, cell in enumerate(row)] for number, row in enumerate(table.rows)]
    made = Grid(
        rows, colWidths=column_widths(table, width), repeatRows=1 if table.head else 0, splitInRow=1, hAlign="LEFT",
        spaceBefore=3, spaceAfter=5,
    )  # fmt: skip
    shaded = ((0, 0), (-1, 0)) if table.head else ((0, 0), (0, -1))
    made.setStyle(
        [
            ("GRID", (0, 0), (-1, -1), 0.5, HexColor(PAD.rule_strong)),
            ("BACKGROUND", *shaded, HexColor(PAD.tint)),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), PADDING),
            ("RIGHTPADDING", (0, 0), (-1, -1), PADDING),
            ("TOPPADDING", (0, 0), (-1, -1), 2.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        ]
    )
    return made


def column_widths(table: Table, width: float) -> list[float]:
    """Points for each column, together ``width``: its longest word, and of the rest as it would take."""
    heads = [tuple(Cell(words(title)) for title in table.head)] if table.head else []
    rows = [*heads, *table.rows]
    least, wanted = [], []
    for i, column in enumerate(zip_longest(*rows, fillvalue=Cell())):
        bold = [i == 0 or n < len(heads) or n - len(heads) in table.bold for n in range(len(column))]
        wanted.append(max(_width(cell, text_of(cell.runs), b) for cell, b in zip(column, bold, strict=True)))
        # a head may break at its spaces even where the cells below it hold together
        words_of = [
            [text_of(cell.runs)] if i in table.whole and n >= len(heads) else text_of(cell.runs).split(" ")
            for n, cell in enumerate(column)
        ]
        longest = (_width(c, part, b) for c, parts, b in zip(column, words_of, bold, strict=True) for part in parts)
        least.append(min(max(longest), width / 3))
    if sum(wanted) <= width:
        return [w + (width - sum(wanted)) * w / sum(wanted) for w in wanted]
    if sum(least) >= width:
        return [w * width / sum(least) for w in least]
    more = [max(0.0, w - narrow) for w, narrow in zip(wanted, least, strict=True)]
    return [narrow + (width - sum(least)) * m / sum(more) for narrow, m in zip(least, more, strict=True)]


def _width(cell: Cell, text: str, bold: bool) -> float:
    lines = printable(text).split("\n")
    letters = max(line_width(line, TABLE_PT, bold=bold) for line in lines)
    return 2 * PADDING + 1 + letters + (SHAPE_ROOM if cell.shape else 0)


def _cell(table: Table, number: int, column: int, cell: Cell) -> Flowable:
    bold = number in table.bold or (not table.head and column == 0)
    runs = tuple(replace(run, bold=run.bold or bold) for run in cell.runs)
    look = looks()["number" if column in table.numeric else "cell"]
    made = Paragraph(markup(runs), look)
    return Beside(made, SHAPE_ROOM, shape=cell.shape, size=0.95 * TABLE_PT) if cell.shape else made
