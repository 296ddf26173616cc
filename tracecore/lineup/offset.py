"""By how many cycles the suspect runs ahead: candidate offsets, and one verifier for all of them.

Candidates come from the correlation of every signal over all offsets (captures up to some hundred
thousand cycles), or from short stretches of words that both captures contain (longer ones). Each is then
judged block by block, by the best two thirds of the signals, so that a stuck or noisy signal, or a fault
that starts halfway, does not spoil the right offset.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.lineup.alignment import Places
from tracecore.lineup.rejoin import LEAST_TOGETHER, SEED_CYCLES, picked_windows, unique_seeds
from tracecore.lineup.state_words import MOST_SIGNALS, StateWords, Words, held, state_words

Floats = NDArray[np.float64]

FEWEST_CYCLES = 8
"""With fewer common cycles than this no offset is believed."""

_CORRELATE_UP_TO = 1 << 18
_BLOCKS, _BLOCK_CYCLES = 64, 1024
_SEEDS = 60_000
_TRUST = 0.003  # disagreement at which a block counts a quarter
_APART = 0.05  # disagreement of the best two thirds of the signals that no few faulty signals explain


@dataclass(frozen=True, slots=True, eq=False)
class Verified:
    """One offset, judged. ``robust`` and ``full`` are shares (0 to 1) of blocks that agree: by the best two
    thirds of the signals, and by all of them. ``agree`` float[S] is the agreement of each signal; ``anchor`` the
    good cycle from which on it fits best. ``apart`` int64[K, 2] are cycles, good and suspect, in the middle of the
    blocks in which even the best two thirds of the signals differ. ``at_best`` is what ``robust`` is the mean of, in
    the block where it is highest."""

    offset: int
    overlap: int
    robust: float
    full: float
    agreement: float
    agree: Floats
    spread: float
    anchor: int
    apart: Int64
    at_best: float

    @property
    def evidence(self) -> float:
        """Cycles of good agreement; ranks candidates."""
        return (self.full**2 + 0.1 * self.robust**2) * self.overlap


def live_signals(good: UInt8, suspect: UInt8) -> NDArray[np.bool_]:
    """Rows (signals) that show both levels on both sides; only they can tell offsets apart."""
    return np.array([_moves(a) and _moves(b) for a, b in zip(good, suspect, strict=True)], np.bool_)


def _moves(row: UInt8, part: int = 1 << 16) -> bool:
    seen = set()
    for start in range(0, len(row), part):
        known = row[start : start + part]
        known = known[known != UNKNOWN]
        if len(known):
            seen |= {int(known.min()), int(known.max())}
        if len(seen) > 1:
            return True
    return False


class BothWords(NamedTuple):
    """Both sides as words of the live signals (the most telling 64 of them), and the mask of these; ``rows`` int64[L]
    are the rows of the states that the bits stand for."""

    good: StateWords
    suspect: StateWords
    live: np.uint64
    rows: Int64


def both_words(good: UInt8, suspect: UInt8, live: NDArray[np.bool_]) -> BothWords:
    """Words of the signals that move on both sides."""
    rows = telling(good, suspect, np.flatnonzero(live))
    mask = np.uint64((1 << len(rows)) - 1)
    return BothWords(state_words(good, rows), state_words(suspect, rows), mask, rows)


def telling(good: UInt8, suspect: UInt8, rows: Int64, most: int = MOST_SIGNALS) -> Int64:
    """Those of the rows that tell cycles apart best, ``most`` at most, in their order.

    What counts is how many different patterns of some cycles a row shows, on the side that shows fewer: one that moves
    now and then, always alike or in one place only says little. A row that is the same as another says nothing more.
    """
    if len(rows) <= most:
        return rows
    variety: list[int] = []
    seen: set[bytes] = set()
    for row in rows.tolist():
        pieces = [_pieces(side[row]) for side in (good, suspect)]
        alike = pieces[0].tobytes() + pieces[1].tobytes()
        fewest = min(len(np.unique(np.concatenate([_patterns(held(p), SEED_CYCLES) for p in side]))) for side in pieces)
        variety.append(0 if alike in seen else fewest)
        seen.add(alike)
    return np.sort(rows[np.argsort(-np.array(variety), kind="stable")[:most]])


def _pieces(row: UInt8, cycles: int = 256) -> UInt8:
    """Pieces of a row spread over it: uint8[P, C]."""
    count, length = min(_BLOCKS, max(1, len(row) // cycles)), min(cycles, len(row))
    starts = np.linspace(0, len(row) - length, count).astype(np.int64)
    return np.asarray(row[starts[:, None] + np.arange(length)])


def candidate_offsets(good: UInt8, suspect: UInt8, live: NDArray[np.bool_], words: BothWords) -> Iterator[list[int]]:
    """Offsets worth judging, in batches: further ones are wanted only where none of a batch fits well. The first
    batch includes 0."""
    rows = np.flatnonzero(live)
    if max(good.shape[1], suspect.shape[1]) <= _CORRELATE_UP_TO:
        yield list(dict.fromkeys([*_by_correlation(good[rows], suspect[rows]), 0]))
    else:
        yield [0]
        yield from _by_seeds(good, suspect, words)


def _by_correlation(good: UInt8, suspect: UInt8, most: int = 24) -> list[int]:
    """Sum over the signals of their normalised correlation, and its median, each at every offset."""
    from scipy import fft

    n, m = good.shape[1], suspect.shape[1]
    size = fft.next_fast_len(n + m, real=True)
    curves = []
    for a, b in zip(good, suspect, strict=True):
        x, y = _centred(a), _centred(b)
        scale = np.sqrt(float(x @ x) / n * float(y @ y) / m)
        if scale == 0:
            continue
        spectrum = np.conj(fft.rfft(x, size)) * fft.rfft(y, size)
        curves.append(fft.irfft(spectrum, size) / scale)
    if not curves:
        return []
    stack = np.array(curves)
    lag = np.arange(size)
    lag[lag >= m] -= size
    overlap = np.minimum(n, m - lag) - np.maximum(0, -lag)
    usable = overlap >= FEWEST_CYCLES
    # dividing by the root of the overlap lets a short but perfect overlap compete with a long poor one
    weight = np.where(usable, 1 / np.sqrt(np.maximum(overlap, 1)), 0.0)
    offsets: list[int] = []
    for curve in (stack.mean(0) * weight, np.median(stack, 0) * weight, np.maximum(stack, 0).mean(0) * weight):
        top = np.argpartition(-curve, min(most, size - 1))[:most]
        offsets += [int(lag[i]) for i in top[np.argsort(-curve[top], kind="stable")] if usable[i]]
    return list(dict.fromkeys(offsets))


def _centred(row: UInt8) -> NDArray[np.float32]:
    known = row != UNKNOWN
    value = np.where(known, row, 0).astype(np.float32)
    mean = float(value[known].mean()) if known.any() else 0.0
    return np.where(known, value - np.float32(mean), 0).astype(np.float32)


def _healthy(good: UInt8, suspect: UInt8, words: BothWords) -> np.uint64:
    """The mask of the signals whose own patterns both sides know."""
    bits = [i for i, r in enumerate(words.rows.tolist()) if _familiar(good[r], suspect[r])]
    return np.uint64(sum(1 << i for i in bits))


def _by_seeds(good: UInt8, suspect: UInt8, words: BothWords, most: int = 10) -> Iterator[list[int]]:
    """Stretches of words found on both sides vote for their distance; then the same without the signals
    whose own patterns the other side does not know, and by random halves of the rest."""
    yield _votes(words.good.levels, words.suspect.levels, words.live, most)
    healthy = _healthy(good, suspect, words)
    if healthy not in (words.live, 0):
        yield _votes(words.good.levels, words.suspect.levels, healthy, most)
    if _slips_along(words, healthy or words.live):
        return
    rng = np.random.default_rng(0)
    bits = [i for i in range(len(words.rows)) if int(healthy) >> i & 1 or int(healthy).bit_count() < 2]
    for _ in range(3):
        for half in np.array_split(rng.permutation(bits), 2):
            mask = np.uint64(sum(1 << int(i) for i in half))
            if mask:
                yield _votes(words.good.levels, words.suspect.levels, mask, most)


def _slips_along(words: BothWords, mask: np.uint64) -> bool:
    """Do words that occur once on each side lie along a path whose offset only creeps? Then no one offset is wanted."""
    a, b = unique_seeds(words.good.levels, words.suspect.levels, _thin(words), mask)
    return len(a) > 64 and float((np.abs(np.diff(b - a)) < 64).mean()) > 0.8


def _thin(words: BothWords) -> int:
    """One window in two to this power is enough of them."""
    return max(0, int(np.log2(max(1, max(len(words.good), len(words.suspect)) / _SEEDS))))


def local_places(good: UInt8, suspect: UInt8, words: BothWords) -> list[Places]:
    """Pairs of cycles from which stretches of words go on together, longest first, three at most."""
    found: list[tuple[int, Places]] = []
    for mask in dict.fromkeys((words.live, _healthy(good, suspect, words))):
        if not mask:
            continue
        thin = _thin(words)
        a, b = unique_seeds(words.good.levels, words.suspect.levels, thin, mask)
        if len(a) < 2:
            continue
        order = np.lexsort((a, b - a))
        a, apart = a[order], (b - a)[order]
        ends = np.flatnonzero((np.diff(apart) != 0) | (np.diff(a) > 64 << thin))
        first, last = np.concatenate(([0], ends + 1)), np.concatenate((ends, [len(a) - 1]))
        span = a[last] - a[first]
        for i in np.argsort(-span, kind="stable")[:2].tolist():
            start = int(a[first[i]])
            found.append((int(span[i]), Places(start, start + int(apart[first[i]]))))
    found.sort(key=lambda f: -f[0])
    return [place for span, place in found if span >= LEAST_TOGETHER - SEED_CYCLES][:3]


def _familiar(good: UInt8, suspect: UInt8, cycles: int = 24) -> bool:
    """Do the patterns of one signal on the suspect side occur on the good side at all, at any offset?"""
    limit = 200_000
    a, b = _patterns(held(good[:limit]), cycles), _patterns(held(suspect[:limit]), cycles)
    b = b[(b != 0) & (b != (1 << cycles) - 1)][:: max(1, limit // 4000)]
    if not len(b):
        return False
    seen = np.zeros(1 << cycles, np.bool_)
    seen[a] = True
    return bool(seen[b].mean() > 0.8)


def _patterns(row: UInt8, cycles: int) -> NDArray[np.uint32]:
    """The ``cycles`` states from each cycle on, as bits."""
    out = np.zeros(max(0, len(row) - cycles + 1), np.uint32)
    for i in range(cycles):
        out = (out << np.uint32(1)) | row[i : i + len(out)]
    return out


def _votes(good: Words, suspect: Words, mask: np.uint64, most: int, rare: int = 4) -> list[int]:
    """Distances between equal windows, those with most votes first."""
    thin = max(0, int(np.log2(max(1, max(len(good), len(suspect)) / _SEEDS))))
    # picking by content keeps the same stretches on both sides
    key_a, at_a = _rare(*picked_windows(good, SEED_CYCLES, thin, mask), rare)
    key_b, at_b = _rare(*picked_windows(suspect, SEED_CYCLES, thin, mask), rare)
    first, last = key_b.searchsorted(key_a, "left"), key_b.searchsorted(key_a, "right")
    count = last - first
    if not count.sum():
        return []
    partner = np.repeat(first, count) + np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    apart = np.sort(at_b[partner] - np.repeat(at_a, count))
    first_of = np.flatnonzero(np.concatenate(([True], apart[1:] != apart[:-1])))
    distance, votes = apart[first_of], np.diff(np.append(first_of, len(apart)))
    order = np.argsort(-votes, kind="stable")[:most]
    return [int(distance[i]) for i in order]


def _rare(keys: Words, at: Int64, most: int) -> tuple[Words, Int64]:
    """Keys that occur at most ``most`` times, sorted, with their places."""
    order = np.argsort(keys, kind="stable")
    keys, at = keys[order], at[order]
    count = keys.searchsorted(keys, "right") - keys.searchsorted(keys, "left")
    keep = count <= most
    return keys[keep], at[keep]


def verify(good: UInt8, suspect: UInt8, offset: int, live: NDArray[np.bool_]) -> Verified | None:
    """Judges one offset on blocks spread over the overlap; None where fewer than FEWEST_CYCLES overlap."""
    low, high = max(0, -offset), min(good.shape[1], suspect.shape[1] - offset)
    if high - low < FEWEST_CYCLES or not live.any():
        return None
    starts, length = _spread_blocks(high - low)
    at = low + (starts[:, None] + np.arange(length)).ravel()
    return _judge(good, suspect, at, at + offset, low + starts, offset, high - low, live)


def verify_runs(
    good: UInt8, suspect: UInt8, starts: Int64, lengths: Int64, live: NDArray[np.bool_], offset: int
) -> Verified:
    """Judges matched cycles in the same way: runs of ``lengths`` int64[R] from ``starts`` int64[R, 2] on, good and
    suspect. ``offset`` is only passed on."""
    before = np.cumsum(lengths) - lengths
    count = int(lengths.sum())
    blocks, length = _spread_blocks(count)
    at = (blocks[:, None] + np.arange(length)).ravel()
    run = before.searchsorted(at, "right") - 1
    cycles, partners = (starts[run] + (at - before[run])[:, None]).T
    return _judge(good, suspect, cycles, partners, cycles[::length], offset, count, live)


def refuted(rival: Verified, best: Verified, cycles: tuple[int, int]) -> bool:
    """Does a rival make cycles differ board-wide which the best offset explains without a flaw?

    Then the difference is no fault: the good cycles have a partner that is like them, and so have the suspect ones.
    ``cycles`` are how many the good and the suspect side have.
    """
    if len(best.apart) or not len(rival.apart):
        return False
    low, high = max(0, -best.offset), min(cycles[0], cycles[1] - best.offset)
    good, suspect = rival.apart[:, 0], rival.apart[:, 1] - best.offset
    return bool(((good >= low) & (good < high) & (suspect >= low) & (suspect < high)).any())


def _spread_blocks(count: int) -> tuple[Int64, int]:
    """Where blocks spread over ``count`` cycles begin, and how long they are."""
    blocks = int(min(_BLOCKS, max(1, count // 32)))
    length = int(min(_BLOCK_CYCLES, count // blocks))
    return np.linspace(0, count - length, blocks).astype(np.int64), length


def _judge(
    good: UInt8,
    suspect: UInt8,
    at: Int64,
    partners: Int64,
    starts: Int64,
    offset: int,
    overlap: int,
    live: NDArray[np.bool_],
) -> Verified:
    a, b = good[:, at], suspect[:, partners]
    blocks, length = len(starts), len(at) // len(starts)
    shape = (len(good), blocks, length)
    certain = max(int(a.max()), int(b.max())) < UNKNOWN
    known = np.ones(1, np.bool_) if certain else (a != UNKNOWN) & (b != UNKNOWN)
    decided = np.full(shape[:2], length) if certain else known.reshape(shape).sum(2)
    differ = ((a != b) & known).reshape(shape).sum(2)
    rate = differ / np.maximum(decided, 1)
    # a signal that stands still agrees with anything: it is judged only with what chance would give
    chance = _chance(a, b, known, decided, shape)
    all_known = np.maximum(decided.sum(1), 1)
    agree = 1 - differ.sum(1) / all_known
    rows = np.flatnonzero(live)
    best = max(1, int(np.ceil(len(rows) * 2 / 3)))
    by_rate = np.sort(rate[rows], axis=0)
    trimmed = by_rate[:best].mean(0)
    weight = np.clip(np.sort(chance[rows], axis=0)[::-1][:best].mean(0) / 0.05, 0, 1)
    robust_blocks = weight / (1 + trimmed / _TRUST) ** 2
    full_blocks = 1 / (1 + rate[rows].mean(0) / _TRUST) ** 2
    # the best quarter of the blocks, by all signals: a fault that starts later does not speak there
    fine = full_blocks >= np.quantile(full_blocks, 0.75)
    spread = float((rate[rows][:, fine].mean(1) > 0.001).mean())
    agreement = 1 - float(differ[rows].sum() / max(1, decided[rows].sum()))
    middle = np.flatnonzero(trimmed > _APART) * length + length // 2
    return Verified(
        offset,
        overlap,
        float(robust_blocks.mean()),
        float(full_blocks.mean()),
        agreement,
        agree,
        spread,
        int(starts[robust_blocks.argmax()]),
        np.stack((at[middle], partners[middle]), axis=1),
        float(robust_blocks.max()),
    )


def _chance(a: UInt8, b: UInt8, known: NDArray[np.bool_], decided: Int64, shape: tuple[int, int, int]) -> Floats:
    """Disagreement that unrelated signals of the same density would show, signal by block."""
    count = np.maximum(decided, 1)
    p = ((a == 1) & known).reshape(shape).sum(2) / count
    q = ((b == 1) & known).reshape(shape).sum(2) / count
    return np.asarray(p * (1 - q) + q * (1 - p), np.float64)


def self_shifts(good: UInt8, live: NDArray[np.bool_], most: int = 6) -> list[int]:
    """Distances at which the good capture resembles itself: rivals of any offset that fits."""
    rows = np.flatnonzero(live)
    piece = good[:, : 1 << 16]
    found = _by_correlation(piece[rows], piece[rows], most + 1) if len(rows) else []
    return [d for d in dict.fromkeys(abs(d) for d in found) if d][:most]
