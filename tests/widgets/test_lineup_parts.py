"""The drawings of the Line-up page: one selection, marks of a least width, and no word lost at any text size."""

from __future__ import annotations

from itertools import pairwise

import pytest

pytest.importorskip("PySide6")

from PySide6.QtCore import QPoint, Qt

from app.model.theme import DARK, LIGHT
from app.widgets.lineup.lineup_condition import ConditionForm
from app.widgets.lineup.lineup_drift import LineupDrift
from app.widgets.lineup.lineup_legend import LineupLegend
from app.widgets.lineup.lineup_offsets import LineupOffsets
from app.widgets.lineup.lineup_signals import LineupSignals
from app.widgets.lineup.lineup_strip import LineupStrip, strip_axis, strip_marks
from tests.widgets.hand_built import bench_comparison
from tests.widgets.test_lineup_words import laid

SLIPPED = laid(
    [
        ("paired", 300, 300),
        ("inserted", 0, 2),
        ("paired", 3, 3),
        ("missing", 1, 0),
        ("paired", 400, 400),
        ("diverged", 60, 70),
        ("paired", 300, 300),
    ],
    (5, 0, 0, 9),
)


def test_marks_have_a_least_width_and_merge_where_they_would_touch() -> None:
    marks = strip_marks([(10, 10), (14, 14), (60, 90), (200, 200)], 6)
    assert [(m.first, m.stop) for m in marks] == [(0, 2), (2, 3), (3, 4)]
    assert all(m.right - m.left >= 6 for m in marks)
    assert all(b.left > a.right for a, b in pairwise(marks))


def test_both_captures_lie_on_the_good_count() -> None:
    axis = strip_axis(SLIPPED)
    assert axis.good == (0, 1069)
    assert axis.suspect == (5, 1078)


@pytest.fixture
def strip(qtbot) -> LineupStrip:
    made = LineupStrip()
    qtbot.addWidget(made)
    made.resize(900, 80)
    made.set_lineup(SLIPPED)
    made.show()
    made.grab()
    return made


def test_keys_and_presses_choose_slips(qtbot, strip: LineupStrip) -> None:
    seen, opened = [], []
    strip.chosen.connect(lambda n: (seen.append(n), strip.set_chosen(n)))
    strip.opened.connect(opened.append)
    strip.setFocus()
    keys = Qt.Key
    for key in (keys.Key_Right, keys.Key_Right, keys.Key_Right, keys.Key_Right, keys.Key_Left, keys.Key_Home):
        qtbot.keyClick(strip, key)
    assert seen == [0, 1, 2, 2, 1, 0]
    qtbot.keyClick(strip, keys.Key_Return)
    assert opened == [0]
    merged = strip.marks[0]
    assert (merged.first, merged.stop) == (0, 2)
    at = QPoint(round((merged.left + merged.right) / 2), 20)
    qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, pos=at)
    qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, pos=at)
    assert seen[-2:] == [1, 0]


@pytest.mark.parametrize("scale", [1.0, 1.6, 2.0])
@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=["light", "dark"])
def test_every_drawing_paints_with_and_without_an_answer(qtbot, scale: float, theme) -> None:
    comparison = bench_comparison()
    strip, offsets, signals, drift = LineupStrip(), LineupOffsets(), LineupSignals(), LineupDrift()
    for drawing in (strip, offsets, signals, drift):
        qtbot.addWidget(drawing)
        drawing.set_theme(theme, scale)
        drawing.resize(500, drawing.sizeHint().height())
        empty = drawing.grab().toImage()
        assert empty.height() >= 20
    strip.set_lineup(comparison.lineup)
    offsets.set_lineup(comparison.lineup)
    assert not strip.grab().isNull()


@pytest.mark.parametrize("scale", [1.0, 1.6, 2.0])
def test_the_legend_grows_with_its_rows(qtbot, scale: float) -> None:
    legend = LineupLegend()
    qtbot.addWidget(legend)
    legend.set_theme(LIGHT, scale)
    legend.set_coverage(SLIPPED, SLIPPED.coverage)
    legend.resize(600, 10)
    legend.show()
    assert [item.kind for item in legend.items] == ["matched", "inserted", "missing", "diverged", "alone"]
    assert max(item.geometry().bottom() for item in legend.items) <= legend.height()
    # another comparison while it is in sight
    legend.set_coverage(SLIPPED, SLIPPED.coverage)
    assert legend.height() >= legend.items[0].sizeHint().height()


def test_a_condition_tells_where_it_fails_and_waits_for_its_effect(qtbot) -> None:
    form = ConditionForm()
    qtbot.addWidget(form)
    form.show()
    form.set_case("", bench_comparison())
    wanted, applied = [], []
    form.effect_wanted.connect(wanted.append)
    form.applied.connect(applied.append)
    form.line.setText("D00 && NOPE")
    assert "character 8" in form.words.text()
    assert not form.apply_button.isEnabled()
    box = form.line.trouble_box()
    assert box is not None
    assert box.left() > form.line.fontMetrics().horizontalAdvance("D00 &&")
    form.line.setText("D00 && D01")
    assert form.words.text() == "reads as: D00 is high and D01 is high"
    assert form.line.trouble_box() is None
    qtbot.waitUntil(lambda: wanted == ["D00 && D01"])
    form.apply_button.click()
    assert applied == ["D00 && D01"]
    form.clear_button.click()
    assert applied == ["D00 && D01", ""]
