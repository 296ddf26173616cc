"""A delay within the tolerance is told against a single known-good capture too, and sound parts' spread is not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plant import CLOCK, Plant
from tracecore.capture import digital_trace
from tracecore.comparison import CompareRequest, Comparison, compare

PLANT = Plant(7, cycles=600)


def against_one(late_ps: dict[int, int]) -> Comparison:
    """One sound pair, but that D01's rises (1) and falls (0) on the suspect come later by so much."""
    own = PLANT.again(51).capture()
    trace = own.digital["D01"]
    by = np.array([late_ps.get(0, 0), late_ps.get(1, 0)])[trace.levels[1:]]
    times = np.append(trace.times_ps[:1], trace.times_ps[1:] + by)
    moved = digital_trace(times, trace.levels, int(max(trace.stop_ps, times[-1])))
    suspect = replace(own, digital={**own.digital, "D01": moved})
    return compare(CompareRequest((PLANT.again(0).capture(),), (suspect,), clock=CLOCK))


def told(found: Comparison) -> list[str]:
    return [n.text for n in found.notices if n.code == "steadily_off"]


@pytest.mark.parametrize(
    ("late_ps", "words"),
    [
        ({0: 45_000, 1: 45_000}, ("D01 rises 4", "D01 falls 4")),
        ({1: 35_000}, ("D01 rises 3",)),
        ({1: 18_000}, ("D01 rises 1", "D01 rises 2")),
        ({}, ()),
    ],
)
def test_a_steady_delay_within_the_tolerance_is_told(late_ps: dict[int, int], words: tuple[str, ...]) -> None:
    found = against_one(late_ps)
    assert not found.diverges
    assert found.outcome.exit_status == 0
    texts = told(found)
    assert len(texts) == bool(words)
    assert all(any(word in text for word in words) for text in texts)


def test_what_known_parts_spread_by_is_not_told() -> None:
    """A 74LS74A takes 15 ns more at most than typically (data sheet, from memory)."""
    assert not told(against_one({0: 15_000, 1: 15_000}))
