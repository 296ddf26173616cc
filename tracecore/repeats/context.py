"""In what circumstances a cycle happens: the states of a few steady signals that tell where others vary.

A floating bus is the case in point. Its enable never varies among good captures, and splits the cycles into those in
which the bus floats and those in which it is driven. Such a signal is found by what it spares: taken into the
context, it must leave clearly fewer cycles forgiven than a signal would that has nothing to do with it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64, UInt8
from tracecore.measure.chance import RARE, chance_bound, episodes

MOST_SIGNALS = 8
_GAIN = 0.9
_SAMPLE = 200_000
_SHOWN = 3
_MOST_LET_OFF = 0.5
_STATES = ("0", "1", "undecided")

Bools = NDArray[np.bool_]
Cycles = NDArray[np.integer[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class Context:
    """``of_cycle`` int64[K]: the number of each cycle's context, 0 to C - 1; ``states`` uint8[C, len(signals)] what
    the signals read in it. Without signals all cycles are of one context, and nothing is said of it."""

    signals: tuple[str, ...]
    of_cycle: Int64
    states: UInt8

    def seen_at(self, cycles: Cycles) -> Bools:
        """The contexts of these cycles as bool[C]; none where there is no signal to tell contexts apart."""
        seen = np.zeros(len(self.states), np.bool_)
        if self.signals:
            seen[self.of_cycle[cycles]] = True
        return seen

    def sizes(self, compared: Bools) -> Int64:
        """How many of the cycles that are ``compared`` bool[K] are of each context: int64[C]."""
        return np.bincount(self.of_cycle[compared], minlength=len(self.states)).astype(np.int64)

    def words(self, which: Bools) -> str:
        """Some contexts in words: ``BEN=0 SEQ1=1, or BEN=0 SEQ1=0``, the first three of them."""
        at = np.flatnonzero(which)
        rows = [
            " ".join(f"{s}={_STATES[v]}" for s, v in zip(self.signals, self.states[i].tolist(), strict=True))
            for i in at[:_SHOWN]
        ]
        more = f", or {len(at) - _SHOWN} more" if len(at) > _SHOWN else ""
        return ", or ".join(rows) + more


def choose_context(steady: Mapping[str, UInt8], cycles: int, varying: Mapping[str, Cycles]) -> Context:
    """Picks context signals from the ``steady`` ones (states uint8[K]) for those seen ``varying`` in some cycles [N].

    One after the other the signal is taken that leaves the fewest cycles forgiven, as long as these are less than
    nine tenths of what stands now, and of what splitting the cycles at random would leave.
    """
    chosen: list[str] = []
    ids, labels = np.zeros(cycles, np.int64), np.empty((1, 0), np.uint8)
    moving = {s: row for s, row in steady.items() if len(row) and row.min() != row.max()}
    sample = _sample(cycles)
    while varying and len(chosen) < MOST_SIGNALS and moving:
        stands = [_Stand.of(ids, cycles) for cycles in varying.values()]
        sized = ids[sample] * 3
        weighed = [(_weigh(sized, row[sample], row, stands), signal) for signal, row in moving.items()]
        (left, chance, now), best = min(weighed, key=lambda w: (w[0][0], w[1]))
        if left > _GAIN * min(now, chance):
            break
        chosen.append(best)
        joined = ids * 3 + moving.pop(best)
        kept = np.flatnonzero(np.bincount(joined, minlength=3 * len(labels)))
        number = np.zeros(3 * len(labels), np.int64)
        number[kept] = np.arange(len(kept))
        ids = number[joined]
        labels = np.column_stack((labels[kept // 3], (kept % 3).astype(np.uint8)))
    ids.flags.writeable = False
    labels.flags.writeable = False
    return Context(tuple(chosen), ids, labels)


@dataclass(frozen=True, slots=True, eq=False)
class _Stand:
    """Where one varying signal stands: its ``cycles`` and three times the context of each, both of the type that numpy
    indexes by, intp[N], and how many of its cycles are in each context, int64[C]."""

    cycles: NDArray[np.intp]
    at: NDArray[np.intp]
    hits: Int64

    @staticmethod
    def of(ids: Int64, cycles: Cycles) -> _Stand:
        """The same for every signal that is weighed."""
        own = ids[cycles]
        return _Stand(cycles.astype(np.intp), own * 3, np.bincount(own, minlength=int(ids.max()) + 1))


def _sample(cycles: int) -> Int64 | slice:
    """The cycles by which a capture is sized up: all, or of a long one some that are drawn, the same each time. Every
    fourth would all be in one step of a machine that takes four."""
    if cycles < 2 * _SAMPLE:
        return slice(None)
    return np.sort(np.random.default_rng(cycles).integers(0, cycles, _SAMPLE))


def _weigh(sized: Int64, sampled: UInt8, row: UInt8, stands: Sequence[_Stand]) -> tuple[float, float, float]:
    """How many cells would be forgiven with the signal, how many with an unrelated one that splits the cycles in the
    same proportions, and how many are without it. ``sized`` is three times the context of each cycle by which the
    capture is sized up, ``sampled`` what the signal is there."""
    contexts = len(stands[0].hits)
    fine = np.bincount(sized + sampled, minlength=3 * contexts).astype(np.float64)
    coarse = fine.reshape(-1, 3).sum(1)
    part = fine / np.maximum(np.repeat(coarse, 3), 1)
    left = chance = now = 0.0
    for stand in stands:
        seen = np.zeros(3 * contexts, np.bool_)
        seen[stand.at + row[stand.cycles]] = True
        left += fine[seen].sum()
        now += coarse[stand.hits > 0].sum()
        chance += float((fine * (1 - (1 - part) ** np.repeat(stand.hits, 3))).sum())
    return left, chance, now


def loose_contexts(varying: Cycles, context: Context, sizes: Int64) -> Bools:
    """The contexts in which a signal that varies in these cycles does so more often than chance puts it there: bool[C].
    None where there is no signal to tell contexts apart, or where they would let off more than half of all cycles.
    ``sizes`` int64[C] is how many of the compared cycles are of each context.

    That is a test of each context, at a level divided by their number (O. J. Dunn, Journal of the American Statistical
    Association 56, 1961), and again without those found, since they hide weaker ones.
    """
    none = np.zeros(len(context.states), np.bool_)
    compared = int(sizes.sum())
    if not context.signals or not len(varying) or not compared:
        return none
    hits = np.bincount(context.of_cycle[episodes(varying)], minlength=len(none))
    loose, found = none, True
    while found:
        left = max(1, int(sizes[~loose].sum()))
        chance = chance_bound(np.where(loose, 0, hits), int(hits[~loose].sum()), np.where(loose, 1.0, sizes / left))
        more = ~loose & (chance * len(none) < RARE)
        found = bool(more.any())
        loose = loose | more
    return loose if float(sizes[loose].sum()) <= _MOST_LET_OFF * compared else none
