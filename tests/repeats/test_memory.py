"""Learning takes the memory of one signal at a time, and says the same as all of them at once."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from tests.compare.many_captures import CLOCK, captures, floating
from tests.plant import Fault, Plant
from tracecore.compare.capture_signals import capture_signals
from tracecore.compare.pair import LinedUp, line_up_pair
from tracecore.compare.request import CompareRequest
from tracecore.repeats.learned_variation import ToleranceLearner
from tracecore.repeats.learning import learner_for, less_what_varies, teach
from tracecore.repeats.outcome import outcome_of, outcome_of_each

PLANT = Plant(3, cycles=4000)
GOOD = captures(PLANT, range(3), floating)
(STUCK,) = captures(PLANT, range(9, 10), floating, Fault("stuck low", "D02", since=700))


def lined_up(other: int | None = None) -> LinedUp:
    suspect = STUCK if other is None else GOOD[other]
    request = CompareRequest(GOOD[:1], (suspect,), clock=CLOCK)
    sides = (capture_signals(capture, request.sheet, "74") for capture in (GOOD[0], suspect))
    return line_up_pair(*sides, CLOCK, request, None)


@pytest.fixture(scope="module")
def learner() -> ToleranceLearner:
    lined = lined_up(1)
    found = learner_for(lined.good, CLOCK, lined.lineup.good_edges_ps)
    for other in (1, 2):
        teach(found, lined_up(other), GOOD[other].name)
    return found


def passing_bytes(work: Callable[[], object]) -> int:
    """The most memory that work takes besides what it keeps."""
    tracemalloc.start()
    try:
        work()
        kept, most = tracemalloc.get_traced_memory()
        return most - kept
    finally:
        tracemalloc.stop()


def alone(lined: LinedUp, signal: str) -> LinedUp:
    """The two boards as if they shared this signal only."""
    i = lined.names.index(signal)
    good, suspect = (side[i : i + 1] for side in lined.states)
    return replace(lined, names=(signal,), states=(good, suspect))


def test_all_signals_pass_in_the_memory_of_the_greediest_one() -> None:
    lined, passing = lined_up(1), []
    for each in (lined, *(alone(lined, signal) for signal in lined.names)):
        learner = learner_for(each.good, CLOCK, each.lineup.good_edges_ps)
        passing.append(passing_bytes(lambda each=each, learner=learner: teach(learner, each, "run 1")))
    assert passing[0] < 1.5 * max(passing[1:])
    assert passing[0] < sum(passing[1:]) / 4


def test_a_capture_in_parts_says_what_it_says_as_a_whole(learner: ToleranceLearner) -> None:
    tolerance, lined = learner.tolerance(), lined_up()
    whole = outcome_of(less_what_varies(lined.whole(), tolerance), "it")
    parts = (less_what_varies(one, tolerance) for one in lined.one_by_one())
    assert outcome_of_each(lined.lineup, lined.limits, parts, "it", clocks=lined.whole().clocks) == whole
    assert whole.first == "D02"


def test_what_learning_says_of_the_signals_it_differs_on_is_what_the_pair_says() -> None:
    lined = lined_up(1)
    assert teach(None, lined, "run 1").keys() == lined.whole().all_wrong
    assert lined.whole().all_wrong == {"D00", "D01", "D02", "D03"}


def test_an_envelope_is_no_wider_than_it_must_be(learner: ToleranceLearner) -> None:
    envelope = learner.tolerance().signals["READ"].envelope
    assert envelope is not None
    bytes_each = sum(
        getattr(envelope, name).itemsize
        for name in envelope.__slots__
        if isinstance(getattr(envelope, name), np.ndarray) and name != "times_ps"
    )
    assert bytes_each <= 27
