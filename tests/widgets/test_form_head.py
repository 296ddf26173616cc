"""The head shares its width by what its boxes say."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.model.theme import LIGHT
from app.widgets.frame.form_head import FormHead, shares
from tests.gui.conftest import settle

WORDINGS = {
    "case": ("Drops a bit when somebody walks past",),
    "good": ("good.csv.gz · 50 MHz · 23.4 µs", "good.csv.gz · 50 MHz", "good.csv.gz"),
    "suspect": ("suspect.csv.gz · 50 MHz · 23.4 µs", "suspect.csv.gz · 50 MHz", "suspect.csv.gz"),
    "lineup": ("MCLK ↑ · −9 cycles · certain", "MCLK ↑ · certain"),
}


@pytest.fixture
def head(qtbot) -> FormHead:
    made = FormHead(LIGHT)
    qtbot.addWidget(made)
    for name, wordings in WORDINGS.items():
        made.boxes[name].set_value(wordings)
    made.resize(1400, 60)
    made.show()
    settle(3)
    return made


@pytest.mark.parametrize("compact", [False, True])
def test_what_is_said_shortly_leaves_room_for_the_case(head: FormHead, compact: bool) -> None:
    head.set_compact(compact)
    needed = sum(box.wanted()[-1] for box in head.boxes.values())
    head.resize(round(needed) + 8, 60)
    settle(3)
    for box in head.boxes.values():
        assert box.width() >= box.wanted()[-1] - 1
        assert "…" not in box._fitting(box.width() - sum(box._beside) + 1)


def test_with_room_all_of_it_is_said_and_the_tip_always_has_it(head: FormHead) -> None:
    head.resize(round(sum(box.wanted()[0] for box in head.boxes.values())) + 8, 60)
    settle(3)
    assert all(box.width() >= box.wanted()[0] - 1 for box in head.boxes.values())
    head.resize(500, 60)
    settle(3)
    for name, box in head.boxes.items():
        assert WORDINGS[name][0] in box.toolTip()
        assert box.value == WORDINGS[name][0]


widths = st.lists(st.integers(1, 400), min_size=1, max_size=3).map(lambda own: sorted(own, reverse=True))


@given(st.lists(widths, min_size=1, max_size=5), st.integers(1, 2000))
def test_shares_fill_the_room_and_nobody_is_cut_while_another_has_more_than_it_needs(
    wanted: list[list[int]], room: int
) -> None:
    found = shares(wanted, room)
    assert sum(found) == pytest.approx(room)
    least = [own[-1] for own in wanted]
    if sum(least) <= room:
        assert all(share >= need - 1e-6 for share, need in zip(found, least, strict=True))
    if sum(own[0] for own in wanted) <= room:
        assert all(share >= own[0] - 1e-6 for share, own in zip(found, wanted, strict=True))
    cut = [share for share, need in zip(found, least, strict=True) if share < need - 1e-6]
    assert not cut or max(found) <= min(cut) + 1e-6
