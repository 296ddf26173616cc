"""The Captures page: two waves of check-ups, leads that look swapped, and what can be done with a capture."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton

from app.case.changes import ShowCapture
from app.model.capture_cards import (
    CardWords,
    all_judged,
    bench_line,
    cards,
    edited_capture,
    lead_marks,
    taken_text,
    taken_words,
)
from app.model.sheet_table import COLUMNS
from app.shell.window import Window
from app.widgets.captures.lead_swap import LeadSwap
from tests.gui.conftest import settle
from tests.gui.shared import SharedWindows, looked_at, until
from tests.plant import Plant, Side
from tracecore.circuit.probe_sheet import Probe, write_probe_sheet
from tracecore.errors import RequestError

pytestmark = pytest.mark.usefixtures("same_compared_once")
NOTE = len(COLUMNS) - 1
LEADS = {"D01": "4", "D02": "5"}


def swapped(side: Side, a: str, b: str) -> Side:
    """The same crate with two clips exchanged."""
    return replace(side, pins={**side.pins, a: side.pins[b], b: side.pins[a]})


def write(path: Path, side: Side) -> Path:
    """As sampled rows whose channels are numbered."""
    rate, names, rows = side.as_sampled_rows().split(b"\n", 2)
    numbers = ",".join(str(i) for i in range(names.count(b",") + 1))
    path.write_bytes(b"\n".join([rate, numbers.encode(), rows]))
    return path


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Two good captures, two suspect ones of which the second has leads 4 and 5 swapped, and the sheet."""
    folder = tmp_path_factory.mktemp("page")
    pairs = [Plant(seed=3, cycles=700, offset_cycles=5 + i).clean() for i in range(2)]
    probes = [
        Probe(str(i), p.signal, p.slot, p.pin, "low" if p.signal == "STB" else "high")
        for i, p in enumerate(pairs[0].sheet.probes)
    ]
    sheet = folder / "sheet.csv"
    sheet.write_text(write_probe_sheet(probes), "utf-8")
    return {
        "good1": write(folder / "good1.csv", pairs[0].good),
        "good2": write(folder / "good2.csv", pairs[1].good),
        "bad1": write(folder / "bad1.csv", pairs[0].suspect),
        "bad2": write(folder / "bad2.csv", swapped(pairs[1].suspect, "D01", "D02")),
        "sheet": sheet,
    }


def judged(qtbot, window: Window) -> None:
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle and all_judged(window.session), timeout=120_000)


def opened(window: Window, files: dict[str, Path]) -> None:
    window.files.open_case(
        [files["good1"], files["good2"]], [files["bad1"], files["bad2"]], files["sheet"], clock="MCLK"
    )
    until(lambda: window.session.current and window.jobs.idle and all_judged(window.session))
    window.show_page("captures")


@pytest.fixture
def page(qtbot, window: Window, files: dict[str, Path]) -> Window:
    """The window with both waves of check-ups over and Captures open."""
    opened(window, files)
    return window


@pytest.fixture(scope="module")
def opened_once(shared_windows: SharedWindows, files: dict[str, Path]) -> Window:
    window = shared_windows.window()
    opened(window, files)
    return window


@pytest.fixture
def seen_page(opened_once: Window) -> Iterator[Window]:
    """The same, for a test that leaves the case as it is."""
    with looked_at(opened_once) as window:
        yield window


def open_card(window: Window, side: str, index: int):
    column = window.pages["captures"].columns[side]
    column.cards[index].openWanted.emit(index)
    return column.cards[index]


def button(card, words: str) -> QPushButton:
    return next(b for b in card.findChildren(QPushButton) if b.text() == words)


def words_of(window: Window, side: str, index: int) -> CardWords:
    return cards(window.session, side)[index]


def texts(card) -> str:
    return "\n".join(found.text() for found in card.findChildren(QLabel))


def test_swapped_leads_are_found_in_a_capture_that_is_not_shown(seen_page: Window) -> None:
    bad = words_of(seen_page, "suspect", 1)
    assert (bad.kind, bad.headline) == ("bad", "Leads 4 (D01) and 5 (D02) look swapped")
    assert words_of(seen_page, "suspect", 0).kind == "fine"
    (offer,) = bad.offers
    assert (offer.channels, offer.certain) == (("4", "5"), True)
    # the picture shows what is said: each lead carries the other signal's wave
    assert offer.picture.suspect[0] == offer.picture.good[1]
    assert offer.picture.suspect[1] == offer.picture.good[0]
    assert offer.picture.good[0] != offer.picture.good[1]
    assert "2 captures, 1 needs a look" in seen_page.pages["captures"].columns["suspect"].line.text()
    assert seen_page.steps.rows["captures"].state.stamp == "look"


def test_a_card_that_is_cut_still_says_what_the_capture_is_fit_for(seen_page: Window) -> None:
    fine = words_of(seen_page, "suspect", 0)
    assert fine.headline.startswith("Fit for timing: clock MCLK ")
    assert fine.sentences[0].text.endswith("fit for states and timing.")


def test_notes_keep_a_width_that_can_be_read(seen_page: Window) -> None:
    table = seen_page.pages["captures"].table
    seen_page.settings.text_percent = 160
    seen_page.act("text_larger")
    for size in ((1280, 720), (1600, 900)):
        seen_page.resize(*size)
        settle()
        assert table.columnWidth(NOTE) >= 250
    assert table.horizontalScrollBar().maximum() > 0


def test_an_open_card_shows_the_evidence_with_both_percentages_and_the_two_answers(seen_page: Window) -> None:
    card = open_card(seen_page, "suspect", 1)
    assert len(card.findChildren(LeadSwap)) == 1
    said = texts(card)
    assert "ead 4 reads good D02 in " in said
    assert "lead 5 reads good D01 in " in said
    assert said.count(" % ") >= 2
    assert button(card, "Swap them in the sheet").property("role") == "decision"
    assert [c.signal for c in card.words.channels if c.accused] == ["D01", "D02"]
    assert [c.active for c in card.words.channels if c.signal == "STB"] == ["low"]


def test_a_swap_is_for_that_capture_alone_and_undo_takes_it_back(qtbot, page: Window) -> None:
    session = page.session
    before = {c.name: c for c in session.case.captures}
    shades = {c.signal: c.shades for c in words_of(page, "suspect", 1).channels}
    button(open_card(page, "suspect", 1), "Swap them in the sheet").click()
    assert session.case.suspect.captures[1].swaps == (("4", "5"),)
    assert [c for c in session.case.captures if c == before[c.name]] == [
        c for c in session.case.captures if c.name != "bad2.csv"
    ]
    assert session.case.sheet.probe("4").signal == "D01"
    judged(qtbot, page)
    after = words_of(page, "suspect", 1)
    now = {c.signal: c.shades for c in after.channels}
    assert (now["D01"], now["D02"], now["D03"]) == (shades["D02"], shades["D01"], shades["D03"])
    assert (after.kind in ("fine", "left"), after.offers) == (True, ())
    assert lead_marks(session)["4"][0].text == "read from lead 5, bad2.csv only"
    assert session.undo() == "swap two leads"
    judged(qtbot, page)
    assert words_of(page, "suspect", 1).offers


def test_leave_as_it_is_is_remembered_and_not_offered_again(qtbot, page: Window) -> None:
    button(open_card(page, "suspect", 1), "Leave as it is").click()
    session = page.session
    assert session.case.suspect.captures[1].left_alone == ("swapped 4 5",)
    judged(qtbot, page)
    left = words_of(page, "suspect", 1)
    assert (left.offers, left.kind) == ((), "left")
    assert left.sentences[0].text.startswith("Left as it is: leads 4 (D01) and 5 (D02) look swapped")
    assert lead_marks(session) == {}
    session.change(ShowCapture("suspect", 1))
    judged(qtbot, page)
    assert words_of(page, "suspect", 1).offers == ()


def test_rows_of_accused_leads_are_marked_and_carry_the_button(qtbot, page: Window) -> None:
    captures = page.pages["captures"]
    model, table = captures.model, captures.table
    row = model.row_of("4")
    assert model.data(model.index(row, 0), Qt.ItemDataRole.DisplayRole) == "▲ 4"
    note = model.index(row, NOTE)
    assert model.data(note, Qt.ItemDataRole.DisplayRole) == "lead 4 looks like D02, bad2.csv only"
    # what is edited is the sheet's own note
    assert model.data(note, Qt.ItemDataRole.EditRole) == ""
    assert model.data(model.index(model.row_of("3"), 0), Qt.ItemDataRole.BackgroundRole) is None
    page.resize(1600, 900)
    settle()
    table.scrollTo(model.index(row, 0), table.ScrollHint.PositionAtCenter)
    ((offer, swap),) = table._buttons
    assert swap.text() == "Swap 4 and 5"
    assert swap.isVisible()
    assert table.rows_of(swap) == (row, row + 1)
    swap.click()
    assert page.session.case.suspect.captures[1].swaps == (offer.channels,)


def test_nothing_is_called_fit_before_the_line_up_has_been_looked_at(qtbot, window: Window, files) -> None:
    window.files.open_captures("suspect", [files["bad2"]])
    qtbot.waitUntil(lambda: bool(window.session.checkups) and window.jobs.idle, timeout=120_000)
    assert bench_line(window.session) == "1 capture read and checked"
    seen: list[tuple[str, str]] = []

    def hear(what: str) -> None:
        if len(window.session.checkups) == 2 and not all_judged(window.session):
            seen.append((window.steps.rows["captures"].state.stamp, bench_line(window.session)))

    window.session.listen(hear)
    window.files.open_captures("good", [files["good1"]])
    judged(qtbot, window)
    assert seen
    assert all(stamp != "done" for stamp, _ in seen)
    assert any("judged after the line-up" in line for _, line in seen)
    assert words_of(window, "suspect", 0).kind == "bad"


def test_name_note_and_time_are_typed_on_the_card(page: Window) -> None:
    card = open_card(page, "good", 1)
    details = card.details
    details.name.setText("warm start")
    details.name.setModified(True)
    details.note.setText("card on the extender")
    details.taken.setText("2026-02-03 09:40")
    details._tell()
    held = page.session.case.good.captures[1]
    assert (held.name, held.note) == ("warm start", "card on the extender")
    assert taken_words(held.taken) == "2026-02-03 09:40"
    assert page.pages["captures"].columns["good"].cards[1].words.capture.name == "warm start"
    assert page.session.undo() == "describe a capture"
    assert page.session.case.good.captures[1].name == "good2.csv"


@pytest.mark.parametrize(("name", "taken", "said"), [("", "", "empty name"), ("x", "in spring", "a date and a time")])
def test_what_cannot_be_taken_is_said_in_a_sentence(seen_page: Window, name: str, taken: str, said: str) -> None:
    with pytest.raises(RequestError, match=said):
        edited_capture(seen_page.session.case.good.captures[0], name, "", taken)


def test_a_time_without_a_zone_is_that_of_the_place() -> None:
    assert taken_words(taken_text("2026-02-03 09:40")) == "2026-02-03 09:40"
    assert taken_text("  ") == taken_words("") == ""


def test_a_capture_moves_to_the_other_side_and_is_removed(qtbot, page: Window) -> None:
    button(open_card(page, "suspect", 1), "To the other side").click()
    assert [c.name for c in page.session.case.good.captures] == ["good1.csv", "good2.csv", "bad2.csv"]
    button(open_card(page, "good", 2), "Remove").click()
    assert len(page.session.case.good.captures) == 2
    page.session.undo()
    page.session.undo()
    assert [c.name for c in page.session.case.suspect.captures] == ["bad1.csv", "bad2.csv"]
    judged(qtbot, page)


def test_a_file_takes_the_place_of_another(qtbot, page: Window, files, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.shell.capture_actions.QFileDialog.getOpenFileName", lambda *_: (str(files["good2"]), ""))
    page.pages["captures"]._describe("good", 0, "good1.csv", "cold", "")
    button(open_card(page, "good", 0), "Replace file…").click()
    qtbot.waitUntil(lambda: page.session.case.good.captures[0].name == "good2.csv", timeout=120_000)
    assert page.session.case.good.captures[0].note == "cold"
    judged(qtbot, page)


def test_what_is_being_typed_survives_a_check_up_that_arrives(page: Window) -> None:
    column = page.pages["captures"].columns["suspect"]
    open_card(page, "suspect", 1).details.note.setText("half a no")
    column.cards[1].details.note.setModified(True)
    before = column.cards[1]
    page.session.pairs.clear()
    page.pages["captures"].refresh("checkups")
    assert column.cards[1] is not before
    assert column.cards[1].details.note.text() == "half a no"


def test_only_cards_that_say_something_new_are_made_anew(seen_page: Window) -> None:
    column = seen_page.pages["captures"].columns["good"]
    before = list(column.cards)
    seen_page.pages["captures"].refresh("checkups")
    assert column.cards == before


@pytest.mark.parametrize(
    ("size", "percent"), [((1280, 720), 100), ((1600, 900), 100), ((1280, 720), 160), ((1600, 900), 200)]
)
def test_no_card_is_wider_than_its_column_at_any_text_size(
    qtbot, seen_page: Window, size: tuple[int, int], percent: int
) -> None:
    seen_page.settings.text_percent = percent
    seen_page.apply_look()
    seen_page.resize(*size)
    open_card(seen_page, "suspect", 1)
    settle()
    for column in seen_page.pages["captures"].columns.values():
        room = column.scroll_area.viewport().width()
        assert column.scroll_area.widget().width() <= room
        assert all(card.geometry().right() <= room for card in column.cards)


def test_targets_are_large_on_an_empty_page_and_shrink_to_a_strip(qtbot, window: Window, page: Window) -> None:
    page.resize(1280, 720)
    captures = page.pages["captures"]
    for _ in range(6):
        page.session.change(replace_added(page))
    settle()
    assert captures.columns["good"].target.strip
    assert not captures.columns["good"].target.findChildren(QPushButton)
    judged(qtbot, page)


def replace_added(window: Window):
    from app.case.changes import AddCaptures

    held = window.session.case.good.captures[0]
    return AddCaptures("good", (replace(held, key=f"copy{len(window.session.case.good.captures)}"),))


def test_an_empty_page_has_two_large_targets_and_no_button_twice(window: Window) -> None:
    for column in window.pages["captures"].columns.values():
        assert not column.target.strip
        assert [b.text() for b in column.target.findChildren(QPushButton)] == ["Choose a folder…"]


def test_where_room_is_short_the_words_of_a_marked_row_win_over_its_button(qtbot, seen_page: Window) -> None:
    seen_page.resize(1000, 720)
    settle()
    table = seen_page.pages["captures"].table
    ((_, swap),) = table._buttons
    assert not swap.isVisibleTo(table)
    assert table.room_for_button(seen_page.pages["captures"].model.row_of("4")) == 0


@pytest.mark.parametrize("percent", [100, 160, 200])
def test_the_picture_of_swapped_leads_has_its_whole_height(qtbot, seen_page: Window, percent: int) -> None:
    seen_page.settings.text_percent = percent
    seen_page.apply_look()
    seen_page.resize(1280, 720)
    card = open_card(seen_page, "suspect", 1)
    (drawn,) = card.findChildren(LeadSwap)
    settle()
    assert drawn.height() >= drawn.heightForWidth(drawn.width()) > 0
    assert drawn.boxes()[1][1].bottom() < drawn.height()


def test_files_that_hang_over_a_half_show_where_they_would_land(window: Window) -> None:
    columns = window.pages["captures"].columns
    window._show_drop("suspect")
    assert [columns[side].target.styleSheet() != "" for side in ("good", "suspect")] == [False, True]
    window._show_drop(None)
    assert all(column.target.styleSheet() == "" for column in columns.values())


def test_the_same_file_on_both_sides_is_told_on_its_card(qtbot, window: Window, bench_files: dict[str, Path]) -> None:
    for side in ("good", "suspect", "suspect"):
        window.files.open_captures(side, [bench_files["good"]])
        qtbot.waitUntil(lambda: window.jobs.idle, timeout=120_000)
    words = [sentence.text for card in cards(window.session, "suspect") for sentence in card.sentences]
    assert any("on the other side: nothing can differ" in text for text in words)
    assert any("once more here: it counts once" in text for text in words)
    assert window.steps.rows["captures"].state.stamp == "look"


def test_a_sheet_of_another_slot_is_told_here_and_gets_no_tick(qtbot, page: Window, tmp_path: Path) -> None:
    other = tmp_path / "slot9.csv"
    other.write_text("channel,signal\nX0,IRQ\nX1,NMI\n", "utf-8")
    page.files.open_sheet(other)
    channels = page.session.case.good.captures[0].channels
    words = words_of(page, "good", 0)
    assert (words.kind, words.headline) == ("look", f"The probe sheet names none of its {len(channels)} channels")
    assert "belongs to it" in words.sentences[0].do
    line = page.pages["captures"].sheet_line.text()
    assert f"0 of {len(channels)} channels named, 2 rows of no channel here" in line
    assert page.steps.rows["captures"].state.stamp == "look"
    page.act("undo")
    assert f"{len(channels)} of {len(channels)} channels named" in page.pages["captures"].sheet_line.text()
