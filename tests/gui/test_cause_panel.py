"""The panel of likely causes: the open card begins with its signal and fault, and its buttons are in sight."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QPushButton

from app.shell.window import Window
from demo_traces import CASES
from tests.gui.conftest import settle


def _in_sight(window: Window) -> None:
    cards = window.pages["compare"].cards
    view = cards.viewport()
    (card,) = (c for c in cards.cards if c.property("chosen"))
    top = card.mapTo(view, card.rect().topLeft()).y()
    assert 0 <= top < view.height() // 3, card.cause.signal
    for button in card.findChildren(QPushButton):
        assert button.mapTo(view, button.rect().bottomLeft()).y() <= view.height(), button.text()


@pytest.mark.parametrize(("percent", "size"), [(100, (1600, 900)), (160, (1280, 720))])
def test_heading_and_buttons_of_the_open_card_are_in_sight(
    qtbot, window: Window, percent: int, size: tuple[int, int]
) -> None:
    window.resize(*size)
    window.settings.text_percent = percent
    window.apply_look()
    window.files.open_demo(CASES["receiver"])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    page = window.pages["compare"]
    page.panel.fold(False, by_hand=True)
    settle()
    _in_sight(window)
    for _ in window.session.comparison.causes[1:]:
        window.act("next_cause")
        settle()
        _in_sight(window)
    window.show_page("log")
    window.show_page("compare")
    settle()
    _in_sight(window)


def test_no_cell_of_the_table_of_signals_is_cut_on_a_small_laptop(qtbot, window: Window) -> None:
    window.resize(1366, 768)
    window.files.open_demo(CASES["pullup"])
    qtbot.waitUntil(lambda: window.session.current and window.jobs.idle, timeout=120_000)
    settle()
    table = window.pages["compare"].signals.table
    assert not table.horizontalScrollBar().isVisible()
    for row in range(table.model().rowCount()):
        for column in range(table.model().columnCount()):
            text = table.model().index(row, column).data()
            assert table.fontMetrics().horizontalAdvance(text) <= table.columnWidth(column) - 8, text
