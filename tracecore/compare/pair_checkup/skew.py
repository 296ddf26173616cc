"""How finely a pair reads the skew, and whether all of it is half a cycle of the clock."""

from __future__ import annotations

import numpy as np

from tracecore.compare.pair_checkup.line import Compared, PairLine
from tracecore.lineup.lineup import Lineup
from tracecore.quantities import PS_PER_S, format_rate, format_time, percent

_COARSE, _HOPELESS = 0.22, 0.5
"""Shares of a cycle. Common practice: ten samples a cycle for timing on either side, at least four for states."""

_SAMPLES_WANTED = 10
_FEWEST_SIGNALS, _FEWEST_PAIRS = 3, 8
_PARTS_PS = 30_000  # what the parts of two boards may add. Common practice: a few gates' spread.


def skew_lines(lineup: Lineup, good_step_ps: int, suspect_step_ps: int) -> list[PairLine]:
    """One pair of transitions reads to the sum of both sample periods; that against the good clock's cycle."""
    if len(lineup.good_edges_ps) < 2:
        return []
    cycle = float(np.median(np.diff(lineup.good_edges_ps)))
    reads = good_step_ps + suspect_step_ps
    if reads <= _COARSE * cycle:
        return []
    slow = [name for name, step in (("good", good_step_ps), ("suspect", suspect_step_ps)) if 9.5 * step > cycle]
    which = "both captures" if len(slow) == 2 else f"the {slow[0]} capture"
    wanted = format_rate(_SAMPLES_WANTED * PS_PER_S / cycle, digits=2)
    seen = (
        f"one pair of transitions is accurate to ±{format_time(reads, digits=3)}, "
        f"{percent(reads / cycle, digits=0)} of a cycle of {format_time(round(cycle))}"
    )
    do = f"Take {which} again at {wanted} or more."
    if reads >= _HOPELESS * cycle:
        return [PairLine("bad", "skew", f"Sampled too slowly to judge skew: {seen}.", 1.0, do)]
    text = f"Skew shows only coarsely: {seen}. Medians over many transitions read finer."
    return [PairLine("look", "skew", text, 1.0, do)]


def clock_is_inverted(compared: Compared) -> bool:
    """Do all signals come later by as long as the suspect's clock stays at its active level?

    States then agree, since they are read in the middle of the cycle; every delay is off by the same half cycle.
    """
    lineup = compared.lineup
    if compared.clocks is not None and any(own.kind in ("divided", "other rate") for own in compared.clocks.faults):
        # at another rate the two cycles do not lie over each other: late by half a cycle means nothing
        return False
    clock = next((f.suspect_trace for f in compared.signals if f.signal == lineup.clock), None)
    late = [
        (f.skew.median_ps, f.skew.uncertainty_ps)
        for f in compared.signals
        if f.signal != lineup.clock and f.skew is not None and f.skew.count >= _FEWEST_PAIRS
    ]
    if clock is None or len(late) < _FEWEST_SIGNALS or len(clock.times_ps) < 2 * _FEWEST_PAIRS:
        return False
    active = 1 if lineup.edge == "rising" else 0
    lasts = np.diff(clock.times_ps)[clock.levels[:-1] == active]
    half = float(np.median(lasts))
    allowed = late[0][1] + _PARTS_PS
    # where the clock was found late or early its edges were moved by that, and only the rest shows as skew
    moved = compared.clocks.moved_ps if compared.clocks is not None else 0
    cycle = lineup.cycle_ps
    near = sum(abs((by + moved - half + cycle // 2) % cycle - cycle // 2) <= allowed for by, _ in late)
    return half > 1.5 * allowed and near >= 0.8 * len(late)
