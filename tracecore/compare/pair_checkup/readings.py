"""What each lead of either side reads in some cycles of a pair, spread over the whole line-up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import HIGH, LOW, UNKNOWN, DigitalTrace, Int64, UInt8, sorted_union
from tracecore.compare.findings import Side
from tracecore.lineup.lineup import MatchedRun
from tracecore.measure.clock import cycle_states

Floats = NDArray[np.float64]

MOST_CYCLES = 1 << 16
"""So many cycles are looked at, in blocks over the whole line-up; more would not say more."""

FEWER_CYCLES = 1 << 14
"""So many are enough to look for what the leads may be where nothing lines up by name."""

_BLOCK = 512
_TRANSITIONS = 256  # of each trace, so that a signal that moves rarely is seen to move


@dataclass(frozen=True, slots=True, eq=False)
class Readings:
    """``good`` uint8[S, N] and ``suspect`` uint8[S, N]: 0, 1, or 2 where undecided, of ``signals`` in good cycles
    ``cycles`` int64[N], increasing."""

    signals: tuple[str, ...]
    good: UInt8
    suspect: UInt8
    cycles: Int64

    def live(self) -> NDArray[np.bool_]:
        """Signals that show both levels on both sides: bool[S]."""
        return self.moving("good") & self.moving("suspect")

    def live_throughout(self) -> NDArray[np.bool_]:
        """Signals that show both levels on both sides in either half of the cycles: bool[S]."""
        half = len(self.cycles) // 2
        late = Readings(self.signals, self.good[:, half:], self.suspect[:, half:], self.cycles[half:])
        return np.asarray(self.first(0.5).live() & late.live())

    def moving(self, side: Side) -> NDArray[np.bool_]:
        """Signals that show both levels on one side: bool[S]."""
        states = self.good if side == "good" else self.suspect
        return np.asarray((states == LOW).any(1) & (states == HIGH).any(1))

    def first(self, share: float) -> Readings:
        """The first part of the cycles."""
        n = max(1, int(len(self.cycles) * share))
        return Readings(self.signals, self.good[:, :n], self.suspect[:, :n], self.cycles[:n])

    def agreement(self) -> Floats:
        """Share of the cycles decided on both sides in which suspect i reads as good j: float[S, S], 0.5 if none."""
        good, suspect = _packed(self.good == HIGH), _packed(self.suspect == HIGH)
        good_known, suspect_known = _packed(self.good != UNKNOWN), _packed(self.suspect != UNKNOWN)
        out = np.full((len(self.signals), len(self.signals)), 0.5)
        for i in range(len(self.signals)):
            known = good_known & suspect_known[i]
            both = np.bitwise_count(known).sum(1, dtype=np.int64)
            apart = np.bitwise_count((good ^ suspect[i]) & known).sum(1, dtype=np.int64)
            out[i] = np.where(both > 0, 1 - apart / np.maximum(both, 1), 0.5)
        return out

    def beyond_chance(self) -> Floats:
        """Agreement beyond what unrelated signals of the same shares would show: float[S, S], 1 alike, -1 opposite."""
        p, q = _high_share(self.suspect), _high_share(self.good)
        chance = np.outer(p, q) + np.outer(1 - p, 1 - q)
        agree = self.agreement()
        room = np.where(agree >= chance, 1 - chance, chance)
        return np.asarray((agree - chance) / np.maximum(room, 1e-9), np.float64)


def _packed(rows: NDArray[np.bool_]) -> NDArray[np.uint64]:
    """64 cycles in a word, the last one filled up with zeros: a tenth of the work of counting cycle by cycle."""
    lines = np.packbits(rows, axis=1)
    full = np.zeros((len(lines), -(-lines.shape[1] // 8) * 8), np.uint8)
    full[:, : lines.shape[1]] = lines
    return full.view(np.uint64)


def _high_share(states: UInt8) -> Floats:
    return np.asarray((states == HIGH).sum(1) / np.maximum((states != UNKNOWN).sum(1), 1), np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class TwoSides:
    """The traces of both sides by signal, without the clocks, and one sample period of each."""

    good: Mapping[str, DigitalTrace]
    suspect: Mapping[str, DigitalTrace]
    good_step_ps: int
    suspect_step_ps: int

    @property
    def signals(self) -> tuple[str, ...]:
        """Those that both sides have."""
        return tuple(s for s in self.good if s in self.suspect)

    def read(
        self, good_edges_ps: Int64, suspect_edges_ps: Int64, runs: Sequence[MatchedRun], most: int = MOST_CYCLES
    ) -> Readings:
        """Reads every lead in chosen cycles of the runs, about ``most`` of them."""
        chosen, ahead = self._chosen(good_edges_ps, runs, most)
        rows = []
        for traces, edges, at, step in (
            (self.good, good_edges_ps, chosen, self.good_step_ps),
            (self.suspect, suspect_edges_ps, chosen + ahead, self.suspect_step_ps),
        ):
            # a state is read before the edge that ends its cycle: only those edges are handed on
            ends = np.concatenate((edges[:1], edges[at + 1]))
            states = [cycle_states(traces[s], ends, step) for s in self.signals]
            rows.append(np.array(states, np.uint8).reshape(len(self.signals), len(chosen)))
        return Readings(self.signals, rows[0], rows[1], chosen)

    def states(self, good_edges_ps: Int64, suspect_edges_ps: Int64) -> tuple[UInt8, UInt8]:
        """States of every lead in all cycles, uint8[S, N] and uint8[S, M], whichever of them pair."""
        rows = [
            [cycle_states(traces[s], edges, step) for s in self.signals]
            for traces, edges, step in (
                (self.good, good_edges_ps, self.good_step_ps),
                (self.suspect, suspect_edges_ps, self.suspect_step_ps),
            )
        ]
        return np.array(rows[0], np.uint8), np.array(rows[1], np.uint8)

    def _chosen(self, edges_ps: Int64, runs: Sequence[MatchedRun], most: int) -> tuple[Int64, Int64]:
        """Good cycles to look at, and how far the suspect's numbering runs ahead in each."""
        cycles, ahead = [], []
        total = sum(r.length for r in runs)
        for run in runs:
            part = _spread(run.length, max(_BLOCK, most * run.length // max(1, total))) + run.good_start
            if len(part) < run.length:
                stop = run.good_start + run.length
                near = [self._near_transitions(t, edges_ps, run.good_start, stop) for t in self.good.values()]
                part = sorted_union(part, *near)
            cycles.append(part)
            ahead.append(np.full(len(part), run.suspect_start - run.good_start, np.int64))
        return np.concatenate(cycles), np.concatenate(ahead)

    @staticmethod
    def _near_transitions(trace: DigitalTrace, edges_ps: Int64, start: int, stop: int) -> Int64:
        at = trace.transitions_ps
        at = at[:: max(1, len(at) // _TRANSITIONS)]
        cycle = edges_ps.searchsorted(at, "right") - 1
        near = np.unique(np.concatenate((cycle - 1, cycle)))
        return np.asarray(near[(near >= start) & (near < stop)], np.int64)


def _spread(length: int, most: int) -> Int64:
    """``most`` of ``length`` cycles in blocks from the first on to the last; all where there are no more."""
    if length <= most:
        return np.arange(length, dtype=np.int64)
    blocks = max(2, most // _BLOCK)
    starts = np.linspace(0, length - _BLOCK, blocks).astype(np.int64)
    return np.unique((starts[:, None] + np.arange(_BLOCK)).ravel())
