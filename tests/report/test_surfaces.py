"""One painting on paper, screen and page: the same shapes and words on each."""

from __future__ import annotations

import io
import re
from dataclasses import asdict
from xml.etree import ElementTree

import numpy as np
import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfgen.canvas import Canvas

from app.cli.run import demo_request
from app.model.theme import LIGHT, MARKS, WORDS, contrast
from app.report.figure import CARD, WIDE, figure_svg, paint_figure, plan_figure
from app.report.palette import BLACK, PAD
from app.report.pdf_letters import printable
from app.report.pdf_surface import PdfSurface
from app.report.surface import SvgSurface, fitted, hatch_lines
from demo_traces import CASES
from tracecore.comparison import Comparison, compare


@pytest.fixture(scope="module")
def receiver() -> Comparison:
    return compare(demo_request(CASES["receiver"]))


def svg_words(svg: str) -> list[str]:
    return [t.text for t in ElementTree.fromstring(svg).iter("{http://www.w3.org/2000/svg}text") if t.text]


def pdf_of(comparison: Comparison, **options: object) -> bytes:
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(600, 400), invariant=1, pageCompression=0)
    plan = paint_figure(PdfSurface(canvas, 10, 390, 0.6, 960), comparison, "D03", **options)  # type: ignore[arg-type]
    assert plan is not None
    canvas.save()
    return buffer.getvalue()


def test_the_page_of_a_pdf_says_what_the_svg_says(receiver):
    text = pypdf.PdfReader(io.BytesIO(pdf_of(receiver))).pages[0].extract_text()
    for words in svg_words(figure_svg(receiver, "D03")):
        assert printable(words).replace("\xa0", " ") in text, words
    assert pdf_of(receiver) == pdf_of(receiver)


def test_a_cycle_and_rows_may_be_asked_for(receiver):
    svg = figure_svg(receiver, "MCLK", cycle=100, rows=("MCLK", "D03"))
    assert {"MCLK", "D03", "100"} <= set(svg_words(svg))
    assert plan_figure(receiver, "MCLK") is None
    assert plan_figure(receiver, "MCLK", cycle=10**9) is None
    assert plan_figure(receiver, "no such signal", cycle=3) is None


def test_in_black_the_sides_are_told_by_letters_and_weight(receiver):
    surface = SvgSurface(CARD.width, BLACK)
    plan = paint_figure(surface, receiver, "D03", style=CARD)
    svg = surface.svg(plan.height, plan.title)
    assert set(re.findall("#[0-9A-F]{6}", svg)) <= {"#000000", "#FFFFFF"}
    assert svg_words(svg).count("N") == svg_words(svg).count("S") == len(plan.rows)
    weights = {
        line.attrib["stroke-width"] for line in ElementTree.fromstring(svg).iter() if line.tag.endswith("polyline")
    }
    assert weights == {"1.5", "3"}


@given(*[st.floats(-500, 500)] * 2, *[st.floats(0.5, 200)] * 2)
def test_hatching_stays_in_its_box_and_rises(x, y, width, height):
    for x1, y1, x2, y2 in hatch_lines(x, y, width, height):
        assert x - 1e-6 <= x1 < x2 <= x + width + 1e-6
        assert y - 1e-6 <= y2 < y1 <= y + height + 1e-6
        assert np.isclose(x1 + y1, x2 + y2)


def test_a_long_name_keeps_its_ends():
    surface = SvgSurface(WIDE.width)
    assert fitted(surface, "CARRY_OUT_OF_UPPER_HALF_L", 100, 15, bold=True).startswith("CARR")
    assert fitted(surface, "CARRY_OUT_OF_UPPER_HALF_L", 100, 15, bold=True).endswith("F_L")
    assert fitted(surface, "D03", 100, 15, bold=True) == "D03"


def test_the_page_has_the_colours_of_the_light_theme():
    assert asdict(PAD).items() <= asdict(LIGHT).items()


def test_black_on_white_has_the_contrast_of_print():
    assert contrast(BLACK.ink, BLACK.paper) >= max(MARKS, WORDS)
