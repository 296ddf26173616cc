"""The PDF, opened with another program's reader: pages, words, links, letters."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pypdf
import pytest

from app.case.values import Entry
from app.cli.run import demo_request
from app.report import write_pdf, write_report
from app.report.blocks import Cell, Report, Section, Table, words
from app.report.contents import build_report
from app.report.pdf import report_pdf
from app.report.pdf_table import settled
from app.report.record import comparison_record
from demo_traces import CASES
from tests.report.linnet_case import linnet_case, photo
from tests.report.tag_tree import elements
from tests.report.test_contents import photo_or_loss
from tracecore.comparison import Comparison, compare
from tracecore.errors import RequestError


@pytest.fixture(scope="module")
def receiver() -> Comparison:
    return compare(demo_request(CASES["receiver"]))


@pytest.fixture(scope="module")
def full(receiver: Comparison) -> Report:
    return build_report(receiver, linnet_case(receiver), photo_or_loss, printed="2026-02-11")


@pytest.fixture(scope="module")
def printed(full: Report) -> bytes:
    return report_pdf(full)


def read(data: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(data), strict=True)


def text(data: bytes) -> str:
    """All words, spaces and line ends made one space, so that a break is no difference."""
    return " ".join(" ".join(page.extract_text() for page in read(data).pages).split())


@pytest.mark.parametrize(("page", "size"), [("A4", (595.3, 841.9)), ("Letter", (612, 792))])
def test_each_page_has_the_case_the_date_and_its_number(full, page, size):
    pages = read(report_pdf(full, page=page)).pages
    # ISO 216: A4 is 210 by 297 mm; ANSI/ASME Y14.1 size A: 8.5 by 11 inches
    assert (float(pages[0].mediabox.width), float(pages[0].mediabox.height)) == pytest.approx(size, abs=0.1)
    assert len(pages) > 5
    for number, found in enumerate(pages, start=1):
        said = " ".join(found.extract_text().split())
        assert "Case 14 · South crate stops at the third fetch" in said
        assert "printed 2026-02-11" in said
        assert f"Page {number} of {len(pages)}" in said


def test_every_section_is_there_and_in_the_outline(full, printed):
    said = text(printed)
    for section in full.sections:
        assert section.title in said
    assert [entry.title for entry in read(printed).outline] == [section.title for section in full.sections]


def test_outline_leads_to_the_page_of_its_heading(printed):
    reader = read(printed)
    for entry in reader.outline:
        page = reader.pages[reader.get_destination_page_number(entry)]
        assert entry.title in " ".join(page.extract_text().split())


def test_the_story_of_the_log_stands_in_the_pdf(printed):
    said = text(printed)
    for words_of in (
        "Because of entry 7, done 4 Feb 2026, 15:15: Wire 6-B22 to 7-B04 wrapped anew",
        "Led to entry 11, result 10 Feb 2026, 17:45",
        "Put right by entry 6",
        "7338 (1973, week 38)",
        "0 of 300 captures diverge; with 95 % confidence fewer than 1.0 % would.",
        "Slot 7 under the lamp",
    ):
        assert words_of in said


def test_the_same_report_gives_the_same_bytes(receiver, full, printed):
    assert printed == report_pdf(build_report(receiver, linnet_case(receiver), photo_or_loss, printed="2026-02-11"))
    # beside the date and page numbers nothing depends on when it was printed
    later = text(report_pdf(replace(full, printed="2026-03-30")))
    assert later.replace("2026-03-30", "2026-02-11") == text(printed)


def test_letters_go_into_the_file(printed):
    used = {
        str(font.get_object()["/BaseFont"]): font.get_object()
        for page in read(printed).pages
        for font in page["/Resources"]["/Font"].values()
    }
    drawn = {name: font for name, font in used.items() if "Vera" in name}
    assert drawn
    assert all("/FontFile2" in font["/FontDescriptor"] for font in drawn.values())


def test_no_character_is_lost():
    log = (Entry(1, "seen", "Ω µ ∞漢 φ 🔧 ▲✓○ 1\u202f004 \u2212\u00b12 <b>&amp;</b> a\tb \x07"),)
    case = replace(linnet_case(None), entries=log, cards=(), stamps=())
    said = text(report_pdf(build_report(None, case, sections=("log",))))
    assert "Ω µ ∞[U+6F22] [U+03C6] [U+1F527] [U+25B2][U+2713][U+25CB] 1 004 \u2212±2 <b>&amp;</b> a b [U+0007]" in said


def test_a_log_of_three_hundred_lines_flows_over_pages(receiver):
    report = build_report(receiver, linnet_case(receiver, more=289), sections=("log",))
    data = report_pdf(report)
    said = text(data)
    assert len(read(data).pages) > 15
    for line in range(1, 290):
        assert f"Line {line} of a long log" in said
    for entry in range(1, 301):
        assert f"entry {entry} " in said


def test_one_line_longer_than_a_page_is_broken_and_whole(receiver):
    long = " ".join(f"word{i}" for i in range(3000))
    wide = "x" * 4000
    log = (Entry(1, "seen", long), Entry(2, "seen", wide), Entry(3, "seen", "end"))
    case = replace(linnet_case(None), entries=log)
    mark = replace(case.marks[0], note=" ".join(f"note{i}" for i in range(1500)))
    report = build_report(None, replace(case, marks=(mark,)), sections=("marks", "log"))
    said = text(report_pdf(report))
    assert all(f"word{i}" in said for i in range(3000))
    assert all(f"note{i}" in said for i in range(1500))
    assert said.replace(" ", "").count("x") >= 4000


def test_without_captures_a_letter_page_tells_what_was_kept(receiver, tmp_path):
    saved = comparison_record(receiver)
    written = write_report(
        None, tmp_path / "r", case=linnet_case(None), photos=photo_or_loss, saved=saved, page="Letter"
    )
    assert [p.name for p in written] == ["report.html", "report.pdf", "comparison.json"]
    assert "Captures of this case are absent" in text(written[1].read_bytes())


def test_a_page_size_that_is_not_known_is_refused_and_nothing_is_left(receiver, tmp_path):
    with pytest.raises(RequestError, match="A4, Letter"):
        write_report(receiver, tmp_path / "r", page="A5")
    assert not any(tmp_path.iterdir())


def test_one_file_alone(full, printed, tmp_path):
    path: Path = write_pdf(full, tmp_path / "case.pdf")
    assert path.read_bytes() == printed


def test_photos_stay_photos(printed):
    # not .images, which may write a photo anew
    objects = [x.get_object() for page in read(printed).pages for x in page["/Resources"].get("/XObject", {}).values()]
    assert {x["/Filter"][-1] for x in objects} == {"/DCTDecode"}
    assert {x.get_data() for x in objects} == {photo("aa"), photo("bb")}


def test_words_of_a_crowded_table_are_not_cut():
    row = tuple(Cell(words(text_of)) for text_of in ("ADDR00", "7-B03", "diverges", "intermittent") + ("12 345",) * 6)
    table = Table(("Signal", "Pin", "Verdict", "Mode", *["Missing"] * 6), (row,), frozenset(range(4, 10)))
    wide, crowded = settled(table, 700), settled(table, 420)
    assert wide.size > crowded.size
    assert sum(wide.widths) == pytest.approx(700)
    assert sum(crowded.widths) == pytest.approx(420)
    report = Report("t", words("s"), "t", "", (Section("verdicts", "Verdict", (table,)),))
    assert re.search(r"intermittent.*12\s345", text(report_pdf(report)))


@pytest.mark.parametrize("count", [3, 43, 44, 45])
def test_no_row_of_a_table_stands_alone_on_the_last_page(count):
    rows = tuple((Cell(words(f"ROW{i}")), Cell(words(f"{i}"))) for i in range(count))
    table = Table(("Signal", "Missing"), rows, frozenset({1}))
    pages = read(report_pdf(Report("t", words("s"), "t", "", (Section("verdicts", "Verdict", (table,)),)))).pages
    on_pages = [len(re.findall(r"ROW\d", page.extract_text())) for page in pages]
    assert sum(on_pages) == count
    assert on_pages[-1] != 1


# ---- tags: ISO 32000-1, 14.7 and 14.8


def test_the_pdf_is_tagged_in_the_order_of_its_pages(full: Report, printed: bytes) -> None:
    assert bool(read(printed).trailer["/Root"]["/MarkInfo"]["/Marked"])
    found = elements(printed)
    roles = [role for role, _, _ in found]
    assert roles[:3] == ["/Document", "/H1", "/P"]
    assert roles.count("/H2") == len(full.sections)
    assert {"/H3", "/L", "/LI", "/LBody", "/Table", "/TR", "/TH", "/TD", "/Figure", "/Caption"} <= set(roles)
    assert all(alt for role, alt, _ in found if role == "/Figure")
    places = [place for role, _, marks in found for place in marks if role != "/Figure"]
    # a paragraph or a row that goes on overleaf is met again after its own page: all else goes forward
    assert sum(b[0] < a[0] for a, b in pairwise(places)) <= 12


def test_every_mark_on_a_page_is_known_to_the_tree_and_closed(printed: bytes) -> None:
    reader = read(printed)
    tree = reader.trailer["/Root"]["/StructTreeRoot"]["/ParentTree"]["/Nums"]
    held = [place for _, _, marks in elements(printed) for place in marks]
    assert len(held) == len(set(held))
    for number, page in enumerate(reader.pages):
        assert page["/StructParents"] == number == tree[2 * number]
        operators = [name for _, name in pypdf.generic.ContentStream(page.get_contents(), reader).operations]
        begun, depth = operators.count(b"BDC"), 0
        for name in operators:
            depth += (name in (b"BDC", b"BMC")) - (name == b"EMC")
            assert 0 <= depth <= 1
        assert depth == 0
        assert sorted(mark for at, mark in held if at == number) == list(range(begun))
        assert len(tree[2 * number + 1].get_object()) == begun


def test_the_head_of_a_table_is_read_once_on_however_many_pages() -> None:
    rows = tuple((Cell(words(f"S{i}")), Cell(words(f"{i}"))) for i in range(150))
    table = Table(("Signal", "Missing"), rows, frozenset({1}))
    data = report_pdf(Report("t", words("s"), "t", "", (Section("verdicts", "Verdict", (table,)),)))
    assert len(read(data).pages) > 2
    found = elements(data)
    assert [len(marks) for role, _, marks in found if role == "/TH"][:2] == [1, 1]
    assert sum(role == "/TR" for role, _, _ in found) == 151
    assert sum(role == "/TD" for role, _, _ in found) == 150
