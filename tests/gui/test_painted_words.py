"""Every page and every form: no text is cut, lies over another, or stands where nobody can bring it into sight."""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from dataclasses import replace
from itertools import product
from pathlib import Path
from random import Random

import pytest
from PySide6.QtCore import QSize, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QDialog, QLabel, QPushButton, QVBoxLayout, QWidget

from app.case.changes import Begin
from app.model.settings import Settings
from app.report.cautions import AT_THE_PINS
from app.shell.window import Window
from app.steps.step import all_steps
from app.widgets.controls import forms
from demo_traces import CASES
from tests.gui.conftest import settle
from tests.gui.painted_words import faults
from tests.report.linnet_case import linnet_case

SIZES = {"720": (1280, 720), "768": (1366, 768)}
LOOKS = [(percent, dark, size) for size in SIZES for percent in (100, 140, 160, 200) for dark in (False, True)]
USUAL = [(200, True, "720")]
"""What every run looks at; the others are ``long``."""
MORE = list(product(("contact", "held", "clip", "once"), LOOKS))
MOST = min(len(MORE), int(os.environ.get("TWINSLOT_LONG_EXAMPLES", len(MORE))))
FORMS = (
    "describe_case",
    "write_report",
    "fill_card",
    "watch_folder",
    "guide",
    "key_sheet",
    "cautions",
    "add_reading",
    "add_part",
    "add_proof",
    "new_line",
)
PAGES = tuple(step.name for step in all_steps())


@pytest.fixture(scope="module")
def filled(qapp, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Window]:
    """One window for all looks, with a demo case that has volts, and a log, marks, parts and a card."""
    patch = pytest.MonkeyPatch()
    patch.setenv("TWINSLOT_SETTINGS", str(tmp_path_factory.mktemp("settings")))
    window = Window(Settings(tmp_path_factory.mktemp("look") / "settings.ini"))
    yield window
    window.close()
    patch.undo()


@pytest.fixture
def look(qtbot, filled: Window, monkeypatch: pytest.MonkeyPatch) -> Iterator[object]:
    """Gives the window its size, text size and theme; the screen is as large as the window."""

    def put(percent: int, dark: bool, size: str) -> Window:
        width, height = SIZES[size]
        monkeypatch.setattr(forms, "free_room", lambda _form: QSize(width, height) - forms.FRAME)
        filled.settings.text_percent, filled.settings.dark = percent, dark
        filled.resize(width, height)
        filled.apply_look()
        filled.show()
        settle()
        return filled

    yield put
    filled.hide()


def opened(qtbot, window: Window, name: str) -> None:
    """A demo case with the log of the invented case; what is open already stays."""
    if window.session.case.good.captures and str(CASES[name].folder) in window.session.case.good.captures[0].path:
        return
    window.files.open_demo(CASES[name])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    log = linnet_case(None)
    own = window.session.case
    named = {
        field: getattr(log, field)
        for field in ("title", "number", "entries", "marks", "parts", "stamps", "cards", "good_unit", "suspect_unit")
    }
    window.session.change(Begin(replace(own, **named)))
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)


def _pages(qtbot, window: Window) -> list[str]:
    found = []
    for page in PAGES:
        window.show_page(page)
        settle(5)
        qtbot.waitUntil(lambda: not window.jobs.busy("measure"), timeout=120_000)
        settle(5)
        found += [f"{page}: {fault}" for fault in faults(window)]
    return found


def _forms(qtbot, window: Window) -> list[str]:
    found = []
    for name in FORMS:
        window.show_page("log" if name.startswith("add_") else "compare")
        window.act(name)
        settle(5)
        dialog = next((d for d in window.findChildren(QDialog) if d.isVisible()), None)
        found += [f"{name}: {fault}" for fault in faults(dialog or window)]
        if dialog is not None:
            room = forms.free_room(dialog)
            if dialog.width() > room.width() or dialog.height() > room.height():
                found.append(f"{name}: {dialog.width()} x {dialog.height()} px is larger than the screen")
            dialog.close()
            settle(3)
    assert window.log_actions.strip is not None
    window.log_actions.strip.close_up()
    # a preview that was asked to stop still ends its page
    qtbot.waitUntil(lambda: window.jobs.idle and not _working(), timeout=120_000)
    return found


def _working() -> bool:
    return any(thread.name.startswith("job-") for thread in threading.enumerate())


def _told(found: list[str]) -> str:
    return "\n".join(dict.fromkeys(found))


@pytest.mark.parametrize(("percent", "dark", "size"), USUAL)
def test_pages_and_forms_can_be_read(qtbot, filled: Window, look, percent: int, dark: bool, size: str) -> None:
    opened(qtbot, filled, "contact")
    window = look(percent, dark, size)
    found = _pages(qtbot, window) + _forms(qtbot, window)
    assert not found, _told(found)


@pytest.mark.parametrize("more", [False, True])
def test_what_a_line_of_the_log_is_written_about_stays_in_sight(qtbot, filled: Window, look, more: bool) -> None:
    """Large text on a small screen: the chosen row of the traces is whole above the line, with its details too."""
    opened(qtbot, filled, "contact")
    window = look(200, False, "720")
    window.show_page("compare")
    traces, chosen = window.pages["compare"].traces, window.session.chosen
    whole = traces.area_of(*traces.view(), (chosen.signal,)).height()
    window.act("new_line")
    strip = window.log_actions.strip.strip
    if strip.more.isChecked() != more:
        QTest.mouseClick(strip.more, Qt.MouseButton.LeftButton)
    settle()
    assert traces.isVisible()
    row = traces.area_of(*traces.view(), (chosen.signal,))
    assert row.height() == whole
    assert not (found := faults(window)), _told(found)
    assert strip.choices.isVisible() == more
    strip.more.setChecked(False)
    window.log_actions.strip.close_up()


def test_a_mark_is_written_beside_the_open_list_of_marks(qtbot, filled: Window, look) -> None:
    """The form has half the page there: its kinds take two rows rather than being cut."""
    opened(qtbot, filled, "contact")
    window = look(160, False, "720")
    window.show_page("compare")
    window.act("find_mark")
    window.act("mark")
    settle()
    page = window.pages["compare"]
    # what stands below the form is covered, and no fault of it
    found = faults(page.marks.form)
    page.marks.form.leave()
    page.mark_list.title.setChecked(False)
    page.panel.fold(True, by_hand=True)
    assert not found, _told(found)


def test_the_plot_of_levels_has_half_of_a_low_page(qtbot, filled: Window, look) -> None:
    opened(qtbot, filled, "contact")
    window = look(200, False, "720")
    window.show_page("levels")
    qtbot.waitUntil(lambda: not window.jobs.busy("measure"), timeout=120_000)
    settle()
    page = window.pages["levels"]
    assert page.plot.height() > page.height() / 2
    assert page.caution_above.isVisible()
    assert page.caution_above.toolTip() == AT_THE_PINS


@pytest.mark.long
@pytest.mark.parametrize(("case", "shown"), Random(2).sample(MORE, MOST))
def test_all_looks_of_several_cases(qtbot, filled: Window, look, case: str, shown: tuple[int, bool, str]) -> None:
    opened(qtbot, filled, case)
    window = look(*shown)
    found = _pages(qtbot, window) + _forms(qtbot, window)
    assert not found, _told(found)


def test_the_judge_sees_what_is_cut_and_what_overlaps(qtbot) -> None:
    """The judge itself: a button too narrow, a wrapped label too low, two labels over each other, and a fine one."""
    root = QWidget()
    qtbot.addWidget(root)
    column = QVBoxLayout(root)
    fine, narrow, low = QLabel("A line that fits"), QPushButton("A button with many words"), QLabel("Some words " * 8)
    narrow.setFixedWidth(60)
    low.setWordWrap(True)
    low.setFixedSize(120, 30)
    for widget in (fine, narrow, low):
        column.addWidget(widget)
    one, other = QLabel("under", root), QLabel("over", root)
    root.resize(300, 240)
    root.show()
    settle(5)
    for label in (one, other):
        label.setGeometry(10, 210, 80, 20)
    found = faults(root)
    assert any(f.startswith("cut: 'A button with many words'") for f in found)
    assert any(f.startswith("cut: ") and "in QWidget" in f and "Some" in f for f in found)
    assert any(f.startswith("overlap: 'under' and 'over'") for f in found)
    assert not any("A line that fits" in f for f in found)


def test_the_judge_sees_what_is_shortened_and_told_nowhere(qtbot) -> None:
    from app.widgets.controls.elided_label import ElidedLabel

    words = ElidedLabel("Words that are longer than the line that they have")
    qtbot.addWidget(words)
    words.setAlignment(Qt.AlignmentFlag.AlignLeft)
    words.resize(90, 30)
    words.show()
    settle(3)
    assert faults(words) == []
    words.setToolTip("")
    assert "shortened and told nowhere" in faults(words)[0]


def test_settings_of_a_test_stay_where_they_belong(filled: Window, tmp_path: Path) -> None:
    assert not list(tmp_path.iterdir())
    assert not filled.isVisible()
