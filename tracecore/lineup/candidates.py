"""Offsets worth judging: equal starts, first moves, seldom events, what windows of words vote for, and correlation."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64
from tracecore.lineup.spread import SPREAD
from tracecore.lineup.state_words import StateWords, Words
from tracecore.lineup.worth import onset

SEEDS = 60_000  # windows of each side that look for their like, so that long captures cost no more
MOST = 60  # offsets that windows vote for
OF_GROUP = 10  # of these for each group of signals, in each part of the captures
SHIFTS = 6
HEAD = 1 << 13  # cycles of both heads that are correlated
FEW = 4  # a window that occurs more often than this on a side tells little
_SELDOM, _BLOCK = 3, 1024


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """``offsets`` in the order in which they are worth judging; ``first`` the good cycle at which a window first speaks
    for one; ``shifts`` the distances at which the good capture resembles itself, where rivals lie. ``onset`` is the
    good cycle in which anything moves first, ``apart`` how far behind it the suspect's is."""

    offsets: list[int] = field(default_factory=list)
    first: dict[int, int] = field(default_factory=dict)
    shifts: list[int] = field(default_factory=list)
    onset: int = 0
    apart: int = 0


def candidates(good: StateWords, suspect: StateWords, signals: int) -> Candidates:
    """All of them. Windows are eight cycles of eight signals (one byte of the words), so that a signal that is wrong
    spoils its own group alone; they vote over all, over both heads, and just behind the first move."""
    thin = max(0, int(np.log2(max(1, max(len(good), len(suspect)) / SEEDS))))
    onsets = onset(good), onset(suspect)
    first: dict[int, int] = {}
    support: dict[int, float] = {}
    shifts: dict[int, int] = {}
    for group in range(-(-signals // 8)):
        (ka, ta), (kb, tb) = _windows(good.levels, group, thin), _windows(suspect.levels, group, thin)
        t, u = _meetings(ka, ta, ka, ta)
        for apart, votes in zip(*np.unique((u - t)[u > t], return_counts=True), strict=True):
            shifts[int(apart)] = shifts.get(int(apart), 0) + int(votes)
        t, u = _meetings(ka, ta, kb, tb)
        for reach in (None, 1024 << thin, 64):
            near = np.ones(len(t), np.bool_) if reach is None else (t < onsets[0] + reach) | (u < onsets[1] + reach)
            _vote(t[near], u[near], support, first, len(good))
    wanted = sorted(support, key=lambda d: -support[d])[:MOST]
    heads = _by_correlation(good.levels[:HEAD], suspect.levels[:HEAD], signals)
    offsets = [0, onsets[1] - onsets[0], *_events_apart(good.levels, suspect.levels, signals), *wanted, *heads]
    own = sorted(shifts, key=lambda s: -shifts[s])[:SHIFTS]
    head = good.levels[:HEAD]
    own += [abs(d) for d in _by_correlation(head, head, signals, SHIFTS + 1) if d]
    return Candidates(list(dict.fromkeys(offsets)), first, list(dict.fromkeys(own)), onsets[0], onsets[1] - onsets[0])


def _vote(t: Int64, u: Int64, support: dict[int, float], first: dict[int, int], longest: int) -> None:
    """The distances that most meetings share are supported, each by its share of the most votes."""
    apart, votes = np.unique(u - t, return_counts=True)
    for i in np.argsort(-votes, kind="stable")[:OF_GROUP]:
        d = int(apart[i])
        support[d] = support.get(d, 0.0) + float(votes[i] / votes.max())
        first[d] = min(first.get(d, longest), int(t[u - t == d].min()))


def _windows(words: Words, group: int, thin: int) -> tuple[Words, Int64]:
    """Windows of eight cycles of a group, one in 2**thin picked by what they hold, that occur ``FEW`` times at most:
    sorted, and where they begin."""
    row = np.ascontiguousarray(np.ascontiguousarray(words, "<u8").view(np.uint8).reshape(-1, 8)[:, group])
    if len(row) < 8:
        return np.empty(0, np.uint64), np.empty(0, np.int64)
    keys = np.ndarray(len(row) - 7, "<u8", row.data, strides=(1,))
    at = np.arange(len(keys))
    if thin:
        # a multiplication spreads what a window holds over its top bits
        at = np.flatnonzero((keys * np.uint64(SPREAD)) >> np.uint64(64 - thin) == 0)
    keys = keys[at]
    order = np.argsort(keys, kind="stable")
    keys, at = keys[order], at[order]
    begins = np.flatnonzero(np.append(True, keys[1:] != keys[:-1])[: len(keys)])
    count = np.diff(np.append(begins, len(keys)))
    keep = np.repeat(count <= FEW, count)
    return keys[keep], at[keep]


def _meetings(ka: Words, ta: Int64, kb: Words, tb: Int64) -> tuple[Int64, Int64]:
    """All pairs of places with equal keys."""
    low = kb.searchsorted(ka)
    count = kb.searchsorted(ka, "right") - low
    at = np.repeat(low, count) + np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return np.repeat(ta, count), tb[at]


def _events_apart(good: Words, suspect: Words, signals: int) -> list[int]:
    """Distances between the events of signals that move seldom on both sides."""
    sides = [_events(side, signals) for side in (good, suspect)]
    out: list[int] = []
    for bit in sides[0].keys() & sides[1].keys():
        out += (sides[1][bit][:, None] - sides[0][bit][None]).ravel().tolist()
    return out


def _events(words: Words, signals: int) -> dict[int, Int64]:
    """The cycles in which a signal moves, of those that move ``_SELDOM`` times at most."""
    if len(words) < 2:
        return {}
    moves = words[1:] ^ words[:-1]
    blocks = np.bitwise_or.reduceat(moves, np.arange(0, len(moves), _BLOCK))
    found = {}
    for bit in range(signals):
        mask = np.uint64(1 << bit)
        busy = np.flatnonzero(blocks & mask)
        if not 0 < len(busy) <= _SELDOM:
            continue
        within = (busy[:, None] * _BLOCK + np.arange(_BLOCK)).ravel()
        within = within[within < len(moves)]
        at = within[(moves[within] & mask) > 0] + 1
        if len(at) <= _SELDOM:
            found[bit] = at
    return found


def _by_correlation(good: Words, suspect: Words, signals: int, most: int = 16) -> list[int]:
    """The offsets at which the signals' correlations add up highest, in two measures: over the root of the overlap a
    short but perfect overlap competes with a long poor one, and by the median a few bad signals do not count."""
    n, m = len(good), len(suspect)
    size = 1 << (n + m - 1).bit_length()
    rows: list[NDArray[np.float32]] = []
    for bit in range(signals):
        a, b = (((side >> np.uint64(bit)) & np.uint64(1)).astype(np.float32) for side in (good, suspect))
        scale = float(a.std() * b.std())
        if scale > 0:
            spectrum = np.conj(np.fft.rfft(a - a.mean(), size)) * np.fft.rfft(b - b.mean(), size)
            rows.append((np.fft.irfft(spectrum, size) / scale).astype(np.float32))
    if not rows:
        return []
    lag = np.arange(size)
    lag[lag >= m] -= size
    overlap = np.minimum(n, m - lag) - np.maximum(0, -lag)
    weight = np.where(overlap >= 8, 1 / np.sqrt(np.maximum(overlap, 1)), 0)
    stack = np.array(rows)
    found: list[int] = []
    for curve in (stack.mean(0) * weight, _median(stack) * weight):
        top = np.argpartition(-curve, min(most, size - 1))[:most]
        found += [int(lag[i]) for i in top[np.argsort(-curve[top], kind="stable")] if overlap[i] >= 8]
    return list(dict.fromkeys(found))


def _median(rows: NDArray[np.float32]) -> NDArray[np.float32]:
    """The median of each column, as ``np.median`` has it; sorting a few numbers is several times as quick as that.

    >>> _median(np.array([[1, 7], [3, 9], [2, 4], [8, 6]], np.float32)).tolist()
    [2.5, 6.5]
    """
    ordered = np.sort(np.ascontiguousarray(rows.T), axis=1)
    middle = len(rows) // 2
    if len(rows) % 2:
        return ordered[:, middle].copy()
    return np.asarray((ordered[:, middle - 1] + ordered[:, middle]) / np.float32(2))
