"""Each demo case in the window, at every text size: the planted signal is the first likely cause, nothing overflows."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtWidgets import QLabel, QPushButton

from app.shell.window import Window
from app.steps.step import all_steps
from tests.gui.shared import until
from tests.thinned import thinned

demo_traces = pytest.importorskip("demo_traces")


def chip_heads_the_first_card_and_marks_its_step(window: Window) -> None:
    card = window.pages["compare"].cards.cards[0]
    words = [w.text() for w in card.findChildren(QLabel)]
    assert "U14: input C, leg 3, may be open" in words
    assert "stuck high" in words
    first = window.pages["compare"].first
    first.show_cause(window.session.comparison)
    assert first.mode.text() == "U14: input C, leg 3, may be open"
    assert first.words.text().startswith("SEL1 stuck high from cycle 307. Probe next: Leg 3 of U14")
    (button,) = [b for b in card.findChildren(QPushButton) if b.text() == "Go to chip"]
    button.click()
    chip = window.pages["backplane"].chip
    assert window.pages["backplane"].stack.currentWidget() is chip
    until(lambda: bool(chip.found))
    assert chip.found[chip.choice.currentIndex()].chip.name == "U14"
    (step,) = [own for own in all_steps() if own.name == "backplane"]
    state = step.stamp(window.session)
    assert (state.stamp, state.why) == ("look", "U14: input C, leg 3, may be open: see Chip")


def backplane_says_why_another_reading_comes_first(window: Window) -> None:
    window.show_page("backplane")
    words = " ".join(w.text() for w in window.pages["backplane"].findChildren(QLabel))
    assert "WAIT rises slowly and falls quickly" in words
    assert "Then the wire. Next: With power off, measure 4-A12 to 7-A12 on suspect" in words


def volts_open_below_the_traces_where_there_are_volts(window: Window) -> None:
    page = window.pages["compare"]
    assert page.volts_button.isVisible()
    page.volts_button.setChecked(True)
    assert page.volts is not None
    assert page.volts.isVisible()


LOOKED_AT_BESIDES = {
    "clip": chip_heads_the_first_card_and_marks_its_step,
    "pullup": backplane_says_why_another_reading_comes_first,
    "contact": volts_open_below_the_traces_where_there_are_volts,
}
"""What one window more would be opened for."""


@pytest.mark.parametrize(
    "name", [*LOOKED_AT_BESIDES, *thinned([name for name in demo_traces.CASES if name not in LOOKED_AT_BESIDES], 4)]
)
def test_the_planted_signal_is_the_first_likely_cause(qtbot, window: Window, name: str) -> None:
    case = demo_traces.CASES[name]
    window.files.open_demo(case)
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    first = window.session.comparison.causes[0]
    assert first.signal == case.planted_signal
    assert case.planted_mode in first.fault_mode
    assert window.session.chosen.cycle == first.since_cycle
    assert window.head.boxes["case"].value == case.title
    if case.planted_in:
        page = window.pages["compare"]
        assert page.seen_in.words.text() == "1 of 40 captures diverges"
        words = " ".join(w.text() for w in page.cards.findChildren(QLabel))
        assert f"1 of 40 suspect captures diverges, on D00, D01, D02: {case.planted_in}." in words
        assert f"Seen in {case.planted_in}, which is not the capture shown" in words
        assert "1 of 40 suspect captures" in words
    if name in LOOKED_AT_BESIDES:
        LOOKED_AT_BESIDES[name](window)


@pytest.mark.parametrize(
    ("percent", "dark"),
    [(160, False), *(pytest.param(p, d, marks=pytest.mark.long) for p in (100, 200) for d in (False, True))],
)
def test_every_button_keeps_its_whole_word_inside_the_window(qtbot, window: Window, percent: int, dark: bool) -> None:
    window.settings.text_percent, window.settings.dark = percent, dark
    window.apply_look()
    window.files.open_demo(demo_traces.CASES["receiver"])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    assert (window.width(), window.height()) == (1280, 720)
    for name in ("captures", "lineup", "compare", "backplane"):
        window.show_page(name)
        qtbot.wait(1)
        for button in window.pages[name].findChildren(QPushButton):
            if not button.isVisible():
                continue
            word = button.fontMetrics().horizontalAdvance(button.text())
            assert button.width() >= word, (name, button.text())
            right = button.mapTo(window, button.rect().topRight()).x()
            assert right < window.width(), (name, button.text())


def test_a_picture_is_made_without_a_display(qtbot, tmp_path: Path) -> None:
    from PySide6.QtGui import QImage

    from app.shell.picture import picture

    path = picture(demo_traces.CASES["receiver"], tmp_path / "window.png", size=(1280, 720))
    image = QImage(str(path))
    assert (image.width(), image.height()) == (1280, 720)
    colours = {image.pixel(x, y) for x in range(0, 1280, 16) for y in range(0, 720, 16)}
    assert len(colours) > 5
