"""The offset against scipy.signal.correlate, an independent way to it."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import scipy

from tests.plant import CLOCK, Fault, Pair, Plant
from tests.thinned import thinned
from tracecore.capture import Capture
from tracecore.comparison import CompareRequest, compare


def states(capture: Capture) -> np.ndarray:
    """Levels shortly before each next rising edge as -1 and +1: float64[signals, cycles]. Read off plainly."""
    clock = capture.digital[CLOCK]
    edges = clock.times_ps[1:][clock.levels[1:] == 1]
    rows = [trace.level_at(edges[1:] - 30_000) for name, trace in capture.digital.items() if name != CLOCK]
    return np.array(rows, np.float64) * 2 - 1


def offset_by_correlation(pair: Pair) -> int:
    """Where the sum of all signals' correlations is greatest, each without its mean and divided by the overlap."""
    good, suspect = states(pair.good.capture()), states(pair.suspect.capture())
    good -= good.mean(axis=1, keepdims=True)
    suspect -= suspect.mean(axis=1, keepdims=True)
    total = sum(scipy.signal.correlate(b, a, mode="full", method="fft") for a, b in zip(good, suspect, strict=True))
    lags = scipy.signal.correlation_lags(suspect.shape[1], good.shape[1], mode="full")
    return int(lags[int(np.argmax(total))])


@pytest.mark.parametrize("offset", thinned([-300, -41, 1, 12, -1, 0, 77, 300]))
@pytest.mark.parametrize("fault", [None, Fault("stuck low", "D03"), Fault("intermittent", "SEQ0", share=0.3)])
def test_both_ways_find_the_offset(offset, fault):
    plant = Plant(8, cycles=1500, offset_cycles=offset, drift_ppm=2000, suspect_rate_hz=Fraction(32_000_000))
    pair = plant.clean() if fault is None else plant.faulty(fault)
    found = compare(CompareRequest((pair.good.capture(),), (pair.suspect.capture(),), clock=CLOCK)).lineup
    assert found.offset_cycles == offset_by_correlation(pair) == offset
