"""Active edges, clock candidates, and the state of a signal in each cycle.

Cycle k runs from active edge k (closed) to active edge k+1 (open). Its state is what stands one sample
period before edge k+1, where a register on the board would read it; a signal that moves within one sample
period on either side of that instant is undecided in that cycle.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tracecore.capture import HIGH, LOW, UNKNOWN, DigitalTrace, Int64, UInt8
from tracecore.quantities import PS_PER_S
from tracecore.sorted_times import count_until

_FEWEST_EDGES = 8
_PART = 1 << 15
PAUSE_CYCLES = 8
"""A clock that does not tick for longer pauses."""


@dataclass(frozen=True, slots=True)
class ClockCandidate:
    """A signal that could be the clock. ``regularity`` is 1 for a perfectly even one, 0 for none.

    ``rate_hz`` is that while it ticks: pauses of more than eight cycles are no part of it.
    """

    signal: str
    rate_hz: float
    samples_per_cycle: float
    regularity: float
    edges: int


def active_edges_ps(trace: DigitalTrace, edge: str) -> Int64:
    """Times of the rising or falling edges, int64[N]. An unknown stretch between the two levels counts
    as part of the transition; the edge is where the new level is reached."""
    known = known_transitions(trace)
    wanted = HIGH if edge == "rising" else LOW
    return np.asarray(known.transitions_ps[known.levels[1:] == wanted])


def known_transitions(trace: DigitalTrace) -> DigitalTrace:
    """The trace without its unknown stretches: low, unknown, high becomes one transition, low, unknown,
    low none. A trace that starts unknown starts with its first known level.

    >>> t = DigitalTrace(np.array([0, 5, 9]), np.array([0, 2, 1], np.uint8), 20)
    >>> known_transitions(t).times_ps.tolist()
    [0, 9]
    """
    if int(trace.levels.max()) < UNKNOWN:
        return trace
    keep = trace.levels != UNKNOWN
    if not keep.any():
        return trace
    times, levels = trace.times_ps[keep].copy(), trace.levels[keep]
    times[0] = trace.times_ps[0]
    changed = np.concatenate(([True], levels[1:] != levels[:-1]))
    return DigitalTrace(times[changed], levels[changed], trace.stop_ps)


def clock_candidates(traces: Mapping[str, DigitalTrace], resolution_ps: int) -> tuple[ClockCandidate, ...]:
    """Signals that tick evenly, best first: even ones before uneven ones, then the faster one."""
    found = []
    for name, trace in traces.items():
        edges = active_edges_ps(trace, "rising")
        if len(edges) < _FEWEST_EDGES:
            continue
        periods = np.diff(edges)
        middle = float(np.median(periods))
        # what sampling alone does to a period (one sample either way) says nothing against a clock
        spread = np.maximum(np.abs(periods - middle) - resolution_ps, 0)
        regularity = float((spread <= 0.05 * middle).mean())
        found.append(
            ClockCandidate(
                name,
                PS_PER_S / float(periods[periods <= PAUSE_CYCLES * middle].mean()),
                middle / resolution_ps,
                regularity,
                len(edges),
            )
        )
    return tuple(sorted(found, key=lambda c: (-round(c.regularity, 1), not _sounds_like_clock(c.signal), -c.rate_hz)))


def _sounds_like_clock(name: str) -> bool:
    upper = name.upper()
    return any(word in upper for word in ("CLK", "CLOCK", "MCK")) or upper in ("CK", "CP", "PHI", "PHI1")


def cycle_states(trace: DigitalTrace, edges_ps: Int64, guard_ps: int) -> UInt8:
    """State in each cycle, uint8[len(edges) - 1]: 0, 1, or 2 where undecided or unknown.

    >>> clock = np.array([100, 200, 300, 400])
    >>> t = DigitalTrace(np.array([0, 120, 190]), np.array([0, 1, 0], np.uint8), 500)
    >>> cycle_states(t, clock, 10).tolist()
    [2, 0, 0]
    """
    if len(edges_ps) < 2:
        return np.empty(0, np.uint8)
    times, ends = trace.times_ps, edges_ps[1:]
    if len(times) > 2 * len(ends):
        last = np.maximum(times.searchsorted(ends, side="right") - 1, 0)
        states = trace.levels[last]
        states[ends - times[last] < 2 * guard_ps] = UNKNOWN
    else:
        states = _held(trace, ends, 2 * guard_ps)
    states[: ends.searchsorted(times[0] + 2 * guard_ps)] = UNKNOWN
    states[ends.searchsorted(trace.stop_ps, side="right") :] = UNKNOWN
    return states


def _held(trace: DigitalTrace, ends_ps: Int64, ahead_ps: int) -> UInt8:
    """The level at each of the ends, by carrying every transition to the first end at or behind it; unknown where one
    lies less than ``ahead_ps`` before it."""
    times, levels, count = trace.times_ps, trace.levels, len(ends_ps)
    states = np.empty(count, np.uint8)
    doubtful: list[Int64] = []
    filled, level = 0, np.uint8(UNKNOWN)
    for start in range(0, len(times), _PART):
        part = times[start : start + _PART]
        at = count_until(ends_ps, part - 1)
        states[filled : at[0]] = level
        states[at[0] : at[-1]] = np.repeat(levels[start : start + len(part) - 1], np.diff(at))
        filled, level = int(at[-1]), levels[start + len(part) - 1]
        while len(at):
            near = np.flatnonzero(ends_ps[np.minimum(at, count - 1)] - part < ahead_ps)
            part, at = part[near], at[near]
            doubtful.append(at[: at.searchsorted(count)])
            part, at = part[at < count - 1], at[at < count - 1] + 1
    states[filled:] = level
    for cells in doubtful:
        states[cells] = UNKNOWN
    return states
