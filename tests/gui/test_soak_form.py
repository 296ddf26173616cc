"""A folder watched from the window: counted, shown, taken into the case, and proved in the log."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel

from app.report.cautions import UNATTENDED
from app.shell.window import Window
from app.widgets.forms.soak_form import SoakForm
from tests.gui.conftest import FAULT_CYCLE


@pytest.fixture
def landing(tmp_path: Path, bench_files: dict[str, Path]) -> Path:
    """Ten captures of a sound board that cover over half of the known-good one, and one that holds the fault."""
    folder = tmp_path / "landing"
    folder.mkdir()
    lines = bench_files["good"].read_text("utf-8").splitlines(keepends=True)
    head, rows = lines[:2], lines[2:]
    for number in range(10):
        (folder / f"run{number:02d}.csv").write_text("".join([*head, *rows[120 : 5000 + 10 * number]]), "utf-8")
    (folder / "run10.csv").write_text(bench_files["bad"].read_text("utf-8"), "utf-8")
    return folder


@pytest.fixture
def form(qtbot, compared: Window, landing: Path) -> SoakForm:
    compared.act("watch_folder")
    form = compared.findChild(SoakForm)
    form.set_folder(landing)
    return form


def test_what_lands_is_counted_shown_and_proved(qtbot, compared: Window, form: SoakForm, landing: Path) -> None:
    assert form.starter.isEnabled()
    assert not form.taker.isEnabled()
    assert UNATTENDED in [label.text() for label in form.findChildren(QLabel)]
    form.watch.start(landing, settle_s=0.05)
    qtbot.waitUntil(lambda: len(form.watch.news) == 11, timeout=120_000)
    assert form.count.text().startswith("1 of 11 diverges, last at ")
    assert form.verdict.text().startswith("D03 is first in 1 of 1 diverging capture")
    assert form.list.count() == 1
    assert "run10.csv: diverges, first D03" in form.list.item(0).text()
    assert [n.status for n in form.watch.news].count("agrees") == 10

    form.list.setCurrentRow(0)
    assert form.taker.isEnabled()
    form.strip.resize(300, 30)
    form.strip.grab()
    form.taker.click()
    qtbot.waitUntil(lambda: compared.session.current and compared.jobs.idle, timeout=120_000)
    # the same bytes were in the case already: that one is shown, and none is added
    assert [c.name for c in compared.session.case.suspect.captures] == ["bad.csv"]
    assert compared.session.comparison.causes[0].since_cycle == pytest.approx(FAULT_CYCLE, abs=2)

    form.writer.click()
    entry = compared.session.case.entries[-1]
    assert (entry.kind, entry.proof.diverging, entry.proof.captures) == ("result", 1, 11)
    assert entry.helped is False
    form.toggle()
    qtbot.waitUntil(lambda: form.starter.text() == "Start", timeout=120_000)
    assert not form.watch.running
    form.close()


def test_another_capture_joins_the_suspect_side_and_is_shown(qtbot, compared: Window, form: SoakForm, landing: Path):
    compared.soak_actions.show_capture(landing / "run03.csv")
    qtbot.waitUntil(lambda: compared.session.current and compared.jobs.idle, timeout=120_000)
    case = compared.session.case
    assert case.suspect.shown_capture.name == "run03.csv"
    assert compared.session.undo() == "add a capture"
    qtbot.waitUntil(lambda: compared.session.current and compared.jobs.idle, timeout=120_000)
    form.close()


def test_the_strip_is_walked_by_keys(qtbot, form: SoakForm, landing: Path) -> None:
    from PySide6.QtCore import Qt

    form.watch.start(landing, settle_s=0.05)
    qtbot.waitUntil(lambda: len(form.watch.news) == 11, timeout=120_000)
    form.strip.setFocus()
    qtbot.keyClick(form.strip, Qt.Key.Key_Left)
    assert form._chosen is form.watch.news[-1]
    qtbot.keyClick(form.strip, Qt.Key.Key_Left)
    assert form._chosen is form.watch.news[-2]
    form.close()


def test_what_cannot_be_watched_is_told(qtbot, compared: Window, form: SoakForm, tmp_path: Path) -> None:
    form.set_folder(tmp_path / "none")
    form.toggle()
    assert "is no folder" in form.verdict.text()
    assert not form.watch.running
    form.close()


def test_a_closed_form_leaves_its_count_in_the_frame(qtbot, compared: Window, form: SoakForm, landing: Path) -> None:
    form.watch.start(landing, settle_s=0.05)
    form.close()
    assert form.watch.running
    line = compared.bottom.watch_button
    assert line.isVisible()
    qtbot.waitUntil(lambda: "1 of 11" in line.text(), timeout=120_000)
    QTest.mouseClick(line, Qt.MouseButton.LeftButton)
    assert form.isVisible()
    assert not line.isVisible()
    QTest.keyClick(form, Qt.Key.Key_Escape)
    assert line.isVisible()
    assert form.watch.running
    form.watch.stop()
    form.show()
    form.close()


def test_closing_the_window_ends_the_watch(qtbot, compared: Window, form: SoakForm, landing: Path) -> None:
    form.watch.start(landing, settle_s=0.05)
    compared.close()
    assert not form.watch.running


def test_without_a_good_capture_there_is_nothing_to_watch_against(qtbot, window: Window, tmp_path: Path) -> None:
    window.act("watch_folder")
    form = window.findChild(SoakForm)
    form.set_folder(tmp_path)
    assert not form.starter.isEnabled()
    assert "known-good captures in step 1" in form.starter.toolTip()
    form.close()
