"""A suspect that agrees in every matched cycle, and yet takes other cycles than the good machine."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from tests.lineup.slipping import slipping_pair
from tests.plant import CLOCK, Pair, Plant
from tracecore.comparison import CompareRequest, Comparison, compare
from tracecore.decision import slipped_sentence
from tracecore.lineup.slips import Slip, SlipCount, slip_count
from tracecore.outcome import Reason

PLANT = Plant(3, cycles=1500, good_rate_hz=Fraction(10**8), suspect_rate_hz=Fraction(10**8))


def compared(pair: Pair, *more_good: Pair) -> Comparison:
    goods = (pair.good.capture(), *(p.suspect.capture() for p in more_good))
    return compare(CompareRequest(goods, (pair.suspect.capture(),), pair.sheet, clock=CLOCK))


@pytest.fixture(scope="module")
def waits() -> Pair:
    return slipping_pair(PLANT, {330: 1, 900: 3}, {})


def test_without_another_good_capture_slips_are_told_and_nothing_can_be_said(waits: Pair):
    found = compared(waits)
    assert {f.verdict for f in found.signals} == {"agrees"}
    assert not found.diverges
    assert slip_count(found.lineup.slips) == SlipCount(4, 2, 0, 0, 0, 330)
    assert (found.outcome.word, found.outcome.reason) == ("cannot tell", Reason.SLIPS_UNKNOWN)
    assert found.outcome.text.startswith(
        "Every matched cycle agrees, but the suspect waits 4 cycles more in 2 places; first at good cycle 330."
    )
    assert "Compare another known-good capture" in found.outcome.do


def test_slips_that_no_other_good_capture_shows_count(waits: Pair):
    found = compared(waits, PLANT.clean())
    assert found.good_slips == (0,)
    assert found.diverges
    assert found.outcome.reason is Reason.SLIPS
    assert "Seen in 0 of 1 other known-good capture: it counts as a difference" in found.outcome.text


def test_slips_that_another_good_capture_shows_too_are_no_fault(waits: Pair):
    found = compared(waits, PLANT.clean(), slipping_pair(PLANT, {500: 2}, {}))
    assert found.good_slips == (0, 1)
    assert not found.diverges
    assert found.outcome.word == "agrees"
    assert "waits 4 cycles more in 2 places" in found.outcome.text
    assert "so do 1 of 2 other known-good captures" in found.outcome.text


def test_a_stretch_of_other_doings_counts_unless_a_good_machine_slips_too(waits: Pair):
    found = compared(waits)
    parted = replace(found.lineup, slips=(Slip(330, 339, 20, 25, "diverged"),))
    assert replace(found, lineup=parted).diverges
    assert not replace(found, lineup=parted, good_slips=(2,)).diverges
    assert "does other things in 1 stretch" in replace(found, lineup=parted).outcome.text


@pytest.mark.parametrize("slip", [Slip(330, 339, 20, 25, "diverged"), Slip(330, 330, 9, 9, "unsure")])
def test_cycles_of_both_sides_left_uncompared_never_agree(waits: Pair, slip: Slip):
    found = compared(waits)
    for good_slips in ((), (0,), (2,)):
        told = replace(found, lineup=replace(found.lineup, slips=(slip,)), good_slips=good_slips)
        assert told.outcome.word != "agrees"
    assert "first at good cycle 330" in told.outcome.text
    few = replace(found.lineup, slips=(Slip(330, 330, 2, 2, "unsure"),))
    assert replace(found, lineup=few, good_slips=(2,)).outcome.word == "agrees"


def test_a_clean_pair_has_no_slips_to_tell():
    found = compared(PLANT.clean(), PLANT.clean())
    assert not found.diverges
    assert found.outcome.word == "agrees"
    assert not any(n.code == "slips" for n in found.notices)


def test_missing_cycles_are_told_as_fewer():
    count = slip_count([Slip(9, 9, 0, 1, "missing"), Slip(40, 39, 0, 1, "missing"), Slip(60, 57, 1, 0, "inserted")])
    said = slipped_sentence(count, (np.int64(3),))
    assert "but the suspect waits 1 cycle more in 1 place and takes 2 cycles fewer in 2 places; first at" in said


def test_far_more_slips_than_another_good_capture_shows_are_not_excused_by_its_one():
    often = slipping_pair(PLANT, {100 + 60 * i: 1 for i in range(20)}, {})
    found = compared(often, slipping_pair(PLANT, {500: 2}, {}))
    assert (found.good_slips, len(found.lineup.slips)) == ((1,), 20)
    assert (found.outcome.word, found.outcome.reason) == ("cannot tell", Reason.SLIPS_UNKNOWN)
    assert "waits 20 cycles more in 20 places" in found.outcome.text
    assert found.outcome.text.endswith("takes other cycles in 1; a sound machine may by chance in 11.")
