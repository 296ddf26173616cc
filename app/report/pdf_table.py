"""Tables of a report on pages: columns as wide as their words want, the head again on each page."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import zip_longest

from reportlab.lib.colors import HexColor
from reportlab.platypus import Flowable
from reportlab.platypus import Table as Grid

from app.report.blocks import Cell, Table, text_of, words
from app.report.page import shape_colour
from app.report.palette import PAD
from app.report.pdf_beside import SHAPE_ROOM, Beside
from app.report.pdf_letters import line_width, printable
from app.report.pdf_markup import CROWDED_PT, TABLE_PT, looks, markup
from app.report.pdf_tags import Element, TaggedParagraph


@dataclass(frozen=True, slots=True)
class Setting:
    """How a table is set: size of letters, room left and right of them, and the columns' widths, all in points."""

    size: float
    padding: float
    widths: tuple[float, ...]


def grid(table: Table, width: float) -> Flowable:
    """The table as wide as ``width`` points, breakable between rows, and within one that is taller than a page.

    The last two rows stay together: one alone under a head at the top of a page reads as a table of its own.
    """
    setting = settled(table, width)
    whole = Element("Table")
    top = Element("TR", whole)
    rows = [[_head(table, i, title, setting.size, top) for i, title in enumerate(table.head)]] if table.head else []
    for number, row in enumerate(table.rows):
        line = Element("TR", whole)
        rows.append([_cell(table, number, i, cell, setting.size, line) for i, cell in enumerate(row)])
    made = Grid(
        rows, colWidths=list(setting.widths), repeatRows=1 if table.head else 0, splitInRow=1, hAlign="LEFT",
        spaceBefore=3, spaceAfter=5,
    )  # fmt: skip
    shaded = ((0, 0), (-1, 0)) if table.head else ((0, 0), (0, -1))
    last = len(rows) - 1
    together = [("NOSPLIT", (0, last - 1), (-1, last))] if len(table.rows) > 2 else []
    made.setStyle(
        [
            *together,
            ("GRID", (0, 0), (-1, -1), 0.5, HexColor(PAD.rule_strong)),
            ("BACKGROUND", *shaded, HexColor(PAD.tint)),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), setting.padding),
            ("RIGHTPADDING", (0, 0), (-1, -1), setting.padding),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        ]
    )
    return made


def settled(table: Table, width: float) -> Setting:
    """The setting over ``width``: smaller letters only where the longest words of all columns would not fit else.

    Each column has room for its longest word; what is left is shared by what the columns would take. Only where even
    that is too much are words cut.
    """
    for size, padding in ((TABLE_PT, 4.0), (CROWDED_PT, 2.5)):
        columns = _columns(table)
        least = [min(max(_needs(c, size, broken=True)), width / 3) + 2 * padding + 1 for c in columns]
        wanted = [max(_needs(c, size, broken=False)) + 2 * padding + 1 for c in columns]
        if sum(least) <= width:
            break
    if sum(wanted) <= width:
        widths = [w + (width - sum(wanted)) * w / sum(wanted) for w in wanted]
    elif sum(least) >= width:
        widths = [narrow * width / sum(least) for narrow in least]
    else:
        more = [max(0.0, w - narrow) for w, narrow in zip(wanted, least, strict=True)]
        share = (width - sum(least)) / sum(more)
        widths = [narrow + share * m for narrow, m in zip(least, more, strict=True)]
    return Setting(size, padding, tuple(widths))


@dataclass(frozen=True, slots=True)
class _Words:
    """A cell as its width wants to know it; ``whole`` ones are not broken at spaces."""

    text: str
    bold: bool
    whole: bool
    shape: bool


def _columns(table: Table) -> list[list[_Words]]:
    heads = [tuple(_Words(title, True, False, False) for title in table.head)] if table.head else []
    rows = [
        tuple(
            _Words(text_of(cell.runs), _bold(table, number, i), i in table.whole, cell.shape is not None)
            for i, cell in enumerate(row)
        )
        for number, row in enumerate(table.rows)
    ]
    empty = _Words("", False, False, False)
    return [list(column) for column in zip_longest(*heads, *rows, fillvalue=empty)]


def _bold(table: Table, number: int, column: int) -> bool:
    """Numbers stay plain in rows that stand out: they are not what is read first, and plain ones hold together."""
    return (number in table.bold and column not in table.numeric) or (not table.head and column == 0)


def _needs(column: list[_Words], size: float, *, broken: bool) -> list[float]:
    found = []
    for cell in column:
        lines = printable(cell.text).split("\n")
        parts = [part for line in lines for part in (line.split(" ") if broken and not cell.whole else [line])]
        found.append(max(line_width(part, size, bold=cell.bold) for part in parts) + (SHAPE_ROOM if cell.shape else 0))
    return found


def _head(table: Table, column: int, title: str, size: float, line: Element) -> Flowable:
    look = looks()[f"{'number head' if column in table.numeric else 'head'} {size:g}"]
    return TaggedParagraph(markup(words(title)), look, element=Element("TH", line, scope="Column"))


def _cell(table: Table, number: int, column: int, cell: Cell, size: float, line: Element) -> Flowable:
    """``line`` is the row's element. A first cell names its row."""
    runs = tuple(replace(run, bold=run.bold or _bold(table, number, column)) for run in cell.runs)
    own = Element("TD", line) if column else Element("TH", line, scope="Row")
    look = looks()[f"{'number' if column in table.numeric else 'cell'} {size:g}"]
    made = TaggedParagraph(markup(runs), look, element=own)
    if cell.shape is None:
        return made
    return Beside(made, SHAPE_ROOM, shape=cell.shape, colour=shape_colour(cell.shape), size=0.95 * size)
