"""The Log page: lines, corrections, ties, photos, parts, proof, states, and earlier cases, by the window alone."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from PIL import Image
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QMessageBox, QPushButton

from app.case.changes import Put
from app.case.dates import time_words
from app.case.record import OpenCase
from app.case.store import CaseStore
from app.case.values import BenchCard, Entry, Mark, PartMove, Proof, Reading, Unit
from app.model.log_changes import reading_change
from app.model.log_lines import date_code_help, log_lines, parse_cycle
from app.pages.log import LogPage
from app.shell.window import Window
from app.widgets.log.log_forms import PartForm, ProofForm, ReadingForm
from tests.gui.conftest import FAULT_CYCLE, settle

Key = Qt.Key


@pytest.fixture
def log(window: Window) -> LogPage:
    """The Log page of an empty window."""
    window.show_page("log")
    return window.pages["log"]  # type: ignore[return-value]


def write(qtbot, page: LogPage, kind: str, words: str) -> Entry:
    """Writes a line as a person does: kind, words, Enter."""
    page.strip.kinds[kind].click()
    page.strip.words.setFocus()
    qtbot.keyClicks(page.strip.words, words)
    qtbot.keyClick(page.strip.words, Key.Key_Return)
    return page.context.session.case.entries[-1]


def photo(path: Path, colour: str = "olive") -> Path:
    """A photo made here."""
    Image.new("RGB", (320, 200), colour).save(path)
    return path


def drop(page: LogPage, path: Path, at: QPointF) -> bool:
    """Lets a file go over the page; was it taken?"""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    copy, left, none = Qt.DropAction.CopyAction, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    enter = QDragEnterEvent(at.toPoint(), copy, data, left, none)
    enter.ignore()
    page.dragEnterEvent(enter)
    if enter.isAccepted():
        page.dropEvent(QDropEvent(at, copy, data, left, none))
    return enter.isAccepted()


def texts(page: LogPage) -> str:
    """All words of the opened entry."""
    from PySide6.QtWidgets import QLabel

    body = page.entry.widget()
    found = [*body.findChildren(QLabel), *body.findChildren(QPushButton)]
    return "\n".join(widget.accessibleName() or widget.text() for widget in found)


def press(page: LogPage, name: str) -> None:
    """Presses a button of the opened entry."""
    page.entry.widget().findChild(QPushButton, name).click()


# ---- lines


def test_an_empty_log_says_what_comes_first(log: LogPage) -> None:
    assert "begins with what was seen" in texts(log)
    assert log.window().focusWidget() is log.strip.words


def test_a_line_is_kept_with_time_and_initials(qtbot, window: Window, log: LogPage) -> None:
    log.strip.initials.setText("M.")
    entry = write(qtbot, log, "seen", "South crate stops at the third fetch")
    assert (entry.id, entry.kind, entry.author) == (1, "seen", "M.")
    assert entry.at[:2] == "20"
    assert entry.at[19:]
    assert window.settings.initials == "M."
    assert log.strip.words.text() == ""
    assert log.opened_entry == entry
    assert window.steps.rows["log"].state.stamp == "look"
    window.act("undo")
    assert window.session.case.entries == ()
    assert "begins with what was seen" in texts(log)


def test_a_line_that_lacks_words_or_has_no_cycle_says_so(qtbot, log: LogPage) -> None:
    log.strip.add.click()
    assert "no words yet" in log.strip.trouble.text()
    log.strip.words.setText("Low")
    log.strip.cycle.setText("soon")
    log.strip.add.click()
    assert "'soon'" in log.strip.trouble.text()
    assert log.strip.trouble.isVisible()
    log.strip.cycle.setText("1 004")
    log.strip.add.click()
    assert not log.strip.trouble.isVisible()
    assert log.context.session.case.entries[0].cycle == 1004


def test_a_correction_is_a_new_line_and_the_old_one_stays(qtbot, log: LogPage) -> None:
    session = log.context.session
    first = write(qtbot, log, "measured", "180 ohm")
    session.change(Put(replace(first, readings=(Reading("6-B22 to 7-B04", "0.2", "180"),))))
    press(log, "correct_line")
    assert log.strip.words.text() == "180 ohm"
    log.strip.words.setText("18 ohm")
    qtbot.keyClick(log.strip.words, Key.Key_Return)
    old, new = session.case.entries
    assert (old.text, new.text, new.corrects, new.kind) == ("180 ohm", "18 ohm", 1, "measured")
    assert new.readings == old.readings
    assert "Puts right: " in texts(log)
    session.choose(entry=1)
    assert "Put right by: " in texts(log)
    assert not log.entry.widget().findChild(QPushButton, "correct_line").isEnabled()
    log.do_correct_line()
    assert log.strip.words.text() == ""
    line = log_lines(session.case)[0]
    assert line.corrected_by == 2
    assert "corrected by entry 2" in line.spoken


def test_because_of_and_led_to_lead_from_one_to_the_other(qtbot, log: LogPage) -> None:
    write(qtbot, log, "suspected", "U14 stays set")
    press(log, "because_line")
    assert log.strip.tie.isVisible()
    done = write(qtbot, log, "done", "U14 exchanged")
    assert done.because == (1,)
    assert not log.strip.tie.isVisible()
    link = next(b for b in log.entry.widget().findChildren(QPushButton) if b.property("role") == "link")
    assert link.accessibleName().startswith("Because of: ")
    link.click()
    assert log.opened_entry is not None
    assert log.opened_entry.id == 1
    assert "Led to: " in texts(log)
    alone = write(qtbot, log, "result", "Runs")
    assert alone.because == ()


def test_letting_go_of_a_tie_keeps_the_words(qtbot, log: LogPage) -> None:
    write(qtbot, log, "seen", "Stops")
    log.do_because_line()
    log.strip.words.setText("half a line")
    log.strip.untie.click()
    assert log.strip.words.text() == "half a line"
    assert log.strip.typed().because == ()


def test_a_result_says_whether_it_helped_by_its_shape(qtbot, log: LogPage) -> None:
    log.strip.kinds["result"].click()
    log.strip.helped.setCurrentIndex(log.strip.helped.findData(False))
    write(qtbot, log, "result", "Still stops")
    line = log_lines(log.context.session.case)[0]
    assert line.shape == "cross"
    assert "did not help" in line.spoken
    assert not log.strip.helped.isVisible() or log.strip.kind == "result"


def test_single_letters_act_only_in_the_list(qtbot, log: LogPage) -> None:
    write(qtbot, log, "seen", "NCG in words stay words")
    assert log.context.session.case.entries[0].text == "NCG in words stay words"
    log.list.setFocus()
    qtbot.keyClick(log.list, Key.Key_C)
    assert log.strip.words.text() == "NCG in words stay words"
    qtbot.keyClick(log.strip.words, Key.Key_Escape)
    assert log.strip.words.text() == ""
    assert log.window().focusWidget() is log.list
    qtbot.keyClick(log.list, Key.Key_N)
    assert log.window().focusWidget() is log.strip.words


def test_arrows_open_entries_and_enter_goes_into_them(qtbot, log: LogPage) -> None:
    for words in ("one", "two", "three"):
        write(qtbot, log, "seen", words)
    log.list.setFocus()
    qtbot.keyClick(log.list, Key.Key_Up)
    assert log.opened_entry is not None
    assert log.opened_entry.text == "two"
    assert log.context.session.chosen.entry == 2
    qtbot.keyClick(log.list, Key.Key_Return)
    assert log.window().focusWidget() is log.entry


def test_f4_writes_a_line_from_any_page(qtbot, compared: Window) -> None:
    assert compared.current == "compare"
    compared.act("new_line")
    strip = compared.log_actions.strip
    assert strip is not None
    assert strip.isVisible()
    assert compared.focusWidget() is strip.strip.words
    cycle = compared.session.chosen.cycle
    qtbot.keyClicks(strip.strip.words, "D03 low")
    qtbot.keyClick(strip.strip.words, Key.Key_Return)
    assert not strip.isVisible()
    entry = compared.session.case.entries[-1]
    assert (entry.text, entry.cycle) == ("D03 low", cycle)
    assert compared.current == "compare"
    assert compared.session.current
    compared.act("new_line")
    strip.strip.words.setText("not yet")
    qtbot.keyClick(strip.strip.words, Key.Key_Escape)
    assert not strip.isVisible()
    assert len(compared.session.case.entries) == 1
    compared.act("new_line")
    assert strip.strip.words.text() == "not yet"
    compared.show_page("log")
    assert not strip.isVisible()


def test_a_line_can_be_tied_to_the_mark_that_is_looked_at(qtbot, compared: Window) -> None:
    compared.session.change(Put(Mark(0, "question", "why here?", FAULT_CYCLE, FAULT_CYCLE + 20, ("D03",))))
    compared.session.choose(signal="D03", cycle=FAULT_CYCLE + 5, mark=1)
    compared.act("new_line")
    strip = compared.log_actions.strip
    assert strip is not None
    qtbot.keyClicks(strip.strip.words, "It begins here")
    qtbot.keyClick(strip.strip.words, Key.Key_Return)
    assert compared.session.case.entries[-1].marks == (1,)
    compared.session.choose(signal="D00", cycle=3)
    compared.act("go_to_mark")
    assert compared.current == "compare"
    assert (compared.session.chosen.signal, compared.session.chosen.cycle) == ("D03", FAULT_CYCLE)


# ---- what belongs to a line


def test_a_photo_is_dropped_on_the_entry_or_on_the_new_line(
    qtbot, window: Window, log: LogPage, tmp_path: Path
) -> None:
    write(qtbot, log, "seen", "Stops")
    session = window.session
    assert drop(log, photo(tmp_path / "slot7.jpg"), QPointF(500, 60))
    qtbot.waitUntil(lambda: bool(session.case.pictures), timeout=120_000)
    assert session.case.entries[0].pictures == (1,)
    assert session.case.entries[0].text == "Stops"
    assert log._photo(session.case.pictures[0]) is not None
    over_strip = QPointF(log.strip.geometry().center())
    assert drop(log, photo(tmp_path / "u14.png", "navy"), over_strip)
    qtbot.waitUntil(lambda: bool(log.strip.pictures), timeout=120_000)
    assert len(session.case.pictures) == 1
    entry = write(qtbot, log, "done", "U14 out")
    assert entry.pictures == (2,)
    assert session.case.pictures[1].name == "u14.png"
    assert log.strip.pictures == ()
    window.act("undo")
    assert len(session.case.pictures) == 1
    assert len(session.case.entries) == 1


def test_a_capture_dropped_on_the_log_goes_to_the_window(log: LogPage, bench_files: dict[str, Path]) -> None:
    assert not drop(log, bench_files["good"], QPointF(500, 60))


def test_what_is_no_photo_gets_a_sentence(qtbot, window: Window, log: LogPage, tmp_path: Path) -> None:
    (tmp_path / "torn.jpg").write_bytes(b"no picture at all")
    write(qtbot, log, "seen", "Stops")
    assert drop(log, tmp_path / "torn.jpg", QPointF(500, 60))
    qtbot.waitUntil(lambda: any(b.isVisible() for b in window.findChildren(QMessageBox)), timeout=120_000)
    box = next(b for b in window.findChildren(QMessageBox) if b.isVisible())
    assert "torn.jpg" in box.text()
    assert "found no picture" in box.text()
    box.close()
    assert window.session.case.pictures == ()


def test_a_caption_is_kept(qtbot, log: LogPage, tmp_path: Path) -> None:
    from app.widgets.log.log_photo import PhotoBox

    write(qtbot, log, "seen", "Stops")
    drop(log, photo(tmp_path / "slot7.jpg"), QPointF(500, 60))
    qtbot.waitUntil(lambda: bool(log.context.session.case.pictures), timeout=120_000)
    box = log.entry.widget().findChild(PhotoBox)
    qtbot.keyClicks(box.caption, "U14 ringed")
    qtbot.keyClick(box.caption, Key.Key_Return)
    assert log.context.session.case.pictures[0].caption == "U14 ringed"


def test_parts_get_a_row_each_way_with_their_date_codes(qtbot, log: LogPage) -> None:
    write(qtbot, log, "done", "U14 exchanged")
    press(log, "add_part")
    form = log.findChild(PartForm)
    assert not form.keep.isEnabled()
    for field, words in (
        (form.part, "7474"),
        (form.source, "donor board, position U31"),
        (form.target, "slot 7, U14"),
        (form.code, "7338"),
        (form.bag, "bag 14-1, failed"),
        (form.old_code, "7221"),
    ):
        field.setText(words)
    assert form.code_words.text() == "7338 = 1973, week 38"
    form.keep.click()
    new, old = log.context.session.case.parts
    assert (new.source, new.target, new.date_code, new.entry) == (
        "donor board, position U31",
        "slot 7, U14",
        "7338",
        1,
    )
    assert (old.source, old.target, old.date_code) == ("slot 7, U14", "bag 14-1, failed", "7221")
    assert "7221 (1972, week 21)" in texts(log)
    assert log.context.session.undo() == "moved part"
    assert log.context.session.case.parts == ()


def test_a_reading_joins_the_entry_as_it_was_typed(qtbot, log: LogPage) -> None:
    write(qtbot, log, "measured", "Wire measured")
    press(log, "add_reading")
    form = log.findChild(ReadingForm)
    form.where.setText("6-B22 to 7-B04")
    form.good.setText("0.2")
    form.suspect.setText("open")
    form.keep.click()
    assert log.context.session.case.entries[0].readings == (Reading("6-B22 to 7-B04", "0.2", "open", "ohm"),)
    assert "0.2 ohm" in texts(log)
    assert "\nopen\n" in texts(log) + "\n"
    assert [r.ohms for r in log.context.session.case.continuity.of("suspect")] == [math.inf]
    assert not log.findChildren(QPushButton, "count_readings")
    assert log.context.session.undo() == "reading"
    assert log.context.session.case.continuity.readings == ()


def test_a_reading_that_only_the_log_has_can_be_counted_later(qtbot, log: LogPage) -> None:
    entry = write(qtbot, log, "measured", "Wire measured")
    session = log.context.session
    session.change(reading_change(entry, Reading("6-B22 to 7-B04", "0.2", "open", "ohm")))
    assert session.case.continuity.readings == ()
    assert "2 readings of it are not among those of Backplane, so no likely cause follows." in texts(log)
    log.findChild(QPushButton, "count_readings").click()
    assert [r.ohms for r in session.case.continuity.readings] == [0.2, math.inf]
    assert "not among those of Backplane" not in texts(log)


def test_a_measured_line_takes_its_value_with_it(qtbot, log: LogPage) -> None:
    strip = log.strip
    assert not strip.read.isVisible()
    strip.kinds["measured"].click()
    assert strip.read.isVisible()
    strip.read.set_texts(("6-B22 to 7-B04", "0.2"))
    strip.add.click()
    session = log.context.session
    (entry,) = session.case.entries
    assert (entry.text, entry.readings) == ("6-B22 to 7-B04", (Reading("6-B22 to 7-B04", "0.2", "", "ohm"),))
    assert [(r.ohms, r.side) for r in session.case.continuity.readings] == [(0.2, "good")]
    assert strip.read.texts == ("", "", "", "")
    strip.read.set_texts(("6-B22 to 7-B04",))
    draft = strip.draft()
    assert draft is not None
    strip.begin("measured")
    strip.restore(draft, ())
    assert strip.read.texts[0] == "6-B22 to 7-B04"
    strip.add.click()
    assert "lacks its place or its value" in strip.trouble.text()
    assert len(session.case.entries) == 1


def test_a_voltage_stays_in_the_log(qtbot, log: LogPage) -> None:
    write(qtbot, log, "measured", "Supply")
    press(log, "add_reading")
    form = log.findChild(ReadingForm)
    form.where.setText("7-A01 to 7-A36")
    form.suspect.setText("4.9")
    form.unit.setText("V")
    assert not form.counts.isEnabled()
    assert "stays in the log alone" in form.note.text()
    form.keep.click()
    assert log.context.session.case.continuity.readings == ()


def test_a_card_number_alone_opens_its_form(qtbot, log: LogPage) -> None:
    log.context.session.change(Put(BenchCard(0, "14-3", "D03", 1004, "D03 stuck low", ())))
    wanted: list[str] = []
    log.card_wanted.disconnect()
    log.card_wanted.connect(wanted.append)
    log.strip.words.setText("14-3")
    log.strip.add.click()
    assert wanted == ["14-3"]
    assert log.context.session.case.entries == ()


# ---- state and proof


def test_verified_waits_for_a_proof_line_and_says_so(qtbot, log: LogPage) -> None:
    session, states = log.context.session, log.panel.states
    states.boxes["repaired"].click()
    assert session.case.state == "repaired"
    assert session.case.stamps[0].author == session.author
    states.boxes["verified"].click()
    assert session.case.state == "repaired"
    assert "needs a proof line" in states.note.text()
    write(qtbot, log, "done", "U14 exchanged")
    log.do_add_proof()
    form = log.findChild(ProofForm)
    assert not form.keep.isEnabled()
    form.captures.setValue(300)
    assert "fewer than 1.0 % would" in form.note.text()
    form.diverging.setValue(301)
    assert "More captures diverge than there are" in form.note.text()
    assert not form.keep.isEnabled()
    form.diverging.setValue(0)
    form.because.setChecked(True)
    form.keep.click()
    proof = session.case.entries[-1]
    assert (proof.kind, proof.helped, proof.because) == ("result", True, (1,))
    assert proof.proof == Proof(0, 300)
    states.boxes["verified"].click()
    assert session.case.state == "verified"
    assert "fixed" not in texts(log)
    session.undo()
    assert session.case.state == "repaired"
    assert not states.boxes["verified"].ticked


def test_a_tick_is_taken_away_by_a_second_press(log: LogPage) -> None:
    box = log.panel.states.boxes["parked"]
    box.click()
    assert box.ticked
    assert box.current
    box.click()
    assert not box.ticked
    assert log.context.session.case.stamps == ()
    assert log.panel.states.boxes["open"].current
    assert log.panel.states.boxes["open"].ticked


# ---- earlier cases


@pytest.fixture
def two_cases(tmp_path: Path) -> Path:
    """A folder with case 6, closed, and the path of case 14, which is not there yet."""
    store = CaseStore.open(tmp_path / "6.twinslot", author="M.")
    case: OpenCase = replace(
        store.read(), title="Halts on store", number="6", suspect_unit=Unit("south crate", slot="7")
    )
    case = Put(PartMove(0, "7474", "donor board", "slot 7, U15", "7338", 1)).applied(case)
    case = Put(Entry(0, "done", "7474 exchanged at U15", "M.", "2024-11-09T10:00:00+01:00")).applied(case)
    store.keep("fill", "M.", case)
    store.save_comparison("q", json.dumps({"causes": [{"signal": "D07", "fault_mode": "stuck low"}]}))
    store.close()
    return tmp_path / "14.twinslot"


def test_earlier_cases_alike_are_offered_with_their_reasons(qtbot, window: Window, two_cases: Path) -> None:
    window.open_file(two_cases)
    window.show_page("log")
    page = window.pages["log"]
    assert isinstance(page, LogPage)
    write(qtbot, page, "suspected", "The 7474 in slot 7 stays set")
    qtbot.waitUntil(lambda: bool(page.panel.cards), timeout=120_000)
    (card,) = page.panel.cards
    assert card.accessibleName() == "Case 6 · Halts on store"
    before = (two_cases.parent / "6.twinslot").read_bytes()
    card.unlike_button.click()
    qtbot.waitUntil(lambda: not page.panel.cards, timeout=120_000)
    assert len(window.session.case.unlike) == 1
    assert (two_cases.parent / "6.twinslot").read_bytes() == before
    window.act("undo")
    qtbot.waitUntil(lambda: bool(page.panel.cards), timeout=120_000)
    page.panel.search.setText("U15")
    qtbot.keyClick(page.panel.search, Key.Key_Return)
    qtbot.waitUntil(lambda: "1 found" in page.panel.looked.text(), timeout=120_000)
    page.panel.cards[0].open_button.click()
    qtbot.waitUntil(lambda: window.session.case.number == "6", timeout=120_000)
    assert window.current == "log"


# ---- words


def test_times_are_those_of_where_they_were_written() -> None:
    assert time_words("2026-02-03T09:40:00+01:00", year=False) == "3 Feb 09:40"
    assert time_words("2026-02-03T09:40:00-08:00") == "3 Feb 2026, 09:40"
    assert time_words("some day") == "some day"


def test_the_year_stands_where_the_log_spans_more_than_one() -> None:
    entries = (
        Entry(1, "seen", "a", at="2025-12-30T09:00:00+00:00"),
        Entry(2, "seen", "b", at="2026-01-02T09:00:00+00:00"),
    )
    assert [line.signed for line in log_lines(OpenCase(entries=entries))] == ["30 Dec 2025, 09:00", "2 Jan 2026, 09:00"]


@pytest.mark.parametrize(
    ("code", "words"), [("7338", "1973, week 38"), ("7399", "kept as it stands"), ("", "leave it empty")]
)
def test_a_date_code_is_explained_while_it_is_typed(code: str, words: str) -> None:
    assert words in date_code_help(code)


def test_a_cycle_that_is_none_says_what_was_expected() -> None:
    with pytest.raises(ValueError, match="expected a whole number"):
        parse_cycle("12a")


def test_nothing_is_wider_than_its_place_at_any_text_size(qtbot, compared: Window, tmp_path: Path) -> None:
    compared.act("write_in_log")
    compared.show_page("log")
    page = compared.pages["log"]
    assert isinstance(page, LogPage)
    for text in ("U14 exchanged, 7474 from the donor board; socket fitted, part tried on the bench", "Runs"):
        press(page, "because_line")
        write(qtbot, page, "done", text)
    compared.session.change(Put(PartMove(0, "7474", "donor board, position U31", "slot 7, U14", "7338", 2)))
    drop(page, photo(tmp_path / "slot7.jpg"), page.entry.geometry().center().toPointF())
    qtbot.waitUntil(lambda: bool(compared.session.case.pictures) and compared.jobs.idle, timeout=120_000)
    for percent, size in product((200, 160, 100), ((1280, 720), (1600, 900))):
        compared.view_actions.set_text(percent)
        compared.resize(*size)
        settle()
        for number in (1, 2, 3):
            compared.session.choose(entry=number)
            qtbot.wait(10)
            assert page.entry.widget().width() <= page.entry.viewport().width()
        assert page.panel.is_folded == (size[0] / percent < 14)
        page.list.setFocus()
        page.strip._fold()
        assert page.strip.choices.isVisibleTo(page) == (percent == 100)
        assert page.list.height() > page.list.sizeHintForRow(0)


def test_both_themes_and_the_open_panel_show_the_same_log(qtbot, compared: Window) -> None:
    compared.act("write_in_log")
    compared.show_page("log")
    page = compared.pages["log"]
    assert isinstance(page, LogPage)
    page.do_case_state()
    assert not page.panel.is_folded
    words = texts(page)
    compared.act("theme")
    assert texts(page) == words
    assert not page.grab().isNull()
