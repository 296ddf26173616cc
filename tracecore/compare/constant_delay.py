"""By how much a signal is late or early throughout: the distance that most of its transitions have."""

from __future__ import annotations

import numpy as np

from tracecore.capture import Int64, UInt8

_PIECES = 8
_CLEAR_SHARE = 0.5


def constant_delay_ps(
    good_ps: Int64,
    good_levels: UInt8,
    suspect_ps: Int64,
    suspect_levels: UInt8,
    tolerance_ps: int,
    furthest_ps: int,
    most: int = 20_000,
) -> tuple[int, int]:
    """The delay of the whole signal, 0 unless another one pairs clearly more transitions; and modulo what it is known.

    All distances between equal polarities up to ``furthest_ps`` are counted; the fullest stretch of one tolerance wins
    if it holds at least half as many again as the stretch round 0, at least 8, and half of the transitions of the side
    that has fewer of them, and if 0 wins in no part of the signal: what begins halfway is no constant delay. The second
    number is 0 where one delay alone fits.
    """
    if len(good_ps) < 8 or len(suspect_ps) < 8:
        return 0, 0
    distance, origin = _distances(good_ps, good_levels, suspect_ps, suspect_levels, furthest_ps, most)
    if not len(distance):
        return 0, 0
    within = distance.searchsorted(distance + tolerance_ps, "right") - np.arange(len(distance))
    at_zero = slice(*distance.searchsorted((-tolerance_ps, tolerance_ps + 1), "left").tolist())
    # of equally full stretches the one nearest to 0: a periodic signal is known only modulo its period
    full = np.flatnonzero(within >= 0.98 * within.max())
    best = int(full[np.argmin(np.abs(distance[full]))])
    there = slice(best, best + int(within[best]))
    step = max(1, len(good_ps) // most)
    fewest = max(8, _CLEAR_SHARE * min(len(good_ps), len(suspect_ps)) / step, 1.5 * (at_zero.stop - at_zero.start))
    if there.stop - best < fewest:
        return 0, 0
    pieces = [np.bincount(origin[s] * _PIECES // len(good_ps), minlength=_PIECES) for s in (at_zero, there)]
    if ((pieces[0] >= 8) & (pieces[0] > 1.5 * pieces[1])).any():
        return 0, 0
    delay = int(np.median(distance[there]))
    apart = np.abs(distance[full] - distance[best])
    others = apart[apart > 2 * tolerance_ps]
    return delay, int(others.min()) if len(others) else 0


def _distances(
    good_ps: Int64, good_levels: UInt8, suspect_ps: Int64, suspect_levels: UInt8, furthest_ps: int, most: int
) -> tuple[Int64, Int64]:
    """Suspect minus good for transitions of equal polarity, sorted, and which good one each belongs to; for ``most``
    good transitions of either polarity, spread over all."""
    step = max(1, len(good_ps) // most)
    distances, origins = [], []
    for level in (0, 1):
        chosen = np.flatnonzero(good_levels == level)[::step]
        a = good_ps[chosen]
        first = suspect_ps.searchsorted(a - furthest_ps, "left")
        count = np.minimum(suspect_ps.searchsorted(a + furthest_ps, "right") - first, 128)
        partner = np.repeat(first, count) + np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
        same = suspect_levels[partner] == level
        distances.append((suspect_ps[partner] - np.repeat(a, count))[same])
        origins.append(np.repeat(chosen, count)[same])
    distance, origin = np.concatenate(distances), np.concatenate(origins)
    order = np.argsort(distance, kind="stable")
    return distance[order], origin[order]
