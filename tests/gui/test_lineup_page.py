"""The Line-up page in the window: slips planted in a demo capture, one selection, conditions, offsets by hand."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel

from app.comparison_text import signed
from app.shell.window import Window
from tests.gui.conftest import settle
from tests.gui.shared import SharedWindows, looked_at, until

demo_traces = pytest.importorskip("demo_traces")

SAMPLES_A_CYCLE = 10
MISSING_AT, INSERTED_AT = 400, 900


def settled(qtbot, window: Window) -> None:
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)


def opened(window: Window, folder: Path) -> None:
    case = demo_traces.CASES["receiver"]
    lines = gzip.decompress(case.good[0].read_bytes()).decode().splitlines(keepends=True)
    first = next(i for i, line in enumerate(lines) if line[:1].isdigit())
    rows = lines[first:]
    at, gone = INSERTED_AT * SAMPLES_A_CYCLE, MISSING_AT * SAMPLES_A_CYCLE
    rows[at:at] = rows[at : at + 2 * SAMPLES_A_CYCLE]
    del rows[gone : gone + 3 * SAMPLES_A_CYCLE]
    path = folder / "slipped.csv"
    path.write_text("".join([*lines[:first], *rows]), "utf-8")
    window.files.open_case([case.good[0]], [path], case.sheet, title="Slips")
    until(lambda: window.session.current and window.jobs.idle)
    window.show_page("lineup")


def test_an_answer_that_came_on_another_page_is_laid_out_before_the_first_paint(window: Window) -> None:
    case = demo_traces.CASES["receiver"]
    window.resize(1280, 720)
    window.show_page("compare")
    window.files.open_case(list(case.good[:1]), list(case.suspect[:1]), case.sheet, title="Elsewhere")
    until(lambda: window.session.current and window.jobs.idle)
    window.show_page("compare")
    window.show_page("lineup")
    first = window.grab().toImage()
    settle()
    assert first == window.grab().toImage()


@pytest.fixture
def slipped(window: Window, tmp_path: Path) -> Window:
    """The good demo capture against itself with three cycles taken out and two put in twice."""
    opened(window, tmp_path)
    return window


@pytest.fixture(scope="module")
def opened_once(shared_windows: SharedWindows, tmp_path_factory: pytest.TempPathFactory) -> Window:
    window = shared_windows.window()
    opened(window, tmp_path_factory.mktemp("slipped"))
    return window


@pytest.fixture
def seen_slips(opened_once: Window) -> Iterator[Window]:
    """The same, for a test that leaves the case as it is."""
    with looked_at(opened_once) as window:
        yield window


def test_planted_slips_stand_on_strip_and_table_with_one_selection(qtbot, seen_slips: Window) -> None:
    page = seen_slips.pages["lineup"]
    slips = seen_slips.session.comparison.lineup.slips
    assert [(s.kind, s.missing, s.inserted) for s in slips] == [("missing", 3, 0), ("inserted", 0, 2)]
    assert page.table.model().rowCount() == 2
    page.strip.chosen.emit(1)
    assert page.table.currentIndex().row() == page.strip.at == 1
    page.table.selectRow(0)
    assert page.strip.at == 0
    assert page.status().startswith("Slip 1 of 2 · good cycle ")
    qtbot.keyClick(page.table, Qt.Key.Key_Return)
    assert seen_slips.current == "compare"
    assert seen_slips.session.chosen.cycle == slips[0].good_cycle
    assert seen_slips.head.boxes["lineup"].value == "MCLK ↑ · 0 to \u22121 cycles · certain"
    good, suspect = seen_slips.session.comparison.lineup.coverage
    assert good.closes
    assert suspect.closes
    assert (good.slipped, suspect.slipped) == (3, 2)


def test_tolerance_and_same_file_are_set_on_the_page(qtbot, slipped: Window) -> None:
    form = slipped.pages["lineup"].choices.allowances
    for typed, kept in (("20 ns", 20_000), ("soon", 20_000), ("", None)):
        form.tolerance.clear()
        qtbot.keyClicks(form.tolerance, typed)
        form.tolerance.setModified(True)
        form.tolerance.editingFinished.emit()
        assert slipped.session.case.settings.tolerance_ps == kept
        assert form.trouble.isVisibleTo(form) == (typed == "soon")
    for on in (True, False):
        form.same_file.click()
        assert slipped.session.case.settings.same_file == on
    settled(qtbot, slipped)


def test_a_condition_shows_its_effect_then_leaves_cycles_out(qtbot, slipped: Window) -> None:
    page = slipped.pages["lineup"]
    form = page.choices.condition
    form.line.setText("RFSH")
    qtbot.waitUntil(lambda: "Would leave out" in form.effect.text(), timeout=120_000)
    assert form.words.text() == "reads as: RFSH is high"
    told = form.effect.text()
    form.apply_button.click()
    settled(qtbot, slipped)
    assert slipped.session.case.settings.qualifier == "RFSH"
    good, suspect = slipped.session.comparison.lineup.left_out
    assert f"{good} good and {suspect} suspect cycles" in told
    assert all(side.closes for side in slipped.session.comparison.lineup.coverage)
    assert "left out" in page.good_book.text()
    slipped.act("undo")
    settled(qtbot, slipped)
    assert form.line.text() == ""


def test_by_hand_says_so_and_steps_tell_what_they_would_bring(qtbot, slipped: Window) -> None:
    page = slipped.pages["lineup"]
    page.choices.step_buttons[-1].click()
    wanted = page.choices.offset.value()
    # what it would bring is looked up for nobody while the panel is folded
    slipped.show_page("lineup")
    page.panel.fold(True, by_hand=True)
    page.panel.fold(False, by_hand=True)
    qtbot.waitUntil(lambda: page.choices.at_hand.text().startswith(f"At {signed(wanted)} "))
    page.choices.set_button.click()
    settled(qtbot, slipped)
    assert page.mark.kind == "hand"
    assert "by hand" in page.headline.text()
    assert not page.choices.set_button.isEnabled()
    # it fits behind the last slip
    assert "slips are followed from there" in page.certainty.text()
    assert page.table.model().rowCount() == 2
    page.choices.offset.setValue(wanted - 1)
    page.choices.set_button.click()
    settled(qtbot, slipped)
    assert "kept throughout" in page.certainty.text()
    assert not page.slip_card.isVisible()
    page.choices.find_button.click()
    settled(qtbot, slipped)
    assert page.mark.kind == "fine"


@pytest.mark.parametrize("percent", [100, 160, 200])
@pytest.mark.parametrize("dark", [False, True])
def test_no_line_of_words_is_cut(qtbot, seen_slips: Window, percent: int, dark: bool) -> None:
    seen_slips.settings.text_percent, seen_slips.settings.dark = percent, dark
    seen_slips.apply_look()
    page = seen_slips.pages["lineup"]
    settle()
    for label in page.findChildren(QLabel):
        if label.isVisible() and label.text():
            if label.wordWrap():
                assert label.height() >= label.heightForWidth(label.width()) - 1, label.text()
            else:
                assert label.width() >= label.fontMetrics().horizontalAdvance(label.text()), label.text()
    assert page.scroll_area.widget().width() <= page.scroll_area.viewport().width()


def test_the_panel_folds_where_room_is_short(seen_slips: Window) -> None:
    page = seen_slips.pages["lineup"]
    assert page.panel.is_folded
    seen_slips.resize(1600, 900)
    assert not page.panel.is_folded


def test_a_pair_without_cycles_in_common_says_none(qtbot, window: Window, bench_files: dict[str, Path]) -> None:
    window.files.open_case([bench_files["good"]], [bench_files["bad"]], bench_files["sheet"], title="Test case")
    settled(qtbot, window)
    window.show_page("lineup")
    page = window.pages["lineup"]
    assert page.mark.kind == "fine"
    page.choices.offset.setValue(50_000)
    page.choices.set_button.click()
    settled(qtbot, window)
    assert page.mark.kind == "unknown"
    assert page.headline.text() == "No line-up"
    assert not page.drift_card.isVisible()
