"""Finding one's way on Compare: places, signals, rows, states at the cursor, menus, pictures."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QContextMenuEvent, QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu

from app.case.values import RowName, ShownRows
from app.model.go_to import parse_place
from app.model.row_order import all_rows, bits_of, by_bus, moved, ordered, shown
from app.pages.compare import ComparePage
from app.shell.window import Window
from app.widgets.forms.go_to_form import GoToForm
from app.widgets.traces.cycle_scale import cycle_labels, time_labels
from app.widgets.traces.row_states import RowState
from app.widgets.traces.trace_rows import View
from tests.gui.conftest import FAULT_CYCLE, SHIFT, settle


@pytest.fixture
def page(qtbot, worked_case: Window) -> ComparePage:
    """The Compare page of the planted fault, with the focus on the traces."""
    return focused(qtbot, worked_case)


def focused(qtbot, window: Window) -> ComparePage:
    found = window.pages["compare"]
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    found.traces.setFocus()
    return found


def go(page: ComparePage, text: str, side: int = 0) -> GoToForm:
    """G, a place, Enter."""
    QTest.keyClick(page.traces, Qt.Key.Key_G)
    form = next(f for f in page.findChildren(GoToForm) if f.isVisible())
    QTest.keyClicks(form.focusWidget(), text)
    form.side.setCurrentIndex(side)
    QTest.keyClick(form.place, Qt.Key.Key_Return)
    return form


def test_g_goes_to_a_cycle_and_to_a_time_of_either_side(worked_case: Window, page: ComparePage) -> None:
    go(page, "500")
    assert worked_case.session.chosen.cycle == 500
    go(page, "300", side=1)
    assert worked_case.session.chosen.cycle == 300 + SHIFT
    go(page, "40 us")
    assert page.traces.cursors()[0] == 40_000_000
    start, stop = page.traces.view()
    assert start < 40_000_000 < stop
    go(page, "20 us", side=1)
    at = page.traces.cursors()[0]
    # the suspect's capture begins SHIFT cycles of 10 samples at 24 MHz later
    assert abs(at - 20_000_000 - SHIFT * 10 * 41_667) < 2 * 41_667


def test_a_place_that_is_none_is_told_and_the_form_stays(page: ComparePage) -> None:
    form = go(page, "soon")
    assert form.isVisible()
    assert "no cycle and no time" in form.note.text()
    form.drop()
    go(page, "99999")
    assert "There is no cycle" in page.window().bottom.line.text()


@pytest.mark.parametrize(("text", "cycle", "time_ps"), [("cycle 12", 12, None), ("1\u202f004", 1004, None),
                                                        ("0.5 ms", None, 500_000_000)])  # fmt: skip
def test_places_are_read_as_people_write_them(text: str, cycle: int | None, time_ps: int | None) -> None:
    place = parse_place(text, "good")
    assert (place.cycle, place.time_ps) == (cycle, time_ps)


def test_f_finds_a_signal_and_enter_jumps_to_its_first_divergence(worked_case: Window, page: ComparePage) -> None:
    worked_case.session.choose(signal="MCLK")
    QTest.keyClick(page.traces, Qt.Key.Key_F)
    field = worked_case.focusWidget()
    assert field is page.signals.finder
    QTest.keyClicks(field, "d03")
    assert page.signals.filter.rowCount() == 1
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert worked_case.session.chosen.signal == "D03"
    assert FAULT_CYCLE <= (worked_case.session.chosen.cycle or 0) < FAULT_CYCLE + 10


def test_on_a_low_page_the_table_takes_the_traces_place_and_enter_leads_back(
    worked_case: Window, page: ComparePage
) -> None:
    worked_case.settings.text_percent = 200
    worked_case.apply_look()
    settle()
    worked_case.session.choose(signal="D03")
    settle()
    row = page.traces._row_of("D03")
    geometry, bar = page.traces._geometry, page.traces._bar
    assert row is not None
    assert bar.value() <= row * geometry.row
    assert (row + 1) * geometry.row <= bar.value() + bar.pageStep(), "the chosen row is seen whole"
    worked_case.act("find_signal")
    settle()
    assert page.traces.isHidden()
    assert page.signals.table.height() > 2 * page.signals.least_height
    QTest.keyClicks(page.signals.finder, "d03")
    QTest.keyClick(page.signals.finder, Qt.Key.Key_Return)
    settle()
    assert page.traces.isVisible()
    assert page.signals.table.isHidden()


def test_all_signals_sort_filter_and_jump(worked_case: Window, page: ComparePage) -> None:
    table = page.signals
    table.set_open(True, by_hand=True)
    names = [table.filter.line(table.filter.index(row, 0)).signal for row in range(table.filter.rowCount())]
    assert names[0] == "D03"
    assert len(names) == 6
    table.table.sortByColumn(0, Qt.SortOrder.DescendingOrder)
    assert table.filter.line(table.filter.index(0, 0)).signal == "STB"
    QTest.mouseClick(table.groups["agrees"], Qt.MouseButton.LeftButton)
    assert table.filter.rowCount() == 5
    QTest.mouseClick(table.groups[None], Qt.MouseButton.LeftButton)
    index = table.filter.index_of("D01")
    QTest.mouseClick(table.table.viewport(), Qt.MouseButton.LeftButton, pos=table.table.visualRect(index).center())
    assert worked_case.session.chosen.signal == "D01"
    assert page.traces._chosen == "D01"


def test_rows_are_moved_hidden_and_kept_in_the_case(qtbot, compared: Window, tmp_path: Path) -> None:
    page = focused(qtbot, compared)
    before = page.traces.signals_shown()
    compared.session.choose(signal=before[1])
    QTest.keyClick(page.traces, Qt.Key.Key_Up, Qt.KeyboardModifier.AltModifier)
    assert page.traces.signals_shown()[:2] == (before[1], before[0])
    QTest.keyClick(page.traces, Qt.Key.Key_X)
    assert before[1] not in page.traces.signals_shown()
    assert "hidden" in compared.bottom.line.text()
    kept = compared.session.case.rows
    compared.files.keep_as(tmp_path / "rows.twinslot")
    assert compared.session.store.read().rows == kept
    # a hidden signal that is looked at is there
    compared.session.choose(signal=before[1])
    assert before[1] in page.traces.signals_shown()
    compared.act("show_rows")
    compared.act("rows_as_compared")
    assert page.traces.signals_shown() == before
    compared.act("undo")
    assert compared.session.case.rows != ShownRows()


def test_buses_come_first_or_above_their_bits(worked_case: Window, page: ComparePage) -> None:
    worked_case.act("buses_first")
    assert page.traces._rows[0].bus == "D"
    worked_case.act("rows_by_bus")
    assert page.traces.signals_shown()[:4] == ("D03", "D02", "D01", "D00")
    tops = page.traces._row_tops()
    assert tops["D03"] - page.traces._geometry.top + page.traces._bar.value() == page.traces._geometry.row


def test_row_orders_hold_what_they_promise(seen_case: Window) -> None:
    comparison = seen_case.session.comparison
    rows = all_rows(comparison)
    assert bits_of(comparison) == {"D": ("D03", "D02", "D01", "D00")}
    kept = by_bus(comparison, ShownRows())
    assert sorted(kept.order, key=str) == sorted(rows, key=str)
    first = ordered(rows, kept)[0]
    assert moved(rows, kept, first, -1) == kept
    assert moved(rows, kept, RowName("signal", "nowhere"), 1) == kept
    hidden = ShownRows((), (rows[0], rows[1]))
    assert shown(rows, hidden, rows[0].name)[0] == rows[0]
    # a hidden row between does not hold a step back
    assert moved(rows, ShownRows((), (rows[1],)), rows[0], 1).order[:3] == (rows[1], rows[2], rows[0])


def test_every_row_reads_its_state_at_the_cursor_on_both_sides(worked_case: Window, page: ComparePage) -> None:
    assert page.traces.states() == {}
    comparison = worked_case.session.comparison
    finding = comparison.signal("D03")
    cycle = int(finding.diverging_cycles[0])
    begin, end = (int(t) for t in comparison.lineup.good_edges_ps[cycle : cycle + 2])
    page.traces.set_cursor(0, end - 50_000)
    states = page.traces.states()
    assert states["D03"] == RowState("1", "0")
    assert states["D03"].differs
    assert states["D"].differs
    assert not states["D00"].differs
    assert begin < end


def test_z_shows_what_lies_between_the_cursors(worked_case: Window, page: ComparePage) -> None:
    QTest.keyClick(page.traces, Qt.Key.Key_Z)
    assert "Place both cursors" in worked_case.bottom.line.text()
    page.traces.set_cursor(0, 30_000_000)
    page.traces.set_cursor(1, 36_000_000)
    QTest.keyClick(page.traces, Qt.Key.Key_Z)
    start, stop = page.traces.view()
    assert start <= 30_000_000 < 36_000_000 <= stop
    assert stop - start < 8_000_000


def test_the_scale_is_never_empty_at_any_zoom(worked_case: Window, page: ComparePage) -> None:
    edges = worked_case.session.comparison.lineup.good_edges_ps
    first, last = page.traces.axis.span
    for step in range(26):
        per_px = max(1, (last - first) // 900 >> step)
        for share in (0.001, 0.3, 0.5037, 0.999):
            view = View(first + int((last - first) * share) - per_px * 450, per_px, 900)
            labels = cycle_labels(view, edges, 9.0)[0] or time_labels(view, 9.0)[0]
            inside = [label for label in labels if -2 <= label.x <= view.width + 2]
            assert inside, (per_px, share)


def menu_of(page: ComparePage) -> QMenu:
    """The menu that is open."""
    found = QApplication.activePopupWidget()
    assert isinstance(found, QMenu)
    return found


def test_the_right_button_opens_menus_that_do_what_they_say(worked_case: Window, page: ComparePage) -> None:
    traces = page.traces
    at = QPoint(traces._geometry.gutter + 200, traces._geometry.top + 10)
    QApplication.sendEvent(traces, QContextMenuEvent(QContextMenuEvent.Reason.Mouse, at, traces.mapToGlobal(at)))
    menu = menu_of(page)
    entry = next(a for a in menu.actions() if a.text() == "Cursor B here")
    entry.trigger()
    menu.close()
    assert traces.cursors()[1] is not None
    at = QPoint(5, traces._geometry.top + traces._geometry.row + 4)
    QApplication.sendEvent(traces, QContextMenuEvent(QContextMenuEvent.Reason.Mouse, at, traces.mapToGlobal(at)))
    menu = menu_of(page)
    assert worked_case.session.chosen.signal == traces._row_at(at.y()).finding.signal
    assert any(a.text().startswith("Hide the row") for a in menu.actions())
    menu.close()
    page.signals.set_open(True, by_hand=True)
    settle(3)
    table = page.signals.table
    place = table.visualRect(page.signals.filter.index(1, 0)).center()
    table.customContextMenuRequested.emit(place)
    menu_of(page).close()


def test_a_picture_of_the_page_goes_to_the_clipboard(seen_case: Window) -> None:
    seen_case.act("copy_picture")
    picture = QGuiApplication.clipboard().pixmap()
    assert picture.width() == seen_case.pages["compare"].width()


def test_a_page_is_printed(seen_case: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from PySide6.QtPrintSupport import QPrinter

    printer = QPrinter()
    printer.setOutputFileName(str(tmp_path / "page.pdf"))
    monkeypatch.setattr("app.shell.printing.ask_printer", lambda _parent: printer)
    seen_case.act("print_page")
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF")
    assert seen_case.bottom.line.text() == "Sent to the printer"
