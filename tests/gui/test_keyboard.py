"""The keyboard alone: mnemonics, no trap, focus where the work is, letters that are typed, words that Esc keeps."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QWidget

from app.shell.mnemonics import with_mnemonics
from app.shell.window import Window
from app.steps.step import all_steps
from tests.gui.conftest import settle

PAGES = tuple(step.name for step in all_steps())
NO = Qt.KeyboardModifier.NoModifier


def letter(text: str) -> str:
    """The underlined letter; empty where there is none."""
    at = text.replace("&&", "  ").find("&")
    return text[at + 1].lower() if at >= 0 else ""


def test_every_menu_and_every_entry_has_a_letter_of_its_own(window: Window) -> None:
    bar = window.menuBar().actions()
    for entries in (bar, *(action.menu().actions() for action in bar)):
        letters = [letter(entry.text()) for entry in entries if not entry.isSeparator()]
        assert all(letters)
        assert len(letters) == len(set(letters))


def test_undo_keeps_its_letter_and_names_what_it_takes_back(compared: Window) -> None:
    from app.case.changes import NameCase

    compared.session.change(NameCase("A & B", ""))
    text = compared.actions_by_name["undo"].text()
    assert letter(text)
    assert ":" in text


def test_letters_are_found_where_one_has_to_give_way() -> None:
    assert with_mnemonics(["A", "AB", "ABC"]) == ["&A", "A&B", "AB&C"]
    assert with_mnemonics(["BA", "B"]) == ["B&A", "&B"]
    assert with_mnemonics(["…"]) == ["…"]


def _focusable(window: Window) -> set[QWidget]:
    tab = Qt.FocusPolicy.TabFocus
    return {
        w
        for w in window.stack.currentWidget().findChildren(QWidget)
        if w.isVisible() and w.isEnabled() and (w.focusPolicy() & tab) == tab and w.window() is window
    }


@pytest.mark.parametrize("page", PAGES)
def test_tab_goes_round_and_is_caught_nowhere(seen_case: Window, page: str) -> None:
    seen_case.show_page(page)
    settle(3)
    seen_case.activateWindow()
    seen: list[QWidget | None] = []
    for _ in range(220):
        seen.append(seen_case.focusWidget())
        QTest.keyClick(seen_case.focusWidget() or seen_case, Qt.Key.Key_Tab)
    assert any(row in seen for row in seen_case.steps.rows.values()), "Tab never comes to the steps"
    longest = max(sum(1 for _ in run) for run in _runs(seen))
    assert longest <= 3, f"Tab stays at {seen[-1]}"


def _runs(seen: list[QWidget | None]) -> list[list[QWidget | None]]:
    runs: list[list[QWidget | None]] = []
    for widget in seen:
        if runs and runs[-1][-1] is widget:
            runs[-1].append(widget)
        else:
            runs.append([widget])
    return runs


@pytest.mark.parametrize("page", PAGES)
def test_the_page_that_opens_has_the_focus(seen_case: Window, page: str) -> None:
    other = "log" if page != "log" else "captures"
    seen_case.show_page(other)
    seen_case.act(f"page_{page}")
    settle(3)
    now = seen_case.focusWidget()
    assert now is not None
    assert seen_case.pages[page].isAncestorOf(now) or now is seen_case.pages[page]


def test_an_answer_does_not_take_the_focus_from_a_line_that_is_written(qtbot, compared: Window) -> None:
    compared.act("new_line")
    words = compared.log_actions.strip.strip.words
    QTest.keyClicks(words, "npwmc,.")
    compared.show_page("lineup")
    assert compared.focusWidget() is words
    assert words.text() == "npwmc,."
    compared.show_page("compare")
    QTest.keyClick(words, Qt.Key.Key_Escape)
    assert not compared.log_actions.strip.isVisible()
    compared.act("new_line")
    assert words.text() == "npwmc,."


def test_letters_go_into_fields_and_move_no_trace(compared: Window) -> None:
    page = compared.pages["compare"]
    page.signals.begin_find()
    view = page.traces.view()
    for key in "wmnp+-":
        QTest.keyClicks(page.signals.finder, key)
    assert page.signals.finder.text() == "wmnp+-"
    assert page.traces.view() == view
    page.traces.set_cursor(0, view[0] + 1000)
    QTest.keyClick(page.signals.finder, Qt.Key.Key_Escape)
    assert page.signals.finder.text() == ""
    assert page.traces.cursors()[0] is not None


def test_half_a_sentence_in_the_log_outlives_esc(compared: Window) -> None:
    compared.show_page("log")
    strip = compared.pages["log"].strip
    strip.words.setFocus()
    QTest.keyClicks(strip.words, "Half a sent")
    QTest.keyClick(strip.words, Qt.Key.Key_Escape)
    assert strip.words.text() == "Half a sent"
    assert "F4" in compared.bottom.line.text()
    compared.act("new_line")
    assert compared.focusWidget() is strip.words
    strip.words.clear()
    QTest.keyClick(strip.words, Qt.Key.Key_Escape)
    assert not strip.holds_words


def test_a_mark_asks_before_its_note_goes(compared: Window) -> None:
    compared.act("mark")
    form = compared.pages["compare"].marks.form
    assert compared.focusWidget() is form.note
    QTest.keyClick(form.note, Qt.Key.Key_Escape)
    assert not form.isVisible()
    compared.act("mark")
    QTest.keyClicks(form.note, "why")
    QTest.keyClick(form.note, Qt.Key.Key_Escape)
    assert form.isVisible()
    assert "once more" in form.complaint.text()
    QTest.keyClick(form.note, Qt.Key.Key_Escape)
    assert not form.isVisible()
    assert not compared.session.case.marks


@pytest.mark.parametrize(("name", "page"), [("describe_case", "compare"), ("add_part", "log"), ("add_proof", "log")])
def test_a_form_begins_in_its_first_field_and_asks_before_words_go(compared: Window, name: str, page: str) -> None:
    from app.widgets.controls.forms import FieldsForm

    compared.show_page(page)
    compared.act(name)
    form = next(f for f in compared.findChildren(FieldsForm) if f.isVisible())
    first = form.focusWidget()
    assert form.area.isAncestorOf(first)
    QTest.keyClicks(first, "7")
    assert form.holds_words
    QTest.keyClick(first, Qt.Key.Key_Escape)
    assert form.isVisible()
    box = form._asked
    assert box is not None
    QTest.keyClick(box, Qt.Key.Key_Escape)
    assert form.isVisible()
    assert form.holds_words
    QTest.keyClick(first, Qt.Key.Key_Escape)
    drop = next(b for b in form._asked.buttons() if b.text().replace("&", "") == "Drop it")
    QTest.mouseClick(drop, Qt.MouseButton.LeftButton)
    assert not form.isVisible()


def test_an_untouched_form_closes_at_once(compared: Window) -> None:
    from app.widgets.controls.forms import FieldsForm

    compared.act("describe_case")
    form = next(f for f in compared.findChildren(FieldsForm) if f.isVisible())
    QTest.keyClick(form.focusWidget(), Qt.Key.Key_Escape)
    assert not form.isVisible()


def test_a_file_form_with_something_said_asks_too(qtbot, window: Window, bench_files: dict[str, Path]) -> None:
    from app.widgets.forms.import_form import ImportForm

    window.case_actions.look_into([bench_files["good"]])
    form = window.findChild(ImportForm)
    qtbot.waitUntil(lambda: window.jobs.idle and bool(form.previews), timeout=120_000)
    settle(3)
    assert not form.holds_words
    form.choices.rate.setFocus()
    QTest.keyClicks(form.choices.rate, "12 MHz")
    QTest.keyClick(form.choices.rate, Qt.Key.Key_Escape)
    assert form.isVisible()
    form.drop()
    assert not form.isVisible()


def test_the_probe_sheet_is_left_with_tab(compared: Window) -> None:
    compared.show_page("captures")
    table = compared.pages["captures"].table
    table.setFocus()
    table.setCurrentIndex(table.model().index(0, 1))
    QTest.keyClick(table, Qt.Key.Key_Tab)
    assert compared.focusWidget() is not table
    table.setFocus()
    QTest.keyClick(table, Qt.Key.Key_F2)
    editor = next(f for f in table.findChildren(QLineEdit) if f.isVisible())
    QTest.keyClicks(editor, "wn")
    assert "wn" in editor.text()
    QTest.keyClick(editor, Qt.Key.Key_Return)
    assert QApplication.focusWidget() is None or compared.current == "captures"


def test_enter_presses_the_button_that_has_the_focus(qtbot, window: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []
    monkeypatch.setattr(
        "app.shell.capture_actions.QFileDialog.getOpenFileNames", lambda *words: asked.append(words) or ([], "")
    )
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    adder = window.pages["captures"].columns["good"].adder
    for key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
        adder.setFocus()
        QTest.keyClick(adder, key)
    assert len(asked) == 3
