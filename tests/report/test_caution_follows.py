"""Whatever sections are chosen: behind each "Probe next", and where hands are sent to clips, the caution stands."""

from __future__ import annotations

import io
import random
import re
from collections.abc import Iterator
from html import unescape

import pypdf
import pytest

from app.cli.run import demo_request
from app.report.blocks import Block, Bullets, Group, Paragraph, Table, text_of
from app.report.cautions import AT_THE_PINS
from app.report.contents import SECTIONS, build_report
from app.report.page import report_html
from app.report.pdf import report_pdf
from demo_traces import CASES
from tests.notices import recipes
from tests.report.linnet_case import linnet_case
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.notices import AT_PINS, NOTICE_KINDS

SINGLE = [(name,) for name in SECTIONS]
DRAWS = 12


def chosen() -> list[tuple[str, ...]]:
    """Each section alone, then some of all sizes."""
    chance = random.Random(14)
    return SINGLE + [tuple(chance.sample(list(SECTIONS), chance.randint(2, len(SECTIONS)))) for _ in range(DRAWS)]


@pytest.fixture(scope="module", params=["receiver", "contact", "waits"])
def compared(request: pytest.FixtureRequest) -> Comparison:
    return compare(demo_request(CASES[request.param]))


def blocks_of(blocks: tuple[Block, ...]) -> Iterator[Block]:
    """One after another as they are read."""
    for block in blocks:
        if isinstance(block, Group):
            yield from blocks_of(block.blocks)
        else:
            yield block


def words_in(block: Block) -> list[str]:
    if isinstance(block, Paragraph):
        return [text_of(block.runs)]
    if isinstance(block, Bullets):
        return [text_of(item) for item in block.items]
    return list(block.head) if isinstance(block, Table) else []


def uncautioned(blocks: list[Block]) -> list[str]:
    """What sends hands to a pin without the caution in the same sentence or right behind it."""
    bare = []
    for block, behind in zip(blocks, [*blocks[1:], None], strict=True):
        follows = isinstance(behind, Paragraph) and text_of(behind.runs) == AT_THE_PINS
        bare += [text for text in words_in(block) if "Probe next" in text and not follows and AT_THE_PINS not in text]
    return bare


def test_each_probe_next_of_every_choice_of_sections(compared: Comparison) -> None:
    told = 0
    for sections in chosen():
        report = build_report(compared, linnet_case(compared), sections=sections)
        for section in report.sections:
            blocks = list(blocks_of(section.blocks))
            assert uncautioned(blocks) == [], sections
            told += any("Probe next" in text for block in blocks for text in words_in(block))
    # a choice with nothing to probe shows nothing
    assert told >= DRAWS // 3


def test_each_probe_next_in_page_and_print(compared: Comparison) -> None:
    report = build_report(compared)
    page = unescape(re.sub(r"<[^>]*>", " ", report_html(report)))
    print_ = " ".join(p.extract_text() for p in pypdf.PdfReader(io.BytesIO(report_pdf(report))).pages)
    page, print_ = (" ".join(text.replace("\u00a0", " ").split()) for text in (page, print_))
    parts = page.split("Probe next")
    assert len(parts) > 1
    assert all(AT_THE_PINS in part for part in parts[1:])
    # the head of a table comes again on its next page
    assert AT_THE_PINS in print_.rpartition("Probe next")[2]
    assert print_.count(AT_THE_PINS) == page.count(AT_THE_PINS)


def test_notices_that_send_hands_to_a_clip_have_it() -> None:
    hands = re.compile(r"\b(clips?|plug|scope|counter|measure)\b", re.IGNORECASE)
    assert {code for code, kind in NOTICE_KINDS.items() if hands.search(kind.do)} == AT_PINS
    swapped = recipes.renamed(recipes.SAME, {"A": "B", "B": "A"})
    found = compare(CompareRequest((recipes.GOOD,), (swapped,), clock="CK"))
    assert {own.code for own in found.notices} & AT_PINS
    blocks = list(blocks_of(build_report(found, sections=("summary",)).section("summary").blocks))
    at = next(n for n, block in enumerate(blocks) if any("look swapped" in text for text in words_in(block)))
    assert words_in(blocks[at + 1]) == [AT_THE_PINS]
