"""Journeys: files of one run on a side, a sheet for one side, names that differ by little; kept, and opened again."""

from __future__ import annotations

from pathlib import Path

import pytest

pytest.importorskip("PySide6")

from PySide6.QtCore import QPoint, QSize, Qt
from PySide6.QtWidgets import QFileDialog, QLabel, QPushButton

from app.model.join_files import Parts
from app.report import comparison_json
from app.shell.window import Window
from app.widgets.controls import forms
from app.widgets.forms.belonging import ONE_SIGNAL, ONE_TRIGGER
from app.widgets.forms.import_form import ImportForm
from app.widgets.forms.parts_form import PartsForm
from tests.gui.conftest import settle
from tests.gui.painted_words import faults
from tests.unlike_sides import unlike_sides

pytestmark = pytest.mark.usefixtures("same_compared_once")


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    return unlike_sides(tmp_path_factory.mktemp("sides"))


def form_of(qtbot, window: Window, kind: type) -> object:
    qtbot.waitUntil(lambda: any(f.isVisible() for f in window.findChildren(kind)), timeout=120_000)
    return next(f for f in window.findChildren(kind) if f.isVisible())


def quiet(qtbot, window: Window) -> None:
    qtbot.waitUntil(lambda: window.jobs.idle, timeout=120_000)
    settle()


def choose_box(qtbot, box, words: str) -> None:
    """Chooses a line of a box with the keys, as a person does."""
    box.setFocus()
    place = box.findText(words)
    assert place >= 0, words
    while box.currentIndex() != place:
        qtbot.keyClick(box, Qt.Key.Key_Down if box.currentIndex() < place else Qt.Key.Key_Up)


def click(qtbot, button: QPushButton) -> None:
    assert button.isVisible()
    assert button.isEnabled()
    qtbot.mouseClick(button, Qt.MouseButton.LeftButton, pos=QPoint(8, button.height() // 2))


def add_parts(qtbot, window: Window, side: str, paths: list[str]) -> None:
    """Adds files that share no signal; the form asks, and takes nothing before it was told."""
    window.files.open_captures(side, paths)
    form = form_of(qtbot, window, ImportForm)
    qtbot.waitUntil(lambda: len(form.previews) == 2 and window.jobs.idle, timeout=120_000)
    assert form.belonging.note.isVisible()
    assert form.belonging.how is None
    assert not form.take.isEnabled()
    choose_box(qtbot, form.belonging.box, ONE_TRIGGER)
    click(qtbot, form.take)
    qtbot.waitUntil(lambda: len(window.session.case.side(side).captures) == 1, timeout=120_000)
    quiet(qtbot, window)


def test_parts_a_side_sheet_and_agreed_names_are_kept_and_opened_again(
    qtbot, window: Window, files: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    session, page = window.session, window.pages["captures"]
    window.files.keep_as(tmp_path / "case.twinslot")
    add_parts(qtbot, window, "good", [files["good1"], files["good2"]])
    add_parts(qtbot, window, "suspect", [files["bad1"], files["bad2"]])
    assert session.case.good.captures[0].name == "good1.csv + good2.csv"
    # one side's sheet, by the button beside Open sheet
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_a, **_k: (files["own"], ""))
    entry = next(a for a in page.one_side.menu().actions() if a.text() == "Probe sheet of the suspect side…")
    entry.trigger()
    quiet(qtbot, window)
    assert session.case.suspect.sheet is not None
    assert "suspect: own.csv" in page.sheet_line.text()
    # the names that are left differ by a prefix and case: nothing is taken for the same unasked
    assert page.names.words.text().startswith("Names differ, so not compared: ")
    alone = set(session.case.suspect.captures[0].channels) - set(session.case.good.captures[0].channels)
    assert alone
    click(qtbot, page.names.take)
    quiet(qtbot, window)
    assert set(session.case.suspect.captures[0].channels) == set(session.case.good.captures[0].channels)
    window.show_page("compare")
    qtbot.waitUntil(lambda: session.current and window.jobs.idle, timeout=120_000)
    assert [cause.signal for cause in session.comparison.causes][:1] == ["D01"]
    found = comparison_json(session.comparison)
    # left, and opened again: the same comparison
    window.open_file(tmp_path / "other.twinslot")
    window.open_file(tmp_path / "case.twinslot")
    window.show_page("compare")
    qtbot.waitUntil(lambda: session.current and window.jobs.idle, timeout=120_000)
    assert comparison_json(session.comparison) == found
    # and each of the steps can be taken back
    window.show_page("captures")
    click(qtbot, page.names.part)
    assert set(session.case.suspect.captures[0].channels) >= alone
    without = next(a for a in page.one_side.menu().actions() if a.text().startswith("Without the sheet of the suspect"))
    without.trigger()
    assert (session.case.suspect.sheet, session.case.suspect.captures[0].called) == (None, ())
    quiet(qtbot, window)


def test_files_added_singly_are_joined_on_the_card(
    qtbot, window: Window, files: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    session, page = window.session, window.pages["captures"]
    for name in ("good1", "good2"):
        window.files.open_captures("good", [files[name]])
        quiet(qtbot, window)
    column = page.columns["good"]
    assert column.cards[1].words.kind == "look"
    column.cards[1].openWanted.emit(1)
    settle()
    told = "\n".join(found.text() for found in column.cards[1].findChildren(QLabel))
    assert "Holds no signal that good1.csv holds, so it is no repeat of it" in told
    column.cards[0].openWanted.emit(0)
    settle()
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_a, **_k: (files["good2"], ""))
    button = next(b for b in column.cards[0].findChildren(QPushButton) if b.text() == "Join with…")
    column.scroll_area.ensureWidgetVisible(button)
    click(qtbot, button)
    form = form_of(qtbot, window, PartsForm)
    assert "good1.csv, good2.csv" in "\n".join(found.text() for found in form.findChildren(QLabel))
    click(qtbot, form.keep)
    qtbot.waitUntil(lambda: len(session.case.good.captures) == 1, timeout=120_000)
    quiet(qtbot, window)
    (held,) = session.case.good.captures
    assert [Path(own.path).name for own in held.files] == ["good1.csv", "good2.csv"]
    assert held.parts_by == "trigger"
    assert session.undo() == "join files of one run"
    assert len(session.case.good.captures) == 2
    quiet(qtbot, window)


def test_repeats_stay_repeats_and_a_signal_of_both_may_place_parts(
    qtbot, window: Window, files: dict[str, str], tmp_path: Path
) -> None:
    lines = Path(files["good1"]).read_text("utf-8").splitlines()
    later = tmp_path / "later.csv"
    later.write_text("\n".join([*lines[:2], *lines[42:]]) + "\n", "utf-8")
    window.files.open_captures("good", [files["good1"], later])
    quiet(qtbot, window)
    assert len(window.session.case.good.captures) == 2
    # looked into first, the form offers the signals that both hold
    window.case_actions.look_into([Path(files["good1"]), later])
    form = form_of(qtbot, window, ImportForm)
    qtbot.waitUntil(lambda: len(form.previews) == 2 and window.jobs.idle, timeout=120_000)
    signals = [c.name for c in form.previews[later].channels]
    offered = [form.belonging.box.itemText(i) for i in range(form.belonging.box.count())]
    assert offered[2:] == [ONE_SIGNAL.format(name) for name in signals]
    assert form.belonging.how == ""
    form.reject()


def test_another_way_of_reading_a_joined_file_keeps_it_joined(qtbot, window: Window, files: dict[str, str]) -> None:
    add_parts(qtbot, window, "good", [files["good1"], files["good2"]])
    before = window.session.case.good.captures[0]
    window.files.open_captures("good", [files["good1"]], instead=0)
    quiet(qtbot, window)
    (held,) = window.session.case.good.captures
    assert held.key != before.key
    assert (held.channels, held.parts_by, len(held.files)) == (before.channels, "trigger", 2)


@pytest.mark.parametrize("percent", [100, 200])
def test_names_and_forms_can_be_read_whole(
    qtbot, window: Window, files: dict[str, str], monkeypatch: pytest.MonkeyPatch, percent: int
) -> None:
    monkeypatch.setattr(forms, "free_room", lambda _form: QSize(1280, 720) - forms.FRAME)
    window.settings.text_percent = percent
    window.apply_look()
    window.files.open_captures("good", [files["good1"], files["good2"]], joined_by="trigger")
    quiet(qtbot, window)
    window.files.open_captures("suspect", [files["bad2"]])
    quiet(qtbot, window)
    page = window.pages["captures"]
    assert page.names.words.text().startswith("Names differ")
    found = faults(window)
    page.names.take.click()
    quiet(qtbot, window)
    page.columns["good"].cards[0].openWanted.emit(0)
    settle()
    found += faults(window)
    window.files.open_captures("good", [files["good1"], files["good2"]])
    form = form_of(qtbot, window, ImportForm)
    qtbot.waitUntil(lambda: len(form.previews) == 2 and window.jobs.idle, timeout=120_000)
    settle()
    found += faults(form)
    form.reject()
    taken = tuple((held, window.session.shelf.load(held)) for held in window.session.case.good.captures)
    parts = PartsForm(Parts("good", (0,), taken, ("STB", "MCLK")), window)
    parts.show()
    settle()
    found += faults(parts)
    parts.close()
    assert not found, "\n".join(dict.fromkeys(found))
