"""The window on a case file: kept with every change, and found again as it was."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox

from app.case.changes import AddCaptures, Put, SetOffset
from app.case.record import SIDES
from app.case.store import CaseStore
from app.case.values import Entry, HeldCapture
from app.model.settings import Settings
from app.shell.case_actions import MOST_ASKED
from app.shell.window import Window
from tests.case.crafted import objects, sound_case


@pytest.fixture
def answers(monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """What the person answers to dialogs that ask for a file."""
    said = {"path": ""}
    for name in ("getSaveFileName", "getOpenFileName"):
        monkeypatch.setattr(f"app.shell.case_actions.QFileDialog.{name}", lambda *_: (said["path"], ""))
    return said


def wait(qtbot, window: Window) -> None:
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)


def test_a_case_is_kept_under_a_name_and_whole_without_its_files(
    qtbot, compared: Window, bench_files: dict[str, Path], tmp_path: Path, answers: dict[str, str]
) -> None:
    answers["path"] = str(tmp_path / "case14")
    compared.act("keep_as")
    qtbot.waitUntil(lambda: compared.jobs.idle, timeout=120_000)
    path = tmp_path / "case14.twinslot"
    assert compared.session.store.path == path
    compared.session.change(Put(Entry(0, "seen", "Stops at the third fetch")))
    assert compared.session.current
    compared.close()

    store = CaseStore.open(path, look_only=True)
    case = store.read()
    assert all(store.has_blob(held.sha256) for held in case.captures)
    assert [e.text for e in case.entries] == ["Stops at the third fetch"]
    assert '"causes"' in store.comparisons()[-1].record
    store.close()


def test_an_opened_case_reads_its_captures_when_they_are_looked_at(
    qtbot, compared: Window, tmp_path: Path, answers: dict[str, str]
) -> None:
    answers["path"] = str(tmp_path / "case.twinslot")
    compared.act("keep_as")
    qtbot.waitUntil(lambda: compared.jobs.idle, timeout=120_000)
    compared.session.change(SetOffset(12))
    wait(qtbot, compared)
    compared.close()

    window = Window(Settings(tmp_path / "other.ini"))
    qtbot.addWidget(window)
    window.show()
    window.open_file(tmp_path / "case.twinslot")
    qtbot.wait(150)
    session = window.session
    assert (window.current, session.case.title, session.case.settings.offset) == ("captures", "Test case", 12)
    assert not any(session.shelf.loaded(held) for held in session.case.captures)
    assert session.comparison is None
    # what the check-up said stands there all the same
    for side in SIDES:
        (card,) = window.pages["captures"].columns[side].cards
        assert card is not None
    assert set(session.checkups) == {held.key for held in session.case.captures}
    assert window.pages["captures"].table.isVisible()
    window.act("undo")
    assert session.case.settings.offset is None
    window.show_page("compare")
    wait(qtbot, window)
    assert session.comparison.lineup.offset_cycles == -12
    window.close()


def test_a_case_that_is_open_elsewhere_is_refused_in_a_sentence(
    qtbot, window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said = []
    monkeypatch.setattr(window, "trouble", said.append)
    window.files.troubled.disconnect()
    window.files.troubled.connect(said.append)
    held = CaseStore.open(tmp_path / "case.twinslot")
    before = window.session.store
    window.open_file(tmp_path / "case.twinslot")
    held.close()
    assert "is open in another window or command" in said[0]
    assert window.session.store is before


def test_a_change_that_cannot_be_kept_is_told_and_not_shown(qtbot, window: Window, monkeypatch) -> None:
    said = []
    monkeypatch.setattr(window, "trouble", said.append)
    connection = window.session.store._connection
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    connection.execute(f"PRAGMA max_page_count={pages}")
    assert not window.session.change(Put(Entry(0, "seen", "x" * 100_000)))
    assert window.session.case.entries == ()
    assert "the disk is full" in said[0]


def test_an_unnamed_case_goes_on_at_the_next_start(qtbot, window: Window, tmp_path: Path) -> None:
    window.session.change(Put(Entry(0, "seen", "first")))
    window.session.change(Put(Entry(0, "seen", "second")))
    window.close()
    again = Window(Settings(tmp_path / "other.ini"))
    qtbot.addWidget(again)
    assert [e.text for e in again.session.case.entries] == ["first", "second"]
    again.close()


def test_the_form_describes_case_and_units_in_one_change(qtbot, window: Window) -> None:
    from app.widgets.forms.case_form import CaseForm

    window.act("describe_case")
    form = window.findChild(CaseForm)
    form.title.setText("South crate stops at the third fetch")
    form.number.setText("14")
    form.initials.setText("M.")
    form.fields["suspect"]["slot"].setText("7")
    form.accept()
    case = window.session.case
    assert (case.named, case.suspect_unit.slot) == ("Case 14 · South crate stops at the third fetch", "7")
    assert (window.session.author, window.settings.initials) == ("M.", "M.")
    assert window.session.undo() == "describe the case"
    assert window.session.case.number == ""


def test_a_case_dropped_on_the_window_is_opened(qtbot, window: Window, tmp_path: Path) -> None:
    from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
    from PySide6.QtGui import QDropEvent

    store = CaseStore.open(tmp_path / "case.twinslot")
    store.close()
    mime = QMimeData()
    mime.setUrls([QUrl.fromLocalFile(str(tmp_path / "case.twinslot"))])
    nothing = Qt.KeyboardModifier.NoModifier
    window.dropEvent(QDropEvent(QPointF(10, 10), Qt.DropAction.CopyAction, mime, Qt.MouseButton.LeftButton, nothing))
    assert window.session.store.path == tmp_path / "case.twinslot"


def test_undo_stops_before_what_the_case_began_with(compared: Window) -> None:
    compared.session.change(Put(Entry(0, "seen", "Stops at the third fetch")))
    assert compared.session.undo() == "log entry"
    assert compared.session.can_undo == ""
    assert not compared.actions_by_name["undo"].isEnabled()
    assert compared.session.undo() == ""
    assert compared.session.ready
    assert compared.session.redo() == "log entry"


def test_head_and_stamps_follow_when_a_sides_captures_are_taken_back(
    qtbot, window: Window, bench_files: dict[str, Path]
) -> None:
    window.files.open_captures("good", [bench_files["good"]])
    qtbot.waitUntil(lambda: window.jobs.idle, timeout=120_000)
    window.files.open_captures("suspect", [bench_files["bad"]])
    wait(qtbot, window)
    assert window.head.boxes["lineup"].value.endswith("certain")
    window.act("undo")
    assert window.head.boxes["suspect"].value == "no capture yet"
    assert window.head.boxes["lineup"].value == "not yet possible"
    assert [window.steps.rows[name].state.stamp for name in ("lineup", "compare")] == ["empty", "empty"]
    assert window.session.comparison is None
    window.act("redo")
    wait(qtbot, window)
    assert window.head.boxes["lineup"].value.endswith("certain")


def test_an_answer_to_captures_as_they_were_is_not_headed_as_todays(qtbot, compared: Window) -> None:
    compared.session.change(SetOffset(12))
    assert compared.head.boxes["lineup"].value == "not compared yet"
    assert compared.steps.rows["compare"].state.why == "Not compared yet"
    wait(qtbot, compared)
    assert compared.head.boxes["lineup"].value.startswith("MCLK")


def outside_case(path: Path, files: list[str]) -> Path:
    """A case that names files outside it."""
    store = CaseStore.open(path)
    like = HeldCapture("", "", "", "", 10, "sampled rows", 1000, 0, 10**6, ("A", "B"), ())
    held = [
        replace(like, key=f"k{n}", name=Path(name).name, path=name, sha256=f"{n:064x}") for n, name in enumerate(files)
    ]
    case = AddCaptures("good", tuple(held)).applied(store.read())
    store.keep("captures", "R.", case)
    store.close()
    return path


def question(window: Window) -> QMessageBox:
    (box,) = [box for box in window.findChildren(QMessageBox) if box.isVisible()]
    return box


def test_a_yes_to_files_outside_holds_for_those_that_were_shown(qtbot, window: Window, tmp_path: Path) -> None:
    files = [str(tmp_path / f"c{n}{chr(0x202E)}.csv") for n in range(MOST_ASKED + 3)]
    for name in files:
        Path(name).write_text("A,B\n0,1\n", "utf-8")
    window.open_file(outside_case(tmp_path / "mail.twinslot", files))
    box = question(window)
    lines = box.text().split("\n")
    assert [line[-6:] for line in lines[:MOST_ASKED]] == [
        f"{n}\N{REPLACEMENT CHARACTER}.csv" for n in range(MOST_ASKED)
    ]
    assert lines[MOST_ASKED:] == ["3 more are asked for after these."]
    shelf, captures = window.session.shelf, window.session.case.captures
    qtbot.mouseClick(box.buttons()[0], Qt.MouseButton.LeftButton)
    assert [str(path) for path in shelf.unagreed(captures)] == files[MOST_ASKED:]
    box = question(window)
    assert len(box.text().split("\n")) == 3
    box.reject()
    assert [str(path) for path in shelf.unagreed(captures)] == files[MOST_ASKED:]
    qtbot.waitUntil(lambda: window.jobs.idle, timeout=120_000)


def test_a_share_of_another_machine_is_not_looked_at_before_the_yes(qtbot, window: Window, tmp_path: Path, monkeypatch):
    """To look whether a file is there tells the other machine who asks."""
    looked: list[str] = []
    is_file = Path.is_file
    monkeypatch.setattr(Path, "is_file", lambda path: looked.append(str(path)) or is_file(path))
    window.open_file(outside_case(tmp_path / "mail.twinslot", ["//far/share/good.csv"]))
    box = question(window)
    assert box.text() == "//far/share/good.csv"
    assert not [name for name in looked if "far" in name]
    box.reject()
    qtbot.waitUntil(lambda: window.jobs.idle, timeout=120_000)


def test_a_case_that_fails_to_open_leaves_the_open_one_open(qtbot, window: Window, tmp_path: Path) -> None:
    """Later lines went into the stranger's file."""
    own = tmp_path / "own.twinslot"
    window.open_file(own)
    assert window.session.change(Put(Entry(0, "seen", "before")))
    head = window.windowTitle()
    told: list[str] = []
    window.files.troubled.connect(told.append)
    sound = sound_case(tmp_path / "sound.twinslot")
    bad = [alteration.made(sound, tmp_path / f"bad{n}.twinslot") for n, alteration in enumerate(objects())]
    (tmp_path / "junk.twinslot").write_bytes(b"SQLite format 3\0" + b"\1" * 5000)
    for path in (*bad, tmp_path / "junk.twinslot", tmp_path):
        before = path.read_bytes() if path.is_file() else b""
        window.open_file(path)
        for box in window.findChildren(QMessageBox):
            box.close()
        assert (window.session.store.path, window.windowTitle()) == (own, head)
        assert window.session.change(Put(Entry(0, "seen", path.name)))
        assert not path.is_file() or path.read_bytes() == before
    assert len(told) == len(bad) + 2
    window.close()
    store = CaseStore.open(own, look_only=True)
    assert [entry.text for entry in store.read().entries[:2]] == ["before", "bad0.twinslot"]
    assert len(store.read().entries) == len(bad) + 3
    store.close()
