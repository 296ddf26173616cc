"""Blocks of a report as what the PDF writer lets flow over pages."""

from __future__ import annotations

import io
from collections.abc import Iterator

from reportlab.platypus import CondPageBreak, Flowable, Image, KeepTogether

from app.report.blocks import Block, Bullets, FigureBlock, Group, Heading, PhotoBlock, Section, Table, text_of, words
from app.report.blocks import Paragraph as Words
from app.report.figure import paint_plan
from app.report.page import shape_colour
from app.report.pdf_beside import RAIL_ROOM, SHAPE_ROOM, Beside, Rail
from app.report.pdf_markup import BODY_PT, looks, markup
from app.report.pdf_surface import PdfSurface
from app.report.pdf_table import grid
from app.report.pdf_tags import Element, TaggedParagraph, marked
from app.report.surface import Surface

UNIT_PT = 0.64
"""Points of a layout unit of a figure: its smallest letters are 7.7 points."""
PHOTO_PT = (400.0, 235.0)
"""The most that a photo takes, across and down."""
LEAST_ROOM_PT = 62.0
"""What must be left on a page for a heading to begin there."""


class FigureFlow(Flowable):  # type: ignore[misc]
    """A trace figure over the whole width."""

    def __init__(self, block: FigureBlock) -> None:
        super().__init__()
        self.block = block

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Its size within a width and height in points."""
        self.plan = self.block.plan.as_wide(width / UNIT_PT)
        self.width, self.height = width, self.plan.height * UNIT_PT
        return self.width, self.height

    def draw(self) -> None:
        """Draws it at the canvas's origin."""
        surface: Surface = PdfSurface(self.canv, 0, self.height, UNIT_PT, self.plan.style.width)
        with marked(self.canv, Element("Figure", alt=self.plan.title)):
            paint_plan(surface, self.plan)
            surface.rect(0, 0, self.plan.style.width, self.plan.height, None, "rule_strong", 0.8)


class PhotoFlow(Image):  # type: ignore[misc]
    """A photo; ``alt`` says what it shows."""

    alt = ""

    def draw(self) -> None:
        """Draws it at the canvas's origin."""
        with marked(self.canv, Element("Figure", alt=self.alt)):
            super().draw()


class SectionHead(TaggedParagraph):
    """The heading of a section with a rule under it; ``anchor`` and its title go into the PDF's outline."""

    def __init__(self, title: str, anchor: str) -> None:
        super().__init__(markup(words(title)), looks()["section"], element=Element("H2"))
        self.title, self.anchor = title, anchor

    def draw(self) -> None:
        """Draws it, and tells the outline where it is."""
        super().draw()
        with marked(self.canv, None):
            PdfSurface(self.canv, 0, 0, 1, self.width).line(0, 1, self.width, 1, "ink", 1.2)
        self.canv.bookmarkPage(self.anchor, fit="XYZ", top=self.canv.absolutePosition(0, self.height + 8)[1])
        self.canv.addOutlineEntry(self.title, self.anchor, 0)


def section_flow(section: Section, width: float) -> list[Flowable]:
    """A section: its heading, which stays with what follows it, and its blocks."""
    flow: list[Flowable] = [CondPageBreak(40 + _room(section.blocks, width))]
    flow += [SectionHead(section.title, f"section-{section.name}"), _Gap(5)]
    for index, block in enumerate(section.blocks):
        flow += _flow(block, section.blocks[index + 1 :], width)
    return flow


def _flow(block: Block, after: tuple[Block, ...], width: float) -> list[Flowable]:
    """One block; ``after`` is what follows it, for a heading that must not stand alone."""
    if isinstance(block, Words):
        return [_paragraph(block)]
    if isinstance(block, Heading):
        head = TaggedParagraph(markup(block.runs), looks()["heading"], element=Element("H3"))
        return [CondPageBreak(20 + _room(after, width)), head]
    if isinstance(block, Bullets):
        return list(_bullets(block))
    if isinstance(block, Table):
        return [grid(block, width)]
    if isinstance(block, FigureBlock):
        return [KeepTogether([FigureFlow(block), _caption(markup(words(block.caption)))])]
    if isinstance(block, PhotoBlock):
        return [_photo(block, width)]
    return list(_group(block, width))


def _room(blocks: tuple[Block, ...], width: float, depth: int = 4) -> float:
    """How much of ``blocks`` must stand on the same page as a heading before them: what the heading is there for."""
    if not blocks or not depth:
        return 0.0
    first = blocks[0]
    if isinstance(first, FigureBlock):
        return first.plan.height * UNIT_PT + 36
    if isinstance(first, PhotoBlock):
        return _photo_size(first, width)[1] + 36
    if isinstance(first, Group):
        return 6 + _room(first.blocks, width, depth - 1)
    if isinstance(first, Heading | Words):
        # a line or two, and what it leads to
        return 24 + _room(blocks[1:], width, depth - 1)
    return LEAST_ROOM_PT


def _caption(text: str) -> Flowable:
    return TaggedParagraph(text, looks()["caption"], element=Element("Caption"))


def _paragraph(block: Words, element: Element | None = None) -> Flowable:
    anchor = f'<a name="{block.anchor}"/>' if block.anchor else ""
    made = TaggedParagraph(anchor + markup(block.runs), looks()[block.style], element=element)
    if block.shape is None:
        return made
    colour = shape_colour(block.shape, block.style)
    return Beside(made, SHAPE_ROOM + 2, shape=block.shape, colour=colour, size=BODY_PT, below=made.getSpaceAfter())


def _bullets(block: Bullets) -> Iterator[Flowable]:
    small = f" {block.style}" if block.style in ("muted", "small") else ""
    whole = Element("L")
    for number, item in enumerate(block.items, start=1):
        last = "last " if number == len(block.items) else ""
        own = Element("LBody", Element("LI", whole))
        if block.shape is not None:
            yield _paragraph(Words(item, block.style, block.shape), own)
        else:
            look = looks()[f"{last}bullet{small}"]
            yield TaggedParagraph(markup(item), look, element=own, bulletText="\u2022")


def _photo_size(block: PhotoBlock, width: float) -> tuple[float, float]:
    scale = min(min(width, PHOTO_PT[0]) / max(1, block.width), PHOTO_PT[1] / max(1, block.height))
    return block.width * scale, block.height * scale


def _photo(block: PhotoBlock, width: float) -> Flowable:
    across, down = _photo_size(block, width)
    image = PhotoFlow(io.BytesIO(block.data), across, down, hAlign="LEFT")
    image.alt = text_of(block.caption)
    anchor = f'<a name="{block.anchor}"/>' if block.anchor else ""
    return KeepTogether([_Gap(4), image, _caption(anchor + markup(block.caption))])


def _group(group: Group, width: float) -> Iterator[Flowable]:
    """Its blocks along a rail, without gaps between them."""
    rail: Rail = "strong" if group.strong else group.kind
    indent = RAIL_ROOM[rail]
    yield CondPageBreak(_room(group.blocks, width - indent))
    first = True
    for index, block in enumerate(group.blocks):
        for part in _flow(block, group.blocks[index + 1 :], width - indent):
            if isinstance(part, CondPageBreak):
                # the group's own break came first; one inside serves later headings
                if not first:
                    yield part
                continue
            if isinstance(part, KeepTogether):
                yield CondPageBreak(_room((block,), width - indent))
            for inner in part._content if isinstance(part, KeepTogether) else (part,):
                yield Beside(
                    inner, indent, shape=group.shape if first else None, rail=rail, size=10,
                    above=5.0 if first else inner.getSpaceBefore(), below=inner.getSpaceAfter(),
                    ruled=first and group.kind == "entry", anchor=group.anchor if first else "",
                )  # fmt: skip
                first = False
    yield _Gap(0 if group.kind == "entry" else 9)


class _Gap(Flowable):  # type: ignore[misc]
    """Room of a height, which goes away at the top of a page."""

    _ZEROSIZE = 1

    def __init__(self, height: float) -> None:
        super().__init__()
        self.height = height

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        """Its size."""
        return 0, min(self.height, height)

    def draw(self) -> None:
        """Draws nothing."""
