"""The picture of swapped leads: what it says, where its parts lie, and that the links cross."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QColor

from app.model.pair_checks import CrossedLeads
from app.model.theme import DARK, LIGHT, Theme
from app.widgets.captures.lead_swap import LeadSwap

WAVES = ((0, 1, 1, 0), (1, 1, 0, 2))


def crossed(**more) -> CrossedLeads:
    return CrossedLeads(("D02", "D03"), ("5", "6"), **{"good": WAVES, "suspect": WAVES[::-1], **more})


def picture(qtbot, evidence: CrossedLeads, theme: Theme = LIGHT, width: int = 420) -> LeadSwap:
    made = LeadSwap(evidence, theme)
    qtbot.addWidget(made)
    made.resize(width, made.heightForWidth(width))
    made.show()
    return made


def test_it_says_which_lead_agrees_with_which_signal(qtbot) -> None:
    assert picture(qtbot, crossed()).accessibleName() == "Lead 5 agrees with good D03, lead 6 with good D02"


@pytest.mark.parametrize("width", [220, 420, 900])
def test_its_boxes_keep_apart_and_inside(qtbot, width: int) -> None:
    made = picture(qtbot, crossed(), width=width)
    good, suspect = made.boxes()
    assert all(box.width() >= 60 for box in (*good, *suspect))
    assert good[0].bottom() < good[1].top()
    assert good[0].right() < suspect[0].left()
    assert max(box.right() for box in suspect) < width
    assert max(box.bottom() for box in (*good, *suspect)) <= made.height()


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_the_links_cross_in_ochre_and_the_sides_keep_their_colours(qtbot, theme: Theme) -> None:
    made = picture(qtbot, crossed(), theme)
    good, suspect = made.boxes()
    drawn = made.grab().toImage()
    ratio = drawn.width() / made.width()

    def colour(x: float, y: float) -> QColor:
        return drawn.pixelColor(round(x * ratio), round(y * ratio))

    middle = ((good[0].right() + suspect[0].left()) / 2, (good[0].center().y() + good[1].center().y()) / 2)
    assert colour(*middle) == QColor(theme.warning)
    # above the crossing, between the upper boxes, there is nothing
    assert colour(middle[0], good[0].center().y()) != QColor(theme.warning)

    def shown(box, wanted: str) -> bool:
        columns = range(round(box.left()) + 4, round(box.right()) - 4)
        rows = range(round(box.top()) + 4, round(box.bottom()) - 4)
        return any(colour(x, y) == QColor(wanted) for x in columns for y in rows)

    assert shown(suspect[0], theme.suspect)
    assert not shown(good[0], theme.suspect)


def test_without_a_line_up_the_boxes_are_empty(qtbot) -> None:
    made = picture(qtbot, crossed(good=((), ()), suspect=((), ())))
    assert not made.grab().isNull()
