"""The printed bench card, opened with an independent reader: one page, every row, boxes a hand can write in."""

from __future__ import annotations

import io
from dataclasses import replace
from itertools import pairwise

import pypdf
import pytest

from app.case.card_rows import BLANK, MOST_ROWS, card_for, found_choices
from app.case.record import OpenCase
from app.case.values import BenchCard, CardRow, Unit
from app.report.bench_card import CAUTIONS, DEFER, card_pdf
from app.report.bench_card_figure import card_style, rows_of
from app.report.bench_card_layout import (
    BOX_MM,
    LEAST_ROW_MM,
    PAGES_MM,
    heights,
)
from app.report.bench_card_map import spots_of, wiring_side
from app.report.bench_card_pen import MM, Pen
from app.report.pdf_letters import printable
from tests.case.test_card_rows import D03, case_of, cause_of, compared
from tests.report.tag_tree import elements
from tracecore.comparison import Comparison
from tracecore.errors import RequestError

PAGES = sorted(PAGES_MM)


def full_case() -> tuple[OpenCase, Comparison, BenchCard]:
    """Ten rows, all pins known."""
    case = case_of(
        D03, title="The adder drops a bit", good_unit=Unit("North crate"), suspect_unit=Unit("South crate")
    )  # fmt: skip
    comparison = compared(driver="6-B22", family="74LS")
    comparison = replace(comparison, causes=(cause_of(),))
    card = card_for(
        case, comparison, cause_of(), receivers=["9-B11", "11-B12"],
        ground_pins=["6-A36", "7-A36", "9-A36", "11-A36"], supply_pins=["7-A02"],
    )  # fmt: skip
    return case, comparison, card


def page_of(pdf: bytes) -> pypdf.PageObject:
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    assert len(pages) == 1
    return pages[0]


def words_of(pdf: bytes) -> str:
    """All words with single spaces, so that a broken line does not hide a sentence."""
    return " ".join(page_of(pdf).extract_text().replace("\u00a0", " ").split())


def boxes_mm(pdf: bytes) -> list[tuple[float, float, float, float]]:
    """Left, foot, width and height of each rectangle that is drawn without a fill, in millimetres.

    Read from the page's own drawing commands (ISO 32000-1, table 59: ``re``; table 60: ``S`` strokes only).
    """
    found, last = [], None
    for operands, operator in page_of(pdf).get_contents().operations:
        if operator == b"re":
            last = tuple(float(v) / MM for v in operands)
        elif operator == b"S" and last is not None:
            found.append(last)
        if operator in (b"S", b"f", b"B", b"f*", b"B*", b"n"):
            last = None
    return found


@pytest.mark.parametrize("page", PAGES)
def test_ten_rows_fit_one_page_with_every_word(page: str) -> None:
    case, comparison, card = full_case()
    assert len(card.rows) == MOST_ROWS
    pdf = card_pdf(card, case, comparison, page=page, printed="25 Nov 2026 10:20", author="R.")
    words = words_of(pdf)
    for number, row in enumerate(card.rows, start=1):
        head, _, rest = row.probe.partition(" to ")
        assert f"{number} {head}" in words
        assert f"to {rest}" in words if rest else True
        assert row.how in words
        assert row.limit.splitlines()[0] in words
        assert row.limit.splitlines()[1] in words
    for wanted in (
        "Bench card 14-1", "Case 14", case.title, "printed 25 Nov 2026 10:20 for R.", "POWER OFF", "POWER ON",
        "unplugged", "proved dead", "cards out of slots 6, 7, 9, 11", "South crate reads", "North crate",
        card.finding.replace("\u202f", " "), "look there", "Case 14 · card 14-1 · sheet 1 of 1", "Read by", DEFER,
        *CAUTIONS, "nothing yet",
    ):  # fmt: skip
        assert wanted in words, wanted
    width, height = (float(v) / MM for v in page_of(pdf).mediabox[2:])
    assert (width, height) == pytest.approx(PAGES_MM[page], abs=0.1)


@pytest.mark.parametrize("page", PAGES)
def test_boxes_are_as_high_as_a_hand_needs_and_stay_on_the_sheet(page: str) -> None:
    case, comparison, card = full_case()
    boxes = boxes_mm(card_pdf(card, case, comparison, page=page))
    wanted = sum(len(row.boxes) for row in card.rows)
    to_write = [box for box in boxes if box[3] == pytest.approx(BOX_MM, abs=0.01)]
    assert len(to_write) == wanted
    assert BOX_MM >= 8.0
    assert all(box[2] >= 15 for box in to_write)
    width, height = PAGES_MM[page]
    for left, foot, wide, high in boxes:
        assert left >= 10
        assert left + wide <= width - 10
        assert foot >= 10
        assert foot + high <= height - 10
    feet = sorted({box[1] for box in to_write})
    assert len(feet) == MOST_ROWS
    assert min(b - a for a, b in pairwise(feet)) >= LEAST_ROW_MM - 0.01


def test_power_off_and_power_on_are_not_mixed() -> None:
    case, comparison, card = full_case()
    shuffled = replace(card, rows=(*card.rows[5:], *card.rows[:5]))
    words = words_of(card_pdf(shuffled, case, comparison))
    off, on = words.index("POWER OFF"), words.index("POWER ON")
    assert off < words.index("slot 7 empty") < on < words.index("read first")


def letters_of(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, float, float, float, float]]:
    """A list that fills with each line of letters that is written: words, left, foot, right and head in points."""
    from reportlab.pdfgen.canvas import Canvas

    written: list[tuple[str, float, float, float, float]] = []
    plain = Canvas.drawString

    def draw(self: Canvas, x: float, y: float, text: str, *more: object, **named: object) -> None:
        size = self._fontsize
        if text.strip(" _"):
            # capitals reach 0.73 of the size above the base line, commas 0.15 below
            wide = self.stringWidth(text, self._fontname, size)
            written.append((text, x, y - 0.15 * size, x + wide, y + 0.73 * size))
        plain(self, x, y, text, *more, **named)

    monkeypatch.setattr(Canvas, "drawString", draw)
    return written


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize(
    "kind", ["full", "bare", "long names", "read", "bridged", "near pins", "far slots", "8 slots", "9 slots"]
)
def test_no_words_touch_or_leave_the_sheet(page: str, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    case, comparison, card = full_case()
    if kind == "bare":
        comparison = compared(driver="", slot="", pin="", family="74")
        card = card_for(case_of(), comparison, cause_of())
    if kind == "long names":
        unit = Unit("The machine in the back room behind the old paper tape store")
        case = replace(case, good_unit=unit, suspect_unit=unit, title="It " + "stops and starts again " * 9)
        card = replace(card, signal="D03")
    if kind == "read":
        filled = tuple(("17.55 kohm, moving", "3.4 V, ringing")[: len(row.boxes)] for row in card.rows)
        card = replace(card, filled=filled, found="wire, a hair", notes="moved when touched, " * 12)
    if kind == "bridged":
        card = card_for(case, comparison, cause_of(mode="follows D02"))
    if kind == "near pins":
        card = card_for(case, comparison, cause_of(), receivers=["7-A04", "7-B05"])
    if kind == "far slots":
        card = card_for(case, comparison, cause_of(), receivers=["103-B99", "104-B98"])
    if kind.endswith(" slots") and kind != "far slots":
        row = CardRow("on", "", "receiver, should move", "", "low ≤ 0.8, high ≥ 2.0 V", "V", ("low", "high"))
        rows = (replace(row, probe=f"{100 + slot}-B{slot:02d}") for slot in range(int(kind[0])))
        card = replace(card, rows=tuple(rows))
    written = letters_of(monkeypatch)
    card_pdf(card, case, comparison, page=page, printed="25 Nov 2026 10:20", author="R.")
    assert len(written) > 60
    width, height = (edge * MM for edge in PAGES_MM[page])
    for index, (words, left, foot, right, head) in enumerate(written):
        assert left > 25
        assert right < width - 25, words
        assert foot > 25
        assert head < height - 25
        for other, left2, foot2, right2, head2 in written[:index]:
            apart = right <= left2 or right2 <= left or head <= foot2 or head2 <= foot
            assert apart, (words, other)


@pytest.mark.parametrize("page", PAGES)
def test_only_black_and_white(page: str) -> None:
    case, comparison, card = full_case()
    colours = set()
    for operands, operator in page_of(card_pdf(card, case, comparison, page=page)).get_contents().operations:
        if operator in (b"rg", b"RG", b"g", b"G", b"k", b"K"):
            colours.add(tuple(float(v) for v in operands))
    assert colours <= {(0.0, 0.0, 0.0), (1.0, 1.0, 1.0), (0.0,), (1.0,)}


def test_the_same_card_gives_the_same_bytes() -> None:
    case, comparison, card = full_case()
    first = card_pdf(card, case, comparison, printed="25 Nov 2026")
    assert first == card_pdf(card, case, comparison, printed="25 Nov 2026")
    assert first != card_pdf(card, case, comparison, printed="26 Nov 2026")


def test_fonts_are_embedded() -> None:
    fonts = page_of(card_pdf(full_case()[2], full_case()[0], None))["/Resources"]["/Font"]
    used = [font.get_object() for font in fonts.values()]
    embedded = [f for f in used if "/FontDescriptor" in f and "/FontFile2" in f["/FontDescriptor"]]
    assert len(embedded) >= 2


def test_unknown_pins_leave_a_line_and_no_map() -> None:
    case = case_of()
    comparison = compared(driver="", slot="", pin="", family="74")
    card = card_for(case, comparison, cause_of())
    assert spots_of(card) == ()
    words = words_of(card_pdf(card, case, None))
    assert words.count(BLANK) >= 7
    assert "Wiring side" not in words


def test_the_map_is_mirrored_and_says_so() -> None:
    case, comparison, card = full_case()
    assert wiring_side(spots_of(card)) == ((11, 9, 7, 6), ("B", "A"))
    page = page_of(card_pdf(card, case, comparison))
    at: dict[str, float] = {}

    def visit(text: str, cm: list[float], tm: list[float], font: object, size: float) -> None:
        # the slots' numbers are the only figures of this size
        if size == 11 and text.strip().isdecimal():
            at[text.strip()] = tm[4]

    page.extract_text(visitor_text=visit)
    assert at["11"] < at["9"] < at["7"] < at["6"]
    words = words_of(card_pdf(card, case, comparison))
    assert "Wiring side, slot 1 at the right" in words
    for name in ("B22", "B04", "B11", "B12"):
        assert name in words


def test_what_was_read_is_printed_into_its_boxes() -> None:
    case, comparison, card = full_case()
    filled = tuple(tuple(f"{i}.{j} V" for j in range(len(row.boxes))) for i, row in enumerate(card.rows, start=20))
    read = replace(card, filled=filled, found="wrap, a hair of wire", notes="moved when the loom was touched")
    words = words_of(card_pdf(read, case, comparison))
    for texts in filled:
        for text in texts:
            assert text in words
    assert "a hair of wire" in words
    assert "moved when the loom was touched" in words


@pytest.mark.parametrize("page", PAGES)
def test_the_figure_shows_the_signal_under_the_clock(page: str) -> None:
    case, comparison, card = full_case()
    words = words_of(card_pdf(card, case, comparison, page=page))
    assert words.index("MCLK") < words.index("D03 7-B04 N S") < words.index("cycle 13", words.index("MCLK"))
    for wanted in ("MCLK", "7-A01", "N North crate, good", "S South crate, suspect", "they differ"):
        assert wanted in words
    assert rows_of(card, comparison, 3) == ("D03", "MCLK")


def test_the_drivers_own_pin_is_drawn_where_it_was_captured() -> None:
    _, comparison, card = full_case()
    signals = [replace(s, slot="6", pin="B22") if s.signal == "D02" else s for s in comparison.signals]
    comparison = replace(comparison, signals=tuple(signals))
    assert rows_of(card, comparison, 3) == ("D03", "D02", "MCLK")
    assert rows_of(card, comparison, 1) == ("D03",)


@pytest.mark.parametrize("page", PAGES)
def test_a_long_sentence_goes_before_the_figure(page: str) -> None:
    case, comparison, card = full_case()
    long = replace(cause_of(), probe_next="Measure here, then there. " * 6)
    wordy = replace(card, finding="D03 at 7-B04: stuck low. " * 7)
    words = words_of(card_pdf(wordy, case, replace(comparison, causes=(long,)), page=page))
    assert "MCLK" in words
    assert ("Measure here" in words) == (page == "A4")


def test_a_unit_that_was_typed_stands_alone() -> None:
    case, comparison, card = full_case()
    bare, typed = (words_of(card_pdf(replace(card, filled=((text,),)), case, comparison)) for text in ("18", "18 kohm"))
    assert bare.count("ohm") == typed.count("ohm")


@pytest.mark.parametrize("rows", [1, 2, 3])
@pytest.mark.parametrize("height", [26.0, 36.0, 46.0])
def test_the_figure_fills_its_box_with_letters_that_can_be_read(rows: int, height: float) -> None:
    unit, style = card_style(height, rows)
    assert style.height(rows) * unit == pytest.approx(height)
    assert 12 * unit * MM >= 7.0


def test_a_cycle_outside_the_line_up_has_no_figure_but_the_map_stays() -> None:
    case, comparison, card = full_case()
    words = words_of(card_pdf(replace(card, cycle=5000), case, comparison))
    assert "MCLK" not in words
    assert "Wiring side" in words


def test_a_card_stands_without_captures() -> None:
    case, _, card = full_case()
    words = words_of(card_pdf(card, case, None))
    assert "6-B22" in words
    assert "look there" not in words


@pytest.mark.parametrize("page", PAGES)
def test_rows_go_before_the_figure_and_too_many_are_refused(page: str) -> None:
    row = CardRow("off", "6-B22 to 7-B04", "at the wrap posts", "", "1 ohm above good: raised", "ohm")
    case = case_of()
    many = BenchCard(0, "14-1", "D03", None, "D03.", (row,) * 13)
    assert f"13 {row.probe.split()[0]}" in words_of(card_pdf(many, case, None, page=page))
    with pytest.raises(RequestError, match=r"The card has 40 rows; one sheet of \w+ takes (\d+)") as told:
        card_pdf(replace(many, rows=(row,) * 40), case, None, page=page)
    takes = int(str(told.value).split(" takes ")[1].split(".")[0])
    card_pdf(replace(many, rows=(row,) * takes), case, None, page=page)
    with pytest.raises(RequestError):
        card_pdf(replace(many, rows=(row,) * (takes + 1)), case, None, page=page)


def test_an_unknown_page_size_is_named() -> None:
    case, _, card = full_case()
    with pytest.raises(RequestError, match=r"'A3'.*A4, Letter"):
        card_pdf(card, case, None, page="A3")


@pytest.mark.parametrize("page", PAGES)
def test_heights_close_with_the_page(page: str) -> None:
    """Whatever the rows, nothing is higher than the sheet, and rows never shrink below their box."""
    for rows in range(1, 14):
        shared = heights(page, rows, 14.0, 5)
        assert shared.row >= LEAST_ROW_MM
        assert 1 <= shared.notes <= 5
    assert heights(page, 6, 14.0, 5).figure > heights(page, 10, 14.0, 5).figure > 0


def test_letters_that_the_font_lacks_are_not_lost() -> None:
    assert printable("漢 ok") == "[U+6F22] ok"
    case, _, card = full_case()
    words = words_of(card_pdf(replace(card, notes="漢 seen"), replace(case, title="Ω 漢"), None))
    assert "Ω [U+6F22]" in words
    assert "[U+6F22] seen" in words


def test_wrapping_keeps_every_letter() -> None:
    words = "a long sentence with averyveryverylongwordthatfitsnowhere and an end"
    lines = Pen.wrapped(Pen.__new__(Pen), words, 20, 9)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")
    assert all(Pen.width(line, 9) <= 20 for line in lines)


# ---- tags: ISO 32000-1, 14.7 and 14.8


def test_the_card_is_read_aloud_by_its_parts() -> None:
    """As a screen reader goes: headings, both tables row by row, figures by what they show; all else is left out."""
    case, comparison, card = full_case()
    filled = replace(card, found=", ".join(found_choices(card)[:1]), notes="warm")
    pdf = card_pdf(filled, case, comparison, printed="25 Nov 2026 10:20", author="R.")
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    assert bool(reader.trailer["/Root"]["/MarkInfo"]["/Marked"])
    assert reader.trailer["/Root"]["/Lang"] == "en-GB"
    assert (reader.metadata.title, reader.metadata.author) == ("Bench card 14-1", "R.")
    found = elements(pdf)
    roles = [role for role, _, _ in found]
    assert roles[:2] == ["/Document", "/H1"]
    assert roles.count("/H2") == 5
    assert roles.count("/Table") == 2
    assert roles.count("/TR") == MOST_ROWS + 1
    assert roles.count("/TH") == MOST_ROWS + 4
    assert roles.count("/TD") == 3 * MOST_ROWS
    assert roles.count("/LBody") == len(CAUTIONS)
    figures = [alt for role, alt, _ in found if role == "/Figure"]
    assert len(figures) == 2
    assert "D03" in figures[1]
    assert "slot 7" in figures[0]
    assert any(alt.endswith(": ticked") for _, alt, _ in found)
    # every stroke and word on the page is marked, none inside another
    operations = [name for _, name in page_of(pdf).get_contents().operations]
    depth, drawn = 0, {b"Tj", b"TJ", b"S", b"f", b"B", b"f*", b"B*"}
    for name in operations:
        depth += (name in (b"BDC", b"BMC")) - (name == b"EMC")
        assert 0 <= depth <= 1
        assert depth or name not in drawn
    held = [mark for _, _, marks in found for _, mark in marks]
    assert sorted(held) == list(range(operations.count(b"BDC")))


def test_a_filled_card_with_nothing_known_has_its_parts_too() -> None:
    bare = BenchCard(1, "1-1", "D03", None, "D03 differs", ())
    assert "/H1" in [role for role, _, _ in elements(card_pdf(bare, OpenCase(), None))]
