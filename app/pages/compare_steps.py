"""Steps from one diverging cycle to the next, and from one broken limit to the next. Nothing here imports Qt."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from app.pages.compare_words import union_of_cycles

if TYPE_CHECKING:
    from tracecore.capture import Int64
    from tracecore.compare.findings import SignalFinding
    from tracecore.comparison import Comparison

APART = 8
"""Two wrong cycles that lie further apart are two places, as the sentences on what comes and goes count them."""


def step_from(cycles: Int64, now: int | None, forward: bool) -> int | None:
    """The next of increasing ``cycles`` after ``now``, or the one before; None where there is none.

    >>> step_from(np.array([3, 9]), 3, True), step_from(np.array([3, 9]), 3, False)
    (9, None)
    """
    if now is None:
        at = 0 if forward else len(cycles) - 1
    elif forward:
        at = int(cycles.searchsorted(now, side="right"))
    else:
        at = int(cycles.searchsorted(now)) - 1
    return int(cycles[at]) if 0 <= at < len(cycles) else None


def diverging_cycles(comparison: Comparison, signal: str | None) -> Int64:
    """Good cycles at which the chosen signal diverges, or any where it has none, increasing: int64[M]."""
    own = next((s.diverging_cycles for s in comparison.signals if s.signal == signal), None)
    return own if own is not None and len(own) else union_of_cycles(comparison)


def places(cycles: Int64) -> Int64:
    """Where each separate place of increasing ``cycles`` begins: int64[K].

    Less than APART right cycles between two wrong ones part nothing: a line that is stuck is right by chance.

    >>> places(np.array([4, 5, 9, 40, 41])).tolist()
    [4, 40]
    """
    if not len(cycles):
        return cycles
    return cycles[np.concatenate(([True], np.diff(cycles) > APART))]


def next_place(comparison: Comparison, signal: str | None, now: int | None, forward: bool) -> tuple[str, int] | None:
    """Signal and first cycle of the next separate place, or of the one before.

    The chosen signal's own come first; where it has none left the nearest of the other signals does.
    """
    starts = {own.signal: places(own.diverging_cycles) for own in comparison.signals}
    own = starts.get(signal or "")
    if signal is not None and own is not None and len(own):
        cycle = step_from(own, now, forward)
        if cycle is not None:
            return signal, cycle
    others = [
        (cycle, name)
        for name, found in starts.items()
        if name != signal and (cycle := step_from(found, now, forward)) is not None
    ]
    if not others:
        return None
    nearest = min(others) if forward else max(others)
    return nearest[1], nearest[0]


def limit_cycles(finding: SignalFinding) -> Int64:
    """Good cycles at which either side breaks a limit in volts or in time, increasing: int64[M]."""
    found = [np.array([v.cycle for v in finding.levels if v.cycle is not None], np.int64)]
    if finding.limits is not None:
        for reading in (*finding.limits.good, *finding.limits.suspect):
            found.append(reading.break_cycles[reading.break_cycles >= 0])
    return np.unique(np.concatenate(found))


def cycles_to_step(comparison: Comparison, signal: str | None) -> Int64:
    """Those of the chosen signal, or of all signals where it has none."""
    by_signal = {f.signal: limit_cycles(f) for f in comparison.signals}
    own = by_signal.get(signal or "")
    if own is not None and len(own):
        return own
    parts = [cycles for cycles in by_signal.values() if len(cycles)]
    return np.unique(np.concatenate(parts)) if parts else np.empty(0, np.int64)
