"""Tags on the Compare page where a level or a time lies outside its limits, and steps from one to the next."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

pytest.importorskip("PySide6")

from app.pages.compare_steps import cycles_to_step, limit_cycles
from app.shell.window import Window
from demo_traces import CASES
from tests.gui.shared import SharedWindows, until, worked_in


@pytest.fixture(scope="module")
def opened_once(shared_windows: SharedWindows) -> Window:
    window = shared_windows.window()
    window.files.open_demo(CASES["setup"])
    until(lambda: window.session.current)
    window.show_page("compare")
    return window


@pytest.fixture
def setup(opened_once: Window) -> Iterator[Window]:
    """Missed setup times, on a Compare page of the test's own."""
    with worked_in(opened_once, "compare") as window:
        yield window


def test_missed_setups_are_tagged_and_stepped_through(setup: Window) -> None:
    page, session = setup.pages["compare"], setup.session
    row = next(r for r in page.traces._rows if r.finding.signal == "ACK")
    assert row.limits.words[0] in ("setup 7 ns", "setup 8 ns")
    edges = session.comparison.lineup.good_edges_ps
    cycles = (edges.searchsorted(row.limits.at_ps, side="right") - 1).tolist()
    assert cycles == limit_cycles(row.finding).tolist()
    assert CASES["setup"].planted_cycle in cycles
    session.choose(signal="STB", cycle=0)
    setup.act("next_limit")
    assert session.chosen.cycle == cycles[0]
    setup.act("next_limit")
    assert session.chosen.cycle == cycles[1]
    setup.act("next_limit")
    assert session.chosen.cycle == cycles[1]
    setup.act("previous_limit")
    assert session.chosen.cycle == cycles[0]
    assert all(widget.isVisibleTo(page) for widget in page.limit_finders)


def test_a_tag_is_drawn_at_its_transition(setup: Window) -> None:
    page = setup.pages["compare"]
    ink = setup.context.theme.warning.lower()

    def pixels() -> int:
        picture = page.traces.grab().toImage()
        found = 0
        for y in range(0, picture.height(), 2):
            for x in range(0, picture.width(), 2):
                found += picture.pixelColor(x, y).name() == ink
        return found

    page.traces.show_cycle(CASES["setup"].planted_cycle)
    there = pixels()
    page.traces.show_cycle(CASES["setup"].planted_cycle - 100)
    assert there > pixels()


def test_violations_in_volts_are_stepped_through_too(qtbot, window: Window) -> None:
    window.files.open_demo(CASES["contact"])
    qtbot.waitUntil(lambda: window.session.current, timeout=120_000)
    window.show_page("compare")
    session = window.session
    session.choose(signal="D02", cycle=0)
    cycles = cycles_to_step(session.comparison, "D02")
    window.act("next_limit")
    assert session.chosen.cycle == CASES["contact"].planted_cycle == cycles[0]
    assert np.array_equal(cycles, cycles_to_step(session.comparison, "MCLK"))


def test_without_any_the_steps_say_so(worked_case: Window) -> None:
    worked_case.show_page("compare")
    page = worked_case.pages["compare"]
    told = []
    page.said.connect(told.append)
    worked_case.act("next_limit")
    assert "No level and no time outside its limits" in told
    assert not any(widget.isVisibleTo(page) for widget in page.limit_finders)
