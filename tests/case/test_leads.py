"""Leads that were clipped wrong, put right for one capture: any permutation, a block one place off, inverted ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.case.changes import AddCaptures
from app.case.item_checks import check_item
from app.case.lead_corrections import MendLeads, RestoreLeads, leads_of, moved_words
from app.case.record import OpenCase
from app.case.shelf import Shelf, hold
from app.case.store import CaseStore
from app.case.values import HeldCapture
from app.report.condition_section import _capture
from demo_traces.linnet import SIGNALS
from tests.compare.test_pair_checkup import accused, checked, reclipped
from tests.plant import CLOCK, Plant
from tracecore.compare.pair_checkup import check_pair
from tracecore.comparison import CompareRequest, compare

NAMES = tuple("ABCDEFG")
HELD = HeldCapture("k", "south.csv", "", "", 0, "change rows", 1, 0, 1, NAMES)


def mended(held: HeldCapture, *changes: MendLeads | RestoreLeads) -> HeldCapture:
    case = AddCaptures("suspect", (held,)).applied(OpenCase())
    for change in changes:
        case = change.applied(case)
    return case.suspect.captures[0]


@given(st.permutations(NAMES), st.permutations(NAMES))
def test_one_press_mends_any_permutation_and_the_next_adds_up(first, second) -> None:
    held, leads = HELD, {name: name for name in NAMES}
    for order in (first, second):
        moves = tuple((a, b) for a, b in zip(NAMES, order, strict=True) if a != b)
        held = mended(held, MendLeads("k", moves))
        # what was read under a belongs under b
        leads = {b: leads[a] for a, b in zip(NAMES, order, strict=True)}
        assert leads_of(held) == leads
    assert held.unread == ()


@given(st.permutations(NAMES))
def test_a_permutation_and_its_opposite_leave_the_leads_as_they_were(order) -> None:
    moves = tuple((a, b) for a, b in zip(NAMES, order, strict=True) if a != b)
    back = tuple((b, a) for a, b in moves)
    held = mended(HELD, MendLeads("k", moves), MendLeads("k", back))
    assert leads_of(held) == {name: name for name in NAMES}


@given(st.integers(0, 4), st.integers(2, 6))
def test_a_block_one_place_off_loses_its_first_channel_and_no_other(start, count) -> None:
    block = NAMES[start : start + count]
    moves = tuple(pairwise(block))
    held = mended(HELD, MendLeads("k", moves))
    leads = leads_of(held)
    assert all(leads[channel] == lead for lead, channel in moves)
    assert held.unread == (block[0],)
    assert block[0] not in leads
    assert all(leads[name] == name for name in NAMES if name not in block)


def test_inversion_follows_the_lead_through_later_moves_and_twice_is_none() -> None:
    held = mended(HELD, MendLeads("k", (("A", "B"), ("B", "A"))), MendLeads("k", inverted=("A",)))
    assert held.inverted == ("B",)
    assert moved_words(held) == ("A is read from lead B", "B is read from lead A", "lead B is turned over")
    assert mended(held, MendLeads("k", inverted=("A",))).inverted == ()
    assert mended(held, RestoreLeads("k")) == HELD


def test_two_exchanges_kept_by_an_older_version_read_as_they_did() -> None:
    assert leads_of(replace(HELD, swaps=(("A", "B"), ("C", "D")))) == {
        **{name: name for name in NAMES}, "A": "B", "B": "A", "C": "D", "D": "C",
    }  # fmt: skip


@pytest.fixture
def store() -> Iterator[CaseStore]:
    made = CaseStore.in_memory()
    yield made
    made.close()


MISTAKES = {
    "a swap": ({"D01": "D02", "D02": "D01"}, ()),
    "a ring": ({"D01": "D02", "D02": "RFSH", "RFSH": "D01"}, ()),
    "two swaps and a ring": (
        {"D01": "D02", "D02": "D01", "STB": "ACK", "ACK": "STB", "D00": "D03", "D03": "RFSH", "RFSH": "D00"},
        (),
    ),
    "inverted leads": ({}, ("D01", "ACK")),
    "a block one place off": ({"D00": "D01", "D01": "D02", "D02": "D03", "D03": ""}, ()),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_what_the_check_up_says_of_leads_puts_them_right(store: CaseStore, name: str) -> None:
    reads, inverted = MISTAKES[name]
    pair = Plant(5, cycles=900).clean()
    good, right = pair.good.capture(), pair.suspect.capture()
    wrong = reclipped(right, reads, inverted)
    held = hold(wrong)
    shelf = Shelf(store)
    shelf.add(held, wrong)
    lines = accused(checked(pair, reads, inverted))
    assert lines
    moves = tuple(move for line in lines for move in line.moves)
    turned = tuple(s for line in lines if line.topic == "inverted" for s in line.signals)
    after = mended(held, MendLeads(held.key, moves, turned))
    shown = shelf.loaded(after)
    for signal in set(SIGNALS) - set(after.unread) - {s for s, where in reads.items() if where == ""}:
        assert shown.digital[signal].times_ps.tolist() == right.digital[signal].times_ps.tolist(), signal
        assert shown.digital[signal].levels.tolist() == right.digital[signal].levels.tolist(), signal
    assert (after.unread == ("D00",)) == (name == "a block one place off")
    again = check_pair(compare(CompareRequest((good,), (shown,), pair.sheet, clock=CLOCK)))
    assert accused(again) == []


def test_the_report_says_what_was_put_right() -> None:
    held = mended(HELD, MendLeads("k", (("A", "B"), ("B", "A"))))
    told = " ".join(run.text for part in _capture("Suspect", held, held) for run in part)
    assert "leads put right: A is read from lead B; B is read from lead A" in told


def test_a_thumbnail_with_rows_of_unequal_length_is_no_part_of_a_case() -> None:
    check_item(("capture", "k"), replace(HELD, shades=("01", "90")))
    with pytest.raises(ValueError, match="rows of shades differ in length"):
        check_item(("capture", "k"), replace(HELD, shades=("01", "9")))
