"""Stretches of as many cycles on both sides through which signals go on in step: no slip, but a fault and what follows.

A slip that another takes back moves all signals at once, so each one that changes in between differs. A fault spreads
through some of them only. Signals that change within such a stretch and still agree in each of its cycles show that it
is the same stretch on both sides: it stays paired, and the others are told to differ. Cutting it out would clear them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tracecore.lineup.alignment import Places, WordPair
from tracecore.lineup.follower import Stretch
from tracecore.lineup.state_words import mask_of, signal_counts, size_of

# below three cycles hardly any signal changes within
_SHORTEST = 3
# tried on planted slips and faults: random contents of six cycles leave 3 % of the signals in step, a fault a quarter
_SHARE, _LEAST = 0.25, 3
# a signal that changes four times and agrees is no chance, so that fewer of them will do
_OFTEN, _SHARE_OFTEN = 4, 0.12
_SHIFTS = 8
_FARTHEST = 256


def in_step(stretches: Sequence[Stretch], pair: WordPair, live: np.uint64) -> list[Stretch]:
    """The stretches, those of them paired that have as many cycles on both sides and go on in step."""
    out: list[Stretch] = []
    for s in stretches:
        while len(out) > 1 and _back_in_step(whole := _over(out[-2], s), out[-1], pair, live):
            del out[-2:]
            s = whole
        out.append(s._replace(kind="paired") if _stays_paired(s, pair, live) else s)
    return out


def _over(first: Stretch, last: Stretch) -> Stretch:
    """All from one stretch to another as one."""
    return first._replace(kind="diverged", good_stop=last.good_stop, suspect_stop=last.suspect_stop)


def _back_in_step(whole: Stretch, between: Stretch, pair: WordPair, live: np.uint64) -> bool:
    """Do signals go on in step through two slips that take one another back, and through what lies between? In a loop
    a few cycles fit one turn later as well."""
    shift = abs(between.good_start - between.suspect_start - whole.good_start + whole.suspect_start)
    if between.kind != "paired" or whole.size[0] != whole.size[1] or not 0 < shift <= _FARTHEST:
        return False
    return between.size[0] <= _FARTHEST and _stays_paired(whole, pair, live, max(_SHIFTS, shift))


def _stays_paired(stretch: Stretch, pair: WordPair, live: np.uint64, most: int = _SHIFTS) -> bool:
    good, suspect = stretch.size
    if stretch.kind not in ("diverged", "unsure") or good != suspect or good < _SHORTEST:
        return False
    at = Places(stretch.good_start, stretch.suspect_start)
    words = pair.differences(at, good, live)
    moving = pair.moving(at, good, live)
    calm = moving & ~np.bitwise_or.reduce(words)
    levels = pair.good.levels[at.good : at.good + good] & calm
    often = mask_of(signal_counts(levels[1:] ^ levels[:-1]) >= _OFTEN)
    few, busy = (max(_LEAST, share * size_of(moving)) for share in (_SHARE, _SHARE_OFTEN))
    if size_of(calm) < few and size_of(often) < busy:
        return False
    return not _slipped(at, good, float(np.bitwise_count(words).mean()), pair, live, most)


def _slipped(at: Places, count: int, unlike: float, pair: WordPair, live: np.uint64, most: int) -> bool:
    """Does a shift of ``most`` cycles or fewer put most of the stretch right?"""
    for shift in range(1, min(most, count - _SHORTEST) + 1):
        for good, suspect in ((shift, 0), (0, shift)):
            words = pair.differences(at.on(good, suspect), count - shift, live)
            if float(np.bitwise_count(words).mean()) < unlike / 3:
                return True
    return False
