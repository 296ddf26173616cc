"""Slips in a series: which captures take other cycles, and whether that alone is a difference."""

from __future__ import annotations

from fractions import Fraction

import pytest

from app.comparison_text import slipping_sentence
from tests.lineup.slipping import slipping_pair
from tests.plant import CLOCK, Plant
from tracecore.capture import Capture
from tracecore.capture_series import Reference, SeriesRequest, read_against, reference
from tracecore.comparison import CompareRequest, compare
from tracecore.lineup.slips import SlipCount
from tracecore.repeats.table import CaptureOutcome, RepeatTable, table_of

PLANT = Plant(3, cycles=1500, good_rate_hz=Fraction(10**8), suspect_rate_hz=Fraction(10**8))
WAITS = slipping_pair(PLANT, {330: 1, 900: 3}, {})
GOOD, WAITING = WAITS.good.capture(), WAITS.suspect.capture()
SOUND = PLANT.clean().suspect.capture()
COUNT = SlipCount(4, 2, 0, 0, 0, 330)


def against(*others: Capture) -> Reference:
    return reference(SeriesRequest((GOOD, *others), clock=CLOCK))


def test_an_outcome_holds_the_slips() -> None:
    outcome = read_against(against(), WAITING).outcome
    assert (outcome.slips, outcome.slips_tell, outcome.differs) == (COUNT, False, False)
    assert read_against(against(), SOUND).outcome.slips is None


@pytest.mark.parametrize(("others", "tells"), [((SOUND,), True), ((WAITING,), False), ((SOUND, WAITING), False)])
def test_slips_alone_count_where_good_captures_were_seen_not_to_slip(others: tuple[Capture, ...], tells: bool) -> None:
    outcome = read_against(against(*others), WAITING).outcome
    assert outcome.slips == COUNT
    assert outcome.differs == tells
    assert not outcome.diverges


def test_a_comparison_says_the_same_of_slips_as_the_series() -> None:
    for others in ((), (SOUND,), (WAITING,)):
        found = compare(CompareRequest((GOOD, *others), (WAITING, SOUND), clock=CLOCK))
        series = table_of(read_against(against(*others), own).outcome for own in (WAITING, SOUND))
        assert found.repeats == series
        assert found.diverges == (series.diverging > 0)


def test_slips_of_a_capture_that_is_not_shown_are_told_and_count() -> None:
    found = compare(CompareRequest((GOOD, SOUND), (SOUND, WAITING), clock=CLOCK))
    assert not found.slips_tell
    assert found.diverges
    (told,) = [n.text for n in found.notices if n.code == "other_capture_slips"]
    assert told.startswith(f"{WAITING.name}, which is not shown, takes other cycles")
    alone = compare(CompareRequest((GOOD,), (SOUND, WAITING), clock=CLOCK))
    assert not alone.diverges
    assert not any(n.code == "other_capture_slips" for n in alone.notices)


def slipping(name: str, tells: bool) -> CaptureOutcome:
    return CaptureOutcome(name, compared=frozenset({"D0"}), cycles=9, slips=COUNT, slips_tell=tells)


def test_slips_that_tell_count_as_divergence_and_others_do_not() -> None:
    agrees = CaptureOutcome("c", compared=frozenset({"D0"}), cycles=9)
    bad = CaptureOutcome("d", frozenset({"D0"}), "D0", 3, frozenset({"D0"}), slips=COUNT, slips_tell=True)
    table = table_of([slipping("a", False), slipping("b", True), agrees, bad])
    assert (table.captures, table.diverging, table.slipping, table.slips_alone) == (4, 2, 3, 1)
    assert table.proof().diverging == 2
    assert table.first_verdict().sentence.startswith("D0 is first in 1 of 2 diverging captures")
    assert table.signals["D0"].diverging == 1


def test_where_nothing_but_slips_differs_no_signal_is_first() -> None:
    table = RepeatTable().with_outcome(slipping("a", True))
    assert table.first_verdict().sentence == "No signal diverges, but 1 capture slips."
    assert table.with_outcome(slipping("b", True)).first_verdict().sentence.endswith("2 captures slip.")


def test_slips_that_tell_must_be_there() -> None:
    with pytest.raises(ValueError, match="slips"):
        CaptureOutcome("a", compared=frozenset({"D0"}), slips_tell=True)


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ((0, 9, ()), ""),
        ((1, 9, ()), "1 of 9 captures takes other cycles than the known-good one; whether a good unit does that"),
        ((3, 9, (0, 0)), "3 of 9 captures take other cycles than the known-good one; so do 0 of 2 other known-good"),
        ((3, 9, (4,)), "so do 1 of 1 other known-good capture."),
    ],
)
def test_how_many_slip_is_told(numbers: tuple[int, int, tuple[int, ...]], words: str) -> None:
    said = slipping_sentence(*numbers)
    assert words in said if words else not said
