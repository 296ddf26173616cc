"""How much of both captures one offset explains: the same up to a parting point, and anything behind it.

Let e be where the two differ under an offset, signal by signal. What stays as it is earns its worth, so that a signal
that is inverted throughout agrees as well as a sound one. A signal that goes wrong costs ``OUT``, one that comes right
again ``BACK``: about the bits that say which signal does so, and when. One that is wrong too often is faulty by itself
and neither earns nor costs any more. The parting point is where the sum over all signals stands highest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tracecore.lineup.state_words import Bools
from tracecore.lineup.worth import Cells, Floats32, Told

# Tried on draws of their own; half or twice of each moves few answers.
OUT, BACK, START = 8.0, 3.0, 2.0  # bits: a signal goes wrong, comes right again, is wrong in the first cycle
GIVE_UP = 14.0  # bits that saying "this signal is faulty by itself" costs
PARTED = 45.0  # bits lost since the best place: the two have parted
ENOUGH = 4000.0  # bits beyond which nothing more need be counted
LONGER = 8  # cycles by which a seldom signal may go on agreeing behind the others
FEWEST_CYCLES = 8
"""With fewer common cycles than this no offset is believed."""
BEGINS = 14.0  # bits that speak for a start from standing still on both sides: the prior of that alone
EVENT, ONCE = 12.0, 2.0  # bits that a start at an event in the middle costs; where both sides show it once
LATE, LATE_SHARE, LATE_MOST = 12.0, 0.1, 30.0  # agreement that begins anywhere else is worth little
STILL = 2  # cycles that both stand still before a common start
BLOCK = 16  # cycles of the blocks in which such agreement is sought


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


def explained(told: Told, offset: int, prior: Prior, *, late: bool = True) -> Explained | None:
    """Judges one offset: from the start of the overlap, from a seldom event that falls together (a reset starts both
    anew), or, with ``late``, from where most signals begin to agree; the best of them. None with too little overlap.
    """
    low, high = max(0, -offset), min(len(told.good.levels), len(told.suspect.levels) - offset)
    if high - low < FEWEST_CYCLES:
        return None
    ways = [_from(told, offset, low)]
    begins = min(told.onsets) > STILL and told.onsets[0] + offset == told.onsets[1]
    if begins:
        # how registers come up before a reset is chance, so that nothing is held against a start there
        way = _from(told, offset, told.onsets[0] - 1, 0.0)
        whole = [ways[0]] if ways[0].parts is None or ways[0].parts > told.onsets[0] else []
        ways = [replace(w, score=w.score + BEGINS) for w in (*whole, way)]
    shared = told.events[0] & {(u - offset, i) for u, i in told.events[1]} if told.events[0] else ()
    at_once = sorted({t for t, i in shared if told.once[i]})
    for t in sorted({t for t, _ in shared if low + 1 < t <= high - FEWEST_CYCLES}):
        once = t in at_once
        way = _from(told, offset, t - 1, 0.0 if once else START)
        ways.append(replace(way, score=way.bits - (ONCE if once else EVENT)))
    if (
        late
        and not begins
        and max(w.bits for w in ways) < 3 * LATE
        and (start := _late_start(told, offset, low, high)) is not None
    ):
        way = _from(told, offset, start)
        ways.append(replace(way, score=min(LATE_SHARE * way.bits - LATE, LATE_MOST), late=True))
    best = max(ways, key=lambda w: w.score)
    best = replace(best, score=best.score - prior.of(offset), overlap=high - low)
    if begins and best.start < told.onsets[0] <= best.stop:
        return replace(best, common=True, begins=told.onsets[0])
    # an event with next to nothing round it may fall together by chance
    held = best.stop - best.start >= FEWEST_CYCLES
    return replace(best, begins=next((t for t in at_once if held and best.start < t <= best.stop), None))


def _from(told: Told, d: int, begin: int, start: float = START) -> Explained:
    """Bits from good cycle ``begin`` to the best parting point."""
    good, suspect = told.good, told.suspect
    high = min(len(good.levels), len(suspect.levels) - d)
    signals = good.levels.shape[1]
    best, parts, faulty, broke = 0.0, begin, np.zeros(signals, np.bool_), False
    wrong = since = np.zeros(signals, np.int8)
    total, peak = np.zeros(signals, np.float32), np.zeros(signals, np.float32)
    at, step, last = begin, 48, 0.0
    while at < high and not broke and best < ENOUGH:
        stop = min(high, at + step)
        worth = (good.worth[at:stop] + suspect.worth[at + d : stop + d]) / 2
        e = (good.levels[at:stop] != suspect.levels[at + d : stop + d]).view(np.int8)
        known = _both_known(good, suspect, at, stop, d)
        if at == begin:
            wrong = e[0] if known is None else e[0] & known[0]
            since, total = wrong, (-start * wrong).astype(np.float32)
        e = np.concatenate((wrong[None], e))
        if known is not None and not known.all():
            worth *= known
            held = np.where(known, np.arange(1, len(e))[:, None], 0)
            e[1:] = np.take_along_axis(e, np.maximum.accumulate(held, axis=0), 0)
        flip = np.diff(e, axis=0)
        never_right = np.minimum.accumulate(np.concatenate((since[None], e[1:])), axis=0)
        # what was wrong from the start on is how the parts came up: that it comes right costs nothing
        back = -BACK * (never_right[:-1] == 0)
        gain = np.where(flip > 0, -OUT, np.where(flip < 0, back, worth))
        if at == begin:
            gain[0] = 0  # what came before it is not in both
        cum = total + np.cumsum(gain, axis=0, dtype=np.float32)
        top = np.maximum(np.maximum.accumulate(cum, axis=0), peak)
        value = np.maximum(cum, top - GIVE_UP)
        _prolong(value, cum, told.seldom)
        score = value.sum(1)
        lost = score < np.maximum(np.maximum.accumulate(score), best) - PARTED
        broke = bool(lost.any())
        i = int(score[: max(1, int(lost.argmax())) if broke else None].argmax())
        if score[i] > best:
            best, parts, faulty = float(score[i]), at + i + 1, cum[i] <= top[i] - GIVE_UP
        total, peak, wrong, since, last = cum[-1], top[-1], e[-1], never_right[-1], float(score[-1])
        at, step = stop, min(2 * step, 1 << 13)
    ends = not broke and last >= best - OUT
    return Explained(d, best, best, begin, None if ends else parts, 0, tuple(np.flatnonzero(faulty).tolist()))


def _prolong(value: Floats32, cum: Floats32, seldom: Bools) -> None:
    """A seldom signal may agree a few cycles longer than the rest: what it earns there counts as well."""
    if seldom.any():
        for ahead in range(1, min(LONGER, len(value) - 1) + 1):
            value[:-ahead, seldom] = np.maximum(value[:-ahead, seldom], cum[ahead:, seldom])


def _both_known(good: Cells, suspect: Cells, at: int, stop: int, d: int) -> Bools | None:
    """Which states are decided on both sides: bool[T, L], or None for all."""
    if good.known is None:
        return None if suspect.known is None else suspect.known[at + d : stop + d]
    own = good.known[at:stop]
    return own if suspect.known is None else own & suspect.known[at + d : stop + d]


def _late_start(told: Told, d: int, low: int, high: int) -> int | None:
    """The good cycle, behind the start of the overlap, from which on blocks agree on most signals for the most bits."""
    count = (high - low) // BLOCK
    if count < 3:
        return None
    stop = low + count * BLOCK
    e = told.good.levels[low:stop] != told.suspect.levels[low + d : stop + d]
    flip = np.zeros(e.shape, np.bool_)
    flip[1:] = e[1:] != e[:-1]
    if (known := _both_known(told.good, told.suspect, low, stop, d)) is not None:
        flip[1:] &= known[1:] & known[:-1]
    bad = flip.reshape(count, BLOCK, -1).any(1).mean(1) > 0.15
    worth = told.good.worth[low:stop].sum(1) + told.suspect.worth[low + d : stop + d].sum(1)
    run = np.cumsum(bad)
    sums = np.bincount(run, np.where(bad, 0, worth.reshape(count, BLOCK).sum(1)))
    if sums.max() <= 0:
        return None
    first = int(np.flatnonzero(run == sums.argmax())[0])
    first += int(bad[first])
    return low + first * BLOCK if first else None
