"""A line that rises slowly: Compare, Levels, the bench card and Backplane ask for the same reading first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from app.case.card_rows import card_for, found_choices
from app.case.record import OpenCase
from app.cli.run import demo_request
from demo_traces import CASES
from tracecore.comparison import Comparison, compare


@pytest.fixture(scope="module")
def pullup() -> Comparison:
    return compare(demo_request(CASES["pullup"]))


def test_only_the_rises_are_slow_and_late(pullup):
    (cause,) = pullup.causes
    assert (cause.fault_mode, cause.fault_kind.word) == ("slow rise", "slow_rise")
    words = " ".join(cause.because)
    assert "rises stay between low and high for up to 100 ns; the falls are quick." in words
    assert "Its rises are steadily late, by 98 ns on average." in words
    # the table's number is another one, and why is said
    assert "Its falls are not, so the skew of the table, +50.1 ns, is between the two" in words
    assert "transitions are steadily" not in words


def test_cause_and_levels_ask_for_the_same_reading(pullup):
    (cause,) = pullup.causes
    finding = pullup.levels.row("WAIT").finding
    assert finding.title.startswith("slow rise")
    assert finding.probe.startswith("with power off, ohms from this line to +5 V")
    assert cause.probe_next.startswith("With power off, ohms from 7-A12 to +5 V, on both units.")
    for outcome, may in finding.readings:
        assert f"{outcome}: {may.partition(';')[0]}" in cause.probe_next


def test_the_card_has_a_row_to_the_supply_and_a_box_for_the_pull_up(pullup):
    case = OpenCase(sheet=pullup.request.sheet)
    (cause,) = pullup.causes
    card = card_for(case, pullup, cause, supply_pins=["7-A01"])
    assert (card.rows[0].power, card.rows[0].probe) == ("off", "7-A12 to 7-A01")
    assert card.rows[0].where == "line to +5 V; cards in"
    assert "pull-up" in found_choices(card)
    assert card_for(case, pullup, cause).rows[0].where == "line to +5 V, +5 V pin not known; cards in"
    late = card_for(case, pullup, replace(cause, fault_kind=None))
    assert not any("+5 V" in row.how for row in late.rows if row.power == "off")
    assert "pull-up" not in found_choices(late)
