"""Ohms written in the log or into a bench card count as readings: with their unit, their side, and the card's state."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from app.case.circuit_changes import AddReadings
from app.case.counted_readings import card_place, counted, lacking, of_card, uncounted
from app.case.record import OpenCase
from app.case.values import BenchCard, CardRow, Entry
from app.case.values import Reading as Written
from tracecore.circuit.continuity.readings import ContinuityList

WIRE = CardRow("off", "6-B22 to 7-B04", "at the wrap posts", "0.2 ohm", "above 1 ohm: raised", "ohm")
SEATED = CardRow("off", "7-B04 to 7-A36", "to ground", "", "same meter", "kohm", state="card 7 in, red lead on B04")
VOLTS = CardRow("on", "7-B04", "receiver, should move; ground clip on 7-A36", "", "low", "V", ("low", "high"))


@pytest.mark.parametrize(
    ("typed", "unit", "ohms"),
    [
        ("0.2", "ohm", 0.2),
        ("2.1", "kohm", 2100.0),
        ("2.1k", "kohm", 2100.0),
        ("180 ohm", "kohm", 180.0),
        ("open", "ohm", math.inf),
    ],
)
def test_what_was_typed_counts_in_its_unit(typed: str, unit: str, ohms: float) -> None:
    (found,) = counted(Written("6-B22 to 7-B04", "", typed, unit))
    assert (found.pair, found.ohms, found.side) == (("6-B22", "7-B04"), ohms, "suspect")


@pytest.mark.parametrize(
    ("where", "typed", "unit"),
    [("6-B22 to 7-B04", "4.9", "V"), ("at the wrap post 7-B04", "0.2", "ohm"), ("6-B22 to 7-B04", "low", "ohm")],
)
def test_what_is_no_ohms_between_two_pins_does_not_count(where: str, typed: str, unit: str) -> None:
    assert counted(Written(where, "", typed, unit)) == ()


def test_a_seated_card_and_the_red_lead_stand_in_the_note() -> None:
    (found,) = counted(Written(card_place(SEATED), "", "2.1", SEATED.unit))
    assert (found.note, found.card_in, found.ohms) == ("card in, red lead on B04", True, 2100.0)
    assert not counted(Written("7-B04 to 7-A36, slot 7 empty", "", "open", "ohm"))[0].card_in


def test_of_a_card_only_what_was_typed_counts_and_only_once() -> None:
    blank = BenchCard(1, "1-1", "D03", None, "", (WIRE, SEATED, VOLTS))
    filled = replace(blank, filled=(("180",), ("2.1",), ("0.3", "3.5")))
    # what the card has in print of the good unit had its leads taken off
    read = of_card(blank, filled, "2026-01-02", "M.")
    assert [(r.pair, r.ohms, r.side) for r in read] == [
        (("6-B22", "7-B04"), 180.0, "suspect"),
        (("7-A36", "7-B04"), 2100.0, "suspect"),
    ]
    assert of_card(filled, filled, "2026-01-02", "M.") == ()


def test_readings_of_a_line_are_lacking_until_they_count() -> None:
    entry = Entry(1, "measured", "Wire", at="2026-01-02 10:00", readings=(Written("6-B22 to 7-B04", "0.2", "180"),))
    case = OpenCase(entries=(entry,))
    found = uncounted(case, entry)
    assert len(found) == 2
    after = AddReadings(found).applied(case)
    assert uncounted(after, entry) == ()
    # a later reading of the same pins stands for today
    later = replace(found[1], ohms=0.3, read_on="2026-01-03")
    assert lacking(ContinuityList((found[0], later)), found) == ()
    put_right = Entry(2, "measured", "Wire again", corrects=1)
    assert uncounted(OpenCase(entries=(entry, put_right)), entry) == ()


def test_ohms_to_the_supply_with_cards_in_do_not_count_as_those_of_an_empty_slot() -> None:
    row = CardRow("off", "7-A12 to 7-A01", "line to +5 V", "", "above good", "ohm", state="cards in")
    assert row.where == "line to +5 V; cards in"
    (found,) = counted(Written(card_place(row), "", "310", row.unit))
    assert found.card_in
