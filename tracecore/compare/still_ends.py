"""Signals of the suspect that stand still behind what was compared, up to the end of its capture.

A board that hangs there agrees as far as the known-good capture reaches. A signal that moves at random rests now and
then, but hardly four times as long as it ever did in thousands of cycles before.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from tracecore.capture import DigitalTrace
from tracecore.compare.capture_signals import CaptureSignals
from tracecore.lineup.lineup import Lineup
from tracecore.name_lists import few_names
from tracecore.notices import Notice, notice
from tracecore.quantities import group_digits

FEWEST_CYCLES, FEWEST_MOVES = 30, 10
_TIMES = 4


def still_end_notices(
    lineup: Lineup, good: CaptureSignals, suspect: CaptureSignals, signals: Iterable[str]
) -> Iterator[Notice]:
    """One notice of those of ``signals`` that stand still on the suspect in cycles that the good side does not reach,
    for more than four times as long as they rest on either side before."""
    if not lineup or lineup.coverage.suspect.after < FEWEST_CYCLES:
        return
    last, edges = lineup.runs[-1], lineup.suspect_edges_ps
    begin, end = int(edges[last.suspect_start + last.length]), int(edges[-1])
    cycle_ps = lineup.coverage.suspect.cycle_ps
    rests: dict[str, tuple[int, int]] = {}
    for signal in signals:
        own = suspect.traces[signal]
        moves = own.transitions_ps[: own.transitions_ps.searchsorted(end, "right")]
        before = int(moves.searchsorted(begin))
        if before < FEWEST_MOVES:
            continue
        still = end - max(begin, int(moves[-1]))
        longest = max(_longest_rest(own, begin), _longest_rest(good.traces[signal], good.traces[signal].stop_ps))
        if still >= max(FEWEST_CYCLES * cycle_ps, _TIMES * longest):
            rests[signal] = still // cycle_ps, longest // cycle_ps
    if rests:
        still_cycles, longest_cycles = min(own for own, _ in rests.values()), max(own for _, own in rests.values())
        text = (
            "Behind what was compared these stand still to the end of the suspect's capture, for "
            f"{group_digits(still_cycles)} cycles or more: {few_names(rests, 6)}. "
            f"Before that they rest for {group_digits(longest_cycles + 1)} at most on either side."
        )
        yield notice("still_at_the_end", text, signals=tuple(rests))


def _longest_rest(trace: DigitalTrace, until_ps: int) -> int:
    """The longest time in picoseconds without a transition, from the start of the capture to ``until_ps``."""
    moves = trace.transitions_ps[: trace.transitions_ps.searchsorted(until_ps)]
    return int(np.diff(np.concatenate(([trace.times_ps[0]], moves, [until_ps]))).max())
