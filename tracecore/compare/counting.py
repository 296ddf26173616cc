"""Which signal counts the cycles of all boards that are compared."""

from __future__ import annotations

from collections.abc import Mapping

from tracecore.capture import DigitalTrace
from tracecore.compare.capture_signals import CaptureSignals
from tracecore.compare.request import CompareRequest
from tracecore.errors import RequestError
from tracecore.lineup.lineup import Edge
from tracecore.measure.clock import ClockCandidate, clock_candidates
from tracecore.measure.cycle_count import best_count, counting_signals, two_phases
from tracecore.name_lists import few_names
from tracecore.own_names import EACH_ROW

_EVEN = 0.9


def check_rows_alike(request: CompareRequest) -> None:
    """Raises RequestError where rows are cycles of the board in some of the captures only."""
    captures = (*request.good, *request.suspect)
    first = captures[0]
    other = next((own for own in captures if own.row_is_cycle != first.row_is_cycle), None)
    if other is not None:
        by_rows, by_time = (first, other) if first.row_is_cycle else (other, first)
        raise RequestError(
            f"{by_rows.name} is read with each row as one cycle of the board's clock, {by_time.name} is not; expected "
            "both alike. Say it of both, or of neither."
        )


def chosen_clock(asked: str | None, edge: Edge, *boards: CaptureSignals) -> str:
    """The clock ``asked`` for, or the evenest signal that all boards have; the first board says how even it is.

    Raises RequestError where a board lacks the clock asked for, or where they have no signal in common.
    """
    common = [s for s in boards[0].traces if all(s in other.traces for other in boards[1:])]
    if not common:
        have = [f"{own.capture.name} has {few_names(own.traces)}" for own in boards]
        raise RequestError(f"{' and '.join(have)}: no signal in common. Name the channels alike on the probe sheet.")
    if asked is not None:
        for side in boards:
            if counting_signals(asked, side.traces) is None:
                raise RequestError(
                    f"Clock {asked!r} is not in {side.capture.name}, which has {few_names(side.traces)}. "
                    "Name one of these as the clock."
                )
        return asked
    if EACH_ROW in common:
        return EACH_ROW
    good = boards[0]
    shared, period_ps = {s: good.traces[s] for s in common}, good.capture.resolution_ps
    candidates = clock_candidates(shared, period_ps)
    if candidates and candidates[0].regularity >= 0.5:
        phases = two_phases(shared, period_ps)
        return phases if phases and candidates[0].signal in phases.split("+") else candidates[0].signal
    return best_count(shared, period_ps, edge)


def clock_on_one_side(clock: str, good: CaptureSignals, suspect: CaptureSignals) -> str:
    """A sentence about a signal that only one side has and that is more of a clock than the ``clock`` that counts;
    empty where there is none.

    What is chosen in its place may tick along with the program: states are then read where no register reads them.
    """
    counting = clock.split("+")
    for own, other in ((good, suspect), (suspect, good)):
        alone = {s: t for s, t in own.traces.items() if s not in other.traces}
        chosen = {s: own.traces[s] for s in counting if s in own.traces}
        best, instead = (_evenest(traces, own.capture.resolution_ps) for traces in (alone, chosen))
        if best is not None and (instead is None or best.rate_hz > 1.5 * instead.rate_hz):
            return (
                f"{best.signal}, which ticks evenly, was captured on {own.capture.name} only; {clock} counts the "
                "cycles in its place, which proves little. Capture the clock on both sides."
            )
    return ""


def _evenest(traces: Mapping[str, DigitalTrace], resolution_ps: int) -> ClockCandidate | None:
    found = [c for c in clock_candidates(traces, resolution_ps) if c.regularity >= _EVEN]
    return max(found, key=lambda c: c.rate_hz, default=None)
