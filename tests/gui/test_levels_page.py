"""The Levels page: what it names, its table, its pickers, and its figure as a file; at every size and in the dark."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

pytest.importorskip("PySide6")

from app.shell.window import Window
from app.widgets.controls.save_figure import save_figure
from demo_traces import CASES
from tests.gui.conftest import settle
from tests.gui.shared import SharedWindows, looked_at, until, worked_in


@pytest.fixture
def contact(window: Window) -> Window:
    opened(window)
    return window


def opened(window: Window) -> None:
    window.files.open_demo(CASES["contact"])
    session = window.session
    until(lambda: session.current and session.levels_and_timing is not None)
    window.show_page("levels")


@pytest.fixture(scope="module")
def opened_once(shared_windows: SharedWindows) -> Window:
    window = shared_windows.window()
    opened(window)
    return window


@pytest.fixture
def seen_contact(opened_once: Window) -> Iterator[Window]:
    """The same, for a test that leaves the case as it is."""
    with looked_at(opened_once) as window:
        yield window


@pytest.fixture
def worked_contact(opened_once: Window) -> Iterator[Window]:
    """The same with a page of its own, for a test that needs no new comparison."""
    with worked_in(opened_once, "levels") as window:
        yield window


def test_the_dirty_contact_is_named_with_margins_and_what_to_probe(seen_contact: Window) -> None:
    page = seen_contact.pages["levels"]
    assert page.list.rows.rows[0].signal == "D02"
    assert page.card.title.text() == "▲ weak low 1.11 V"
    assert "6-B21" in page.card.probe.text()
    low = dict(page.margins.told())["Low margin"]
    assert low == [("good", "0.59 V"), ("suspect", "−0.40 V")]
    assert seen_contact.steps.rows["levels"].state.stamp == "look"
    assert "D02" in seen_contact.steps.rows["levels"].state.why


def test_the_table_filters_as_one_types_and_a_row_jumps(worked_contact: Window) -> None:
    page = worked_contact.pages["levels"]
    every = page.shown.rowCount()
    page.filter.setText("runt")
    runts = page.shown.rowCount()
    assert 0 < runts < every
    page.filter.setText("runt 1.2")
    assert page.shown.rowCount() < runts
    page.filter.setText("")
    page.kind.setCurrentText("weak low")
    page._filter()
    assert page.shown.rowCount() == every - runts
    page.next.click()
    page.next.click()
    second = page.violation()
    assert worked_contact.session.chosen.cycle == second.cycle
    assert f"weak low at cycle {second.cycle}" in page.status()


def test_a_family_is_set_on_the_sheet_and_measured_again(qtbot, contact: Window) -> None:
    page, session = contact.pages["levels"], contact.session
    page.receiver.setCurrentText("VIL=1.5 VIH=2.0 VOL=0.4 VOH=2.4")
    page.set_family()
    assert next(p for p in session.case.sheet.probes if p.signal == "D02").receiver.startswith("VIL=1.5")
    qtbot.waitUntil(
        lambda: session.current and session.levels_and_timing is not None and page.report is not None, timeout=120_000
    )
    assert page.report.row("D02").verdict != "violates"
    page.receiver.setCurrentText("74XLS")
    page.set_family()
    assert next(p for p in session.case.sheet.probes if p.signal == "D02").receiver.startswith("VIL=1.5")


def test_supply_and_bandwidth_are_typed_and_kept(qtbot, contact: Window) -> None:
    page, session = contact.pages["levels"], contact.session
    page.conditions.supply.setText("4.4")
    page.conditions._take_supply()
    assert session.case.settings.supply_v == 4.4
    qtbot.waitUntil(
        lambda: session.current and page.report is not None and page.report.row("D02").suspect.trouble is not None,
        timeout=120_000,
    )
    assert "The supply is 4.4 V" in page.card.text.text()
    for box, take, text, words in (
        (page.conditions.supply, page.conditions._take_supply, "much", "expected volts"),
        (page.conditions.supply, page.conditions._take_supply, "500", "a supply of logic"),
        (page.conditions.bandwidth, page.conditions._take_bandwidth, "wide", "expected a rate"),
    ):
        box.setText(text)
        take()
        assert words in page.conditions.trouble.text()
    assert session.case.settings.supply_v == 4.4
    page.conditions.bandwidth.setText("60 MHz")
    page.conditions._take_bandwidth()
    assert session.case.settings.bandwidth_hz == 60e6
    assert "shorter than 5.83 ns" in page.conditions.limit.text()


def test_an_unknown_family_is_told_with_near_names(seen_contact: Window) -> None:
    page, before = seen_contact.pages["levels"], seen_contact.session.case.sheet
    for text, words in (("74LSS", "Near it: 74LS"), ("VIL=2 VIH=1 VOL=0.4 VOH=2.4", "is not below VIH")):
        page.receiver.setCurrentText(text)
        page.set_family()
        assert words in page.card.text.text()
    assert seen_contact.session.case.sheet == before


def test_the_finding_goes_into_the_log_and_its_cycle_is_marked(worked_contact: Window) -> None:
    page, session = worked_contact.pages["levels"], worked_contact.session
    page.writer.click()
    assert session.case.entries[-1].text == "D02 weak low 1.11 V at 7-B03"
    page.marker.click()
    assert session.case.marks[-1].first_cycle == CASES["contact"].planted_cycle


def test_the_figure_is_saved_as_a_drawing_and_as_a_picture(seen_contact: Window, tmp_path: Path) -> None:
    for figure, widget in seen_contact.pages["levels"].figures():
        for form in ("svg", "png"):
            assert save_figure(widget, tmp_path / f"{figure}.{form}")
        assert "<svg" in (tmp_path / f"{figure}.svg").read_text("utf-8")
        assert (tmp_path / f"{figure}.png").read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


@pytest.mark.parametrize(("percent", "dark"), [(100, True), (200, False)])
def test_at_any_size_nothing_is_wider_than_the_page(seen_contact: Window, percent: int, dark: bool) -> None:
    seen_contact.settings.dark, seen_contact.settings.text_percent = dark, percent
    seen_contact.apply_look()
    seen_contact.resize(1280, 720)
    settle()
    page = seen_contact.pages["levels"]
    assert page.minimumSizeHint().width() <= 1280
    assert page.shown.rowCount() > 0


def test_without_volts_the_page_says_what_to_add(qtbot, compared: Window) -> None:
    qtbot.waitUntil(lambda: compared.session.levels_and_timing is not None, timeout=120_000)
    compared.show_page("levels")
    page = compared.pages["levels"]
    assert re.search("Add scope captures", page.waiting.text())
    asked = []
    page._add_captures = asked.append
    for adder in page.adders:
        assert adder.isVisible()
        adder.click()
    assert asked == ["good", "suspect"]
