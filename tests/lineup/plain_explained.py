"""One offset at a time, with one loop over its stretches: the plain routine beside ``tracecore.lineup.explained``."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tracecore.lineup.explained import (
    BEGINS,
    BLOCK,
    EVENT,
    FEWEST_CYCLES,
    LATE,
    LATE_MOST,
    LATE_SHARE,
    MOST_WRONG,
    ONCE,
    STILL,
    Explained,
    Prior,
)
from tracecore.lineup.parting import BACK, ENOUGH, FIRST_STEP, GIVE_UP, LONGER, LONGEST_STEP, OUT, PARTED, START
from tracecore.lineup.worth import Cells, Told


def plain_explained(told: Told, offset: int, prior: Prior, *, late: bool = True) -> Explained | None:
    """What ``explained`` says of one offset."""
    low, high = max(0, -offset), min(len(told.good.levels), len(told.suspect.levels) - offset)
    if high - low < FEWEST_CYCLES:
        return None
    ways = [_from(told, offset, low)]
    begins = min(told.onsets) > STILL and told.onsets[0] + offset == told.onsets[1]
    if begins:
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
    held = best.stop - best.start >= FEWEST_CYCLES
    return replace(best, begins=next((t for t in at_once if held and best.start < t <= best.stop), None))


def _from(told: Told, d: int, begin: int, start: float = START) -> Explained:
    good, suspect = told.good, told.suspect
    high = min(len(good.levels), len(suspect.levels) - d)
    signals = good.levels.shape[1]
    best, parts, faulty, broke = 0.0, begin, np.zeros(signals, np.bool_), False
    wrong = since = np.zeros(signals, np.int8)
    total, peak = np.zeros(signals, np.float32), np.zeros(signals, np.float32)
    at, step, last = begin, FIRST_STEP, 0.0
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
        back = -BACK * (never_right[:-1] == 0)
        gain = np.where(flip > 0, -OUT, np.where(flip < 0, back, worth))
        if at == begin:
            gain[0] = 0
        cum = total + np.cumsum(gain, axis=0, dtype=np.float32)
        top = np.maximum(np.maximum.accumulate(cum, axis=0), peak)
        value = np.maximum(cum, top - GIVE_UP)
        if told.seldom.any():
            for ahead in range(1, min(LONGER, len(value) - 1) + 1):
                value[:-ahead, told.seldom] = np.maximum(value[:-ahead, told.seldom], cum[ahead:, told.seldom])
        score = value.sum(1)
        lost = score < np.maximum(np.maximum.accumulate(score), best) - PARTED
        broke = bool(lost.any())
        i = int(score[: max(1, int(lost.argmax())) if broke else None].argmax())
        if score[i] > best:
            best, parts, faulty = float(score[i]), at + i + 1, cum[i] <= top[i] - GIVE_UP
        total, peak, wrong, since, last = cum[-1], top[-1], e[-1], never_right[-1], float(score[-1])
        at, step = stop, min(2 * step, LONGEST_STEP)
    ends = not broke and last >= best - OUT
    return Explained(d, best, best, begin, None if ends else parts, 0, tuple(np.flatnonzero(faulty).tolist()))


def _both_known(good: Cells, suspect: Cells, at: int, stop: int, d: int) -> NDArray[np.bool_] | None:
    if good.known is None:
        return None if suspect.known is None else suspect.known[at + d : stop + d]
    own = good.known[at:stop]
    return own if suspect.known is None else own & suspect.known[at + d : stop + d]


def _late_start(told: Told, d: int, low: int, high: int) -> int | None:
    count = (high - low) // BLOCK
    if count < 3:
        return None
    stop = low + count * BLOCK
    e = told.good.levels[low:stop] != told.suspect.levels[low + d : stop + d]
    flip = np.zeros(e.shape, np.bool_)
    flip[1:] = e[1:] != e[:-1]
    if (known := _both_known(told.good, told.suspect, low, stop, d)) is not None:
        flip[1:] &= known[1:] & known[:-1]
    bad = flip.reshape(count, BLOCK, -1).any(1).mean(1) > MOST_WRONG
    worth = told.good.worth[low:stop].sum(1) + told.suspect.worth[low + d : stop + d].sum(1)
    run = np.cumsum(bad)
    sums = np.bincount(run, np.where(bad, 0, worth.reshape(count, BLOCK).sum(1)))
    if sums.max() <= 0:
        return None
    first = int(np.flatnonzero(run == sums.argmax())[0])
    first += int(bad[first])
    return low + first * BLOCK if first else None
