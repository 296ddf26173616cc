"""What a compared pair says of its clock: how it was matched, and what is wrong with it by itself."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tracecore.capture import Int64
from tracecore.compare.clock_faults import ClockPair
from tracecore.compare.divergence import diverge, matched
from tracecore.compare.fault_kinds import FaultKind
from tracecore.compare.findings import FirstDivergence, SignalFinding
from tracecore.compare.pair import PairFindings
from tracecore.compare.violations import violations_by_cycle
from tracecore.lineup.lineup import Lineup, TimeMap
from tracecore.lineup.runs import run_indices, runs_table
from tracecore.own_names import EACH_ROW


def clock_finding(base: SignalFinding, shown: PairFindings) -> SignalFinding:
    """The clock counts the cycles, so it is not compared by cycle but by itself, which needs no line-up; a drift is
    told with the line-up."""
    clocks = shown.clocks if shown.clocks is not None and shown.clocks.signal == base.signal else None
    wrong = clocks is not None and bool(clocks.faults)
    found = replace(base, verdict="diverges" if wrong else "undecided")
    if wrong and clocks is not None:
        worst = clocks.faults[0]
        found = replace(found, fault_mode=worst.name, fault_kind=FaultKind(worst.kind))
    if not shown.lineup or base.suspect_trace is None or base.good_trace is None:
        return found
    found = _matched(found, shown)
    if not wrong or clocks is None:
        return replace(found, verdict="agrees")
    cycles, first = clock_cycles(clocks, shown.lineup)
    return replace(found, diverging_cycles=cycles, first_divergence=first)


def _matched(base: SignalFinding, shown: PairFindings) -> SignalFinding:
    if base.good_trace is None or base.suspect_trace is None:
        return base
    runs = shown.lineup.runs
    empty = np.full(len(shown.lineup.good_edges_ps) - 1, 1, np.uint8)
    other = np.full(len(shown.lineup.suspect_edges_ps) - 1, 1, np.uint8)
    pairing = shown.pairing or matched(shown.lineup)
    found = diverge(base.good_trace, base.suspect_trace, empty, other, pairing, shown.limits)
    levels = shown.clocks.levels if shown.clocks is not None and shown.clocks.signal == base.signal else ((), ())
    return replace(
        base,
        compared_cycles=shown.lineup.matched_cycles,
        matched_stop=runs[-1].good_start + runs[-1].length,
        ties=found.ties,
        skew=None if base.signal == EACH_ROW else found.skew,
        suspect_on_good=found.suspect_on_good,
        levels=violations_by_cycle(*levels, shown.lineup),
    )


def clock_cycles(clocks: ClockPair, lineup: Lineup) -> tuple[Int64, FirstDivergence]:
    """The good cycles in which the suspect's clock is wrong, int64[N], increasing, and the first place: all that are
    matched where it is so throughout. A place that lies outside the matched cycles counts for the nearest one.

    Raises ValueError for a clock that is sound, or without a line-up.
    """
    if not clocks.faults or not lineup:
        raise ValueError("a sound clock is wrong in no cycle, and without a line-up no cycle is known")
    table = runs_table(lineup.runs)
    every = run_indices(table[:, :1], table[:, 2])[0]
    places = [fault.at_ps for fault in clocks.faults]
    if any(not len(at) for at in places):
        suspect_ps = int(lineup.suspect_edges_ps[table[0, 1]])
        return every, FirstDivergence(int(every[0]), int(lineup.good_edges_ps[every[0]]), suspect_ps)
    at = np.unique(np.concatenate(places))
    on_good = TimeMap(lineup).to_good_ps(at)
    cycle = lineup.good_edges_ps.searchsorted(on_good, "right") - 1
    nearest = np.minimum(every.searchsorted(cycle), len(every) - 1)
    cycles = np.unique(every[nearest])
    return cycles, FirstDivergence(int(every[nearest[0]]), int(on_good[0]), int(at[0]))
