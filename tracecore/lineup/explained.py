"""How much of both captures an offset explains: the same up to a parting point, and anything behind it.

Where two captures part is told by ``parting``. Here is where they may begin to go together, and what speaks for each
such start.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from tracecore.lineup.parting import START, Begin, Parting, partings
from tracecore.lineup.worth import Told

FEWEST_CYCLES = 8
"""With fewer common cycles than this no offset is believed."""
BEGINS = 14.0  # bits that speak for a start from standing still on both sides: the prior of that alone
EVENT, ONCE = 12.0, 2.0  # bits that a start at an event in the middle costs; where both sides show it once
LATE, LATE_SHARE, LATE_MOST = 12.0, 0.1, 30.0  # agreement that begins anywhere else is worth little
STILL = 2  # cycles that both stand still before a common start
BLOCK = 16  # cycles of the blocks in which such agreement is sought
MOST_WRONG = 0.15  # share of the signals that may begin or cease to differ in a block that agrees


@dataclass(frozen=True, slots=True)
class Explained:
    """One offset, suspect cycle = good cycle + ``offset``. ``bits`` speak for it from good cycle ``start`` up to
    ``parts`` (open; None where the two agree to the end of the overlap). ``score`` is less the prior. ``faulty`` are
    signals, by bit, that are wrong by themselves. ``late``: the agreement begins behind the start of the overlap.
    ``common``: both sides stand still and then begin to move at the same cycle. ``begins`` is that good cycle, or that
    of an event which both sides show once, such as the reset's release; None without one in what agrees."""

    offset: int
    score: float
    bits: float
    start: int
    parts: int | None
    overlap: int
    faulty: tuple[int, ...] = ()
    late: bool = False
    common: bool = False
    begins: int | None = None

    @property
    def stop(self) -> int:
        """The good cycle at which the agreement ends (open)."""
        return max(0, -self.offset) + self.overlap if self.parts is None else self.parts


@dataclass(frozen=True, slots=True)
class Prior:
    """A common start is likelier than a far one: ``bits`` for each doubling of the offset beyond ``near`` cycles."""

    bits: float
    near: float

    def of(self, offset: int) -> float:
        """Bits against an offset."""
        return self.bits * float(np.log2(1 + abs(offset) / self.near))


ANY_START = Prior(1.5, 16.0)
SAME_START = Prior(8.0, 2.0)
"""Both captures were triggered by the same event: cycles apart, not hundreds."""


def explained(told: Told, offsets: Iterable[int], prior: Prior, *, late: bool = True) -> dict[int, Explained | None]:
    """Judges offsets: from the start of the overlap, from a seldom event that falls together (a reset starts both
    anew), or, with ``late``, from where most signals begin to agree; the best of them. None with too little overlap.
    """
    judged = {d: _Judged(told, d) for d in offsets}
    found = iter(partings(told, [begin for one in judged.values() for begin in one.begins]))
    for one in judged.values():
        one.take(found)
    if late:
        starts = {d: one.late_start() for d, one in judged.items()}
        begins = [Begin(d, start) for d, start in starts.items() if start is not None]
        for begin, way in zip(begins, partings(told, begins), strict=True):
            judged[begin.offset].take_late(begin, way)
    return {d: one.best(prior) for d, one in judged.items()}


class _Way(NamedTuple):
    """What was found from good cycle ``start`` on, and how well it scores before the prior."""

    score: float
    start: int
    found: Parting
    late: bool = False


class _Judged:
    """One offset while it is judged: where both may ``begin`` to go together, and the ways that were found."""

    def __init__(self, told: Told, offset: int) -> None:
        self.told, self.offset = told, offset
        self.low, self.high = max(0, -offset), min(len(told.good.levels), len(told.suspect.levels) - offset)
        self.begins: list[Begin] = []
        self.ways: list[_Way] = []
        self.common, self.at_once = False, list[int]()
        if self.high - self.low < FEWEST_CYCLES:
            return
        self.begins.append(Begin(offset, self.low))
        self.common = min(told.onsets) > STILL and told.onsets[0] + offset == told.onsets[1]
        if self.common:
            # how registers come up before a reset is chance, so that nothing is held against a start there
            self.begins.append(Begin(offset, told.onsets[0] - 1, 0.0))
        shared = told.events[0] & {(u - offset, i) for u, i in told.events[1]} if told.events[0] else ()
        self.at_once = sorted({t for t, i in shared if told.once[i]})
        within = sorted({t for t, _ in shared if self.low + 1 < t <= self.high - FEWEST_CYCLES})
        self.begins += [Begin(offset, t - 1, 0.0 if t in self.at_once else START) for t in within]

    def take(self, found: Iterator[Parting]) -> None:
        """Takes what was found for each of the ``begins``, in their order."""
        for number, begin in enumerate(self.begins):
            way = next(found)
            if number > self.common:
                score = way.bits - (EVENT if begin.start else ONCE)
            elif self.common:
                score = way.bits + BEGINS
            else:
                score = way.bits
            self.ways.append(_Way(score, begin.cycle, way))
        if self.common and (whole := self.ways[0].found.parts) is not None and whole <= self.told.onsets[0]:
            del self.ways[0]

    def late_start(self) -> int | None:
        """Where to begin once more, as too little speaks for any other start; None for nowhere."""
        if not self.ways or self.common or max(w.found.bits for w in self.ways) >= 3 * LATE:
            return None
        return _late_start(self.told, self.offset, self.low, self.high)

    def take_late(self, begin: Begin, found: Parting) -> None:
        """Takes what was found from a late start on."""
        self.ways.append(_Way(min(LATE_SHARE * found.bits - LATE, LATE_MOST), begin.cycle, found, late=True))

    def best(self, prior: Prior) -> Explained | None:
        """The way with the highest score."""
        if not self.ways:
            return None
        score, start, (bits, parts, faulty), late = max(self.ways, key=lambda w: w.score)
        stop = self.high if parts is None else parts
        common, begins = self.common and start < self.told.onsets[0] <= stop, None
        if common:
            begins = self.told.onsets[0]
        elif stop - start >= FEWEST_CYCLES:  # an event with next to nothing round it may fall together by chance
            begins = next((t for t in self.at_once if start < t <= stop), None)
        score -= prior.of(self.offset)
        return Explained(self.offset, score, bits, start, parts, self.high - self.low, faulty, late, common, begins)


def _late_start(told: Told, d: int, low: int, high: int) -> int | None:
    """The good cycle, behind the start of the overlap, from which on blocks agree on most signals for the most bits."""
    count = (high - low) // BLOCK
    if count < 3:
        return None
    stop = low + count * BLOCK
    good, suspect = told.good.words.part(low, stop), told.suspect.words.part(low + d, stop + d)
    e = good.levels ^ suspect.levels
    flip = np.zeros_like(e)
    np.bitwise_xor(e[1:], e[:-1], out=flip[1:])
    for side in (good, suspect):
        if side.undecided is not None:
            flip[1:] &= ~(side.undecided[1:] | side.undecided[:-1])
    flipped = np.bitwise_count(np.bitwise_or.reduce(flip.reshape(count, BLOCK), axis=1))
    bad = flipped / told.good.levels.shape[1] > MOST_WRONG
    worth = told.good.worth_of_all[low:stop] + told.suspect.worth_of_all[low + d : stop + d]
    run = np.cumsum(bad)
    sums = np.bincount(run, np.where(bad, 0, worth.reshape(count, BLOCK).sum(1)))
    if sums.max() <= 0:
        return None
    first = int(np.flatnonzero(run == sums.argmax())[0])
    first += int(bad[first])
    return low + first * BLOCK if first else None
