"""Levels outside the family's limits, of both sides, by good cycle."""

from __future__ import annotations

import numpy as np

from tracecore.compare.findings import LevelViolation, Side
from tracecore.lineup.lineup import Lineup, TimeMap
from tracecore.lineup.runs import runs_table
from tracecore.measure.levels import LevelEvent


def violations_by_cycle(
    good: tuple[LevelEvent, ...], suspect: tuple[LevelEvent, ...], lineup: Lineup
) -> tuple[LevelViolation, ...]:
    """Each side's events; their ``cycle`` is None outside what is matched."""
    if not good and not suspect:
        return ()
    timemap, runs = TimeMap(lineup), runs_table(lineup.runs)
    starts, stops = runs[:, 0], runs[:, 0] + runs[:, 2]
    rows: list[LevelViolation] = []
    sides: tuple[tuple[Side, tuple[LevelEvent, ...]], ...] = (("good", good), ("suspect", suspect))
    for side, events in sides:
        if not events:
            continue
        at = np.array([e.start_ps for e in events], np.int64)
        on_good = at if side == "good" else timemap.to_good_ps(at)
        cycle = lineup.good_edges_ps.searchsorted(on_good, side="right") - 1
        if len(starts):
            # what begins before the first matched cycle and lasts into it is seen there first
            ends = np.array([e.stop_ps for e in events], np.int64)
            last = lineup.good_edges_ps.searchsorted(ends if side == "good" else timemap.to_good_ps(ends)) - 1
            cycle = np.where((cycle < starts[0]) & (last >= starts[0]), starts[0], cycle)
        run = starts.searchsorted(cycle, side="right") - 1
        # without a line-up no cycle is matched
        inside_run = (run >= 0) & (cycle < stops[np.maximum(run, 0)]) if len(stops) else np.zeros(len(at), np.bool_)
        for event, k, inside in zip(events, cycle.tolist(), inside_run.tolist(), strict=True):
            rows.append(
                LevelViolation(
                    event.kind,
                    side,
                    event.start_ps,
                    event.stop_ps,
                    event.volts,
                    event.limit_v,
                    int(k) if inside else None,
                )
            )
    return tuple(rows)


_DEEPER, _DEEPER_V = 1.5, 0.2
"""How much further than the good side's furthest a level must go to be another one: as a ratio, and in volts at least,
which is more than the steps of a scope (8 bits over 10 V are 40 mV) and its noise. Chosen here."""
_DEEP_KINDS = ("weak low", "weak high", "below ground", "above maximum")


def new_violations(rows: tuple[LevelViolation, ...]) -> tuple[LevelViolation, ...]:
    """The suspect's violations of the kinds that the good side shows less than a third as often, and of the other kinds
    those that go clearly further beyond the limit than any that the good side shows."""
    count = {"good": {}, "suspect": {}}  # type: dict[str, dict[str, int]]
    furthest: dict[str, float] = {}
    for row in rows:
        count[row.side][row.kind] = count[row.side].get(row.kind, 0) + 1
        if row.side == "good":
            furthest[row.kind] = max(furthest.get(row.kind, 0.0), _depth_v(row))
    kinds = {k for k, n in count["suspect"].items() if n > 3 * count["good"].get(k, 0)}

    def fresh(row: LevelViolation) -> bool:
        if row.kind in kinds:
            return True
        usual = furthest.get(row.kind, 0.0)
        return row.kind in _DEEP_KINDS and _depth_v(row) > max(_DEEPER * usual, usual + _DEEPER_V)

    return tuple(r for r in rows if r.side == "suspect" and r.cycle is not None and fresh(r))


def _depth_v(row: LevelViolation) -> float:
    """How far beyond the limit it goes."""
    return abs(row.volts - row.limit_v)
