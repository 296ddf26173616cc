"""The work of yesterday: the last case at its page and size, recent cases, the demo, and what is done with a file."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QDesktopServices, QImage
from PySide6.QtTest import QTest

from app.case.changes import NameCase, Put
from app.case.values import Entry
from app.model.places import documents, folder_for, shown_title
from app.model.settings import Settings
from app.shell import last_work
from app.shell.printing import print_pictures
from app.shell.window import Window
from app.widgets.controls.written_line import WrittenLine, printable
from demo_traces import CASES
from tests.gui.conftest import settle


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """One store for the window of today and that of tomorrow."""
    return Settings(tmp_path / "kept.ini")


def opened(qtbot, settings: Settings) -> Window:
    """A window that begins as the program does without a word on its command line."""
    window = Window(settings)
    qtbot.addWidget(window)
    last_work.restore_size(window)
    window.show()
    last_work.restore_case(window)
    return window


def test_the_last_case_opens_again_at_its_page_and_size(
    qtbot, settings: Settings, bench_files: dict[str, Path], tmp_path: Path
) -> None:
    window = opened(qtbot, settings)
    path = tmp_path / "south crate.twinslot"
    window.open_file(path)
    window.files.open_captures("good", [bench_files["good"]])
    qtbot.waitUntil(lambda: bool(window.session.case.captures) and window.jobs.idle, timeout=120_000)
    window.resize(900, 640)
    window.show_page("lineup")
    window.close()
    again = opened(qtbot, Settings(tmp_path / "kept.ini"))
    assert again.session.store.path == path
    assert (again.current, again.width(), again.height()) == ("lineup", 900, 640)
    assert again.windowTitle() == "Twinslot" or "south crate" in again.windowTitle()
    assert again.head.boxes["case"].value == "south crate"
    again.session.change(NameCase("South crate stops", "14"))
    assert again.head.boxes["case"].value == "South crate stops"
    again.close()


def test_after_a_restart_the_case_compares_by_itself_on_any_page(
    qtbot, settings: Settings, bench_files: dict[str, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = opened(qtbot, settings)
    path = tmp_path / "south crate.twinslot"
    window.open_file(path)
    window.files.open_captures("good", [bench_files["good"]])
    qtbot.waitUntil(lambda: bool(window.session.case.captures) and window.jobs.idle, timeout=120_000)
    window.files.open_captures("suspect", [bench_files["bad"]])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    window.show_page("log")
    window.close()
    monkeypatch.setattr(last_work, "AFTER_MS", 0)
    again = opened(qtbot, Settings(tmp_path / "kept.ini"))
    assert (again.current, again.head.boxes["lineup"].value) == ("log", "not compared yet")
    qtbot.waitUntil(lambda: again.session.current, timeout=120_000)
    assert again.current == "log"
    assert again.steps.rows["compare"].state.stamp == "look"
    assert again.head.boxes["lineup"].value.startswith("MCLK")
    again.close()
    monkeypatch.setattr(last_work, "MOST_BYTES", 10)
    third = opened(qtbot, Settings(tmp_path / "kept.ini"))
    last_work.compare_quietly(third)
    assert third.jobs.idle
    third.close()


def test_a_last_case_that_is_gone_is_told_and_nothing_else(qtbot, settings: Settings, tmp_path: Path) -> None:
    settings.last_case, settings.last_page = str(tmp_path / "gone.twinslot"), "compare"
    window = opened(qtbot, settings)
    assert window.current == "captures"
    assert "gone.twinslot" in window.bottom.line.text()
    window.close()


def test_recent_cases_and_the_demo_stand_on_the_empty_page(qtbot, settings: Settings, tmp_path: Path) -> None:
    for name in ("one", "two"):
        window = opened(qtbot, settings)
        window.open_file(tmp_path / f"{name}.twinslot")
        window.close()
    settings.last_case = ""
    settings.add_recent_case(str(tmp_path / "never there.twinslot"))
    window = opened(qtbot, settings)
    begin = window.pages["captures"].begin
    assert begin.isVisible()
    assert [button.text() for button in begin.buttons] == ["two", "one"]
    QTest.mouseClick(begin.buttons[1], Qt.MouseButton.LeftButton)
    assert window.session.store.path == tmp_path / "one.twinslot"
    begin = window.pages["captures"].begin
    begin.demo.setFocus()
    QTest.keyClick(begin.demo, Qt.Key.Key_Space)
    qtbot.waitUntil(lambda: bool(window.session.case.captures), timeout=120_000)
    assert not begin.isVisible()
    window.close()


def test_another_demo_case_is_opened_from_the_menu(qtbot, compared: Window) -> None:
    compared.menus.demos.fill()
    compared.menus.demos.fill()
    entries = compared.menus.demos.actions()
    assert [own.text().replace("&", "") for own in entries] == [case.listed for case in CASES.values()]
    entries[2].trigger()
    qtbot.waitUntil(lambda: compared.session.case.title == CASES["handshake"].title, timeout=120_000)
    qtbot.waitUntil(lambda: compared.jobs.idle, timeout=120_000)


def test_a_case_without_a_name_is_found_again_among_the_recent_ones(
    qtbot, settings: Settings, bench_files: dict[str, Path], tmp_path: Path
) -> None:
    window = opened(qtbot, settings)
    window.files.open_case([bench_files["good"]], [bench_files["bad"]], bench_files["sheet"], title="South crate")
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    unnamed = window.session.store.path
    window.session.change(Put(Entry(0, "seen", "Stops at the third fetch")))
    window.open_file(tmp_path / "other.twinslot")
    window.menus.recent.fill()
    (entry,) = window.menus.recent.actions()
    assert entry.text().replace("&", "").startswith("South crate, no file of its own yet (")
    begin = window.pages["captures"].begin
    assert begin.buttons[0].text().startswith("South crate, no file of its own yet (")
    entry.trigger()
    assert window.session.store.path == unnamed
    assert [e.text for e in window.session.case.entries] == ["Stops at the third fetch"]
    window.close()


def test_an_unnamed_case_in_which_nothing_was_done_is_listed_nowhere(
    qtbot, settings: Settings, bench_files: dict[str, Path], tmp_path: Path
) -> None:
    window = opened(qtbot, settings)
    window.files.open_case([bench_files["good"]], [bench_files["bad"]])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    window.open_file(tmp_path / "other.twinslot")
    window.menus.recent.fill()
    assert [entry.isEnabled() for entry in window.menus.recent.actions()] == [False]
    window.close()


def test_save_asks_for_a_name_where_the_case_has_none(
    window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []
    path = str(tmp_path / "mine.twinslot")
    monkeypatch.setattr("app.shell.case_actions.QFileDialog.getSaveFileName", lambda *a: asked.append(a) or (path, ""))
    window.act("save_case")
    assert str(window.session.store.path) == path
    window.act("save_case")
    assert len(asked) == 1
    assert "nothing waits to be saved" in window.bottom.line.text()


def test_settings_keep_few_cases_and_no_nonsense(settings: Settings) -> None:
    for k in range(12):
        settings.add_recent_case(f"/cases/{k}.twinslot")
    settings.add_recent_case("/cases/9.twinslot")
    assert settings.recent_cases[:2] == ("/cases/9.twinslot", "/cases/11.twinslot")
    assert len(settings.recent_cases) == 8
    settings.last_window = (1, 2, 1000, 700, True)
    assert settings.last_window == (1, 2, 1000, 700, True)
    settings._store.setValue("last/window", "1 2 x")
    assert settings.last_window is None


def test_files_go_to_the_documents_folder_and_never_to_a_hidden_one(
    window: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "Papers").mkdir()
    monkeypatch.setenv("XDG_DOCUMENTS_DIR", str(tmp_path / "Papers"))
    assert documents() == tmp_path / "Papers"
    assert folder_for(window.session.store) == tmp_path / "Papers"
    assert shown_title(window.session.store, "Untitled", "Untitled") == "Untitled"
    asked = []
    monkeypatch.setattr(
        "app.shell.case_actions.QFileDialog.getSaveFileName", lambda *args: asked.append(args[2]) or ("", "")
    )
    for name in ("new_case", "keep_as", "page_picture", "save_sheet"):
        window.act(name)
    assert len(asked) == 4
    assert all(place.startswith(str(tmp_path / "Papers")) for place in asked)
    window.open_file(tmp_path / "named.twinslot")
    assert folder_for(window.session.store) == tmp_path


def test_what_was_written_is_opened_shown_and_printed_where_one_looks(
    qtbot, compared: Window, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[QUrl] = []
    monkeypatch.setattr(QDesktopServices, "openUrl", lambda url: seen.append(url) or True)
    compared.reports.write_report(tmp_path / "report")
    qtbot.waitUntil(compared.written.isVisible, timeout=120_000)
    line: WrittenLine = compared.written
    assert line.path.parent == tmp_path / "report"
    for button in (line.open_button, line.folder_button):
        QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    assert [Path(url.toLocalFile()) for url in seen] == [line.path, line.path.parent]
    printed = printable(line.path)
    assert printed is not None
    assert printed.suffix == ".pdf"
    with qtbot.waitSignal(line.print_wanted) as told:
        line.print_wanted.disconnect(compared.print_pdf)
        QTest.mouseClick(line.print_button, Qt.MouseButton.LeftButton)
    assert told.args == [printed]
    QTest.mouseClick(line.close_button, Qt.MouseButton.LeftButton)
    assert not line.isVisible()


def test_a_picture_has_nothing_to_print(qtbot, tmp_path: Path) -> None:
    line = WrittenLine()
    qtbot.addWidget(line)
    line.tell(tmp_path / "page.png")
    settle(2)
    assert line.isVisible()
    assert not line.print_button.isVisible()


def test_pages_reach_the_printer(qtbot, tmp_path: Path) -> None:
    from PySide6.QtPrintSupport import QPrinter

    printer = QPrinter()
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    pictures = [QImage(80, 120, QImage.Format.Format_RGB32) for _ in range(2)]
    for picture in pictures:
        picture.fill(Qt.GlobalColor.white)
    assert print_pictures(printer, pictures)
    import pypdfium2

    with pypdfium2.PdfDocument(str(tmp_path / "printed.pdf")) as document:
        assert len(document) == 2


def test_no_demo_title_tells_its_fault() -> None:
    from demo_traces import CASES

    for case in CASES.values():
        assert case.planted_signal not in case.title.split()
        assert case.planted_mode not in case.title


@pytest.mark.parametrize("begun_on", ["log", "compare"])
def test_half_a_line_outlives_the_window_and_stays_with_its_case(
    qtbot, settings: Settings, tmp_path: Path, begun_on: str
) -> None:
    """Begun in one case, it is not met in another, and is there again on another day, with kind and cycle."""
    window = opened(qtbot, settings)
    window.open_file(tmp_path / "one.twinslot")
    window.show_page(begun_on)
    window.act("new_line")
    strip = window.pages["log"].strip if begun_on == "log" else window.log_actions.strip.strip
    strip.kinds["measured"].click()
    strip.cycle.setText("12")
    QTest.keyClicks(strip.words, "6-B22 reads 1.1 V when")
    window.open_file(tmp_path / "other.twinslot")
    window.show_page("log")
    assert not window.pages["log"].strip.holds_words
    window.open_file(tmp_path / "one.twinslot")
    window.close()
    again = opened(qtbot, Settings(tmp_path / "kept.ini"))
    again.show_page("log")
    strip = again.pages["log"].strip
    assert (strip.words.text(), strip.kind, strip.cycle.text()) == ("6-B22 reads 1.1 V when", "measured", "12")
    QTest.keyClick(strip.words, Qt.Key.Key_Return)
    assert again.session.case.entries[-1].text == "6-B22 reads 1.1 V when"
    again.close()
    third = opened(qtbot, Settings(tmp_path / "kept.ini"))
    third.show_page("log")
    assert not third.pages["log"].strip.holds_words
    third.close()


def test_a_half_line_keeps_its_photos_and_what_was_chosen(qtbot, settings: Settings, tmp_path: Path) -> None:
    from PIL import Image

    from app.case.changes import Put
    from app.case.photos import take_photo
    from app.case.values import Mark

    photo = tmp_path / "slot7.png"
    Image.new("RGB", (64, 48), "#446644").save(photo)
    window = opened(qtbot, settings)
    window.open_file(tmp_path / "one.twinslot")
    window.session.change(Put(Mark(0, "question", "late", 3, 3)))
    window.show_page("log")
    strip = window.pages["log"].strip
    strip.kinds["result"].click()
    strip.helped.setCurrentIndex(strip.helped.findData(True))
    strip.mark.setCurrentIndex(strip.mark.findData(1))
    # a photo alone is worth keeping, too
    strip.set_pictures((take_photo(photo, window.session.store),))
    assert not strip.holds_words
    window.close()
    again = opened(qtbot, Settings(tmp_path / "kept.ini"))
    again.show_page("log")
    strip = again.pages["log"].strip
    assert strip.picture.text() == "Pictures: 1"
    assert (strip.kind, strip.helped.currentData(), strip.mark.currentData()) == ("result", True, 1)
    QTest.keyClicks(strip.words, "Runs for an hour")
    QTest.keyClick(strip.words, Qt.Key.Key_Return)
    (entry,) = again.session.case.entries
    assert (entry.pictures, entry.marks, entry.helped) == ((1,), (1,), True)
    again.close()


def test_a_mark_that_was_begun_outlives_page_and_window_and_stays_with_its_case(
    qtbot, settings: Settings, tmp_path: Path, bench_files: dict[str, Path]
) -> None:
    window = opened(qtbot, settings)
    window.files.open_case([bench_files["good"]], [bench_files["bad"]], bench_files["sheet"])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    window.files.keep_as(tmp_path / "one.twinslot")
    window.show_page("compare")
    window.act("mark")
    form = window.pages["compare"].marks.form
    form.note.clear()
    QTest.keyClicks(form.note, "begins to ring when")
    form.side.setCurrentIndex(2)
    form.kinds.buttons["reference"].click()
    cycle = form._mark.first_cycle
    # another page and back: it stands there as it was; another mark does not take its place
    window.show_page("log")
    window.show_page("compare")
    assert (form.isVisible(), form.note.text()) == (True, "begins to ring when")
    window.act("mark")
    assert form.note.text() == "begins to ring when"
    assert "A mark is being written" in window.bottom.line.text()
    # another case has none of it
    window.open_file(tmp_path / "other.twinslot")
    assert form.isHidden()
    qtbot.waitUntil(lambda: window.jobs.idle, timeout=120_000)
    window.close()
    settings.last_case = str(tmp_path / "one.twinslot")
    again = opened(qtbot, settings)
    again.show_page("compare")
    qtbot.waitUntil(lambda: again.session.current and again.jobs.idle, timeout=120_000)
    form = again.pages["compare"].marks.form
    qtbot.waitUntil(form.isVisible, timeout=120_000)
    assert (form.note.text(), form.side.currentText(), form.kinds.kind) == (
        "begins to ring when",
        "Suspect",
        "reference",
    )
    QTest.keyClick(form.note, Qt.Key.Key_Return)
    (mark,) = again.session.case.marks
    assert (mark.note, mark.side, mark.kind, mark.first_cycle) == ("begins to ring when", "suspect", "reference", cycle)
    again.close()
    third = opened(qtbot, settings)
    third.show_page("compare")
    qtbot.waitUntil(lambda: third.session.current and third.jobs.idle, timeout=120_000)
    settle(5)
    assert third.pages["compare"].marks.form.isHidden()
    third.close()
