"""The window from files to finding, as a person would go."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QDialog, QLabel, QMessageBox

from app.model.actions import ACTIONS
from app.pages.compare import title_line
from app.shell.window import Window
from app.steps.step import all_steps
from tests.gui.conftest import FAULT_CYCLE, SHIFT

Standard = QKeySequence.StandardKey


def box(window: Window) -> QMessageBox:
    """The dialog that is open over the window."""
    return next(b for b in window.findChildren(QMessageBox) if b.isVisible())


def test_the_planted_fault_is_shown_first(seen_case: Window) -> None:
    assert seen_case.current == "compare"
    chosen = seen_case.session.chosen
    assert (chosen.signal, chosen.cause) == ("D03", 1)
    assert FAULT_CYCLE <= (chosen.cycle or 0) < FAULT_CYCLE + 10
    assert seen_case.session.comparison is not None
    assert seen_case.session.comparison.lineup.offset_cycles == -SHIFT
    assert "on 1 of 6 signals" in title_line(seen_case.session.comparison)
    assert [c.cause.signal for c in seen_case.pages["compare"].cards.cards] == ["D03"]
    assert "D03" in seen_case.pages["compare"].cards.cards[0].accessibleName()


def test_the_head_names_sides_and_line_up(seen_case: Window) -> None:
    boxes = seen_case.head.boxes
    assert boxes["case"].value == "Test case"
    assert boxes["good"].value.startswith("good.csv · 24 MHz")
    assert boxes["lineup"].value == "MCLK ↑ · \u221212 cycles · certain"


def test_steps_carry_stamps_with_reasons(window: Window, compared: Window) -> None:
    rows = compared.steps.rows
    assert rows["lineup"].state.stamp == "done"
    assert rows["compare"].state.stamp == "look"
    assert rows["log"].state.stamp == "empty"
    assert all(row.toolTip() for row in rows.values())


def test_keys_step_through_the_divergences(qtbot, seen_case: Window) -> None:
    finding = seen_case.session.comparison.signal("D03")
    first, second = (int(c) for c in finding.diverging_cycles[:2])
    assert seen_case.session.chosen.cycle == first
    seen_case.act("next_cycle")
    assert seen_case.session.chosen.cycle == second
    seen_case.act("previous_cycle")
    assert seen_case.session.chosen.cycle == first
    seen_case.act("previous_cycle")
    assert seen_case.session.chosen.cycle == first
    assert seen_case.bottom.line.text() == "No earlier divergence"
    # it is stuck from there to the end: one place
    seen_case.act("next_divergence")
    assert seen_case.session.chosen.cycle == first
    assert seen_case.bottom.line.text() == "No later divergence"
    seen_case.session.choose(signal="D03", cycle=second)
    seen_case.act("previous_divergence")
    assert seen_case.session.chosen.cycle == first


def test_after_a_signals_last_place_comes_another_signals(qtbot, window: Window) -> None:
    from demo_traces import CASES

    window.files.open_demo(CASES["receiver"])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    chosen = []
    for _ in range(3):
        chosen.append((window.session.chosen.signal, window.session.chosen.cycle))
        window.act("next_divergence")
    # D03 is stuck from 1 004 on; the first that follows comes next, not the 37 cycles between
    assert chosen[:2] == [("D03", 1004), ("SEQ2", 1041)]
    assert chosen[2][0] == "SEQ2"
    assert chosen[2][1] > 1041 + 8
    window.session.choose(signal="SEQ2", cycle=1041)
    window.act("previous_divergence")
    assert (window.session.chosen.signal, window.session.chosen.cycle) == ("D03", 1004)


def test_zoom_and_fit_move_the_view(qtbot, seen_case: Window) -> None:
    traces = seen_case.pages["compare"].traces
    for name in ("fit", "zoom_in", "pan_right"):
        with qtbot.waitSignal(traces.viewChanged, timeout=2000):
            seen_case.act(name)


def test_finding_goes_to_the_clipboard(seen_case: Window) -> None:
    seen_case.act("copy_finding")
    text = QGuiApplication.clipboard().text()
    assert "D03 (7-B04): stuck low" in text
    assert "Probe next" in text


def test_theme_and_text_size_are_kept(window: Window, tmp_path: Path) -> None:
    before = window.styleSheet()
    window.act("theme")
    assert window.styleSheet() != before
    assert window.settings.dark
    for _ in range(9):
        window.act("text_larger")
    assert window.settings.text_percent == 200
    assert window.context.scale == 2.0
    window.act("text_normal")
    assert window.settings.text_percent == 100
    assert "dark=yes" in (tmp_path / "settings.ini").read_text("utf-8")


def test_report_is_written_and_its_place_told(qtbot, compared: Window, tmp_path: Path) -> None:
    compared.reports.write_report(tmp_path / "report")
    qtbot.waitUntil(lambda: compared.bottom.line.text().startswith("Written:"), timeout=120_000)
    assert (tmp_path / "report" / "report.html").is_file()


def test_a_sheet_that_cannot_be_taken_is_told(qtbot, window: Window, bench_files: dict[str, Path]) -> None:
    case = window.session.case
    window.files.open_sheet(bench_files["good"])
    assert "good.csv" in box(window).text()
    assert window.session.case is case
    box(window).close()


def test_a_wire_list_ranks_in_the_window_and_undo_takes_it_back(qtbot, window: Window, tmp_path: Path) -> None:
    path = tmp_path / "wires.csv"
    path.write_text("part,kind,output,inputs\nU7,latch,Y,A\n")
    window.files.open_wires(path)
    assert "line 2" in box(window).text()
    assert window.session.case.wire_list is None
    box(window).close()
    path.write_text("part,kind,output,inputs\nU7,gate,Y,A\n")
    window.files.open_wires(path)
    assert window.session.case.wire_list.rows[0].part == "U7"
    window.session.undo()
    assert window.session.case.wire_list is None


def test_captures_without_a_common_signal_get_a_sentence(qtbot, compared: Window, tmp_path: Path) -> None:
    compared.session.change(_clock("NOPE"))
    qtbot.waitUntil(lambda: bool(compared.session.trouble), timeout=120_000)
    assert "NOPE" in compared.session.trouble
    assert compared.pages["compare"].waiting.text() == compared.session.trouble
    compared.act("undo")
    qtbot.waitUntil(lambda: compared.session.current, timeout=120_000)


def _clock(name: str):
    from app.case.changes import SetClock

    return SetClock(name)


def drop(window: Window, x: float, *paths: Path) -> None:
    """Lets files go at ``x``."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    button, keys = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    window.dropEvent(QDropEvent(QPointF(x, 300), Qt.DropAction.CopyAction, data, button, keys))


@pytest.mark.parametrize(("share", "side"), [(0.1, "good"), (0.9, "suspect")])
def test_the_half_of_the_window_decides_the_side(
    qtbot, window: Window, bench_files: dict[str, Path], share: float, side: str
) -> None:
    drop(window, window.width() * share, bench_files["good"])
    qtbot.waitUntil(lambda: bool(window.session.case.side(side).captures) and window.jobs.idle, timeout=120_000)
    assert window.steps.rows["captures"].state.stamp == "empty"


def test_a_probe_sheet_that_comes_with_captures_is_taken_for_what_it_is(
    qtbot, window: Window, bench_files: dict[str, Path], tmp_path: Path
) -> None:
    drop(window, 10, bench_files["good"], bench_files["sheet"])
    qtbot.waitUntil(lambda: bool(window.session.case.good.captures) and window.jobs.idle, timeout=120_000)
    assert [held.name for held in window.session.case.good.captures] == ["good.csv"]
    assert window.session.case.sheet.probe("c0").signal == "D00"
    second = tmp_path / "second.csv"
    second.write_text("channel,signal\nc0,OTHER\n", "utf-8")
    drop(window, 10, bench_files["sheet"], second)
    assert "2 probe sheets came together (sheet.csv, second.csv)" in box(window).text()
    assert window.session.case.sheet.probe("c0").signal == "D00"
    box(window).close()


def test_every_page_opens_from_its_key_and_every_action_has_a_handler(seen_case: Window) -> None:
    seen_case.show_page("log")
    bound = set(seen_case.bound_actions)
    assert bound >= {row.name for row in ACTIONS}
    assert all(set(step.actions) <= set(seen_case.made_page(step.name).own_actions()) for step in all_steps())
    for name in ("levels", "timing", "backplane", "log", "lineup", "captures"):
        seen_case.act(f"page_{name}")
        assert seen_case.current == name


def test_no_two_actions_share_a_key() -> None:
    keys = [key for row in (*ACTIONS, *(step.row for step in all_steps())) for key in row.keys]
    assert len(keys) == len(set(keys))


def test_line_up_page_shows_candidates_and_sets_the_offset(qtbot, compared: Window) -> None:
    compared.show_page("lineup")
    page = compared.pages["lineup"]
    assert page.offsets.candidates[0].offset_cycles == -SHIFT
    page.choices.offset.setValue(5)
    page.choices.set_button.click()
    qtbot.waitUntil(lambda: compared.session.current, timeout=120_000)
    assert compared.session.comparison.lineup.status == "by hand"
    assert "by hand" in compared.head.boxes["lineup"].value
    page.choices.find_button.click()
    qtbot.waitUntil(lambda: compared.session.current, timeout=120_000)
    assert compared.session.comparison.lineup.status == "unique"
    page.choices.same_start.click()
    assert compared.session.case.settings.same_start
    qtbot.waitUntil(lambda: compared.session.current, timeout=120_000)
    assert compared.session.comparison.lineup.offset_cycles == -SHIFT
    compared.session.undo()
    assert not page.choices.same_start.isChecked()


@pytest.mark.parametrize("name", ["guide", "key_sheet", "cautions"])
def test_help_sheets_open_and_have_words(window: Window, name: str) -> None:
    from PySide6.QtWidgets import QTextBrowser

    window.act(name)
    dialog = next(d for d in window.findChildren(QDialog) if d.isVisible())
    assert len(dialog.findChild(QTextBrowser).toPlainText()) > 200
    dialog.close()


def test_the_first_caution_stands_below_the_page_until_it_is_sent_away(window: Window) -> None:
    window.view_actions.greet()
    assert not any(d.isVisible() for d in window.findChildren(QDialog))
    assert window.caution.isVisible()
    assert window.caution.mapTo(window, window.caution.rect().topLeft()).y() >= window.stack.geometry().bottom()
    assert any("Local codes" in words.text() for words in window.caution.findChildren(QLabel))
    window.caution.all.click()
    (sheet,) = (d for d in window.findChildren(QDialog) if d.isVisible())
    assert sheet.windowTitle() == "Cautions"
    sheet.close()
    window.caution.close_button.click()
    window.view_actions.greet()
    assert not window.caution.isVisible()


def test_open_and_save_have_the_platforms_keys(window: Window) -> None:
    for name, standard in (("open_case", Standard.Open), ("save_case", Standard.Save), ("new_case", Standard.New)):
        assert set(window.actions_by_name[name].shortcuts()) & set(QKeySequence.keyBindings(standard)), name


def test_long_menus_stand_in_groups(window: Window) -> None:
    for head in window.menuBar().actions():
        groups = [0]
        for entry in head.menu().actions():
            groups = [*groups, 0] if entry.isSeparator() else [*groups[:-1], groups[-1] + 1]
        assert all(0 < count <= 7 for count in groups), (head.text(), groups)


def test_help_names_the_version(window: Window) -> None:
    from PySide6.QtWidgets import QTextBrowser

    from app import __version__

    window.act("version")
    dialog = next(d for d in window.findChildren(QDialog) if d.isVisible())
    assert __version__ in dialog.findChild(QTextBrowser).toPlainText()
    dialog.close()


def test_what_nobody_foresaw_is_told_in_one_dialog_at_a_time(qtbot, window: Window) -> None:
    """What fails while painting fails again and again."""

    def boxes() -> list[QMessageBox]:
        return [box for box in window.findChildren(QMessageBox) if box.isVisible()]

    for _ in range(3):
        window.tell_unforeseen(ZeroDivisionError("odd"))
    (box,) = boxes()
    assert "did not foresee (ZeroDivisionError)" in box.text()
    box.accept()
    window.tell_unforeseen(ZeroDivisionError("again"))
    (box,) = boxes()
    box.accept()
    window.tell_unforeseen(KeyboardInterrupt())
    assert not window.isVisible()
