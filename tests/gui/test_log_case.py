"""One case from symptom to verified, by the window alone: written, closed, opened again, taken back across that."""

from __future__ import annotations

from pathlib import Path

from PIL import Image
from PySide6.QtCore import Qt

from app.case.record import OpenCase
from app.case.values import Entry, Proof
from app.model.settings import Settings
from app.pages.log import LogPage
from app.shell.window import Window
from app.widgets.log.log_forms import PartForm, ProofForm
from demo_traces import CASES
from tests.gui.test_log import drop, press, texts, write

PATIENCE = 60_000
DEMO = CASES["receiver"]


def open_window(qtbot, folder: Path, case: Path) -> tuple[Window, LogPage]:
    """A window on the case file, with the Log open."""
    window = Window(Settings(folder / "settings.ini"))
    qtbot.addWidget(window)
    window.resize(1600, 900)
    window.show()
    window.open_file(case)
    window.show_page("log")
    page = window.pages["log"]
    assert isinstance(page, LogPage)
    return window, page


def add_captures(qtbot, window: Window) -> None:
    """The demo's captures of both sides, its sheet, its clock; waits for the answer and for their way into the case."""
    for side, paths in (("good", DEMO.good), ("suspect", DEMO.suspect)):
        window.files.open_captures(side, paths)
        qtbot.waitUntil(lambda: window.jobs.idle, timeout=PATIENCE)
    window.files.open_sheet(DEMO.sheet)
    window.show_page("compare")
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=PATIENCE)


def because(qtbot, page: LogPage, kind: str, words: str) -> Entry:
    """A line because of the opened one."""
    press(page, "because_line")
    return write(qtbot, page, kind, words)


def exchange_part(qtbot, page: LogPage, folder: Path) -> None:
    """The opened line gets the parts that moved and a photo."""
    press(page, "add_part")
    form = page.findChild(PartForm)
    for field, words in (
        (form.part, "7474"),
        (form.source, "donor board, position U31"),
        (form.target, "slot 7, U14"),
        (form.code, "7338"),
        (form.bag, "bag 14-1, failed"),
    ):
        field.setText(words)
    form.keep.click()
    path = folder / "slot7.jpg"
    Image.new("RGB", (2400, 1200), "darkolivegreen").save(path)
    assert drop(page, path, page.entry.geometry().center().toPointF())
    qtbot.waitUntil(lambda: bool(page.context.session.case.pictures) and page._jobs.idle, timeout=PATIENCE)
    path.unlink()


def prove(page: LogPage) -> None:
    """The proof line, because of the opened one."""
    page.do_add_proof()
    form = page.findChild(ProofForm)
    form.captures.setValue(300)
    form.words.setText("cold and warm starts")
    form.because.setChecked(True)
    form.keep.click()


def go_through(qtbot, window: Window, page: LogPage, folder: Path) -> OpenCase:
    """Symptom, captures, finding, measured, done, result, proof, stamps."""
    page.strip.initials.setText("R.")
    write(qtbot, page, "seen", "South crate computes nonsense once it is warm")
    add_captures(qtbot, window)
    window.act("write_in_log")
    window.show_page("log")
    because(qtbot, page, "measured", "6-B22 to 7-B04: 180 ohm, north 0.2 ohm")
    page.panel.states.boxes["waiting for a part"].click()
    because(qtbot, page, "done", "U14 exchanged")
    exchange_part(qtbot, page, folder)
    page.panel.states.boxes["repaired"].click()
    press(page, "because_line")
    page.strip.kinds["result"].click()
    page.strip.helped.setCurrentIndex(page.strip.helped.findData(True))
    write(qtbot, page, "result", "Computes right, cold and warm")
    page.panel.states.boxes["verified"].click()
    assert window.session.case.state == "repaired"
    prove(page)
    page.panel.states.boxes["verified"].click()
    return window.session.case


def check_story(case: OpenCase) -> None:
    """All that was written is there, and hangs together."""
    assert [entry.kind for entry in case.entries] == ["seen", "suspected", "measured", "done", "result", "result"]
    assert [entry.because for entry in case.entries] == [(), (), (2,), (3,), (4,), (5,)]
    assert {entry.author for entry in case.entries} == {"R."}
    finding = case.entries[1]
    assert finding.text == f"{DEMO.planted_signal} {DEMO.planted_mode} at 7-B04"
    assert finding.figure is not None
    assert (finding.figure.signal, finding.figure.cycle) == (DEMO.planted_signal, DEMO.planted_cycle)
    assert "6-B22" in finding.details
    assert case.entries[3].pictures == (1,)
    assert [(move.part, move.entry) for move in case.parts] == [("7474", 4), ("7474", 4)]
    assert case.entries[5].proof == Proof(0, 300, "cold and warm starts")
    assert [stamp.state for stamp in case.stamps] == ["waiting for a part", "repaired", "verified"]
    assert (len(case.good.captures), len(case.suspect.captures)) == (len(DEMO.good), len(DEMO.suspect))


def test_a_case_from_symptom_to_verified(qtbot, tmp_path: Path) -> None:
    path = tmp_path / "14.twinslot"
    window, page = open_window(qtbot, tmp_path, path)
    before = go_through(qtbot, window, page, tmp_path)
    check_story(before)
    assert window.steps.rows["log"].state.stamp == "done"
    qtbot.waitUntil(lambda: window.jobs.idle, timeout=PATIENCE)
    window.close()

    window, page = open_window(qtbot, tmp_path, path)
    assert window.session.case == before
    assert window.current == "log"
    window.session.choose(entry=4)
    photo = page._photo(before.pictures[0])
    assert photo is not None
    assert (photo.width(), photo.height()) == (1600, 800)
    assert "donor board, position U31" in texts(page)
    check_going_to_the_cycle(qtbot, window, page)
    assert window.session.undo() == "state of the case"
    assert window.session.undo() == "proof line"
    assert window.session.case.state == "repaired"
    assert len(window.session.case.entries) == 5
    assert window.session.redo() == "proof line"
    assert window.session.redo() == "state of the case"
    assert window.session.case == before
    qtbot.waitUntil(lambda: window.jobs.idle, timeout=PATIENCE)
    window.close()


def check_going_to_the_cycle(qtbot, window: Window, page: LogPage) -> None:
    """Nothing is compared in the window that was just opened: the cycle is shown as soon as it is."""
    session = window.session
    window.session.choose(entry=2)
    assert not session.current
    qtbot.keyClick(page.list, Qt.Key.Key_G)
    assert window.current == "compare"
    qtbot.waitUntil(lambda: session.current and session.chosen.cycle == DEMO.planted_cycle, timeout=PATIENCE)
    assert session.chosen.signal == DEMO.planted_signal
