"""The parts beside and inside the paired traces: words, numbers, overview, strips, names, thumbnails, volts."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from PySide6.QtCore import QLineF, QPoint, Qt
from PySide6.QtGui import QColor, QImage, QPainter
from PySide6.QtWidgets import QWidget

from app.case.shelf import hold
from app.model.theme import DARK, LIGHT
from app.widgets.captures.thumbnail import Thumbnail
from app.widgets.causes.cause_strip import CauseStrip
from app.widgets.controls.signal_name import SignalName
from app.widgets.traces.cycle_scale import cycle_labels, grid_columns, time_labels
from app.widgets.traces.divergence_bars import shares_over_time
from app.widgets.traces.line_array import draw_lines
from app.widgets.traces.overview import Overview, any_diverging
from app.widgets.traces.trace_marks import outline
from app.widgets.traces.trace_rows import View, word_rows
from app.widgets.traces.volt_plot import VoltPlot, volt_line
from app.widgets.traces.words import spell, word_pairs
from tests.strategies import digital_traces
from tests.widgets.hand_built import CYCLE_PS, CYCLES, STOP_PS, bench_comparison, steps
from tracecore.capture import AnalogTrace, Capture, DigitalTrace
from tracecore.pixel_columns import TraceColumns, VoltColumns, column_edges_ps


def shown(widget: QWidget) -> np.ndarray:
    image = widget.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    return np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), image.width()).copy()


# ---- words


@given(st.integers(0, 2**12 - 1), st.sampled_from(["oct", "hex", "bin"]))
def test_words_read_as_python_writes_them(value: int, base: str) -> None:
    states = np.array([[value >> bit & 1] for bit in range(12)], np.uint8)
    width, letter = {"oct": (4, "o"), "hex": (3, "X"), "bin": (12, "b")}[base]
    assert spell(states, base) == [format(value, f"0{width}{letter}")]


def test_only_the_digit_with_an_unknown_bit_is_unknown() -> None:
    states = np.array([[2], [1], [0], [1], [1], [1]], np.uint8)
    assert spell(states, "oct") == ["7?"]
    assert spell(states, "hex") == ["3?"]
    assert spell(states, "bin") == ["11101?"]


def test_bus_words_of_the_stuck_bit() -> None:
    comparison = bench_comparison()
    (row,) = word_rows(comparison)
    assert (row.name, row.short_name) == ("D03–D00", "D03–00")
    pairs = word_pairs(row, comparison, 0, CYCLES, "oct")
    for cycle, (good, suspect) in enumerate(pairs):
        bits = [int(pattern[cycle % 4]) for pattern in ("0011", "0101", "0110")]
        word = bits[0] + 2 * bits[1] + 4 * bits[2]
        assert good == f"{word + 8 * (cycle % 2):02o}"
        assert suspect == f"{word + 8 * (cycle % 2) * (cycle < 12):02o}"


def test_a_bit_that_was_not_captured_reads_unknown() -> None:
    comparison = bench_comparison()
    signals = tuple(
        replace(f, suspect_trace=None, suspect_on_good=None) if f.signal == "D00" else f for f in comparison.signals
    )
    (row,) = word_rows(replace(comparison, signals=signals))
    assert word_pairs(row, comparison, 0, 1, "bin") == [("0000", "000?")]
    gap = replace(comparison, signals=tuple(f for f in comparison.signals if f.signal != "D01"))
    (row,) = word_rows(gap)
    assert len(row.bits) == 4
    assert word_pairs(row, gap, 0, 1, "bin")[0][0] == "00?0"


# ---- numbers along the top


def test_each_cycle_is_named_where_there_is_room() -> None:
    edges = np.arange(41, dtype=np.int64) * 1000
    labels, ticks = cycle_labels(View(10_000, 25, 400), edges, 9)
    assert [label.text for label in labels] == ["10", "1", "2", "3", "4", "15", "6", "7", "8", "9"]
    assert [label.x for label in labels] == [20 + 40 * i for i in range(10)]
    assert not ticks


def test_wide_views_name_round_cycles_at_their_ticks() -> None:
    edges = np.arange(200_001, dtype=np.int64) * 1000
    labels, ticks = cycle_labels(View(0, 200_000, 1000), edges, 9)
    numbers = [label.cycle for label in labels]
    assert numbers == list(range(0, 200_000, 20_000))
    assert [label.text for label in labels][:2] == ["0", "20\u202f000"]
    assert len(ticks) == len(labels)
    apart = np.diff([label.x for label in labels])
    assert (apart >= 9 * 7).all()


@example(22, 1_320_000, 2000, 14)
@given(st.integers(1, 5000), st.integers(0, 2_000_000), st.integers(2, 3000), st.sampled_from([9, 14, 18]))
def test_numbers_stand_apart_by_half_a_digit(ps_per_px: int, t0: int, cycles: int, digit: int) -> None:
    edges = np.arange(cycles + 1, dtype=np.int64) * 1000
    labels, _ = cycle_labels(View(t0, ps_per_px, 800), edges, digit)
    for one, other in pairwise(labels):
        wide = digit * len(one.text)
        right = one.x + (wide / 2 if one.centred else wide)
        assert right + digit / 2 < other.x - (digit * len(other.text) / 2 if other.centred else 0)


def test_grid_only_where_cycles_are_wide_enough() -> None:
    edges = np.arange(101, dtype=np.int64) * 1000
    assert grid_columns(View(0, 50, 100), edges).tolist() == [0, 20, 40, 60, 80]
    assert not len(grid_columns(View(0, 200, 100), edges))


def test_times_serve_without_cycles() -> None:
    labels, _ = time_labels(View(0, 1_000_000, 1000), 9)
    assert labels[0].text.startswith("0")
    assert labels[1].text.endswith("µs")


# ---- lines


@given(digital_traces(most=30, start_ps=100), st.integers(0, 8000), st.integers(1, 50))
def test_a_line_keeps_order_and_every_level(trace: DigitalTrace, t0: int, ps_per_px: int) -> None:
    view = View(t0, ps_per_px, 200)
    points = outline(TraceColumns(trace.times_ps, trace.levels, trace.stop_ps), view, 0.0, 10.0, 2.0)
    first, stop = TraceColumns(trace.times_ps, trace.levels, trace.stop_ps).visible(view.t0_ps, view.stop_ps)
    assert (np.diff(points[:, 0]) >= -1e-9).all()
    levels = np.array([10.0, 0.0, 5.0])[trace.levels[first : stop + 1]]
    assert points[0::2, 1].tolist() == levels.tolist()
    assert points[1::2, 1].tolist() == levels.tolist()


# ---- overview and strips


def test_shares_count_each_cycle_in_the_columns_it_touches() -> None:
    edges = np.array([0, 10, 20, 30, 40], np.int64)
    shares = shares_over_time(np.array([1, 3]), edges, np.array([0, 20, 40, 60]))
    assert shares.tolist() == [0.5, 0.5, 0.0]
    fine = shares_over_time(np.array([1]), edges, np.arange(0, 45, 5))
    assert fine.tolist() == [0, 0, 1, 1, 0, 0, 0, 0]


def test_any_diverging_is_the_union() -> None:
    comparison = bench_comparison()
    expected = sorted({c for f in comparison.signals for c in f.diverging_cycles.tolist()})
    assert any_diverging(comparison).tolist() == expected


@pytest.fixture
def overview(qtbot) -> Overview:
    made = Overview()
    qtbot.addWidget(made)
    made.resize(800, made.sizeHint().height())
    made.set_comparison(bench_comparison())
    return made


def test_overview_shows_bars_where_the_chosen_signal_diverges(overview: Overview) -> None:
    overview.set_chosen("ACK")
    full = QColor(LIGHT.mix("suspect", "panel", 0.85)).rgb()
    columns = np.flatnonzero((shown(overview) == full).any(axis=0))
    expected = [overview.x_of(10 * CYCLE_PS), overview.x_of(11 * CYCLE_PS)]
    assert columns.min() == pytest.approx(expected[0], abs=2)
    assert columns.max() == pytest.approx(expected[1], abs=2)
    overview.set_chosen(None)
    assert len(np.flatnonzero((shown(overview) == full).any(axis=0))) > 3 * len(columns)


def test_window_box_follows_the_view_and_never_vanishes(overview: Overview) -> None:
    overview.set_view_span(10 * CYCLE_PS, 20 * CYCLE_PS)
    box = overview.window_box()
    assert box.left() == pytest.approx(overview.x_of(10 * CYCLE_PS), abs=1)
    assert box.right() == pytest.approx(overview.x_of(20 * CYCLE_PS), abs=1)
    overview.set_view_span(STOP_PS - 10, STOP_PS)
    box = overview.window_box()
    assert box.width() >= 14
    assert box.right() <= overview.width()


def test_click_asks_for_that_place_and_drag_moves_along(qtbot, overview: Overview) -> None:
    overview.set_view_span(0, 4 * CYCLE_PS)
    spot = QPoint(int(overview.x_of(30 * CYCLE_PS)), 20)
    with qtbot.waitSignal(overview.viewRequested, timeout=1000) as told:
        qtbot.mousePress(overview, Qt.MouseButton.LeftButton, pos=spot)
    start, stop = told.args
    assert stop - start == 4 * CYCLE_PS
    assert (start + stop) / 2 == pytest.approx(30 * CYCLE_PS, abs=2 * STOP_PS / 800)
    overview.set_view_span(start, stop)
    with qtbot.waitSignal(overview.viewRequested, timeout=1000) as told:
        qtbot.mouseMove(overview, spot - QPoint(100, 0))
    assert told.args[0] - start == pytest.approx(-100 * STOP_PS / 798, rel=0.03)
    qtbot.mouseRelease(overview, Qt.MouseButton.LeftButton, pos=spot)
    with qtbot.assertNotEmitted(overview.viewRequested, wait=50):
        qtbot.mouseMove(overview, spot)


def test_cause_strip_says_in_words_what_it_draws(qtbot) -> None:
    strip = CauseStrip()
    qtbot.addWidget(strip)
    strip.resize(400, 18)
    strip.set_finding(bench_comparison(), "D03")
    assert strip.accessibleName().startswith("14 of 40 cycles diverge, from cycle 13")
    assert (shown(strip) == QColor(LIGHT.suspect).rgb()).any()
    strip.set_finding(bench_comparison(), "ACK")
    assert (shown(strip) == QColor(LIGHT.warning).rgb()).any()
    assert not (shown(strip) == QColor(LIGHT.suspect).rgb()).any()
    strip.set_cycles(np.empty(0, np.int64), 0)
    shown(strip)


# ---- names, thumbnails, volts


def test_active_low_has_an_overbar_and_is_spoken(qtbot) -> None:
    pictures = []
    for active in ("high", "low"):
        name = SignalName("ACK", active)
        qtbot.addWidget(name)
        name.resize(name.sizeHint())
        pictures.append(shown(name))
        assert name.accessibleName() == ("ACK" if active == "high" else "ACK, active low")
    differing = np.flatnonzero((pictures[0] != pictures[1]).any(axis=1))
    assert len(differing)
    assert differing.max() < pictures[0].shape[0] / 2


def test_thumbnail_keeps_a_base_line_for_a_still_channel(qtbot) -> None:
    busy, still = steps("01" * 20), steps("1" * 40)
    capture = Capture("c", {"A": busy, "B": still}, {}, 41_667, "by hand")
    picture = Thumbnail(hold(capture), "good")
    qtbot.addWidget(picture)
    picture.resize(100, 24)
    seen = shown(picture)
    muted = QColor(LIGHT.muted).rgb()
    assert not (seen[:12] == muted).all(axis=1).any()
    assert (seen[12:] == muted).all(axis=1).any()
    assert picture.accessibleName() == "2 channels of c, 1 of them still"
    picture.set_theme(DARK)
    assert (shown(picture) != seen).any()


def volts_of(levels: list[float]) -> AnalogTrace:
    return AnalogTrace(0, Fraction(20_000), np.array(levels, np.float32))


def test_volt_line_keeps_the_extremes_in_time() -> None:
    trace = volts_of([3.4] * 40 + [1.1] + [3.4] * 59)
    edges = column_edges_ps(0, 200_000, 10)
    seconds, volts = volt_line(VoltColumns(trace), edges, edges)
    assert volts.min() == np.float32(1.1)
    assert (np.diff(seconds) >= 0).all()
    assert seconds[np.argmin(volts)] == pytest.approx(900e-9)


def test_volt_plot_shows_bands_and_says_them(qtbot) -> None:
    plot = VoltPlot()
    qtbot.addWidget(plot)
    plot.resize(600, 200)
    comparison = bench_comparison()
    samples = STOP_PS // 20_000
    signals = tuple(
        replace(f, good_volts=volts_of([3.4] * samples), suspect_volts=volts_of([0.2] * samples), family="LS")
        if f.signal == "D03"
        else f
        for f in comparison.signals
    )
    plot.set_finding(replace(comparison, signals=signals), "D03")
    plot.show()
    assert "low up to 0.80 V, high from 2.00 V" in plot.accessibleDescription()
    assert (shown(plot) == QColor(LIGHT.suspect).rgb()).any()
    left, right = plot._plot.getViewBox().viewRange()[0]
    assert left * 1e12 == pytest.approx(7 * CYCLE_PS, rel=1e-3)
    assert right * 1e12 == pytest.approx(20 * CYCLE_PS, rel=1e-3)
    plot.set_theme(DARK, 1.6)
    plot.close()


def test_volts_stand_under_the_columns_of_the_traces_and_fold_to_the_height_given(qtbot) -> None:
    plot = VoltPlot()
    qtbot.addWidget(plot)
    plot.resize(600, 200)
    plot.set_traces(volts_of([0.2, 3.4] * 500), None, 0.8, 2.0, None, LIGHT)
    plot.show()
    for height in (400, 120):
        plot.set_frame(height, 130, 20)
        qtbot.wait(20)
        area = plot._plot.getViewBox().sceneBoundingRect()
        left = plot._plot.mapTo(plot, QPoint(0, 0)).x() + area.left()
        assert left == pytest.approx(130, abs=2)
        assert left + area.width() == pytest.approx(580, abs=2)
        assert plot.height() == min(height, 190)
    assert not plot._plot.getAxis("bottom").isVisible()
    plot.close()


def test_widgets_bring_pyqtgraph_only_with_volts() -> None:
    import subprocess
    import sys

    code = (
        "import sys, app.widgets.traces.paired_traces, app.widgets.traces.overview, app.widgets.traces.volt_plot as v\n"
    )
    code += "assert 'pyqtgraph' not in sys.modules and 'pandas' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


def test_lines_of_an_array_are_the_same_lines() -> None:
    """Against Qt's own list of lines; a view of every second row, which is not contiguous, is drawn as well."""
    ends = np.random.default_rng(5).uniform(0, 90, (24, 4))
    pictures = []
    for by_array in (True, False):
        picture = QImage(100, 100, QImage.Format.Format_RGB32)
        picture.fill(QColor(LIGHT.paper))
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if by_array:
            draw_lines(painter, ends[::2])
            draw_lines(painter, ends[:0])
        else:
            painter.drawLines([QLineF(*row) for row in ends[::2].tolist()])
        painter.end()
        pictures.append(picture)
    blank = QImage(100, 100, QImage.Format.Format_RGB32)
    blank.fill(QColor(LIGHT.paper))
    assert pictures[0] == pictures[1] != blank
