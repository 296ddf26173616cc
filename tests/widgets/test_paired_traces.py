"""The paired traces: the view, choosing, cursors, and what is to be seen."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QWheelEvent
from PySide6.QtWidgets import QApplication

from app.case.values import RowName
from app.model.theme import DARK, LIGHT, Theme
from app.widgets.traces.cursor_pair import Cursor
from app.widgets.traces.leaders import LeaderPen, in_view
from app.widgets.traces.paired_traces import PairedTraces
from tests.widgets.hand_built import (
    CYCLE_PS,
    LATE_PS,
    STOP_PS,
    bench_comparison,
    comparison_of,
    finding_of,
    without_lineup,
)
from tracecore.capture import digital_trace


def pixels(widget: PairedTraces) -> np.ndarray:
    """What the widget shows: uint32[height, width]."""
    image = widget.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    return np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.width()).copy()


def count(widget: PairedTraces, colour: str, left: int, right: int, row: int) -> int:
    """Pixels of exactly one colour in a stretch of time of a row."""
    geometry, view = widget._geometry, widget._view
    top = geometry.top + row * geometry.row - widget._bar.value()
    x = [geometry.gutter + int(view.x_of(t)) for t in (left, right)]
    part = pixels(widget)[top : top + geometry.row - 1, max(x[0], geometry.gutter) : x[1]]
    return int((part == QColor(colour).rgb()).sum())


def row_of(widget: PairedTraces, signal: str) -> int:
    return widget.signals_shown().index(signal)


def point(widget: PairedTraces, t_ps: int, row: int) -> QPoint:
    geometry = widget._geometry
    y = geometry.top + row * geometry.row + geometry.row // 2 - widget._bar.value()
    return QPoint(geometry.gutter + int(widget._view.x_of(t_ps)), y)


# ---- the view


def test_fit_shows_the_whole_capture_and_keeps_doing_so(traces: PairedTraces) -> None:
    traces.fit()
    for width in (1000, 1400, 700):
        traces.resize(width, 700)
        start, stop = traces.view()
        assert start == 0
        assert STOP_PS <= stop <= STOP_PS + traces.plot_width


def test_zoom_keeps_the_time_under_the_pointer(traces: PairedTraces) -> None:
    at = 20 * CYCLE_PS
    before = traces._view.x_of(at)
    traces.zoom(2.0, at)
    assert traces._view.x_of(at) == pytest.approx(before, abs=1)
    traces.zoom(3.0, at)
    assert traces._view.x_of(at) == pytest.approx(before, abs=1)


def test_zooming_in_and_out_again_comes_back(traces: PairedTraces) -> None:
    whole = traces.view()
    for _ in range(8):
        traces.zoom(2.0)
    assert traces.view()[1] - traces.view()[0] < (whole[1] - whole[0]) // 100
    for _ in range(12):
        traces.zoom(0.5)
    assert traces.view() == whole


def test_the_finest_view_is_a_picosecond_a_pixel(traces: PairedTraces) -> None:
    for _ in range(60):
        traces.zoom(2.0)
    start, stop = traces.view()
    assert stop - start == traces.plot_width
    traces.zoom(0.5)
    assert traces.view()[1] - traces.view()[0] > stop - start


def test_pan_moves_by_whole_pixels_and_stops_at_the_ends(traces: PairedTraces) -> None:
    traces.set_view(10 * CYCLE_PS, 5000)
    before = traces.view()[0]
    traces.pan(0.25)
    moved = traces.view()[0] - before
    assert moved % 5000 == 0
    assert moved == pytest.approx(0.25 * traces.plot_width * 5000, abs=5000)
    for _ in range(100):
        traces.pan(1.0)
    assert traces.view()[0] < STOP_PS
    for _ in range(100):
        traces.pan(-1.0)
    assert traces.view()[1] > 0


def test_view_is_told_in_whole_picoseconds_beyond_32_bits(qtbot, traces: PairedTraces) -> None:
    long = digital_trace(np.array([0, 9 * 10**12]), np.array([0, 1], np.uint8), 10**13)
    traces.set_comparison(comparison_of([finding_of("L", long, long)], np.array([0, 10**13])))
    with qtbot.waitSignal(traces.viewChanged, timeout=1000) as told:
        traces.set_view(5_000_000_123, 7777.4)
    assert told.args == list(traces.view())
    assert traces.view()[0] == 5_000_000_123
    assert traces.view()[1] - traces.view()[0] == 7777 * traces.plot_width


def test_show_cycle_puts_it_in_the_middle_close_enough_to_see(traces: PairedTraces) -> None:
    traces.show_cycle(13)
    middle = traces._view.x_of(13 * CYCLE_PS + CYCLE_PS // 2)
    assert middle == pytest.approx(traces.plot_width / 2, abs=2)
    assert CYCLE_PS / traces._view.ps_per_px >= 20
    traces.resize(1400, 700)
    assert traces._view.x_of(13 * CYCLE_PS + CYCLE_PS // 2) == pytest.approx(traces.plot_width / 2, abs=2)


def test_show_cycle_outside_the_capture_changes_nothing(traces: PairedTraces) -> None:
    before = traces.view()
    traces.show_cycle(40)
    traces.show_cycle(-1)
    assert traces.view() == before


def test_centre_on(traces: PairedTraces) -> None:
    traces.set_view(0, 4000)
    traces.centre_on(9_000_000)
    start, stop = traces.view()
    assert (start + stop) // 2 == pytest.approx(9_000_000, abs=4000)


def wheel(widget: PairedTraces, at: QPoint, turned: int) -> None:
    spot = QPointF(at)
    event = QWheelEvent(
        spot,
        widget.mapToGlobal(spot),
        QPoint(),
        QPoint(0, turned),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(widget, event)


def test_wheel_zooms_over_the_plot_and_scrolls_over_the_names(traces: PairedTraces) -> None:
    traces.resize(1000, 300)
    spot = point(traces, 20 * CYCLE_PS, 1)
    before = traces.view()
    wheel(traces, QPoint(10, 100), -120)
    assert traces.view() == before
    assert traces._bar.value() > 0
    at = traces._view.time_at(spot.x() - traces._geometry.gutter)
    wheel(traces, spot, 240)
    start, stop = traces.view()
    assert stop - start == pytest.approx((before[1] - before[0]) / 2, rel=0.02)
    assert traces._view.x_of(at) == pytest.approx(spot.x() - traces._geometry.gutter, abs=1)


def test_dragging_pans(qtbot, traces: PairedTraces) -> None:
    traces.set_view(10 * CYCLE_PS, 4000)
    start = point(traces, 15 * CYCLE_PS, 1)
    qtbot.mousePress(traces, Qt.MouseButton.LeftButton, pos=start)
    qtbot.mouseMove(traces, start - QPoint(100, 0))
    qtbot.mouseRelease(traces, Qt.MouseButton.LeftButton, pos=start - QPoint(100, 0))
    assert traces.view()[0] == 10 * CYCLE_PS + 100 * 4000
    assert traces.cursors() == (None, None)


# ---- choosing and cursors


def test_a_click_on_a_name_chooses_and_a_still_choice_is_silent(qtbot, traces: PairedTraces) -> None:
    spot = QPoint(20, point(traces, 0, row_of(traces, "D03")).y())
    with qtbot.waitSignal(traces.chosenChanged, timeout=1000) as told:
        qtbot.mouseClick(traces, Qt.MouseButton.LeftButton, pos=spot)
    assert told.args == ["D03"]
    with qtbot.assertNotEmitted(traces.chosenChanged, wait=50):
        qtbot.mouseClick(traces, Qt.MouseButton.LeftButton, pos=spot)
        traces.set_chosen("ACK")


def test_arrow_keys_choose_row_by_row(qtbot, traces: PairedTraces) -> None:
    told: list[str] = []
    traces.chosenChanged.connect(told.append)
    for key in (Qt.Key.Key_Down, Qt.Key.Key_Down, Qt.Key.Key_Up):
        qtbot.keyClick(traces, key)
    assert told == ["MCLK", "ACK", "MCLK"]


def test_a_chosen_row_is_scrolled_into_sight_and_told(traces: PairedTraces) -> None:
    traces.resize(1000, 220)
    traces.set_chosen("SEQ2")
    row, geometry = row_of(traces, "SEQ2"), traces._geometry
    assert 0 <= row * geometry.row - traces._bar.value() <= traces.height() - geometry.top - geometry.row
    traces.set_chosen("D03")
    assert "D03 7-B04: diverges, stuck low" in traces.accessibleDescription()


def test_click_and_shift_click_place_cursors_that_snap(qtbot, traces: PairedTraces) -> None:
    traces.set_view(8 * CYCLE_PS, 3000)
    finding = bench_comparison().signal("ACK")
    good, suspect = (int(t.transitions_ps[0]) for t in (finding.good_trace, finding.suspect_on_good))
    row = row_of(traces, "ACK")
    near = QPoint(4, 0)
    with qtbot.waitSignal(traces.cursorsChanged, timeout=1000):
        qtbot.mouseClick(traces, Qt.MouseButton.LeftButton, pos=point(traces, good, row) + near)
    shift = Qt.KeyboardModifier.ShiftModifier
    qtbot.mouseClick(traces, Qt.MouseButton.LeftButton, shift, point(traces, suspect, row) - near)
    assert traces.cursors() == (good, suspect)
    assert traces.cursors()[1] - traces.cursors()[0] == LATE_PS
    qtbot.keyClick(traces, Qt.Key.Key_Escape)
    assert traces.cursors() == (None, None)


def test_cursors_by_keys_step_along_the_chosen_signal(qtbot, traces: PairedTraces) -> None:
    traces.set_chosen("ACK")
    traces.fit()
    both = Qt.KeyboardModifier.ShiftModifier | Qt.KeyboardModifier.ControlModifier
    times = []
    for _ in range(4):
        qtbot.keyClick(traces, Qt.Key.Key_Right, both)
        times.append(traces.cursors()[0])
    finding = bench_comparison().signal("ACK")
    every = np.union1d(finding.good_trace.transitions_ps, finding.suspect_on_good.transitions_ps).tolist()
    # after the last one it stays
    assert times == [*every[:3], every[2]]
    qtbot.keyClick(traces, Qt.Key.Key_Left, both)
    assert traces.cursors()[0] == every[1]


def test_shift_with_an_arrow_moves_the_newest_cursor_by_one_sample(qtbot, traces: PairedTraces) -> None:
    traces.place_cursor(0)
    traces.place_cursor(1)
    a, b = traces.cursors()
    assert a == b == sum(traces.view()) // 2
    for key, moved in ((Qt.Key.Key_Right, 41_667), (Qt.Key.Key_Right, 83_334), (Qt.Key.Key_Left, 41_667)):
        qtbot.keyClick(traces, key, Qt.KeyboardModifier.ShiftModifier)
        assert traces.cursors() == (a, b + moved)


def test_a_cursor_is_dragged_and_snaps_while_the_view_stands(qtbot, traces: PairedTraces) -> None:
    traces.set_view(8 * CYCLE_PS, 3000)
    good = int(bench_comparison().signal("ACK").good_trace.transitions_ps[0])
    row = row_of(traces, "ACK")
    traces.set_cursor(1, good + 5 * CYCLE_PS)
    spot, before = point(traces, good + 5 * CYCLE_PS, row), traces.view()
    qtbot.mousePress(traces, Qt.MouseButton.LeftButton, pos=spot + QPoint(4, 0))
    qtbot.mouseMove(traces, point(traces, good + CYCLE_PS, row))
    qtbot.mouseMove(traces, point(traces, good, row) + QPoint(3, 0))
    qtbot.mouseRelease(traces, Qt.MouseButton.LeftButton, pos=point(traces, good, row) + QPoint(3, 0))
    assert traces.cursors() == (None, good)
    assert traces.view() == before


def test_a_cursor_moved_out_of_view_brings_the_view_along(traces: PairedTraces) -> None:
    traces.set_chosen("D03")
    traces.set_view(0, 1000)
    for _ in range(8):
        traces.step_cursor(True)
    start, stop = traces.view()
    assert start <= traces.cursors()[0] < stop


def test_pointer_and_double_click_tell_the_time(qtbot, traces: PairedTraces) -> None:
    traces.set_view(0, 10_000)
    spot = point(traces, 5 * CYCLE_PS, 2)
    with qtbot.waitSignal(traces.cursorMoved, timeout=1000) as told:
        qtbot.mouseMove(traces, spot)
    assert told.args[0] == pytest.approx(5 * CYCLE_PS, abs=10_000)
    with qtbot.waitSignal(traces.activated, timeout=1000) as told:
        qtbot.mouseDClick(traces, Qt.MouseButton.LeftButton, pos=spot)
    assert told.args[0] == traces.signals_shown()[2]


@pytest.mark.parametrize("at", [0.0, 0.5, 1.0])
@pytest.mark.parametrize(("width", "scale"), [(1000, 1.0), (700, 1.6), (460, 1.0)])
def test_boxes_of_leaders_never_cover_one_another_or_a_name(
    traces: PairedTraces, at: float, width: int, scale: float
) -> None:
    traces.show_cycle(20)
    start, stop = traces.view()
    middle = start + round(at * (stop - 1 - start))
    traces.set_cursor(0, middle)
    traces.set_cursor(1, middle)
    traces.resize(width, 400)
    traces.set_theme(LIGHT, scale)
    traces.centre_on(middle)
    canvas = QImage(traces.size(), QImage.Format.Format_RGB32)
    painter = QPainter(canvas)
    pen = LeaderPen(painter, traces._geometry, traces._view, LIGHT)
    boxes = pen.boxes(in_view(traces.axis, traces.pair, traces._periods, traces._marked))
    painter.end()
    assert len(boxes) >= 2
    assert not any(a.intersects(b) for i, a in enumerate(boxes) for b in boxes[:i])
    assert all(b.left() >= traces._geometry.gutter and b.right() <= traces.width() for b in boxes)


def test_the_dimension_line_tells_what_lies_between_and_moves_no_row(traces: PairedTraces) -> None:
    traces.show_cycle(10)
    before, paper = pixels(traces), QColor(LIGHT.paper).rgb()
    finding = bench_comparison().signal("ACK")
    traces.set_cursor(0, Cursor(int(finding.good_trace.transitions_ps[0]), "good"))
    assert traces.reading() is None
    traces.set_cursor(1, Cursor(int(finding.suspect_on_good.transitions_ps[0]), "suspect"))
    read = traces.reading()
    assert read is not None
    assert read.apart_ps == LATE_PS
    # transitions of two captures read to the sum of both sample periods
    assert read.wordings[0] == "+170 ns · 0.41 cycles · 5.882 MHz ±2.9 MHz · accurate to ±83.3 ns"
    geometry, after = traces._geometry, pixels(traces)
    assert (
        after[geometry.top : -traces._foot, : geometry.gutter // 2]
        == before[geometry.top : -traces._foot, : geometry.gutter // 2]
    ).all()
    assert (after[-traces._foot :, geometry.gutter :] != paper).sum() > 300
    assert (after[-traces._foot + 1 : -1, 1 : geometry.gutter - 1] == paper).all()


# ---- what is to be seen


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda t: t.name)
def test_both_sides_are_drawn_in_their_colours(traces: PairedTraces, theme: Theme) -> None:
    traces.set_theme(theme, 1.0)
    for row in range(2):
        assert count(traces, theme.ink, 0, STOP_PS, row) > 300
        assert count(traces, theme.suspect, 0, STOP_PS, row) > 600


@pytest.mark.parametrize("zoom", [1, 40], ids=["whole", "close"])
def test_hatching_only_where_levels_differ(traces: PairedTraces, zoom: int) -> None:
    row, finding = row_of(traces, "D03"), bench_comparison().signal("D03")
    if zoom > 1:
        traces.set_view(11 * CYCLE_PS, 8 * CYCLE_PS // traces.plot_width)
    # clear of the rings at both ends
    differs, agrees = ((k * CYCLE_PS + 130_000, k * CYCLE_PS + 320_000) for k in (13, 14))
    assert (finding.difference_on_good_ps[0] == [13 * CYCLE_PS + 20_000, 14 * CYCLE_PS + 20_000]).all()
    wide = (differs[1] - differs[0]) // traces._view.ps_per_px
    assert count(traces, LIGHT.suspect, *differs, row) > 2.9 * wide
    assert count(traces, LIGHT.suspect, *agrees, row) <= 2.2 * wide


def test_a_glitch_shows_in_the_widest_view(qtbot) -> None:
    """One picosecond in a quarter of a second, in a trace too crowded for lines."""
    busy = np.arange(1, 4000, dtype=np.int64) * 1_000_000
    times = np.concatenate(([0], busy, [200_000_000_000, 200_000_000_001]))
    trace = digital_trace(times, (np.arange(len(times)) % 2).astype(np.uint8), 250_000_000_000)
    made = PairedTraces()
    qtbot.addWidget(made)
    made.resize(900, 200)
    made.set_comparison(comparison_of([finding_of("G", trace, trace)], np.array([0, 250_000_000_000])))
    geometry, view = made._geometry, made._view
    column = geometry.gutter + int(view.x_of(200_000_000_000))
    upright = slice(geometry.top + geometry.good_high + 2, geometry.top + geometry.good_low - 2)
    shown, paper = pixels(made), QColor(LIGHT.paper).rgb()
    assert (shown[upright, column] != paper).all()
    assert (shown[upright, column - 3] == paper).all()


def test_ochre_marks_the_weak_level_and_the_moved_transition(traces: PairedTraces) -> None:
    traces.set_view(23 * CYCLE_PS, 5 * CYCLE_PS // traces.plot_width)
    assert count(traces, LIGHT.warning, 25 * CYCLE_PS, 26 * CYCLE_PS, row_of(traces, "SEQ2")) > 30
    assert count(traces, LIGHT.warning, 23 * CYCLE_PS, 25 * CYCLE_PS, row_of(traces, "SEQ2")) == 0


def test_unknown_levels_are_boxes_not_lines(traces: PairedTraces) -> None:
    row = row_of(traces, "HALT")
    assert count(traces, LIGHT.band, 20 * CYCLE_PS, 24 * CYCLE_PS, row) > 200
    assert count(traces, LIGHT.band, 0, 19 * CYCLE_PS, row) == 0


def test_panning_by_pixels_shows_what_a_fresh_frame_shows(qtbot, traces: PairedTraces) -> None:
    """The columns that are kept while panning are those that would be computed."""
    fresh = PairedTraces()
    qtbot.addWidget(fresh)
    fresh.resize(traces.size())
    fresh.set_comparison(bench_comparison())
    traces.set_view(CYCLE_PS, 12_000)
    traces.grab()
    for by in (7, -3, 40, -44):
        traces.set_view(traces.view()[0] + by * 12_000, 12_000)
        traces.grab()
    fresh.set_view(*(traces.view()[0], 12_000))
    traces.clearFocus()
    assert (pixels(traces) == pixels(fresh)).all()


def test_rendering_is_the_same_every_time(traces: PairedTraces) -> None:
    traces.show_cycle(12)
    assert (pixels(traces) == pixels(traces)).all()


@pytest.mark.parametrize("scale", [1.0, 1.6, 2.0])
def test_rows_grow_with_the_text(traces: PairedTraces, scale: float) -> None:
    traces.set_theme(LIGHT, scale)
    assert traces._geometry.row >= 52 * scale - 1
    assert traces._bar.maximum() >= 0
    pixels(traces)


def test_order_hides_and_sorts(traces: PairedTraces) -> None:
    traces.set_order([RowName("signal", name) for name in ("D03", "MCLK", "nowhere")])
    assert traces.signals_shown() == ("D03", "MCLK")
    traces.set_order(None)
    assert len(traces.signals_shown()) == 9


def test_without_a_line_up_the_good_side_is_still_drawn(traces: PairedTraces) -> None:
    traces.set_comparison(without_lineup())
    assert count(traces, LIGHT.ink, 0, STOP_PS, 0) > 300
    assert count(traces, LIGHT.suspect, 0, STOP_PS, 0) == 0
    traces.show_cycle(3)
    assert traces.view()[0] == 0


def test_nothing_to_show_is_fine(traces: PairedTraces) -> None:
    traces.set_comparison(None)
    assert traces.signals_shown() == ()
    assert (pixels(traces)[5:-5, 5:-5] == QColor(LIGHT.paper).rgb()).all()
    traces.zoom(2.0)
    traces.fit()
