"""A report as PDF: A4 or Letter, vector figures, letters that go into the file, and on each page the case's name, the
date and "Page 3 of 7".

Title, author, language, outline and the tags that a screen reader goes by are set.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from app.report.bench_card_layout import page_size
from app.report.blocks import text_of
from app.report.same_again import PROGRAM

if TYPE_CHECKING:
    from reportlab.pdfgen.canvas import Canvas
    from reportlab.platypus import Flowable

    from app.report.blocks import Report

POINTS_PER_MM = 72 / 25.4
MARGIN_PT = 40.0
HEAD_PT, FOOT_PT = 55.0, 43.0


def report_pdf(report: Report, *, page: str = "A4") -> bytes:
    """The whole document. The same report gives the same bytes: no time but ``report.printed`` enters it.

    Raises RequestError for a page size that is not known.
    """
    size = tuple(side * POINTS_PER_MM for side in page_size(page))
    _, pages = _built(report, size, 0)
    data, _ = _built(report, size, pages)
    return data


def _built(report: Report, size: tuple[float, ...], pages: int) -> tuple[bytes, int]:
    """The bytes and the number of pages; the first round, with 0 of them, is there to count."""
    from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate

    from app.report.pdf_tags import TaggedCanvas, marked

    width, height = size

    def decorate(canvas: Canvas, document: BaseDocTemplate) -> None:
        with marked(canvas, None):
            _decorate(canvas, report, size, document.page, pages)

    buffer = io.BytesIO()
    document = BaseDocTemplate(
        buffer, pagesize=size, invariant=1, pageCompression=1, title=report.title, author=report.author or PROGRAM,
        subject=text_of(report.subtitle), creator=PROGRAM, displayDocTitle=1, lang="en-GB",
    )  # fmt: skip
    inner = width - 2 * MARGIN_PT
    frame = Frame(MARGIN_PT, FOOT_PT, inner, height - HEAD_PT - FOOT_PT, 0, 0, 0, 0)
    document.addPageTemplates(PageTemplate("page", [frame], onPage=decorate))
    document.build(_story(report, inner), canvasmaker=TaggedCanvas)
    return buffer.getvalue(), int(document.page)


def _story(report: Report, width: float) -> list[Flowable]:
    from app.report.blocks import words
    from app.report.pdf_flow import section_flow
    from app.report.pdf_markup import looks, markup
    from app.report.pdf_tags import Element, TaggedParagraph

    story: list[Flowable] = [
        TaggedParagraph(markup(words(report.title)), looks()["title"], element=Element("H1")),
        TaggedParagraph(markup(report.subtitle), looks()["subtitle"]),
    ]
    for section in report.sections:
        story += section_flow(section, width)
    return story


def _decorate(canvas: Canvas, report: Report, size: tuple[float, ...], page: int, pages: int) -> None:
    """Name and date above, the two sides and the page below."""
    from app.report.pdf_surface import PdfSurface
    from app.report.surface import fitted

    width, height = size
    surface = PdfSurface(canvas, MARGIN_PT, height, 1, width - 2 * MARGIN_PT)
    inner = surface.width
    date = f"printed {report.printed}" if report.printed else ""
    room = inner - surface.text_width(date, 8) - 12
    surface.text(0, 40, fitted(surface, report.running, room, 8, bold=True), "ink", 8, bold=True)
    surface.text(inner, 40, date, "muted", 8, anchor="end")
    surface.line(0, 46, inner, 46, "ink", 0.8)
    number = f"Page {page} of {pages}"
    room = inner - surface.text_width(number, 8) - 12
    surface.line(0, height - 38, inner, height - 38, "rule_strong", 0.5)
    surface.text(0, height - 28, fitted(surface, text_of(report.subtitle), room, 8, bold=False), "muted", 8)
    surface.text(inner, height - 28, number, "ink", 8, anchor="end")
