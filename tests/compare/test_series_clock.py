"""What counts the cycles of a series: the same choice, and the same cycles, as in the comparison of one pair."""

from __future__ import annotations

import numpy as np
import pytest

from tests.measure.test_clock_derived import FAST, uneven_strobe, with_phases, without
from tests.plant import CLOCK, Fault, Pair, Plant
from tracecore.capture import Capture
from tracecore.capture_series import SeriesRequest, read_against, reference
from tracecore.comparison import CompareRequest, compare
from tracecore.errors import RequestError
from tracecore.measure.cycle_count import ANY_TRANSITION

PLANT = Plant(5, cycles=900, **FAST)
STUCK = PLANT.faulty(Fault("stuck low", "D02", 200))


def both(pair: Pair) -> tuple[Capture, Capture]:
    return pair.good.capture(), pair.suspect.capture()


def test_two_phases_count_together() -> None:
    good, suspect = (with_phases(capture) for capture in both(STUCK))
    sound = with_phases(PLANT.clean().suspect.capture())
    against = reference(SeriesRequest((good, sound)))
    assert against.clock == "PHI1+PHI2"
    assert set(against.tolerance.signals) == set(good.channels) - {"PHI1", "PHI2"}
    found = compare(CompareRequest((good, sound), (suspect,)))
    assert np.array_equal(against.edges_ps, found.lineup.good_edges_ps)
    outcome = read_against(against, suspect).outcome
    assert (outcome.first, outcome.first_cycle) == (found.causes[0].signal, found.causes[0].since_cycle)
    assert outcome.first == "D02"
    assert not read_against(against, sound).outcome.diverges


def test_a_strobe_counts_where_nothing_ticks_evenly() -> None:
    good = Capture("good", uneven_strobe(1), {}, 10_000, "built")
    against = reference(SeriesRequest((good, good), same_file=True))
    assert against.clock == "STB"
    assert read_against(against, good).outcome.counts


def test_any_transition_counts_where_it_is_asked_for() -> None:
    good, suspect = (without(capture, CLOCK) for capture in both(STUCK))
    against = reference(SeriesRequest((good,), clock=ANY_TRANSITION))
    found = compare(CompareRequest((good,), (suspect,), clock=ANY_TRANSITION))
    assert np.array_equal(against.edges_ps, found.lineup.good_edges_ps)
    assert read_against(against, suspect).outcome.diverges == {
        f.signal for f in found.signals if f.verdict == "diverges"
    }


def test_other_cycles_than_those_that_were_learnt_are_not_compared() -> None:
    good, sound = (without(capture, CLOCK) for capture in both(PLANT.clean()))
    against = reference(SeriesRequest((good, good), clock=ANY_TRANSITION))
    few = without(sound, *[s for s in sound.channels if s.startswith("ADDR")])
    outcome = read_against(against, few).outcome
    assert not outcome.counts
    assert "other cycles" in outcome.reason


@pytest.mark.parametrize("name", ["NONE", "D00+NONE"])
def test_a_clock_that_stands_for_nothing_is_refused(name: str) -> None:
    with pytest.raises(RequestError, match="Name one of these as the clock"):
        reference(SeriesRequest(both(STUCK)[:1], clock=name))
