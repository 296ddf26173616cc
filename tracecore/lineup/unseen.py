"""States of the suspect that the good side never shows, in cycles that have no partner.

Cycles that are inserted are nothing to compare, but what they show may tell: a machine that waits holds what it showed
before; one that takes another way shows states that no sound machine of this program shows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from tracecore.capture import Int64, UInt8
from tracecore.lineup.alignment import Places, WordPair
from tracecore.lineup.follower import Stretch
from tracecore.lineup.state_words import Bools, Words, mask_of, signal_counts, size_of

BESIDE = 4
"""Cycles beside a gap in which a sound signal that differs says that the gap is wider."""
_LOOKED_AT = 1 << 20
_CHANCE = 1e-4
_BEYOND = 0.01


@dataclass(frozen=True, slots=True)
class UnseenState:
    """A signal's state in cycles that the suspect has without a partner, which the good side shows in no cycle.

    ``state`` is 0 or 1, ``cycles`` how many of the cycles without a partner show it, beginning ``times``
    times, ``first_cycle`` the first of them (the suspect's own count). ``chance`` is at most how likely a sound machine
    shows that in some signal, by how long the good side was seen without it.
    """

    signal: str
    state: int
    cycles: int
    times: int
    first_cycle: int
    chance: float

    @property
    def tells(self) -> bool:
        """Is it more than chance?"""
        return self.chance < _BEYOND


def unseen_states(
    good: UInt8, suspect: UInt8, names: Sequence[str], stretches: Sequence[Stretch]
) -> tuple[UnseenState, ...]:
    """The states in the suspect's cycles without a partner that the good side never shows, earliest first.

    ``good`` uint8[S, N] and ``suspect`` uint8[S, M] are the states of the signals ``names`` in each cycle.

    What a sound machine shows so seldom falls anywhere alike: that all of its k times fall in the n cycles without
    partner, and none in the N good ones, has a chance of no more than (n / (N + n)) ** k for each signal asked.
    """
    spans = [(s.suspect_start, s.suspect_stop) for s in stretches if s.kind != "paired" and s.size[1]]
    if not spans or not good.shape[1]:
        return ()
    at = np.concatenate([np.arange(a, b) for a, b in spans])
    rows = [(i, state) for i in range(len(names)) for state in (0, 1) if not _shows(good[i], state)]
    out = []
    for i, state in rows:
        hit = np.flatnonzero(suspect[i, at] == state)
        if len(hit):
            times = 1 + int((np.diff(at[hit]) > 1).sum())
            chance = min(1.0, len(rows) * (len(at) / (good.shape[1] + len(at))) ** times)
            out.append(UnseenState(names[i], state, len(hit), times, int(at[hit[0]]), chance))
    return tuple(sorted(out, key=lambda u: u.first_cycle))


def _shows(row: UInt8, state: int) -> bool:
    # most signals move soon: a look at their first cycles spares the others
    return bool((row[:4096] == state).any() or (row == state).any())


def detours_told(stretches: list[Stretch], pair: WordPair, sound: np.uint64) -> list[Stretch]:
    """Inserted cycles that hold new states beyond chance as diverged: the suspect took another way.

    New states are asked of all sound signals and of groups of them that show few states together. How likely a new
    state is by chance is told by how many the good side shows just once.
    """
    own = [i for i, s in enumerate(stretches) if s.kind == "inserted" and s.size[1] > 1]
    if not own:
        return stretches
    own = [i for i in own if not _holds(stretches[i], pair, sound)]
    if not own:
        return stretches
    spans = np.array([(stretches[i].suspect_start, stretches[i].suspect_stop) for i in own], np.int64)
    other = _other_way(pair, spans, sound)
    out = list(stretches)
    for i, apart in zip(own, other.tolist(), strict=True):
        out[i] = out[i]._replace(kind="diverged") if apart else out[i]
    return out


def _holds(stretch: Stretch, pair: WordPair, sound: np.uint64) -> bool:
    """Do the inserted cycles hold what stands before them, but for a signal or two that say so?"""
    words = pair.suspect.levels[max(0, stretch.suspect_start - 1) : stretch.suspect_stop]
    moved = np.bitwise_or.reduce((words[1:] ^ words[:1]) & sound)
    return size_of(moved) <= max(1, size_of(sound) // 16)


def unsound(stretches: list[Stretch], pair: WordPair, live: np.uint64, most: int = 256) -> np.uint64:
    """The signals that differ away from any gap: in three cycles or more in which few others do. Looked at are some
    stretches spread over all; none where that would be most of the signals."""
    paired = [s for s in stretches if s.kind == "paired" and s.size[0] > 2 * BESIDE]
    counts = np.zeros(64, np.int64)
    for s in paired[:: max(1, len(paired) // most)]:
        at = Places(s.good_start + BESIDE, s.suspect_start + BESIDE)
        words = pair.differences(at, min(s.size[0] - 2 * BESIDE, 4096), live)
        counts += signal_counts(words[np.bitwise_count(words) <= max(2, size_of(live) // 4)])
    wrong = mask_of(counts >= 3)
    return wrong if 2 * size_of(wrong) <= size_of(live) else np.uint64(0)


def _other_way(pair: WordPair, spans: Int64, sound: np.uint64) -> Bools:
    """bool[R]: does the suspect show more new states in each of the spans int64[R, 2] than chance explains?"""
    good = pair.good.levels[:_LOOKED_AT]
    at = np.concatenate([np.arange(a, b) for a, b in spans.tolist()])
    words, sizes = pair.suspect.levels[at], spans[:, 1] - spans[:, 0]
    out = np.zeros(len(sizes), np.bool_)
    for mask in (sound, *_groups(good, sound)):
        seen, count = np.unique(good & mask, return_counts=True)
        partner = np.minimum(seen.searchsorted(words & mask), len(seen) - 1)
        new = np.add.reduceat((seen[partner] != words & mask).astype(np.int64), np.cumsum(sizes) - sizes)
        usual = max(int((count == 1).sum()), 1) / len(good)
        # above the chance of so many or more of them (n choose k is at most (e n / k) ** k)
        chance = np.minimum(1.0, usual * np.e * sizes / np.maximum(new, 1)) ** new
        out |= (new > 0) & (chance < _CHANCE) & (new >= 0.3 * sizes)
    return out


def _groups(good: Words, sound: np.uint64) -> Iterator[np.uint64]:
    """Masks of signals that show few states together, such as a sequencer and what it drives."""
    left = [np.uint64(1 << bit) for bit in range(64) if int(sound) >> bit & 1]
    own = good[np.unique(np.linspace(0, len(good) - 1, 2048).astype(np.int64))]
    while left:
        mask = left.pop(0)
        while left:
            sizes = [len(np.unique(own & (mask | bit))) for bit in left]
            least = int(np.argmin(sizes))
            if sizes[least] > max(8, len(own) // 8):
                break
            mask |= left.pop(least)
        yield mask
