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
from tracecore.lineup.follower import Follower, Kind, Stretch
from tracecore.lineup.in_step import in_step
from tracecore.lineup.state_words import StateWords, mask_of, signal_counts
from tracecore.lineup.unseen import BESIDE, detours_told, unsound
from tracecore.quantities import group_digits

_ISLAND = 24  # a chance agreement inside a diverged stretch is shorter than this
_UNSURE = 16  # cycles of both sides between which nothing is settled
_LASTING = 64
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

    @property
    def words(self) -> str:
        """What the suspect does: ``waits 4 cycles more in 2 places; first at good cycle 330``."""
        did = [
            f"{verb} {_counted(cycles, 'cycle')} {more} in {_counted(places, 'place')}"
            for verb, cycles, more, places in (
                ("waits", self.inserted, "more", self.inserted_places),
                ("takes", self.missing, "fewer", self.missing_places),
            )
            if places
        ]
        if self.diverged:
            did.append(f"does other things in {_counted(self.diverged, 'stretch', 'stretches')}")
        if self.unsure:
            did.append(f"cannot be told cycle by cycle in {_counted(self.unsure, 'place')}")
        return f"{' and '.join(did)}; first at good cycle {group_digits(self.first_cycle)}"

    def tells(self, good_slips: Sequence[int]) -> bool:
        """Do slips alone make a difference? ``good_slips`` are how many each further known-good capture shows.

        Refresh and a shared store make sound machines wait too, so cycles inserted or missing count where other
        known-good captures were compared and none of them slips; a stretch in which the two do different things
        counts unless one of them slips.
        """
        return not any(good_slips) and (self.diverged > 0 or len(good_slips) > 0)


def _counted(number: int, noun: str, several: str = "") -> str:
    """A number with its noun: 1 place, 3 places."""
    return f"{group_digits(number)} {noun if number == 1 else several or noun + 's'}"


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
    end = Places(len(good), len(suspect))
    ahead = Follower(pair.part(at, end), live).walk()
    behind = Follower(pair.part(Places(0, 0), at).backwards(), live).walk()
    walked = _joined([_turned(s, at) for s in reversed(behind)] + [_moved(s, at) for s in ahead])
    sound = live & ~unsound(walked, pair, live)
    widened = _widened(_ends_unsure(_pushed(walked, pair, live), pair, sound), pair, sound)
    settled = _kinds_told(_without_islands(_kinds_told(widened)))
    return _parted(_joined(in_step(detours_told(settled, pair, sound), pair, live)))


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


def _moved(stretch: Stretch, at: Places) -> Stretch:
    """A stretch of the walk from ``at`` in the captures' own numbering."""
    kind, a, b, c, d = stretch
    return Stretch(kind, at.good + a, at.good + b, at.suspect + c, at.suspect + d)


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


def _ends_unsure(stretches: list[Stretch], pair: WordPair, sound: np.uint64) -> list[Stretch]:
    """The outermost pair of either end, where a sound signal differs in it: a slip just there looks the same."""
    out = list(stretches)
    for side in (-1, 1):
        outer = out[0 if side > 0 else -1] if out else None
        if outer is None or outer.kind != "paired" or outer.size[0] < 2 * BESIDE:
            continue
        if _differing_beside(pair, outer, side, sound, 1):
            a, b, c, d = outer[1:]
            if side < 0:
                out[-1:] = [Stretch("paired", a, b - 1, c, d - 1), Stretch("diverged", b - 1, b, d - 1, d)]
            else:
                out[:1] = [Stretch("diverged", a, a + 1, c, c + 1), Stretch("paired", a + 1, b, c + 1, d)]
    return out


def _widened(stretches: list[Stretch], pair: WordPair, sound: np.uint64) -> list[Stretch]:
    """Pairs hard by a gap in which a sound signal differs go to the gap: which cycle is which is not sure there."""
    out = list(stretches)
    for i, gap in enumerate(stretches):
        if gap.kind == "paired":
            continue
        for side in (-1, 1):
            if 0 <= i + side < len(out) and out[i + side].kind == "paired":
                beside = out[i + side]
                cut = _differing_beside(pair, beside, side, sound)
                if side < 0:
                    out[i - 1] = beside._replace(
                        good_stop=beside.good_stop - cut, suspect_stop=beside.suspect_stop - cut
                    )
                    out[i] = out[i]._replace(
                        good_start=out[i].good_start - cut, suspect_start=out[i].suspect_start - cut
                    )
                else:
                    at = beside.good_start + cut, beside.suspect_start + cut
                    out[i + 1] = beside._replace(good_start=at[0], suspect_start=at[1])
                    out[i] = out[i]._replace(good_stop=at[0], suspect_stop=at[1])
    return out


def _without_islands(stretches: list[Stretch]) -> list[Stretch]:
    """Short islands of pairs beside stretches that are apart on both sides belong to these."""
    out = list(stretches)
    for i in range(1, len(out) - 1):
        apart = [s.size for s in (stretches[i - 1], stretches[i + 1]) if min(s.size) > 0]
        wide = len(apart) == 2 and min(suspect for _, suspect in apart) > _UNSURE
        if out[i].kind == "paired" and apart and out[i].size[0] < (_ISLAND if wide else BESIDE + 1):
            out[i] = out[i]._replace(kind="diverged")
    return out


def _differing_beside(pair: WordPair, beside: Stretch, side: int, sound: np.uint64, most: int = BESIDE) -> int:
    """How many of the pairs nearest a gap go to it, up to the last of ``most`` in which a sound signal differs. A
    signal that goes on differing is wrong itself."""
    near = min(most, beside.size[0])
    far = min(_LASTING, beside.size[0] - near)
    start, stop = Places(beside.good_start, beside.suspect_start), Places(beside.good_stop, beside.suspect_stop)
    words = pair.differences(stop.on(-near, -near) if side < 0 else start, near, sound)
    if words.any() and far >= 12:
        away = stop.on(-near - far, -near - far) if side < 0 else start.on(near, near)
        lasting = mask_of(signal_counts(pair.differences(away, far, sound)) > 0.06 * far)
        words &= ~lasting
    bad = np.flatnonzero(words)
    if not len(bad):
        return 0
    return near - int(bad[0]) if side < 0 else int(bad[-1]) + 1


def _kinds_told(stretches: list[Stretch]) -> list[Stretch]:
    """Neighbours that are not paired as one, each told by what it has: cycles of one side alone are inserted or
    missing; a few of both are unsure, more of both diverged. Where the walk gave up, all is unsure."""
    out: list[Stretch] = []
    for s in stretches:
        last = out[-1] if out else None
        if last is not None and (s.kind == last.kind or "paired" not in (s.kind, last.kind)):
            # a few unsure cycles before a stretch that is apart do not make that one unsure
            given_up = any(own.kind == "unsure" and max(own.size) > _UNSURE for own in (last, s))
            kind: Kind = "paired" if s.kind == "paired" else "unsure" if given_up else "diverged"
            out[-1] = Stretch(kind, last.good_start, s.good_stop, last.suspect_start, s.suspect_stop)
        elif max(s.size):
            out.append(s)
    return [s if s.kind in ("paired", "unsure") else s._replace(kind=_kind_of(*s.size)) for s in out]


def _kind_of(good: int, suspect: int) -> SlipKind:
    if not good or not suspect:
        return "missing" if good else "inserted"
    return "unsure" if max(good, suspect) <= _UNSURE else "diverged"


def _pushed(stretches: list[Stretch], pair: WordPair, live: np.uint64) -> list[Stretch]:
    """Gaps where the fewest states differ, and there as late as they may be: where a fixed offset really fails.

    The follower places a gap by the signals that judge; here all are asked."""
    out = list(stretches)
    for i in range(1, len(out) - 1):
        before, gap, behind = out[i - 1 : i + 2]
        if gap.kind not in ("inserted", "missing") or (before.kind, behind.kind) != ("paired", "paired"):
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
