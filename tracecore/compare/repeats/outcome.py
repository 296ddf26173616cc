"""What one compared capture counts for, among many."""

from __future__ import annotations

import numpy as np

from tracecore.compare.pair import PairFindings
from tracecore.compare.repeats.table import CaptureOutcome
from tracecore.compare.time_map import TimeMap


def outcome_of(pair: PairFindings, name: str) -> CaptureOutcome:
    """The outcome of a pair that lined up; what varies among good captures is taken off it before."""
    judged = (s for s, found in pair.found.items() if found.compared or len(found.ties.good_ps))
    compared = frozenset(judged) - pair.noisy
    if not compared:
        return CaptureOutcome(name, reason="Nothing could be judged: every signal is undecided or left out.")
    cycles = pair.lineup.matched_cycles
    first_at = {s: _first(pair, s) for s in pair.all_wrong & compared}
    if not first_at:
        return CaptureOutcome(name, compared=compared, cycles=cycles)
    # the earliest first, and of several at one instant the one that is wrong more often
    first = min(first_at, key=lambda s: (first_at[s][0], -len(pair.found[s].cycles), s))
    at_ps, cycle = first_at[first]
    near = frozenset(s for s, at in first_at.items() if s != first and at[0] - at_ps <= pair.limits.uncertainty_ps)
    return CaptureOutcome(name, frozenset(first_at), first, cycle, compared, near, cycles)


def _first(pair: PairFindings, signal: str) -> tuple[int, int]:
    """When, on the reference's clock, and in which of its cycles a signal is wrong first, levels included."""
    at = []
    if (own := pair.found[signal].first) is not None:
        at.append((own.good_ps, own.cycle))
    if fresh := pair.fresh(signal):
        earliest = min(fresh, key=lambda v: v.start_ps)
        at.append((int(TimeMap(pair.lineup).to_good_ps(np.array([earliest.start_ps]))[0]), int(earliest.cycle or 0)))
    return min(at)
