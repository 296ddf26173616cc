"""The Timing page: what violates, where; the part that takes a signal in; a path budget; filter and sizes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

pytest.importorskip("PySide6")

from app.pages.timing import DIFFERENCE, VERDICT, TimingPage
from app.shell.window import Window
from app.widgets.controls.save_figure import save_figure
from app.widgets.timing.strip_header import STRIPS
from app.widgets.timing.strip_rows import ROW
from demo_traces import CASES
from tests.gui.conftest import settle
from tests.gui.shared import SharedWindows, looked_at, until, worked_in


@pytest.fixture
def setup(window: Window) -> Window:
    opened(window)
    return window


def opened(window: Window) -> None:
    window.files.open_demo(CASES["setup"])
    session = window.session
    until(lambda: session.current and session.levels_and_timing is not None)
    window.show_page("timing")


@pytest.fixture(scope="module")
def opened_once(shared_windows: SharedWindows) -> Window:
    window = shared_windows.window()
    opened(window)
    return window


@pytest.fixture
def seen_setup(opened_once: Window) -> Iterator[Window]:
    """The same, for a test that leaves the case as it is."""
    with looked_at(opened_once) as window:
        yield window


@pytest.fixture
def worked_setup(opened_once: Window) -> Iterator[Window]:
    """The same with a page of its own, for a test that needs no new comparison."""
    with worked_in(opened_once, "timing") as window:
        yield window


def test_the_missed_setup_is_named_where_it_is(seen_setup: Window) -> None:
    page = seen_setup.pages["timing"]
    first = page.shown.index(0, 0).data(ROW)
    assert (first.signal, first.verdict) == ("ACK", "violates")
    page.select("ACK")
    assert "violates" in page.title.text()
    assert "less setup than 20 ns" in page.text.text()
    # two ways of counting stand beside one another, and what two sound boards differ by is no finding
    assert "as on Compare, is −200 ps ±2 ns" in page.text.text()
    assert page.title.text().endswith("violates")
    assert not any(page.rows.index(k, 0).data(ROW).differs for k in range(page.rows.rowCount()))
    assert page.small[1][1].text() == "Go to 1\u202f734"
    page.small[1][1].click()
    assert seen_setup.current == "compare"
    assert seen_setup.session.chosen.cycle == CASES["setup"].planted_cycle
    assert seen_setup.steps.rows["timing"].state.stamp == "look"


def test_the_table_filters_as_one_types(worked_setup: Window) -> None:
    page = worked_setup.pages["timing"]
    page.filter.setText("74s174")
    assert {page.shown.index(k, 0).data(ROW).signal for k in range(page.shown.rowCount())} == {"D00", "D01"}
    assert "4 left out by the filter" in page.counted.text()


def test_a_part_is_typed_and_judged(qtbot, setup: Window) -> None:
    page, session = setup.pages["timing"], setup.session
    page.select("READ")
    page.into.setText("7400")
    page.set_part()
    assert "has no setup or hold time" in page.text.text()
    page.into.setText("7474")
    page.set_part()
    qtbot.waitUntil(lambda: session.current and page.report is not None, timeout=120_000)
    assert page.report.row("READ").verdict == "within"


def test_limits_are_typed_and_the_clock_is_told_of(qtbot, setup: Window) -> None:
    page, session = setup.pages["timing"], setup.session
    assert "● 416 ns, high 50 %, jitter" in page.clock.text()
    assert "drift +2000 ppm" in page.clock.text()
    page.select("MCLK")
    assert "smallest low pulse 206 ns" in page.text.text()
    assert "Drift: the suspect's cycle is 2000 ppm longer" in page.text.text()
    page.select("READ")
    page.into.setText("setup=20 ns hold=20")
    page.set_part()
    assert "cannot be read" in page.text.text()
    page.into.setText("setup=400 ns")
    page.set_part()
    qtbot.waitUntil(lambda: session.current and page.report is not None, timeout=120_000)
    assert page.report.row("READ").verdict == "violates"
    assert page.report.row("READ").limits.source == "entered by hand"


def test_without_rows_the_reports_own_note_says_why(seen_setup: Window, monkeypatch: pytest.MonkeyPatch) -> None:
    page = seen_setup.pages["timing"]
    empty = replace(page.report, rows=(), notes=("The board's own clock took each row.",))
    monkeypatch.setattr(TimingPage, "report", empty)
    assert page.why_nothing() == "The board's own clock took each row."


def test_a_path_budget_is_a_sum_of_maxima(seen_setup: Window) -> None:
    page = seen_setup.pages["timing"]
    page.path.setText("7474 7404 7400 7474")
    assert "sum of maxima: 40 + 22 + 22 + 20 = 104 ns, 9.6 MHz" in page.budget.text()
    page.path.setText("7474 9999")
    assert "has no timing figures" in page.budget.text()


def test_the_verdict_goes_into_the_log_and_is_marked(worked_setup: Window) -> None:
    page, session = worked_setup.pages["timing"], worked_setup.session
    page.select("ACK")
    page.writer.click()
    assert session.case.entries[-1].text == "ACK setup violates at 7-A09"
    page.marker.click()
    assert session.case.marks[-1].first_cycle == CASES["setup"].planted_cycle


@pytest.mark.parametrize(("percent", "size"), [(160, (1600, 900)), (100, (1366, 768))])
def test_strips_keep_their_room_beside_the_open_panel(seen_setup: Window, percent: int, size: tuple[int, int]) -> None:
    """Words take what they need and no more; a difference that finds no room stands in the bottom line."""
    seen_setup.settings.text_percent = percent
    seen_setup.apply_look()
    seen_setup.resize(*size)
    settle()
    page = seen_setup.pages["timing"]
    assert not page.panel.is_folded
    table, scale = page.table, percent / 100
    rows = [page.rows.index(k, 0).data(ROW) for k in range(page.rows.rowCount())]
    assert table.columnWidth(STRIPS) >= 175 * scale
    assert all(page.painter.verdict_px(row) <= table.columnWidth(VERDICT) + 1 for row in rows)
    assert all(page.painter.name_px(row) <= table.columnWidth(0) + 1 for row in rows)
    shown = not table.isColumnHidden(DIFFERENCE)
    assert page.ways.isVisible() == shown
    if shown:
        needed = [page.painter.difference_px(row, brief=page.painter.brief) for row in rows]
        assert max(needed) <= table.columnWidth(DIFFERENCE) + 1
    page.select("ACK")
    assert "difference −2.43 ns ±141 ps" in page.status()


@pytest.mark.parametrize(("percent", "dark"), [(100, True), (200, False)])
def test_at_any_size_the_strips_are_drawn_and_saved(
    seen_setup: Window, tmp_path: Path, percent: int, dark: bool
) -> None:
    seen_setup.settings.dark, seen_setup.settings.text_percent = dark, percent
    seen_setup.apply_look()
    seen_setup.resize(1280, 720)
    settle()
    page = seen_setup.pages["timing"]
    assert page.minimumSizeHint().width() <= 1280
    for figure, widget in page.figures():
        for form in ("svg", "png"):
            assert save_figure(widget, tmp_path / f"{figure}.{form}")
