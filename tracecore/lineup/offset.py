"""By how many cycles the suspect runs ahead: every offset worth judging, by how much of both captures it explains.

Captures of some thousand cycles are judged as a whole. Of longer ones each offset is judged on the piece in which it
is first spoken for: there the two go together, if anywhere.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.lineup.candidates import Candidates, candidates
from tracecore.lineup.explained import FEWEST_CYCLES, Explained, Prior, explained
from tracecore.lineup.rejoin import SEED_CYCLES
from tracecore.lineup.state_words import MOST_SIGNALS, StateWords, held, state_words
from tracecore.lineup.worth import Told, told_by

WHOLE, PIECE = 1 << 14, 1 << 11  # captures up to so long are judged as a whole, else pieces of so many cycles
NEARBY = 64  # all offsets up to this are judged where captures are judged as a whole
LITTLE = 40.0  # bits below which short captures are searched through
SEARCHED = 40_000  # pairs of cycles up to which they are
_PIECES = 64
_KEPT_ONCE = 4


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
    The first few that move once on both sides are kept: a reset's release says which cycle is which.
    """
    if len(rows) <= most:
        return rows
    variety: list[int] = []
    seen: set[bytes] = set()
    once, most_told = 0, 1 << 62
    for row in rows.tolist():
        pieces = [_pieces(side[row]) for side in (good, suspect)]
        alike = pieces[0].tobytes() + pieces[1].tobytes()
        fewest = min(len(np.unique(np.concatenate([_patterns(held(p), SEED_CYCLES) for p in side]))) for side in pieces)
        variety.append(0 if alike in seen else fewest)
        seen.add(alike)
        if once < _KEPT_ONCE and all(_moves_once(side[row]) for side in (good, suspect)):
            variety[-1], once = most_told, once + 1
    return np.sort(rows[np.argsort(-np.array(variety), kind="stable")[:most]])


def _moves_once(row: UInt8) -> bool:
    return _moved_once_at(row) > 0


def once_moves(states: UInt8, live: NDArray[np.bool_]) -> list[int]:
    """For each live row the cycle in which it moves, 0 where it moves more than once."""
    return [_moved_once_at(states[row]) for row in np.flatnonzero(live)]


def _moved_once_at(row: UInt8) -> int:
    own = held(row)
    at = np.flatnonzero(own[1:] != own[:-1])
    return int(at[0]) + 1 if len(at) == 1 else 0


def _pieces(row: UInt8, cycles: int = 256) -> UInt8:
    """Pieces of a row spread over it: uint8[P, C]."""
    count, length = min(_PIECES, max(1, len(row) // cycles)), min(cycles, len(row))
    starts = np.linspace(0, len(row) - length, count).astype(np.int64)
    return np.asarray(row[starts[:, None] + np.arange(length)])


def search(words: BothWords, prior: Prior) -> list[Explained]:
    """The offsets that were judged, best first; among equals the nearest to nought. Rivals lie where the good capture
    resembles itself, and as far apart as the best ones do, so these are judged as well."""
    signals = len(words.rows)
    sides = words.good, words.suspect
    found = candidates(*sides, signals)
    whole = told_by(*sides, signals) if max(map(len, sides)) <= WHOLE else None
    tried: dict[int, Explained | None] = {}

    def judge(offsets: Iterable[int], late: bool = True) -> None:
        new = [d for d in dict.fromkeys(offsets) if d not in tried]
        if whole:
            tried.update(explained(whole, new, prior, late=late))
        else:
            tried.update((d, _on_a_piece(words, d, found, prior)) for d in new)

    judge(found.offsets)
    if whole:
        judge(range(-NEARBY, NEARBY + 1), late=False)
    for _ in range(2):
        best = _ordered(tried)[:5]
        if best and best[0].score > 0:
            steps = {*found.shifts, *(abs(j.offset - best[0].offset) for j in best[1:])}
            near = range(-2, 3) if whole else (-1, 1)
            judge(best[0].offset + i * step for step in sorted(steps) for i in near)
    best = _ordered(tried)
    if whole and len(sides[0]) * len(sides[1]) <= SEARCHED and (not best or best[0].score < LITTLE):
        judge(range(FEWEST_CYCLES - len(sides[0]), len(sides[1]) - FEWEST_CYCLES + 1), late=False)
        best = _ordered(tried)
    return best


def _ordered(tried: dict[int, Explained | None]) -> list[Explained]:
    return sorted((t for t in tried.values() if t is not None), key=lambda t: (-t.score, abs(t.offset), -t.offset))


def _on_a_piece(words: BothWords, d: int, found: Candidates, prior: Prior) -> Explained | None:
    """One offset of long captures, judged on the piece in which the first window speaks for it."""
    low, high = max(0, -d), min(len(words.good), len(words.suspect) - d)
    first = found.onset if d == found.apart else found.first.get(d, low)
    at = max(low, min(first, high) - PIECE // 4)
    stop = min(high, at + PIECE)
    if stop - at < FEWEST_CYCLES:
        return None
    told: Told = told_by(words.good.part(at, stop), words.suspect.part(at + d, stop + d), len(words.rows))
    way = explained(told, [0], prior)[0]
    if way is None:
        return None
    parts = None if way.parts is None else way.parts + at
    return replace(way, offset=d, score=way.score - prior.of(d), start=way.start + at, parts=parts, overlap=high - low)


def anchor(words: BothWords, way: Explained, block: int = 32, most: int = 256) -> int:
    """The good cycle in the middle of the first block of those that an offset explains in which its sound signals
    differ least: where both captures are followed from."""
    stop = max(way.start + 1, min(way.stop, way.start + block * most))
    sound = np.uint64(int(words.live) & ~sum(1 << i for i in way.faulty))
    a, b = words.good.levels[way.start : stop], words.suspect.levels[way.start + way.offset : stop + way.offset]
    differ = np.bitwise_count((a ^ b) & sound).astype(np.int64)
    starts = np.arange(0, len(differ), block)
    sums = np.add.reduceat(differ, starts)
    size = np.diff(np.append(starts, len(differ)))
    i = int((sums / size).argmin())
    return way.start + int(starts[i]) + int(size[i]) // 2


def _patterns(row: UInt8, cycles: int) -> NDArray[np.uint32]:
    """The ``cycles`` states from each cycle on, as bits."""
    out = np.zeros(max(0, len(row) - cycles + 1), np.uint32)
    for i in range(cycles):
        out = (out << np.uint32(1)) | row[i : i + len(out)]
    return out
