"""Both sides of a comparison as one capture on the good side's time, to be opened elsewhere."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from tracecore.capture import Capture, DigitalTrace, digital_trace
from tracecore.errors import RequestError
from tracecore.export import export_capture

if TYPE_CHECKING:
    from tracecore.comparison import Comparison

DUMP_ENDINGS = (".vcd", ".dump")


def lined_up_capture(comparison: Comparison) -> Capture:
    """Each signal twice, ``good.D03`` and ``suspect.D03``, over the time that both sides have.

    The suspect's times are carried to the good side's by the line-up. Raises RequestError where there is none.
    """
    pairs = {
        s.signal: (s.good_trace, s.suspect_on_good)
        for s in comparison.signals
        if s.good_trace is not None and s.suspect_on_good is not None
    }
    if not comparison.lineup or not pairs:
        raise RequestError("The two sides are not lined up, so they cannot be written on one time. Line them up first.")
    both = [trace for pair in pairs.values() for trace in pair]
    start, stop = max(t.start_ps for t in both), min(t.stop_ps for t in both)
    if start >= stop:
        raise RequestError("The two sides have no time in common, so there is nothing to write.")
    traces = {}
    for signal, (good, suspect) in pairs.items():
        traces[f"good.{signal}"] = clipped(good, start, stop)
        traces[f"suspect.{signal}"] = clipped(suspect, start, stop)
    request = comparison.request
    step = max(request.good[0].resolution_ps, request.suspect[0].resolution_ps)
    return Capture(f"{request.good[0].name} and {request.suspect[0].name}", traces, {}, step, "lined up")


def clipped(trace: DigitalTrace, start_ps: int, stop_ps: int) -> DigitalTrace:
    """The part of a trace from ``start_ps`` (closed) to ``stop_ps`` (open).

    >>> import numpy as np
    >>> whole = digital_trace(np.array([0, 10, 20, 30]), np.array([0, 1, 0, 1], np.uint8), 40)
    >>> part = clipped(whole, 15, 30)
    >>> part.times_ps.tolist(), part.levels.tolist(), part.stop_ps
    ([15, 20], [1, 0], 30)
    """
    first = int(trace.times_ps.searchsorted(start_ps, side="right")) - 1
    last = int(trace.times_ps.searchsorted(stop_ps, side="left"))
    times = trace.times_ps[first:last].copy()
    times[0] = start_ps
    return digital_trace(times, trace.levels[first:last], stop_ps)


def write_lined_up(comparison: Comparison, path: str | Path) -> Path:
    """Writes both sides on one time: a value change dump where the name ends in .vcd, else plain rows."""
    path = Path(path)
    form = "dump" if path.suffix.lower() in DUMP_ENDINGS else "rows"
    export_capture(lined_up_capture(comparison), path, form)
    return path
