"""Many suspect captures: which of them differ is seen at once, and each is a press away."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QPushButton

from app.model.seen_captures import NONE_TO_SHOW
from app.shell.window import Window
from app.widgets.causes.seen_in import capture_cell
from tracecore.lineup.slips import SlipCount
from tracecore.repeats.table import CaptureOutcome


@pytest.fixture
def many(qtbot, window: Window, bench_files: dict[str, Path], tmp_path: Path) -> Window:
    """Four suspect captures, the third of which holds the fault; the first is shown."""
    sound = bench_files["good"].read_text("utf-8").splitlines(keepends=True)
    files = [tmp_path / f"run{number}.csv" for number in range(4)]
    for number, path in enumerate(files):
        path.write_text("".join(sound[:2] + sound[2 + 10 * (number + 5) :]), "utf-8")
    files[2].write_bytes(bench_files["bad"].read_bytes())
    window.files.open_case([bench_files["good"]], files, bench_files["sheet"], title="Test case")
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    return window


def test_the_one_that_differs_is_told_and_shown_by_a_press(qtbot, many: Window) -> None:
    page = many.pages["compare"]
    strip = page.seen_in.strip
    assert page.seen_in.isVisible()
    assert page.seen_in.words.text() == "1 of 4 captures diverges"
    assert strip.accessibleDescription() == "4 captures, 1 diverge"
    assert [s.name for s in many.session.comparison.only_elsewhere] == ["run2.csv"]
    assert many.session.comparison.diverges
    words = " ".join(w.text() for w in page.cards.findChildren(QLabel))
    assert "The shown pair agrees, but 1 of 4 suspect captures diverges, on D03: run2.csv." in words
    assert "D03 diverges in 1 of 4 captures; " in words
    assert "Press Show capture (D)." in words
    assert "--suspect" not in words
    _, width = strip._drawn()
    qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, pos=strip.rect().center().__class__(int(2.5 * width), 8))
    qtbot.waitUntil(lambda: many.session.current and many.jobs.idle, timeout=120_000)
    assert many.session.case.suspect.shown == 2
    assert many.session.comparison.causes[0].signal == "D03"
    # the order of the cells stays when another is shown
    assert [cell.kind for cell in strip._cells] == ["agrees", "agrees", "diverges", "agrees"]
    strip.setFocus()
    qtbot.keyClick(strip, Qt.Key.Key_Right)
    assert many.session.case.suspect.shown == 3


def test_a_button_shows_the_one_that_differs(qtbot, many: Window) -> None:
    page = many.pages["compare"]
    buttons = [b for b in page.findChildren(QPushButton) if b.text() == "Show capture" and b.isVisible()]
    assert page.seen_in.show_button in buttons
    # the card's own does not lead to the same cycle of a sound capture
    (card,) = (b for b in buttons if page.cards.isAncestorOf(b))
    card.click()
    qtbot.waitUntil(lambda: many.session.current and many.jobs.idle, timeout=120_000)
    assert many.session.case.suspect.shown == 2
    assert not page.seen_in.show_button.isVisible()
    many.act("undo")
    qtbot.waitUntil(lambda: many.session.current and many.jobs.idle, timeout=120_000)
    many.act("show_cycle")
    assert many.session.case.suspect.shown == 2


def test_where_all_is_shown_the_key_says_so(worked_case: Window) -> None:
    worked_case.act("show_seen")
    assert worked_case.bottom.line.text() == NONE_TO_SHOW


def test_one_capture_needs_no_strip(worked_case: Window) -> None:
    assert not worked_case.pages["compare"].seen_in.isVisible()


def test_a_capture_that_only_takes_other_cycles_is_marked_where_that_is_a_difference() -> None:
    compared = frozenset({"D00"})
    count = SlipCount(4, 2, 0, 0, 0, first_cycle=330)
    kinds = {}
    for tells in (True, False):
        cell = capture_cell(CaptureOutcome("run.csv", compared=compared, cycles=900, slips=count, slips_tell=tells))
        kinds[tells] = cell.kind
        assert cell.words.startswith("run.csv: agrees in every matched cycle, but waits 4 cycles more in 2 places")
    assert kinds == {True: "diverges", False: "agrees"}
