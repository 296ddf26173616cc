"""Where a gap lies, and how far what is unsure beside one reaches, asked of all signals.

Both captures are followed by the 64 signals that tell cycles apart best. Where these stand still, as they do in each
cycle of a wait, a gap fits at several places, and the one signal that ends the wait may be none of them: it would seem
to differ. So of the places near by the one is taken at which the fewest states of all signals differ.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.lineup.follower import Stretch
from tracecore.lineup.state_words import MOST_SIGNALS, Bools
from tracecore.lineup.unseen import BESIDE

_REACH = 64  # cycles either way: a wait that is longer repeats itself within them


def gaps_placed(stretches: Sequence[Stretch], good: UInt8, suspect: UInt8, live: Bools) -> list[Stretch]:
    """The stretches with each gap of one side where all ``live`` signals bool[S] fit best; among equal places it stays.
    Pairs hard by an unsure stretch in which a signal differs that is sound before belong to it.

    ``good`` uint8[S, N] and ``suspect`` uint8[S, M] are the states of both sides.
    """
    out = list(stretches)
    rows = np.flatnonzero(live)
    if len(rows) <= MOST_SIGNALS:
        return out
    for i in range(1, len(out)):
        if out[i].kind == "unsure" and out[i - 1].kind == "paired":
            before, gap = out[i - 1 : i + 1]
            by = _differing_at_end(good, suspect, rows, before)
            out[i - 1] = before._replace(good_stop=before.good_stop - by, suspect_stop=before.suspect_stop - by)
            out[i] = gap._replace(good_start=gap.good_start - by, suspect_start=gap.suspect_start - by)
    for i in range(1, len(out) - 1):
        before, gap, behind = out[i - 1 : i + 2]
        if gap.kind not in ("inserted", "missing") or (before.kind, behind.kind) != ("paired", "paired"):
            continue
        back, ahead = min(_REACH, before.size[0] - 1), min(_REACH, behind.size[0] - 1)
        early = _unlike(good, suspect, rows, gap.good_start - back, gap.suspect_start - back, back + ahead)
        late = _unlike(good, suspect, rows, gap.good_stop - back, gap.suspect_stop - back, back + ahead)
        # what all pairs cost where the gap begins behind so many of them
        cost = np.concatenate(([0], np.cumsum(early - late)))
        if cost[back] == cost.min():
            continue
        by = int(cost.argmin()) - back
        out[i - 1] = before._replace(good_stop=before.good_stop + by, suspect_stop=before.suspect_stop + by)
        out[i] = Stretch(gap.kind, *(at + by for at in gap[1:]))
        out[i + 1] = behind._replace(good_start=behind.good_start + by, suspect_start=behind.suspect_start + by)
    return out


def _differing_at_end(good: UInt8, suspect: UInt8, rows: Int64, pairs: Stretch) -> int:
    """From how many cycles before their end on pairs differ in a signal that agrees before: ``BESIDE`` at most."""
    count = min(_REACH, pairs.size[0])
    if count < 2 * BESIDE:
        return 0
    a = good[rows, pairs.good_stop - count : pairs.good_stop]
    b = suspect[rows, pairs.suspect_stop - count : pairs.suspect_stop]
    differ = (a != b) & (a != UNKNOWN) & (b != UNKNOWN)
    sound = ~differ[:, :-BESIDE].any(1)
    wrong = np.flatnonzero(differ[sound, -BESIDE:].any(0))
    return BESIDE - int(wrong[0]) if len(wrong) else 0


def _unlike(good: UInt8, suspect: UInt8, rows: Int64, at: int, twin: int, count: int) -> Int64:
    """int64[count]: how many signals are decided and differ in each pair of cycles."""
    a, b = good[rows, at : at + count], suspect[rows, twin : twin + count]
    return np.asarray(((a != b) & (a != UNKNOWN) & (b != UNKNOWN)).sum(0), np.int64)
