"""A report as a value: which sections there are, what they say of a comparison, of a case, and of what was kept."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace

import pytest

from app.case.errors import CaseDamaged
from app.case.record import OpenCase
from app.cli.run import demo_request
from app.report.blocks import Block, Bullets, FigureBlock, Group, Heading, Paragraph, PhotoBlock, Report, Run, Table
from app.report.contents import SECTIONS, build_report, chosen_sections
from app.report.record import comparison_record
from demo_traces import CASES
from tests.report.linnet_case import linnet_case, photo
from tracecore.comparison import Comparison, compare
from tracecore.errors import RequestError


@pytest.fixture(scope="module")
def receiver() -> Comparison:
    return compare(demo_request(CASES["receiver"]))


@pytest.fixture(scope="module")
def full(receiver: Comparison) -> Report:
    return build_report(receiver, linnet_case(receiver), photo_or_loss, printed="2026-02-11")


def photo_or_loss(stored: str) -> bytes:
    if stored == "cc":
        raise CaseDamaged("A photo is lacking.")
    return photo(stored)


def flat(blocks: tuple[Block, ...]) -> Iterator[Block]:
    for block in blocks:
        yield block
        if isinstance(block, Group):
            yield from flat(block.blocks)


def runs_in(block: Block) -> Iterator[Run]:
    if isinstance(block, Paragraph | Heading):
        yield from block.runs
    elif isinstance(block, Bullets):
        for item in block.items:
            yield from item
    elif isinstance(block, Table):
        for row in block.rows:
            for cell in row:
                yield from cell.runs
    elif isinstance(block, PhotoBlock):
        yield from block.caption


def said(report: Report, section: str) -> str:
    return "".join(run.text + " " for block in flat(report.section(section).blocks) for run in runs_in(block))


def figures_in(report: Report, section: str) -> list[str]:
    return [b.name for b in flat(report.section(section).blocks) if isinstance(b, FigureBlock)]


def test_a_full_case_fills_all_sections_but_those_it_has_nothing_for(full):
    # logic captures have no volts, no part is named, and every signal that diverges is a likely cause here
    lacks = ("levels", "figures", "backplane", "chips", "margins", "setup and hold")
    assert [s.name for s in full.sections] == [name for name in SECTIONS if name not in lacks]
    assert full.title == "Case 14 · South crate stops at the third fetch"


def test_a_comparison_alone_brings_no_section_of_a_case(receiver):
    names = {s.name for s in build_report(receiver).sections}
    assert names == {"summary", "findings", "verdicts", "timing", "conditions", "not compared", "cautions"}


def test_levels_are_told_where_volts_were_captured():
    report = build_report(compare(demo_request(CASES["contact"])), sections=("levels", "margins", "conditions"))
    margins = said(report, "margins")
    assert "weak low 1.11 V" in margins
    assert "−0.40 V" in margins
    assert "SDLS025B" in margins
    assert "weak low" in said(report, "levels")
    assert "Family 74" in said(report, "conditions")


def test_sections_are_chosen_by_name_and_keep_the_report_s_order(receiver):
    report = build_report(receiver, linnet_case(receiver), sections=("log", "Not-Compared", "summary"))
    assert [s.name for s in report.sections] == ["summary", "log", "not compared"]
    for wrong, words in ((("logs",), "'logs' is not known"), ((" ",), "No section was named")):
        with pytest.raises(RequestError, match=words):
            chosen_sections(wrong)
    with pytest.raises(RequestError, match="needs a comparison or a case"):
        build_report(None)


def test_the_log_reads_as_a_story(full):
    log = full.section("log").blocks
    groups = {g.anchor: g for g in log if isinstance(g, Group)}
    assert [g.shape for g in groups.values()] == [
        "ring", "ring", "diamond", "rule", "rule", "rule", "square", "ring cross", "diamond", "square", "disc tick",
    ]  # fmt: skip
    links = {a: {r.link for b in flat(g.blocks) for r in runs_in(b) if r.link} for a, g in groups.items()}
    assert links["entry-8"] == {"entry-7", "entry-9"}
    assert links["entry-5"] == {"entry-4", "entry-6"}
    words = said(full, "log")
    assert "Put right by entry 6" in " ".join(words.split())
    assert "The 180 ohm were 18 ohm" in words
    assert "Picture 9, which is not in the case any more" in words


@pytest.mark.parametrize("sections", [None, ("parts", "continuity"), ("log",), ("pictures", "log")])
def test_every_link_leads_somewhere(receiver, sections):
    report = build_report(receiver, linnet_case(receiver), photo_or_loss, sections=sections)
    blocks = [block for section in report.sections for block in flat(section.blocks)]
    anchors = {getattr(block, "anchor", "") for block in blocks}
    links = {run.link for block in blocks for run in runs_in(block) if run.link}
    assert links <= anchors
    assert bool(links) == (sections is None or "log" in sections)


def test_a_figure_of_the_log_is_drawn_once_and_never_of_another_pair(receiver, full):
    assert figures_in(full, "log") == []
    assert "as drawn at likely cause 1" in " ".join(said(full, "log").split())
    case = linnet_case(receiver)
    assert figures_in(build_report(receiver, case, sections=("log",)), "log") == ["entry-3-figure"]
    other = replace(case, good=replace(case.good, shown=1))
    assert "another pair of captures" in said(build_report(receiver, other, sections=("log",)), "log")


def test_figures_of_what_is_no_cause_have_their_section(receiver):
    alone = build_report(receiver, sections=("figures",))
    diverging = sum(s.verdict == "diverges" for s in receiver.signals)
    assert len(figures_in(alone, "figures")) == diverging


def test_active_low_names_carry_their_overbar(full):
    names = {run.text: run.low for block in flat(full.section("verdicts").blocks) for run in runs_in(block)}
    assert names["STB"]
    assert not names["D03"]


def test_without_captures_the_kept_record_serves(receiver):
    saved = json.loads(json.dumps(comparison_record(receiver)))
    report = build_report(None, linnet_case(None), photo_or_loss, saved)
    assert "3 of 16 signals diverge." in said(report, "summary")
    assert "Captures of this case are absent" in said(report, "summary")
    now = build_report(receiver, linnet_case(None), photo_or_loss)
    assert said(report, "verdicts") == said(now, "verdicts")
    assert "stuck low" in said(report, "findings")
    assert not any(figures_in(report, section.name) for section in report.sections)
    assert "not drawn, since nothing is compared here" in said(report, "log")


@pytest.mark.parametrize("saved", [None, {"schema": "something/9"}])
def test_with_nothing_kept_the_log_still_makes_a_report(saved):
    report = build_report(None, linnet_case(None), saved=saved)
    assert "Nothing was compared" in said(report, "summary")
    assert {"log", "parts", "pictures", "conditions", "cautions"} <= {s.name for s in report.sections}
    assert "findings" not in {s.name for s in report.sections}
    assert "not at hand" in said(report, "pictures")


def test_a_photo_that_is_lost_leaves_a_sentence(full):
    photos = [b for b in full.section("pictures").blocks if isinstance(b, PhotoBlock)]
    assert len(photos) == 2
    assert "cannot be shown. A photo is lacking." in said(full, "pictures")


def test_readings_tell_which_line_put_them_right(full):
    words = " ".join(said(full, "continuity").split())
    assert "6-B22 to 7-B04 0.2 ohm 180 ohm 4 Feb 2026 5 , put right by 6" in words
    assert "low 0.3, high 0.6" in words


def test_an_empty_case_gives_a_report_too():
    report = build_report(None, OpenCase())
    assert report.title == "Case without a name"
    assert {s.name for s in report.sections} == {"summary", "conditions", "cautions"}


def test_a_missed_setup_stands_in_the_report_with_its_part():
    report = build_report(compare(demo_request(CASES["setup"])), sections=("setup and hold",))
    told = said(report, "setup and hold")
    assert "setup 8 ns, needs 20 ns" in told
    assert "SDLS119" in told
    assert "READ" not in told  # no part is named for it
