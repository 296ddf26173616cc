"""The levels at the legs of one chip, whatever they were clipped with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from tracecore.capture import UNKNOWN, DigitalTrace, Int64, UInt8

NEVER = 1 << 62


@dataclass(frozen=True, slots=True, eq=False)
class PinTraces:
    """``traces`` by the names of the legs; ``tied`` are levels that are known without a capture.

    ``resolution_ps`` is one sample period, good for every channel. Legs in neither were not captured.
    """

    traces: Mapping[str, DigitalTrace]
    tied: Mapping[str, int]
    start_ps: int
    stop_ps: int
    resolution_ps: int

    def known(self, name: str) -> bool:
        """Is anything known of this leg?"""
        return name in self.traces or name in self.tied

    def changes(self, name: str) -> Int64:
        """Times at which the leg changes; none where it is tied or was not captured."""
        trace = self.traces.get(name)
        return trace.transitions_ps if trace is not None and name not in self.tied else np.empty(0, np.int64)

    def levels(self, name: str, times_ps: Int64) -> UInt8:
        """Levels of a leg at times within the capture."""
        if name in self.tied:
            return np.full(len(times_ps), self.tied[name], np.uint8)
        trace = self.traces.get(name)
        if trace is None:
            return np.full(len(times_ps), UNKNOWN, np.uint8)
        index = np.maximum(trace.times_ps.searchsorted(times_ps, side="right") - 1, 0)
        return trace.levels[index]

    def with_tied(self, name: str, level: int) -> PinTraces:
        """The same with one leg read as standing still, whatever its net does."""
        return replace(self, tied={**self.tied, name: level})

    def without(self, name: str) -> PinTraces:
        """The same as if one leg had not been captured."""
        return replace(self, traces={leg: trace for leg, trace in self.traces.items() if leg != name})

    def exchanged(self, moved: Mapping[str, str]) -> PinTraces:
        """The same with traces moved: ``moved`` gives each leg the leg whose trace it takes."""
        traces = dict(self.traces)
        for to, of in moved.items():
            if of in self.traces:
                traces[to] = self.traces[of]
            else:
                traces.pop(to, None)
        return replace(self, traces=traces)

    def since(self, start_ps: int) -> PinTraces:
        """The part from a time on."""
        return replace(self, traces={name: begun(t, start_ps) for name, t in self.traces.items()}, start_ps=start_ps)

    def until(self, stop_ps: int) -> PinTraces:
        """The first part of it."""
        stop = min(stop_ps, self.stop_ps)
        if stop == self.stop_ps:
            return self
        return replace(self, traces={name: cut(trace, stop) for name, trace in self.traces.items()}, stop_ps=stop)


def begun(trace: DigitalTrace, start_ps: int) -> DigitalTrace:
    """A trace from a time on."""
    first = max(0, int(trace.times_ps.searchsorted(start_ps, side="right")) - 1)
    times = trace.times_ps[first:].copy()
    times[0] = start_ps
    return DigitalTrace(times, trace.levels[first:].copy(), max(trace.stop_ps, start_ps))


def cut(trace: DigitalTrace, stop_ps: int) -> DigitalTrace:
    """A trace up to a time."""
    count = max(1, int(trace.times_ps.searchsorted(stop_ps)))
    return DigitalTrace(trace.times_ps[:count].copy(), trace.levels[:count].copy(), max(stop_ps, trace.start_ps))


def constant(level: int, start_ps: int, stop_ps: int) -> DigitalTrace:
    """A leg that stands still."""
    return DigitalTrace(np.array([start_ps], np.int64), np.array([level], np.uint8), stop_ps)


def levels_in(trace: DigitalTrace, starts: Int64, stops: Int64) -> UInt8:
    """The level that a trace holds throughout each window [start, stop); 2 where it moves or is not known.

    >>> trace = DigitalTrace(np.array([0, 10]), np.array([0, 1], np.uint8), 20)
    >>> levels_in(trace, np.array([0, 5, 12]), np.array([8, 15, 18])).tolist()
    [0, 2, 1]
    """
    first = np.maximum(trace.times_ps.searchsorted(starts, side="right") - 1, 0)
    last = np.maximum(trace.times_ps.searchsorted(stops, side="left") - 1, 0)
    held = trace.levels[first].copy()
    held[first != last] = UNKNOWN
    return held
