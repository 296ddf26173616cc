"""Steps from one diverging cycle to the next, and from one broken limit to the next. Nothing here imports Qt."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from app.pages.compare_words import union_of_cycles

if TYPE_CHECKING:
    from tracecore.capture import Int64
    from tracecore.compare.findings import SignalFinding
    from tracecore.comparison import Comparison


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
