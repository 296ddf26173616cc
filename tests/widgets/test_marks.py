"""Marks on the traces, in the overview, in the list and in their form."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage
from PySide6.QtWidgets import QWidget

from app.case.values import MARK_KINDS, Mark
from app.model.theme import DARK, LIGHT, Theme
from app.widgets.marks.mark_form import MarkForm
from app.widgets.marks.mark_list import MarkList
from app.widgets.traces.mark_tags import MarkPen
from app.widgets.traces.overview import Overview
from app.widgets.traces.paired_traces import PairedTraces
from tests.widgets.hand_built import CYCLE_PS, bench_comparison

STAYS = Mark(1, "finding", "D03 stays low from here", 13, 13, ("D03",), author="R.", at="2026-02-03T11:20:00+01:00")
LATE = Mark(2, "question", "Late, or the clock early?", 15, 16, ("ACK",), "suspect")
BOTH = Mark(3, "reference", "Third fetch", 10, 11)
MARKS = (STAYS, LATE, BOTH)


def pixels(widget: QWidget) -> np.ndarray:
    """What a widget shows: uint32[height, width]."""
    image = widget.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    return np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.width()).copy()


def changed(traces: PairedTraces, before: np.ndarray, signal: str, from_ps: int, to_ps: int) -> np.ndarray:
    """Which lines of a signal's row differ from ``before`` in a stretch of time: bool[row height]."""
    geometry, top = traces._geometry, int(traces._row_tops()[signal])
    x = [geometry.gutter + int(traces._view.x_of(t)) for t in (from_ps, to_ps)]
    part = slice(top, top + geometry.row), slice(x[0], x[1])
    return (pixels(traces)[part] != before[part]).any(axis=1)


@pytest.fixture
def marked(traces: PairedTraces) -> PairedTraces:
    """The shared comparison with three marks in view."""
    traces.set_marks(MARKS, None)
    traces.set_view(8 * CYCLE_PS, 10 * CYCLE_PS // traces.plot_width)
    traces.clearFocus()
    return traces


# ---- on the traces


def test_a_mark_of_one_signal_is_bracketed_on_its_row_and_on_its_side(marked: PairedTraces) -> None:
    shown = pixels(marked)
    marked.set_marks([replace(m, first_cycle=39, last_cycle=39) for m in MARKS], None)
    row, within = marked._geometry.row, (15 * CYCLE_PS + 20_000, 17 * CYCLE_PS - 20_000)
    assert changed(marked, shown, "MCLK", *within).sum() == 0
    under = changed(marked, shown, "ACK", *within)
    assert under[row - 8 :].any()
    assert not under[: row // 2].any()
    at_d03 = changed(marked, shown, "D03", 13 * CYCLE_PS + 150_000, 13 * CYCLE_PS + 300_000)
    assert at_d03[:6].any()
    assert at_d03[row - 6 :].any()


def test_a_mark_of_all_signals_has_leader_lines_through_all_rows(marked: PairedTraces) -> None:
    shown = pixels(marked)
    marked.set_marks([replace(m, first_cycle=39, last_cycle=39) for m in MARKS], None)
    for signal in ("MCLK", "D00", "D03"):
        # clear of the vertical lines of transitions, 20 ns after the edge
        assert changed(marked, shown, signal, 10 * CYCLE_PS - 4000, 10 * CYCLE_PS + 4000).sum() > 10


def test_the_band_of_tags_is_there_only_with_marks(traces: PairedTraces) -> None:
    plain = traces._geometry.top
    traces.set_marks(MARKS, None)
    assert traces._geometry.top > plain
    traces.set_marks([replace(STAYS, first_cycle=900, last_cycle=900)], None)
    assert traces._geometry.top == plain
    assert "mark" not in traces.accessibleDescription()


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda t: t.name)
@pytest.mark.parametrize("scale", [1.0, 1.6])
def test_the_chosen_tag_is_outlined_and_tinted(marked: PairedTraces, theme: Theme, scale: float) -> None:
    marked.set_theme(theme, scale)
    pen = MarkPen(None, marked._geometry, marked._view, theme, 3)  # type: ignore[arg-type]
    tinted = {}
    for chosen in (3, None):
        marked.set_marks(MARKS, chosen)
        tag = next(t for t in marked.tags() if t.holds(3))
        box = pen.box_of(tag).toRect()
        part = pixels(marked)[box.top() + 3 : box.bottom() - 3, box.left() + 3 : box.right() - 3]
        tinted[chosen] = (part == QColor(theme.tint).rgb()).mean()
    assert tinted[3] > 0.3
    assert tinted[None] == 0


def test_each_kind_has_a_shape_of_its_own(marked: PairedTraces) -> None:
    pictures = []
    for kind in MARK_KINDS:
        marked.set_marks([replace(BOTH, kind=kind)], None)
        pictures.append(pixels(marked))
    assert not (pictures[0] == pictures[1]).all()
    assert not (pictures[1] == pictures[2]).all()
    assert not (pictures[0] == pictures[2]).all()


def test_hovering_tells_the_note_on_the_tag_and_on_the_row(marked: PairedTraces) -> None:
    geometry, tag = marked._geometry, next(t for t in marked.tags() if t.holds(1))
    over_tag = QPointF(geometry.gutter + tag.left + 5, geometry.top - 12)
    assert marked.tip_at(over_tag) == "Mark 1, finding\nD03 stays low from here\ncycle 13 · D03 · R. 2026-02-03"
    x = geometry.gutter + marked._view.x_of(13 * CYCLE_PS + CYCLE_PS // 2)
    rows = marked._row_tops()
    assert "Mark 1" in marked.tip_at(QPointF(x, rows["D03"] + 20))
    assert marked.tip_at(QPointF(x, rows["ACK"] + 20)) == ""
    x = geometry.gutter + marked._view.x_of(10 * CYCLE_PS + CYCLE_PS // 2)
    assert "Third fetch" in marked.tip_at(QPointF(x, rows["ACK"] + 20))


def test_a_click_on_a_tag_asks_for_its_mark_and_places_no_cursor(qtbot, marked: PairedTraces) -> None:
    tag = next(t for t in marked.tags() if t.holds(2))
    spot = QPoint(int(marked._geometry.gutter + tag.left + 5), marked._geometry.top - 12)
    with qtbot.waitSignal(marked.markWanted, timeout=1000) as told:
        qtbot.mouseClick(marked, Qt.MouseButton.LeftButton, pos=spot)
    assert told.args == [2]
    assert marked.cursors() == (None, None)


def test_a_tag_over_several_goes_from_one_to_the_next(qtbot, traces: PairedTraces) -> None:
    traces.resize(420, 300)
    close = tuple(replace(STAYS, id=i) for i in (1, 2, 3))
    told: list[int] = []
    traces.markWanted.connect(told.append)
    traces.markWanted.connect(lambda number: traces.set_marks(close, number))
    traces.set_marks(close, None)
    for _ in range(4):
        (tag,) = traces.tags()
        spot = QPoint(int(traces._geometry.gutter + tag.left + 5), traces._geometry.top - 12)
        qtbot.mouseClick(traces, Qt.MouseButton.LeftButton, pos=spot)
    assert told == [1, 2, 3, 1]


def test_a_span_is_shown_in_full_and_stays_so_at_another_width(traces: PairedTraces) -> None:
    for width in (1000, 600):
        traces.show_span(5 * CYCLE_PS, 30 * CYCLE_PS)
        traces.resize(width, 500)
        start, stop = traces.view()
        assert start <= 5 * CYCLE_PS
        assert stop >= 30 * CYCLE_PS


# ---- in the overview


def test_the_overview_has_a_tick_for_each_mark_that_tells_and_leads(qtbot) -> None:
    overview = Overview()
    qtbot.addWidget(overview)
    overview.resize(800, overview.sizeHint().height())
    overview.set_comparison(bench_comparison())
    overview.set_marks(MARKS, None)
    ink = QColor(LIGHT.ink).rgb()
    line = pixels(overview)[8]
    for mark in MARKS:
        x = int(overview.x_of(mark.first_cycle * CYCLE_PS))
        assert (line[x : x + 2] == ink).all()
        assert mark.note in "".join(s.mark.note for s in overview.marks_at(QPointF(x, 8)))
    spot = QPoint(int(overview.x_of(BOTH.first_cycle * CYCLE_PS)), 8)
    with qtbot.waitSignal(overview.markWanted, timeout=1000) as told:
        qtbot.mouseClick(overview, Qt.MouseButton.LeftButton, pos=spot)
    assert told.args == [3]
    below = QPoint(spot.x(), 40)
    with qtbot.waitSignal(overview.viewRequested, timeout=1000):
        qtbot.mouseClick(overview, Qt.MouseButton.LeftButton, pos=below)
    overview.set_marks(MARKS, 3)
    assert (pixels(overview)[35] == ink).any()


# ---- in the list


@pytest.fixture
def listing(qtbot) -> MarkList:
    made = MarkList()
    qtbot.addWidget(made)
    made.resize(340, 400)
    made.set_theme(LIGHT, 1.0)
    made.set_marks(MARKS, None)
    made.show()
    made.open()
    return made


def test_the_list_goes_by_cycle_and_tells_its_count_while_folded(listing: MarkList) -> None:
    assert listing.shown_numbers() == [3, 1, 2]
    assert listing.title.text() == "▾ Marks · 3"
    listing.title.setChecked(False)
    assert listing.title.text() == "▸ Marks · 3"
    assert not listing.body.isVisible()


def test_the_list_is_searched_by_text_and_kind(qtbot, listing: MarkList) -> None:
    qtbot.keyClicks(listing.search, "fetch")
    assert listing.shown_numbers() == [3]
    listing.search.clear()
    listing.kinds.pick("question")
    assert listing.shown_numbers() == [2]
    qtbot.keyClicks(listing.search, "fetch")
    assert listing.shown_numbers() == []
    assert listing.none.text() == "No mark is like that."


def test_enter_and_click_go_to_a_mark(qtbot, listing: MarkList) -> None:
    told: list[int] = []
    listing.wanted.connect(told.append)
    listing.rows.setCurrentIndex(listing.rows.listed.index(1))
    qtbot.keyClick(listing.rows, Qt.Key.Key_Return)
    spot = listing.rows.visualRect(listing.rows.listed.index(2)).center()
    qtbot.mouseClick(listing.rows.viewport(), Qt.MouseButton.LeftButton, pos=spot)
    qtbot.keyClicks(listing.search, "stays")
    qtbot.keyClick(listing.search, Qt.Key.Key_Return)
    assert told == [1, 2, 1]


def test_edit_and_remove_wait_for_a_chosen_mark(listing: MarkList) -> None:
    assert not listing.buttons["edit_mark"].isEnabled()
    listing.set_marks(MARKS, 2)
    assert listing.buttons["remove_mark"].isEnabled()
    assert listing.rows.currentIndex().row() == 2
    listing.set_marks(MARKS[:1], 2)
    assert not listing.buttons["edit_mark"].isEnabled()
    assert listing.rows.listed.data(listing.rows.listed.index(0), Qt.ItemDataRole.AccessibleTextRole).startswith(
        "Mark 1"
    )


# ---- in the form


@pytest.fixture
def form(qtbot) -> MarkForm:
    parent = QWidget()
    qtbot.addWidget(parent)
    parent.resize(900, 500)
    parent.show()
    made = MarkForm(parent)
    made.set_theme(LIGHT, 1.0)
    made.paper = parent  # type: ignore[attr-defined]
    return made


def test_enter_keeps_what_was_typed(qtbot, form: MarkForm) -> None:
    form.show_mark(replace(STAYS, id=0), ["ACK", "D03"], QRectF(200, 60, 50, 300))
    form.kinds.pick("reference")
    form.note.clear()
    qtbot.keyClicks(form.note, " as on the sheet ")
    form.signals.setText("ack d03")
    form.side.setCurrentIndex(2)
    with qtbot.waitSignal(form.kept, timeout=1000) as told:
        qtbot.keyClick(form.note, Qt.Key.Key_Return)
    (mark,) = told.args
    assert mark == replace(
        STAYS, id=0, kind="reference", note="as on the sheet", signals=("ACK", "D03"), side="suspect"
    )
    assert not form.isVisible()


def test_escape_leaves_and_keeps_nothing(qtbot, form: MarkForm) -> None:
    form.show_mark(STAYS, ["D03"], QRectF(200, 60, 50, 300))
    with qtbot.assertNotEmitted(form.kept, wait=20), qtbot.waitSignal(form.left, timeout=1000):
        qtbot.keyClick(form.note, Qt.Key.Key_Escape)
    assert not form.isVisible()
    form.show_mark(STAYS, ["D03"], QRectF(200, 60, 50, 300))
    form.leave_button.setFocus()
    with qtbot.assertNotEmitted(form.kept, wait=20):
        qtbot.keyClick(form.leave_button, Qt.Key.Key_Return)
    assert not form.isVisible()


def test_a_wrong_signal_is_told_and_the_form_stays(qtbot, form: MarkForm) -> None:
    form.show_mark(STAYS, ["D03"], QRectF(200, 60, 50, 300))
    form.signals.setText("D3")
    with qtbot.assertNotEmitted(form.kept, wait=20):
        form.keep()
    assert form.isVisible()
    assert form.complaint.text().startswith("D3 is no signal")


@pytest.mark.parametrize("left", [0.0, 200.0, 420.0, 880.0])
def test_the_form_stays_inside_and_beside_the_mark_where_it_can(form: MarkForm, left: float) -> None:
    beside = QRectF(left, 60, 20, 300)
    form.show_mark(STAYS, ["D03"], beside)
    parent = form.parentWidget().rect()
    assert parent.contains(form.geometry())
    free = max(beside.left(), parent.width() - beside.right())
    if free > form.width() + 20:
        assert not form.geometry().toRectF().intersects(beside)


def test_where_room_is_low_the_form_is_tight_before_a_kind_is_cut(qtbot) -> None:
    parent = QWidget()
    qtbot.addWidget(parent)
    form = MarkForm(parent)
    parent.resize(800, form.sizeHint().height() - 30)
    parent.show()
    form.show_mark(Mark(0, "question", "", 0, 0), (), QRectF(0, 0, 20, 20))
    qtbot.waitUntil(form.isVisible)
    assert form.layout().totalHeightForWidth(form.width()) <= form.height() < parent.height()
