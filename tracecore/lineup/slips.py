"""Cycles that one side has more than the other, and stretches in which the two do different things.

A slip is found by going along both captures from a pair of cycles that fits, forwards and backwards. What comes
out tiles both captures: every cycle is matched, in a slip, or before or behind all matched ones on its side.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from tracecore.capture import Int64
from tracecore.lineup.alignment import Places, WordPair, pair_costs
from tracecore.lineup.follower import Follower, Stretch
from tracecore.lineup.state_words import StateWords

_ISLAND = 24  # a chance agreement inside a diverged stretch is shorter than this
_SAME_LENGTH = 64  # as many cycles on both sides, up to this many, are the same cycles with other contents
_PARTING = 16
_BACK = 64  # cycles by which a gap may have been placed too late


SlipKind = Literal["inserted", "missing", "diverged", "unsure"]


@dataclass(frozen=True, slots=True)
class Slip:
    """``inserted`` suspect cycles from ``suspect_cycle`` on and ``missing`` good ones from ``good_cycle`` on have no
    partner. Kind "inserted" or "missing": the machines then go on as before. Kind "diverged": in this stretch
    they do different things, and what differs behind it may be a consequence. Kind "unsure": a few cycles beside a slip
    of which it is not settled which is which; they are not compared."""

    good_cycle: int
    suspect_cycle: int
    inserted: int
    missing: int
    kind: SlipKind


@dataclass(frozen=True, slots=True)
class SlipCount:
    """Slips added up: ``inserted`` cycles in ``inserted_places``, ``missing`` ones in ``missing_places``, in how many
    ``diverged`` stretches the two do different things, and in how many ``unsure`` places it is not settled which cycle
    is which; ``first_cycle`` is the good cycle of the first of all."""

    inserted: int
    inserted_places: int
    missing: int
    missing_places: int
    diverged: int
    first_cycle: int
    unsure: int = 0

    @property
    def places(self) -> int:
        """How many slips there are."""
        return self.inserted_places + self.missing_places + self.diverged + self.unsure

    def tells(self, good_slips: Sequence[int]) -> bool:
        """Do slips alone make a difference? ``good_slips`` are how many each further known-good capture shows.

        Refresh and a shared store make sound machines wait too, so cycles inserted or missing count where other
        known-good captures were compared and none of them slips; a stretch in which the two do different things
        counts unless one of them slips.
        """
        return not any(good_slips) and (self.diverged > 0 or len(good_slips) > 0)


def slip_count(slips: Iterable[Slip]) -> SlipCount | None:
    """Slips in order, added up; None without any.

    >>> slip_count([Slip(68, 86, 3, 0, "inserted"), Slip(90, 111, 0, 1, "missing"), Slip(99, 119, 2, 0, "inserted")])
    SlipCount(inserted=5, inserted_places=2, missing=1, missing_places=1, diverged=0, first_cycle=68, unsure=0)
    """
    rows = list(slips)
    if not rows:
        return None
    more, fewer, apart, unsure = ([s for s in rows if s.kind == kind] for kind in get_args(SlipKind))
    return SlipCount(
        sum(s.inserted for s in more),
        len(more),
        sum(s.missing for s in fewer),
        len(fewer),
        len(apart),
        rows[0].good_cycle,
        len(unsure),
    )


def follow(good: StateWords, suspect: StateWords, at: Places, live: np.uint64) -> list[Stretch]:
    """The stretches of both captures in order, walked both ways from the pair of cycles ``at``.

    Stretches join without holes. They leave out what one side alone has before the first or behind the last.
    """
    pair = WordPair(good, suspect, pair_costs(likeness(good, live)))
    ahead = Follower(pair, at, live).walk()
    behind = Follower(pair.part(at.good, at.suspect).backwards(), Places(0, 0), live).walk()
    found = [_turned(s, at) for s in reversed(behind)] + ahead
    return _parted(_pushed(_absorbed(_joined(found)), pair, live))


def slips_of(stretches: Iterable[Stretch]) -> tuple[Slip, ...]:
    """The stretches that are not paired."""
    return tuple(
        Slip(s.good_start, s.suspect_start, s.suspect_stop - s.suspect_start, s.good_stop - s.good_start, s.kind)
        for s in stretches
        if s.kind != "paired"
    )


def likeness(words: StateWords, live: np.uint64, draws: int = 4000) -> float:
    """In how many signals two cycles taken at random differ, in the middle."""
    rng = np.random.default_rng(0)
    a, b = rng.integers(0, max(1, len(words)), (2, draws))
    if not len(words):
        return 1.0
    return max(1.0, float(np.median(np.bitwise_count((words.levels[a] ^ words.levels[b]) & live))))


def _turned(stretch: Stretch, at: Places) -> Stretch:
    """A stretch of the walk backwards in the captures' own numbering."""
    kind, a, b, c, d = stretch
    return Stretch(kind, at.good - b, at.good - a, at.suspect - d, at.suspect - c)


def _joined(stretches: Iterable[Stretch]) -> list[Stretch]:
    """Neighbours of one kind as one, empty ones left out."""
    out: list[Stretch] = []
    for s in stretches:
        if s.good_start == s.good_stop and s.suspect_start == s.suspect_stop:
            continue
        if out and out[-1].kind == s.kind:
            out[-1] = out[-1]._replace(good_stop=s.good_stop, suspect_stop=s.suspect_stop)
        else:
            out.append(s)
    return out


def _longer(s: Stretch) -> int:
    return max(s.good_stop - s.good_start, s.suspect_stop - s.suspect_start)


def _absorbed(stretches: list[Stretch]) -> list[Stretch]:
    """Short islands between unpaired stretches belong to them; an insertion beside a loss is one diverged stretch."""
    islands = list(stretches)
    for i in range(1, len(stretches) - 1):
        before, own, behind = stretches[i - 1 : i + 2]
        lone = before.kind != "paired" and behind.kind != "paired" and "diverged" in (before.kind, behind.kind)
        if own.kind == "paired" and lone and _longer(own) < min(_ISLAND, _longer(before) + _longer(behind)):
            islands[i] = own._replace(kind="diverged")
    out: list[Stretch] = []
    for s in islands:
        if out and "paired" not in (s.kind, out[-1].kind):
            out[-1] = Stretch("diverged", out[-1].good_start, s.good_stop, out[-1].suspect_start, s.suspect_stop)
        else:
            out.append(s)
    same = [s.good_stop - s.good_start == s.suspect_stop - s.suspect_start <= _SAME_LENGTH for s in out]
    return _joined(s._replace(kind="paired") if alike else s for s, alike in zip(out, same, strict=True))


def _pushed(stretches: list[Stretch], pair: WordPair, live: np.uint64) -> list[Stretch]:
    """Gaps where the fewest states differ, and there as late as they may be: where a fixed offset really fails.

    The follower places a gap by the signals that judge; here all are asked."""
    out = list(stretches)
    for i in range(1, len(out) - 1):
        before, gap, behind = out[i - 1 : i + 2]
        if gap.kind in ("paired", "diverged") or (before.kind, behind.kind) != ("paired", "paired"):
            continue
        by = -_too_late(gap, before, pair, live) or _room(gap, behind, pair, live)
        if by:
            out[i - 1] = before._replace(good_stop=before.good_stop + by, suspect_stop=before.suspect_stop + by)
            out[i] = Stretch(gap.kind, *(at + by for at in gap[1:]))
            out[i + 1] = behind._replace(good_start=behind.good_start + by, suspect_start=behind.suspect_start + by)
    return out


def _too_late(gap: Stretch, before: Stretch, pair: WordPair, live: np.uint64) -> int:
    """By how many cycles a gap must come earlier to leave the fewest differences; 0 where that leaves as many."""
    count = min(_BACK, before.good_stop - before.good_start - 1)
    if count < 1:
        return 0
    early = _unlike(pair, Places(gap.good_start - count, gap.suspect_start - count), count, live)
    late = _unlike(pair, Places(gap.good_stop - count, gap.suspect_stop - count), count, live)
    gained = (early - late)[::-1].cumsum()
    best = int(gained.argmax())
    return best + 1 if gained[best] > 0 else 0


def _room(gap: Stretch, behind: Stretch, pair: WordPair, live: np.uint64) -> int:
    """By how many cycles a gap may move on."""
    most, moved, step = behind.good_stop - behind.good_start - 1, 0, 16
    while moved < most:
        count = min(step, most - moved)
        early = _unlike(pair, Places(gap.good_start + moved, gap.suspect_start + moved), count, live)
        late = _unlike(pair, Places(gap.good_stop + moved, gap.suspect_stop + moved), count, live)
        worse = np.flatnonzero(early > late)
        if len(worse):
            return moved + int(worse[0])
        moved, step = moved + count, step * 4
    return moved


def _unlike(pair: WordPair, at: Places, count: int, live: np.uint64) -> Int64:
    """int64[count]: how unlike the cycles of each pair are. Where as many states differ, those count that are decided
    on one side alone: they move there while they are read, which they do not on the other side."""
    differ = np.bitwise_count(pair.differences(at, count, live)).astype(np.int64)
    good, suspect = pair.good.part(at.good, at.good + count), pair.suspect.part(at.suspect, at.suspect + count)
    if good.undecided is None and suspect.undecided is None:
        return differ
    doubt = np.zeros(count, np.uint64)
    for side in (good, suspect):
        if side.undecided is not None:
            doubt ^= side.undecided
    return np.asarray(64 * differ + np.bitwise_count(doubt & live))


def _parted(stretches: list[Stretch]) -> list[Stretch]:
    """The first cycles of a long diverged stretch stay paired: they show which signal parts first."""
    out: list[Stretch] = []
    for s in stretches:
        shorter = min(s.good_stop - s.good_start, s.suspect_stop - s.suspect_start)
        if s.kind == "diverged" and out and shorter >= 2 * _PARTING:
            out[-1] = out[-1]._replace(good_stop=s.good_start + _PARTING, suspect_stop=s.suspect_start + _PARTING)
            s = s._replace(good_start=s.good_start + _PARTING, suspect_start=s.suspect_start + _PARTING)
        out.append(s)
    return out
