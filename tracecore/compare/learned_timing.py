"""Timing of further known-good captures, to learn limits from where no part is given."""

from __future__ import annotations

from tracecore.compare.capture_signals import capture_signals
from tracecore.compare.request import CompareRequest
from tracecore.compare.timing_comparison import TimingSettings
from tracecore.lineup.lineup import Lineup
from tracecore.measure.clock import active_edges_ps
from tracecore.measure.timing import TimingFigures, timing_figures


def more_good_timing(
    request: CompareRequest, lineup: Lineup, settings: TimingSettings
) -> tuple[dict[str, TimingFigures], ...]:
    """For each known-good capture behind the first its signals' timing, against its own active edges."""
    out = []
    for capture in request.good[1:]:
        own = capture_signals(capture, request.sheet, request.family, request.supply_v)
        clock = own.traces.get(lineup.clock)
        if clock is None:
            continue
        edges = active_edges_ps(clock, lineup.edge)
        out.append(
            {
                name: timing_figures(trace, edges, capture.resolution_ps, direction=settings.direction)
                for name, trace in own.traces.items()
                if name != lineup.clock
            }
        )
    return tuple(out)
