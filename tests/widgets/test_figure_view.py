"""The figure on the screen: it fits its width, follows the theme, and is the report's own painting."""

from __future__ import annotations

import numpy as np
import pytest

from app.cli.run import demo_request
from app.model.theme import DARK, LIGHT
from app.widgets.controls.figure_view import FigureView
from demo_traces import CASES
from tracecore.comparison import Comparison, compare


@pytest.fixture(scope="module")
def receiver() -> Comparison:
    return compare(demo_request(CASES["receiver"]))


def colours(view: FigureView) -> set[str]:
    image = view.grab().toImage().convertToFormat(view.grab().toImage().Format.Format_RGB32)
    pixels = np.frombuffer(image.constBits(), np.uint32).reshape(image.height(), -1)
    return {f"#{int(value) & 0xFFFFFF:06X}" for value in np.unique(pixels)}


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_it_is_drawn_in_the_theme(qtbot, receiver, theme):
    view = FigureView()
    qtbot.addWidget(view)
    view.set_theme(theme)
    assert view.show_figure(receiver, "D03")
    view.resize(900, view.heightForWidth(900))
    assert {theme.paper, theme.ink, theme.suspect} <= colours(view)
    other = DARK if theme is LIGHT else LIGHT
    assert other.suspect not in colours(view)


def test_letters_grow_with_the_text_size_and_nothing_is_shown_where_there_is_nothing(qtbot, receiver):
    view = FigureView()
    qtbot.addWidget(view)
    assert view.show_figure(receiver, "D03")
    small = view.heightForWidth(900)
    view.set_theme(LIGHT, 1.6)
    assert view.heightForWidth(900) == pytest.approx(1.6 * small, abs=1)
    assert not view.show_figure(receiver, "MCLK")
    assert not view.show_figure(None, "D03")
    assert view.heightForWidth(900) == 0
