"""A report as one HTML page that needs nothing besides itself, to read on a screen or to print."""

from __future__ import annotations

import base64
from dataclasses import asdict
from typing import TYPE_CHECKING

from app.report.blocks import FigureBlock, PhotoBlock
from app.report.figure import paint_plan
from app.report.palette import DARK, PAD, Colour
from app.report.shapes import Shape, paint_shape
from app.report.surface import SvgSurface

if TYPE_CHECKING:
    from app.report.blocks import Report, Style

SHAPE_UNITS = 16.0


def report_html(report: Report, *, page: str = "A4") -> str:
    """The whole page; ``page`` is the paper that it asks for when it is printed."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("app.report", ""),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(
        kind=lambda block: type(block).__name__,
        figure=lambda block: Markup(_figure(block)),
        photo=_photo,
        shape=lambda shape, style="plain": Markup(_shape(shape, style)),
        css=lambda text: Markup(css_string(text)),
    )
    return environment.get_template("report.html").render(
        report=report, colours=asdict(PAD), dark=asdict(DARK), page=page
    )


def shape_colour(shape: Shape, style: Style = "plain") -> Colour:
    """A triangle is vermilion before a verdict and ochre before a warning; all else is ink.

    >>> shape_colour("triangle", "warning")
    'warning'
    """
    return ("warning" if style == "warning" else "suspect") if shape == "triangle" else "ink"


def css_string(text: str) -> str:
    r"""A CSS string: whatever is no plain letter or digit is written as its code point.

    CSS Syntax Module Level 3, section 4.3.7: hexadecimal digits, and a space that ends them.

    >>> css_string('a"b')
    '"a\\22 b"'
    """
    return '"' + "".join(c if c.isascii() and (c.isalnum() or c == " ") else f"\\{ord(c):x} " for c in text) + '"'


def _figure(block: FigureBlock) -> str:
    surface = SvgSurface(block.plan.style.width, name=block.name)
    paint_plan(surface, block.plan)
    return surface.svg(block.plan.height, block.plan.title)


def _shape(shape: Shape, style: Style = "plain") -> str:
    """A mark as a picture that is not read aloud: the words beside it say the same."""
    surface = SvgSurface(SHAPE_UNITS)
    paint_shape(surface, shape, 0, 0, SHAPE_UNITS, shape_colour(shape, style))
    parts = "".join(surface.parts)
    return f'<svg class="shape" viewBox="0 0 {SHAPE_UNITS:g} {SHAPE_UNITS:g}" aria-hidden="true">{parts}</svg>'


def _photo(block: PhotoBlock) -> str:
    return "data:image/jpeg;base64," + base64.b64encode(block.data).decode("ascii")
