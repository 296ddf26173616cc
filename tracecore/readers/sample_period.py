"""The sample period that shows in the times of rows, where no sample rate is stated."""

from __future__ import annotations

import math

import numpy as np

from tracecore.capture import Int64

# that unrelated times fall on a lattice by chance must be less likely than one in this many
_UNLIKELY = 1e6


def lattice_step_ps(steps: Int64, printed_ps: int) -> int | None:
    """The period of which all ``steps`` (int64[N], ps) are whole multiples, rounded up to whole ps; None if none.

    First the exact common divisor. Where the printing has rounded the times, Euclid's algorithm with a
    tolerance, refined over ever longer steps, until each step is a multiple to within one printed unit.

    >>> lattice_step_ps(np.array([20_000, 60_000, 100_000, 60_000, 20_000]), 1000)
    20000
    >>> lattice_step_ps(np.array([41_667, 83_333, 125_000, 208_333]), 1)
    41667
    """
    real = steps[steps > 0]
    if len(real) < 2:
        return None
    divisor = int(np.gcd.reduce(real))
    if _chance(divisor / printed_ps, len(real)) * _UNLIKELY < 1:
        return divisor
    return _rounded_lattice(np.unique(real), len(real), printed_ps)


def _chance(units: float, count: int) -> float:
    """Likelihood that ``count`` unrelated steps are multiples of ``units`` printed units."""
    return 1.0 if units <= 1 else math.exp(-count * math.log(units))


def _rounded_lattice(lengths: Int64, count: int, printed_ps: int) -> int | None:
    """``lengths`` sorted and distinct; each may be off by one printed unit."""
    period, rest = _fitted(lengths, float(lengths[0]), printed_ps)
    while rest is not None:
        period, rest = _fitted(lengths, _euclid(period, rest, printed_ps), printed_ps)
    # within a unit either way lie 2 of the period's units, and 1 more as the period is fitted
    if _chance(period / (3 * printed_ps), count) * _UNLIKELY >= 1:
        return None
    off = np.abs(lengths - np.round(lengths / period) * period)
    # the fitted period is itself off by a little, which long steps multiply
    if float(off.max()) > 1.05 * printed_ps + 1:
        return None
    return math.ceil(round(period, 1))


def _fitted(lengths: Int64, period: float, printed_ps: int) -> tuple[float, float | None]:
    """The period refined over the lengths, shortest first, and what is left over where one is no multiple of it."""
    if period < 3 * printed_ps:
        return period, None  # finer than what can be told
    top = bottom = 0.0
    for length in lengths.tolist():
        turns = max(1, round(length / period))
        rest = abs(length - turns * period)
        if rest > 2.5 * printed_ps:
            return period, rest
        top, bottom = top + length * turns, bottom + turns * turns
        period = top / bottom
    return period, None


def _euclid(longer: float, shorter: float, printed_ps: int) -> float:
    """Common divisor of two lengths; what is left after a division is noise up to a few printed units."""
    longer, shorter = max(longer, shorter), min(longer, shorter)
    while shorter > 4 * printed_ps:
        longer, shorter = shorter, abs(longer - shorter * round(longer / shorter))
    # noise that was taken for a remainder must not come round again
    return longer if shorter <= 2 * printed_ps else min(longer, shorter)
