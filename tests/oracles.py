"""Slow, plain ways to the same answers: each is written from the definition, without a look at the fast one."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from tracecore.capture import UNKNOWN, DigitalTrace


def level_at(trace: DigitalTrace, at_ps: int) -> int:
    """The level at one instant; unknown outside the capture."""
    if not trace.start_ps <= at_ps < trace.stop_ps:
        return UNKNOWN
    level = UNKNOWN
    for time, value in zip(trace.times_ps.tolist(), trace.levels.tolist(), strict=True):
        if time <= at_ps:
            level = value
    return level


def rising_edges(trace: DigitalTrace) -> list[int]:
    """Instants at which a trace without unknown stretches goes from low to high."""
    pairs = list(zip(trace.times_ps.tolist(), trace.levels.tolist(), strict=True))
    return [time for (_, before), (time, level) in pairwise(pairs) if (before, level) == (0, 1)]


def states(trace: DigitalTrace, edges_ps: Sequence[int], guard_ps: int) -> list[int]:
    """State in each cycle: read one guard before the next edge, undecided where it moves within a guard of that."""
    found = []
    for edge in edges_ps[1:]:
        read = edge - guard_ps
        moves = [t for t in trace.times_ps.tolist()[1:] if read - guard_ps < t <= read + guard_ps]
        outside = read - guard_ps < trace.start_ps or read + guard_ps > trace.stop_ps
        found.append(UNKNOWN if moves or outside else level_at(trace, read))
    return found


def longest_matching(
    good: Sequence[tuple[int, int]], suspect: Sequence[tuple[int, int]], tolerance_ps: int
) -> tuple[int, int]:
    """Number of pairs and total of their distances, of the matching with the greatest sum of
    (tolerance + 1 - distance). Entries are (time, level); the order is kept. The full O(n m) table."""
    table = [[(0, 0, 0)] * (len(suspect) + 1) for _ in range(len(good) + 1)]
    for i, (a, up_a) in enumerate(good, start=1):
        for j, (b, up_b) in enumerate(suspect, start=1):
            ways = [table[i - 1][j], table[i][j - 1]]
            if up_a == up_b and abs(a - b) <= tolerance_ps:
                gain, pairs, apart = table[i - 1][j - 1]
                ways.append((gain + tolerance_ps + 1 - abs(a - b), pairs + 1, apart + abs(a - b)))
            table[i][j] = max(ways)
    return table[-1][-1][1:]


def best_offset(good: np.ndarray, suspect: np.ndarray, fewest: int = 32) -> int:
    """Every offset is tried; the one with the greatest share of agreeing states wins, the longer overlap on a tie.

    ``good`` and ``suspect`` uint8[signals, cycles]; suspect cycle = good cycle + offset.
    """
    best = (-1.0, 0, 0)
    for offset in range(-good.shape[1], suspect.shape[1] + 1):
        low, high = max(0, -offset), min(good.shape[1], suspect.shape[1] - offset)
        if high - low < fewest:
            continue
        a, b = good[:, low:high], suspect[:, low + offset : high + offset]
        known = (a != UNKNOWN) & (b != UNKNOWN)
        share = float((a == b)[known].mean()) if known.any() else 0.0
        best = max(best, (share, high - low, offset))
    return best[2]


def carried(at_ps: int, edges_ps: Sequence[int], twins_ps: Sequence[int]) -> int:
    """A time carried by matched edges without averaging: as long after its edge's twin as after the edge, and never
    past the twin of the following edge; in front of the first edge as long before its twin."""
    at = max(0, bisect_right(edges_ps, at_ps) - 1)
    there = twins_ps[at] + at_ps - edges_ps[at]
    if at + 1 < len(edges_ps) and at_ps >= edges_ps[0]:
        return min(there, twins_ps[at + 1] - 1)
    return there


def difference_spans(
    good: DigitalTrace, on_good: DigitalTrace, windows: Sequence[Sequence[int]], least_ps: int
) -> list[list[int]]:
    """Spans longer than ``least_ps`` in which both levels are known and differ, looked at picosecond by picosecond."""
    spans: list[list[int]] = []
    for start, stop in windows:
        at = np.arange(start, stop)
        levels = good.level_at(at), on_good.level_at(at)
        differ = (levels[0] != levels[1]) & (levels[0] != UNKNOWN) & (levels[1] != UNKNOWN)
        for instant in at[differ].tolist():
            if spans and spans[-1][1] == instant:
                spans[-1][1] += 1
            else:
                spans.append([instant, instant + 1])
    return [span for span in spans if span[1] - span[0] > least_ps]
