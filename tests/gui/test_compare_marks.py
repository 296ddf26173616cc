"""Marks in the window: made, gone to, edited, removed, taken back."""

from __future__ import annotations

from PySide6.QtCore import Qt

from app.case.changes import Put
from app.case.values import Mark
from app.shell.window import Window
from tests.gui.conftest import FAULT_CYCLE


def keep(qtbot, window: Window, note: str) -> None:
    """Types a note into the open form and keeps it."""
    form = window.pages["compare"].marks.form
    assert form.isVisible()
    form.note.clear()
    qtbot.keyClicks(form.note, note)
    qtbot.keyClick(form.note, Qt.Key.Key_Return)


def test_the_chosen_cycle_and_signal_are_marked(qtbot, worked_case: Window) -> None:
    comparison = worked_case.session.comparison
    worked_case.act("mark")
    keep(qtbot, worked_case, "stays low from here")
    (mark,) = worked_case.session.case.marks
    chosen = worked_case.session.chosen
    assert (mark.id, mark.note, mark.signals) == (1, "stays low from here", ("D03",))
    assert mark.first_cycle == mark.last_cycle == chosen.cycle
    assert FAULT_CYCLE <= mark.first_cycle < FAULT_CYCLE + 10
    assert (mark.author, len(mark.at)) == (worked_case.session.author, 25)
    assert chosen.mark == 1
    # a mark asks nothing new of the comparison
    assert worked_case.session.comparison is comparison
    assert worked_case.session.current
    page = worked_case.pages["compare"]
    assert [s.mark.id for s in page.traces.spans] == [1]
    assert page.mark_list.shown_numbers() == [1]


def test_leaving_the_form_changes_nothing(qtbot, worked_case: Window) -> None:
    worked_case.act("mark")
    qtbot.keyClick(worked_case.pages["compare"].marks.form.note, Qt.Key.Key_Escape)
    assert worked_case.session.case.marks == ()


def test_keys_of_the_traces_stay_away_from_the_open_form(qtbot, worked_case: Window) -> None:
    page = worked_case.pages["compare"]
    worked_case.activateWindow()
    qtbot.waitUntil(worked_case.isActiveWindow, timeout=120_000)
    for which in (0, 1):
        page.traces.set_cursor(which, int(worked_case.session.comparison.lineup.good_edges_ps[400 + which]))
    before, cycle = page.traces.cursors(), worked_case.session.chosen.cycle
    worked_case.act("mark")
    form, view = page.marks.form, page.traces.view()
    form.note.clear()
    qtbot.keyClicks(form.note, "nfp[-")
    assert form.note.text() == "nfp[-"
    for key in (Qt.Key.Key_N, Qt.Key.Key_W, Qt.Key.Key_Left):
        qtbot.keyClick(form.kinds.buttons["reference"], key)
    assert page.traces.view() == view
    assert worked_case.session.chosen.cycle == cycle
    # what was typed is not dropped by the first Esc
    qtbot.keyClick(form.side, Qt.Key.Key_Escape)
    assert form.isVisible()
    qtbot.keyClick(form.side, Qt.Key.Key_Escape)
    assert not form.isVisible()
    assert page.traces.cursors() == before


def test_a_delta_between_the_cursors_is_kept(qtbot, worked_case: Window) -> None:
    page = worked_case.pages["compare"]
    edges = worked_case.session.comparison.lineup.good_edges_ps
    page.traces.set_cursor(1, int(edges[402]))
    page.traces.set_cursor(0, int(edges[400]) + 83_333)
    assert worked_case.bottom.line.text().startswith("B \u2212 A +750")
    worked_case.act("mark")
    assert page.marks.form.note.text().endswith("accurate to ±41.7 ns")
    page.marks.form.keep()
    (mark,) = worked_case.session.case.marks
    assert (mark.start_ps, mark.stop_ps) == (int(edges[400]) + 83_333, int(edges[402]))
    assert (mark.first_cycle, mark.last_cycle, mark.kind) == (400, 401, "reference")


def test_marks_are_gone_through_edited_removed_and_brought_back(qtbot, worked_case: Window) -> None:
    for cycle in (700, 50, 300):
        worked_case.session.change(Put(Mark(0, "question", f"at {cycle}", cycle, cycle)))
    page, session = worked_case.pages["compare"], worked_case.session
    seen = []
    page.traces.fit()
    page.marks.go(2)
    for name in ("next_mark", "next_mark", "next_mark", "previous_mark"):
        worked_case.act(name)
        seen.append(session.chosen.mark)
        start, stop = page.traces.view()
        assert start < session.comparison.lineup.good_edges_ps[session.chosen.cycle] < stop
    assert seen == [3, 1, 1, 3]
    worked_case.act("edit_mark")
    keep(qtbot, worked_case, "seen again")
    assert [m.note for m in session.case.marks] == ["at 700", "at 50", "seen again"]
    worked_case.act("remove_mark")
    assert [m.id for m in session.case.marks] == [1, 2]
    worked_case.act("remove_mark")
    assert worked_case.bottom.line.text().startswith("No mark is chosen")
    worked_case.act("undo")
    assert [m.id for m in session.case.marks] == [1, 2, 3]
    assert len(page.traces.spans) == 3


def test_a_mark_chosen_elsewhere_is_shown(worked_case: Window) -> None:
    worked_case.session.change(Put(Mark(0, "finding", "", 40, 90)))
    worked_case.session.choose(cycle=40, mark=1)
    edges = worked_case.session.comparison.lineup.good_edges_ps
    start, stop = worked_case.pages["compare"].traces.view()
    assert start <= edges[40]
    assert stop >= edges[91]


def test_a_mark_outside_this_capture_is_listed_and_told(worked_case: Window) -> None:
    worked_case.session.change(Put(Mark(0, "finding", "", 5000, 5001)))
    page = worked_case.pages["compare"]
    assert page.traces.spans == ()
    assert page.mark_list.shown_numbers() == [1]
    page.marks.go(1)
    assert "outside what is compared now" in worked_case.bottom.line.text()


def test_the_list_opens_with_the_search_under_the_keys(qtbot, worked_case: Window) -> None:
    worked_case.act("find_mark")
    page = worked_case.pages["compare"]
    assert page.mark_list.is_open
    assert not page.panel.is_folded
    assert page.mark_list.search.isVisible()


def test_before_a_comparison_there_is_nothing_to_mark(window: Window) -> None:
    window.show_page("compare")
    for name, words in (("mark", "Nothing is compared yet"), ("next_mark", "No marks yet"), ("edit_mark", "No mark")):
        window.act(name)
        assert window.bottom.line.text().startswith(words)
