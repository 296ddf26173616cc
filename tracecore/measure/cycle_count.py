"""What counts the cycles where no clock was captured: a strobe, two phases together, or any transition at all.

Two phases are named ``PHI1+PHI2``. Without any signal that could count, a cycle is what lies between two bursts of
transitions: its state is what all signals rest at before the next burst.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

import numpy as np

from tracecore.capture import HIGH, DigitalTrace, Int64, sorted_union
from tracecore.measure.clock import active_edges_ps, clock_candidates, known_transitions
from tracecore.sorted_times import count_until

ANY_TRANSITION = "any transition"
_FEWEST = 16
_MOST_EDGES = 20_000


def counting_signals(name: str, traces: Mapping[str, DigitalTrace]) -> tuple[str, ...] | None:
    """The signals that a clock's name stands for: one, two phases, or none for ``ANY_TRANSITION``. None where the name
    stands for nothing that these traces have."""
    if name in traces:
        return (name,)
    if name == ANY_TRANSITION:
        return ()
    phases = tuple(part.strip() for part in name.split("+"))
    return phases if len(phases) == 2 and all(p in traces for p in phases) else None


def counting_edges_ps(name: str, traces: Mapping[str, DigitalTrace], edge: str, quiet_ps: int) -> Int64:
    """Times at which cycles begin, int64[N]: the active edges of the signal, those of both phases, or where a burst of
    transitions begins after at least ``quiet_ps`` in which nothing moves."""
    signals = counting_signals(name, traces)
    if signals:
        return sorted_union(*(active_edges_ps(traces[s], edge) for s in signals))
    moves = sorted_union(*(known_transitions(t).transitions_ps for t in traces.values()))
    first = np.append(True, np.diff(moves) >= quiet_ps)[: len(moves)]
    # a picosecond earlier, so that what begins the burst belongs to the new cycle alone
    return np.asarray(moves[first] - 1, np.int64)


def quiet_ps(traces: Mapping[str, DigitalTrace], resolution_ps: int) -> int:
    """How long nothing must move between two bursts: what parts the short gaps between transitions from the long
    ones best (the largest variance between the two kinds, in logarithms), three sample periods at least."""
    moves = sorted_union(*(known_transitions(t).transitions_ps for t in traces.values()))
    gaps = np.sort(np.log(np.maximum(np.diff(moves), 1)))
    if len(gaps) < _FEWEST:
        return 3 * resolution_ps
    count = np.arange(1, len(gaps))
    total = np.cumsum(gaps)
    apart = total[:-1] / count - (total[-1] - total[:-1]) / (len(gaps) - count)
    cut = int((count * (len(gaps) - count) * apart**2).argmax())
    return max(3 * resolution_ps, round(float(np.exp((gaps[cut] + gaps[cut + 1]) / 2))))


def best_count(traces: Mapping[str, DigitalTrace], resolution_ps: int, edge: str) -> str:
    """What should count the cycles where no signal ticks evenly: a strobe, else ``ANY_TRANSITION``.

    A strobe is a signal at whose edges everything else stands still, between whose edges something moves, and that has
    as many edges as any: data that move one after the other stand still for one another too, but not so often.
    """
    best = (0.7, ANY_TRANSITION)
    most = max((len(t.times_ps) for t in traces.values()), default=1)
    for name, trace in traces.items():
        edges = active_edges_ps(trace, edge)[:_MOST_EDGES]
        others = [known_transitions(t).transitions_ps for s, t in traces.items() if s != name]
        if len(edges) < _FEWEST or not others:
            continue
        moves = sorted_union(*others)
        before = count_until(moves, edges - 3 * resolution_ps - 1)
        settled = float((count_until(moves, edges + resolution_ps) == before).mean())
        busy = float((np.diff(before) > 0).mean())
        best = max(best, (settled * busy * len(trace.times_ps) / most, name))
    return best[1]


def two_phases(traces: Mapping[str, DigitalTrace], resolution_ps: int) -> str | None:
    """Two even signals of one rate that take turns, with a pause in between, as ``A+B``; None where there are none.

    Without a pause of more than two sample periods one is only the other inverted, and no second phase.
    """
    even = [c for c in clock_candidates(traces, resolution_ps) if c.regularity >= 0.9]
    for a, b in combinations(even, 2):
        if abs(a.edges - b.edges) <= 1 and abs(a.rate_hz / b.rate_hz - 1) <= 1e-3:
            first, second = traces[a.signal], traces[b.signal]
            if _takes_turns(first, second, resolution_ps) and _takes_turns(second, first, resolution_ps):
                return "+".join(sorted((a.signal, b.signal)))
    return None


def _takes_turns(first: DigitalTrace, second: DigitalTrace, resolution_ps: int) -> bool:
    """Has the first always fallen, and for more than two sample periods, when the second rises?"""
    rises = active_edges_ps(second, "rising")[:_MOST_EDGES]
    back = first.level_at(rises - 2 * resolution_ps - 1)
    return not bool(((back == HIGH) | (first.level_at(rises) == HIGH))[1:-1].any())
