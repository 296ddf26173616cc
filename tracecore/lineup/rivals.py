"""Which of the offsets that were judged is taken, how sure that is, and which others may be the right one as well."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.lineup.explained import FEWEST_CYCLES, Explained
from tracecore.lineup.fit import Fit
from tracecore.lineup.state_words import StateWords

Status = Literal["unique", "weak", "ambiguous", "partial", "differs", "local", "by hand", "none"]
RIVAL_SHARE = 0.7
"""A rival whose score reaches this share of that of the offset taken makes it doubtful."""
NOTHING = 8.0  # bits that chance gives
SAME = 0.99  # a share of the bits that is no difference
REPEATS, AS_WELL = 0.5, 0.8  # shares of the bits from which on an offset that agrees to its end is a repeat
COMMON, WHOLE, PARTED = (1.0, 1.0), (-1.0, 1.2), (-1.5, 0.5)
"""Log odds of being right, constant and for each doubling of the lead in bits, by what is explained: a start that both
have in common; half of the shorter capture or more, to the end of the overlap; or a stretch after which the two part.
A stretch that ends may be another turn of a loop, whatever its bits, so that it is never certain. Tried on draws of
their own; DEVELOPERS.md has what they reach on others."""
MOST_SURE = 0.999  # more was never measured
LEAST_SURE = 0.75  # a stretch that ends and leads by less than this is chance as often as not
_FEWEST_REPEATED, _FEWEST_STATES = 16, 6  # cycles, and different ones among them, without which a repeat is chance
# cycles that agree throughout, the share of what differs that they cover, and how soon it must differ
_FEWEST_AGREEING, _COVERED, _SOON = 32, 0.1, 64
_AT_THE_END = 8  # cycles at one end of the overlap: where all that differs lies there, nothing else speaks for it
_LATE_RIVALS = 3
# signals, and the share of those that move, that go wrong where a late rival contradicts the offset taken; cycles read
_CONTRADICTED, _CONTRADICTED_SHARE, _READ = 3, 0.25, 1 << 11
_LONG_ENOUGH = 64  # cycles that agree throughout in all signals, and are no chance
_MUCH = 3 * NOTHING  # bits that are none either, in however few cycles both then have
_PART = 1 << 14


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """The states of both sides by signal and cycle, and which signals move on both. ``good_numbers`` int64[N] are the
    cycles' own numbers on the good side where others are left out."""

    good: UInt8
    suspect: UInt8
    live: NDArray[np.bool_]
    names: tuple[str, ...]
    good_numbers: Int64 | None = None

    def good_number(self, cycle: int) -> int:
        """A good cycle's own number."""
        return cycle if self.good_numbers is None else int(self.good_numbers[cycle])

    @property
    def counts(self) -> tuple[int, int]:
        """How many cycles the good and the suspect side have."""
        return self.good.shape[1], self.suspect.shape[1]

    @property
    def cycles(self) -> int:
        """How many cycles the shorter side has."""
        return min(self.counts)


@dataclass(frozen=True, slots=True)
class Choice:
    """The offset taken, those that ``repeat`` it (a family, where they lie a period apart), other ``rivals`` that come
    near, and those that are ``beaten`` since they make cycles differ that the one taken explains, at ``parts``."""

    taken: Explained
    repeats: tuple[Explained, ...]
    rivals: tuple[Explained, ...]
    beaten: tuple[Explained, ...]
    lead: float
    whole: bool

    @property
    def step(self) -> int:
        """How far apart repeats lie; 0 without any."""
        return min((abs(r.offset - self.taken.offset) for r in self.repeats), default=0)

    @property
    def refused(self) -> bool:
        """Is it better to say nothing than to name this offset? What agrees behind the start alone is another turn of a
        loop as often as not where another turn agrees for as long."""
        if self.taken.late and any(r.late and r.bits > AS_WELL * self.taken.bits for r in self.rivals):
            return True
        ends = not (self.taken.begins is not None or self.taken.late or self.whole or self.repeats)
        return ends and self.chance < LEAST_SURE

    @property
    def chance(self) -> float:
        """The chance that the offset is right, by what it explains and by how far it leads."""
        if self.taken.late:
            return 0.5
        if self.taken.bits < NOTHING:
            return 0.75  # a start in common, and nothing behind it that agrees
        constant, doubling = COMMON if self.taken.common else WHOLE if self.whole else PARTED
        return min(MOST_SURE, float(1 / (1 + np.exp(-constant - doubling * np.log2(1 + self.lead)))))


def choose(tried: Sequence[Explained], cycles: int, apart: frozenset[int] = frozenset()) -> Choice | None:
    """Of the offsets in order of their scores; None where even the best explains no more than chance does.

    ``cycles`` is how many the shorter side has. Offsets ``apart`` belong to the one taken, since slips lead from one to
    the other, and are no rivals.
    """
    if not tried or tried[0].score < 0 or (tried[0].bits < NOTHING and not tried[0].common):
        return None
    # where offsets tell the same within the noise, the smallest is likeliest
    same = [t for t in tried if t.late == tried[0].late and t.bits > SAME * tried[0].bits]
    taken = min(same, key=lambda t: (abs(t.offset), -t.offset))
    whole = taken.parts is None and taken.overlap >= cycles / 2
    if not (taken.common or whole or _from_the_first(taken)):
        # both standing still and then beginning to move is the same moment, whatever a later stretch resembles
        taken = next((t for t in tried if t.common and t.score > 0), taken)
        whole = taken.parts is None and taken.overlap >= cycles / 2
    if taken.begins is None and taken.start > max(0, -taken.offset):
        # what agrees from behind the start on may be another turn: an event that both show once, and all that agrees
        # from the first cycle on beyond it, are the same moment
        taken = next((t for t in tried if _from_the_first(t) and t.bits > REPEATS * taken.bits), taken)
        whole = taken.parts is None and taken.overlap >= cycles / 2
    if taken.common and taken.bits < NOTHING:
        # what moves first may be the fault itself: an event that both show once, with something that agrees, is more
        taken = next((t for t in tried if t.begins is not None and t.score > 0 and t.bits >= NOTHING), taken)
    others = [t for t in tried if t is not taken and t.offset not in apart]
    beaten = tuple(t for t in others if t.bits > REPEATS * taken.bits and _beaten(t, taken))
    others = [t for t in others if t not in beaten]
    lead = max(0.0, taken.score - max((t.score for t in others), default=0.0))
    again = [t for t in others if t.parts is None and t.bits > REPEATS * taken.bits and not taken.late]
    if taken.parts is not None and not (again and again[0].bits > AS_WELL * taken.bits):
        again = []
    near = [t for t in others if t.score > RIVAL_SHARE * taken.score and t not in again]
    if taken.parts is not None and not taken.common:
        # a stretch that ends may be another pass through the same steps: what agrees for longer later on may be right
        near += [t for t in others if t.late and t.bits > taken.bits and t not in (*near, *again)][:_LATE_RIVALS]
    return Choice(taken, tuple(again), tuple(near), beaten, lead, whole)


def _from_the_first(way: Explained) -> bool:
    """Does an offset explain an event that both sides show once, and without a flaw all before it?"""
    return way.begins is not None and not (way.late or way.faulty) and way.start == max(0, -way.offset)


def _beaten(rival: Explained, taken: Explained) -> bool:
    """Does the rival part where the one taken explains both sides' cycles without a flaw? Then that is no fault: both
    the good and the suspect cycle have a partner that is like them."""
    if taken.parts is not None or taken.faulty or rival.parts is None:
        return False
    move = rival.offset - taken.offset
    return taken.start <= rival.parts < taken.stop and taken.start <= rival.parts + move < taken.stop


def less_contradicted(choice: Choice, sides: Sides) -> Choice:
    """The choice without those rivals and repeats that agree late alone, and make cycles before it differ that the one
    taken explains on both sides. Behind a start of its own a program may turn in a loop, so that each turn fits the
    others: the start is no fault of a board if each of its cycles has a partner that is like it."""
    if choice.taken.late:
        return choice
    asked = ((t.offset, _contradicted(t, choice.taken, sides)) for t in (*choice.repeats, *choice.rivals))
    found = {offset: at for offset, at in asked if at is not None}
    if not found:
        return choice
    beaten = (replace(t, parts=found[t.offset]) for t in (*choice.repeats, *choice.rivals) if t.offset in found)
    repeats, rivals = (tuple(t for t in own if t.offset not in found) for own in (choice.repeats, choice.rivals))
    return replace(choice, repeats=repeats, rivals=rivals, beaten=(*choice.beaten, *beaten))


def _contradicted(rival: Explained, taken: Explained, sides: Sides) -> int | None:
    """The first good cycle before the agreement of a late rival in which it differs, if many signals do so there that
    agree at the offset taken in the very cycles of both sides; None where it is not so."""
    if not rival.late:
        return None
    (good, suspect), back = sides.counts, taken.offset - rival.offset
    begin, end = max(0, -taken.offset), min(good, suspect - taken.offset)
    low = max(0, -rival.offset, begin, begin + back)
    high = min(rival.start, end, end + back, suspect - rival.offset, low + _READ)
    if high - low < FEWEST_CYCLES:
        return None
    wrong = _unlike(sides, low, high, rival.offset)
    sound = ~_unlike(sides, low, high, taken.offset).any(1)
    sound &= ~_unlike(sides, low - back, high - back, taken.offset).any(1)
    told = wrong[sound & sides.live]
    if told.any(1).sum() < max(_CONTRADICTED, _CONTRADICTED_SHARE * sides.live.sum()):
        return None
    return low + int(told.any(0).argmax())


def _unlike(sides: Sides, low: int, high: int, offset: int) -> NDArray[np.bool_]:
    """Where decided states differ in good cycles ``low`` to ``high`` (open) at an offset: bool[S, high - low]."""
    a, b = sides.good[:, low:high], sides.suspect[:, low + offset : high + offset]
    return np.asarray((a ^ b == 1) & (a < UNKNOWN) & (b < UNKNOWN))


def with_repeats(
    choice: Choice, tried: Sequence[Explained], both: Sequence[StateWords], sides: Sides | None, apart: frozenset[int]
) -> Choice:
    """The choice, with the offsets beside it that it is known modulo: where one of ``both`` sides repeats itself to its
    end some cycles on, the other may lie as many cycles on as well, however little of both would then overlap. So may
    it where another offset agrees throughout in all it overlaps; that is asked where ``sides`` are given. Offsets
    ``apart`` belong to the one taken."""
    taken = choice.taken
    if choice.repeats or taken.late:
        return choice
    ends = [t for t in tried if t is not taken and t.parts is None and not t.late and t.offset not in apart]
    again = tuple(
        t
        for t in ends
        if any(_repeats(side, abs(t.offset - taken.offset)) for side in both)
        or (sides is not None and _is_long(t, taken) and _whole(t) and not len(_differing(sides, t.offset)))
    )
    if not again:
        return choice
    return replace(choice, repeats=again, rivals=tuple(r for r in choice.rivals if r not in again))


def _is_long(way: Explained, taken: Explained) -> bool:
    """Is what agrees no chance? Of a loop longer than its captures the right turn may leave few cycles to both; a start
    in common is no turn."""
    few = way.overlap >= _FEWEST_REPEATED and way.bits >= _MUCH and not taken.common
    return few or way.overlap >= _LONG_ENOUGH


def _repeats(words: StateWords, apart: int) -> bool:
    """Is each cycle of a side the same as the one ``apart`` cycles on, as far as both are decided?"""
    count = len(words) - apart
    if apart < 1 or count < _FEWEST_REPEATED:
        return False
    for start in range(0, count, _PART):
        stop = min(count, start + _PART)
        differ = words.levels[start:stop] ^ words.levels[start + apart : stop + apart]
        if words.undecided is not None:
            differ &= ~(words.undecided[start:stop] | words.undecided[start + apart : stop + apart])
        if differ.any():
            return False
    return len(np.unique(words.levels[: min(count, _PART)])) >= _FEWEST_STATES


def agreeing_elsewhere(choice: Choice, tried: Sequence[Explained], sides: Sides) -> Choice:
    """The choice, or another where the one taken makes states differ from the start on, and other offsets agree
    throughout in all they overlap and cover a good part of what differs: a fault would show there as well. So it is
    where but the first or the last cycles differ and a repeat agrees for long."""
    taken = choice.taken
    wrong = _differing(sides, taken.offset)
    high = min(sides.counts[1], sides.counts[0] + taken.offset)
    if not len(wrong) or max(0, taken.offset) + _SOON < wrong[0] < high - _AT_THE_END:
        return choice
    found: list[Explained] = []
    covered = np.zeros(len(wrong), np.bool_)
    for t in tried:
        if t is taken or not _whole(t) or t.overlap < _FEWEST_AGREEING or len(_differing(sides, t.offset)):
            continue
        found.append(t)
        covered |= (wrong >= t.start + t.offset) & (wrong < t.start + t.offset + t.overlap)
    if not found or not (covered.mean() >= _COVERED or _at_one_end(choice, wrong, found, sides)):
        return choice
    best = max(found, key=lambda t: (t.overlap, -abs(t.offset)))
    others = (taken, *(t for t in found if t is not best))
    return replace(choice, taken=best, repeats=others, rivals=(), beaten=(), lead=0.0, whole=True)


def _at_one_end(choice: Choice, wrong: Int64, found: Sequence[Explained], sides: Sides) -> bool:
    """Does all that is ``wrong`` lie at one end of the overlap, where a repeat agrees for long? A loop may settle in
    its first turns. At the last end a cycle that repeats show wrong as well is wrong whichever turn it is."""
    taken = choice.taken
    low, high = max(0, taken.offset), min(sides.counts[1], sides.counts[0] + taken.offset)
    if wrong[-1] >= low + _SOON:
        if wrong[0] < high - _AT_THE_END:
            return False
        if any(np.isin(wrong, _differing(sides, t.offset)).all() for t in choice.repeats):
            return False
    return any(t in choice.repeats and t.overlap >= _LONG_ENOUGH for t in found)


def _whole(way: Explained) -> bool:
    """Does an offset explain all that the two overlap, from its first cycle to its last?"""
    return way.parts is None and not way.faulty and not way.late and way.start == max(0, -way.offset)


def _differing(sides: Sides, offset: int) -> Int64:
    """The suspect cycles in which a decided state differs at an offset, increasing."""
    low, high = max(0, -offset), min(sides.counts[0], sides.counts[1] - offset)
    if high <= low:
        return np.empty(0, np.int64)
    return np.flatnonzero(_unlike(sides, low, high, offset).any(0)) + low + offset


def telling_signals(taken: Fit, rival: Fit, sides: Sides) -> list[str]:
    """The signals that agree fully at the offset taken and not at its rival: they alone tell the two apart. One that
    is faulty looks sounder where the overlap ends before its fault, so that only full agreement tells."""
    rows = zip(sides.names, taken.agree, rival.agree, sides.live, strict=True)
    return [name for name, a, b, live in rows if live and a > 0.998 and a - b > 0.01]


def would_tell(sides: Sides, step: int, most: int = 4) -> list[str]:
    """Signals of the known-good side that differ ``step`` cycles on, and stand still or fail on the suspect: where
    they moved, they would tell repeats apart."""
    head = sides.good[:, : 1 << 16]
    out = []
    for name, row, live in zip(sides.names, head, sides.live, strict=True):
        if live or step >= len(row):
            continue
        a, b = row[:-step], row[step:]
        if ((a ^ b == 1) & (a < UNKNOWN) & (b < UNKNOWN)).any():
            out.append(name)
    return out[:most]


def agrees_throughout(sides: Sides, offset: int) -> bool:
    """Does every decided state of both sides agree at one offset?"""
    low, high = max(0, -offset), min(sides.counts[0], sides.counts[1] - offset)
    for good, suspect in zip(sides.good, sides.suspect, strict=True):
        a, b = good[low:high], suspect[low + offset : high + offset]
        if ((a ^ b == 1) & (a < UNKNOWN) & (b < UNKNOWN)).any():
            return False
    return high > low
