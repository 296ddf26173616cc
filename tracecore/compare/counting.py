"""Which signal counts the cycles of both sides."""

from __future__ import annotations

from tracecore.compare.board import Board, few_names
from tracecore.compare.request import CompareRequest
from tracecore.errors import RequestError
from tracecore.measure.clock import ClockCandidate, clock_candidates
from tracecore.measure.cycle_count import best_count, counting_signals, two_phases


def chosen_clock(request: CompareRequest, good: Board, suspect: Board) -> str:
    """The clock asked for, or the evenest signal that both sides have."""
    common = [s for s in good.traces if s in suspect.traces]
    if not common:
        raise RequestError(
            f"{good.capture.name} has {few_names(good.traces)} and {suspect.capture.name} has "
            f"{few_names(suspect.traces)}: no signal in common. Name the channels alike on the probe sheet."
        )
    if request.clock is not None:
        for side in (good, suspect):
            if counting_signals(request.clock, side.traces) is None:
                raise RequestError(
                    f"Clock {request.clock!r} is not in {side.capture.name}, which has {few_names(side.traces)}. "
                    "Name one of these as the clock."
                )
        return request.clock
    shared = {s: good.traces[s] for s in common}
    candidates: tuple[ClockCandidate, ...] = clock_candidates(shared, good.capture.resolution_ps)
    if candidates and candidates[0].regularity >= 0.5:
        phases = two_phases(shared, good.capture.resolution_ps)
        return phases if phases and candidates[0].signal in phases.split("+") else candidates[0].signal
    return best_count(shared, good.capture.resolution_ps, request.edge)
