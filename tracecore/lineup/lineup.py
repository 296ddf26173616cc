"""Which cycle of the suspect is which cycle of the good one.

One offset is found first. From a place where it fits both captures are followed both ways, so that cycles that one
side inserts or lacks are slips, and not differences from there on.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.lineup.alignment import Places
from tracecore.lineup.averaged_edges import averaging_width
from tracecore.lineup.coverage import Coverage, Span, coverage
from tracecore.lineup.drift import clock_ratio
from tracecore.lineup.follower import MOST_EVENTS, Stretch
from tracecore.lineup.offset import (
    FEWEST_CYCLES,
    BothWords,
    Verified,
    both_words,
    candidate_offsets,
    live_signals,
    local_places,
    refuted,
    self_shifts,
    verify,
    verify_runs,
)
from tracecore.lineup.rejoin import LEAST_TOGETHER
from tracecore.lineup.rivals import Sides, Status, put_first, refuted_words, rivalry, status_of, ties_with
from tracecore.lineup.runs import MatchedRun, Runs, runs_table
from tracecore.lineup.slips import Slip, follow, slips_of
from tracecore.lineup.state_words import Bools
from tracecore.lineup.time_map import Pairing, TimeMap
from tracecore.lineup.unseen import UnseenState, unseen_states
from tracecore.settings import Edge

__all__ = ["Candidate", "Edge", "Lineup", "MatchedRun", "Status", "TimeMap", "find_lineup"]

Sure = Literal["certain", "likely", "doubtful", "by hand", "none"]
CERTAIN, LIKELY = 0.99, 0.9
"""The least confidence of the words: of such line-ups at least that share is right."""
_PART = 1 << 18
_FITS = 0.25  # what a stretch of cycles reaches in which the best two thirds of the signals differ in 0.3 %


@dataclass(frozen=True, slots=True)
class Candidate:
    """One offset that was tried: suspect cycle = good cycle + ``offset_cycles``.

    ``agreement`` is the share (0 to 1) of compared states that agree; ``overlap_cycles`` how many cycles
    both captures have there; ``disagreeing`` how many signals differ on more than 1 % of them. ``robust`` (0 to 1) is
    what offsets are judged by: stretch by stretch, by the best two thirds of the signals.
    """

    offset_cycles: int
    agreement: float
    overlap_cycles: int
    disagreeing: int
    robust: float = 0.0
    agrees: bool = False
    """Does every decided state of every shared signal agree over the whole overlap?"""


@dataclass(frozen=True, slots=True, eq=False)
class Lineup:
    """The pairing of cycles. Falsy where none was found; ``reason`` then says why.

    ``good_edges_ps`` and ``suspect_edges_ps`` are the active edges of each side, int64, in its own time.
    ``runs`` are in order and do not overlap; between two of them lies a slip. Runs and ``slips`` tile both captures:
    what they leave out lies before the first or behind the last on one side alone, or is left out by a condition
    (``left_out`` counts these, good and suspect). ``offset_cycles`` is the offset that was found first; each run has
    its own. Offsets are counted without the cycles that are left out. ``confidence`` is 0 to 1. ``drift_ppm`` is how
    much longer the suspect's cycle is, in millionths, slips taken out. ``widths`` are over how many cycles either way
    the edges of the good and of the suspect side may be averaged (``averaged_edges``). ``outside`` are the cycles
    before and behind all runs and slips of either side, where cycles are left out. ``spans_ps`` are start and stop of
    both captures, ``periods_ps`` their sample periods, 0 where they are not known.
    """

    clock: str
    edge: Edge
    status: Status
    reason: str
    offset_cycles: int
    confidence: float
    runs: Sequence[MatchedRun]
    candidates: tuple[Candidate, ...]
    good_edges_ps: Int64
    suspect_edges_ps: Int64
    drift_ppm: float | None
    slips: tuple[Slip, ...] = ()
    left_out: tuple[int, int] = (0, 0)
    widths: tuple[int, int] = (0, 0)
    outside: tuple[Span, Span] | None = None
    spans_ps: tuple[Span, Span] | None = None
    periods_ps: tuple[int, int] = (0, 0)
    rivals: tuple[Candidate, ...] = ()
    """The other offsets that may be the right one as well, nearest first; empty where one offset stands alone."""
    unseen: tuple[UnseenState, ...] = ()
    """States in the suspect's cycles without partner that the good side never shows."""

    @property
    def coverage(self) -> Coverage:
        """Where each cycle of both captures went."""
        return coverage(self)

    @property
    def sure(self) -> Sure:
        """The one word for how sure the line-up is; never at odds with ``confidence``."""
        if not self.runs:
            return "none"
        if self.status == "by hand":
            return "by hand"
        if self.status != "unique" or self.confidence < LIKELY:
            return "doubtful"
        return "certain" if self.confidence >= CERTAIN else "likely"

    @property
    def may_clear(self) -> bool:
        """May a comparison over this line-up say that the two agree? Where it is certain or set by hand, or where
        every offset that may be the right one agrees throughout as well."""
        if self.sure in ("certain", "by hand"):
            return True
        own = next((c for c in self.candidates if c.offset_cycles == self.offset_cycles), None)
        return own is not None and own.agrees and bool(self.rivals) and all(c.agrees for c in self.rivals)

    @property
    def cycle_ps(self) -> int:
        """The usual duration of a good cycle; 1 where there is none."""
        return int(np.median(np.diff(self.good_edges_ps))) if len(self.good_edges_ps) > 1 else 1

    def __bool__(self) -> bool:
        return bool(self.runs)

    @property
    def matched_cycles(self) -> int:
        """How many pairs of cycles there are."""
        return int(runs_table(self.runs)[:, 2].sum())

    @property
    def parts_at(self) -> int | None:
        """The good cycle from which on the two do different things for the first time, or None; what differs from
        there on may be a consequence."""
        return next((slip.good_cycle for slip in self.slips if slip.kind == "diverged"), None)


@dataclass(frozen=True, slots=True)
class _Answer:
    """What was found out of both sides, before it is dressed as a ``Lineup``; what the slips are is said there."""

    status: Status
    reason: str
    offset: int = 0
    confidence: float = 0.0
    stretches: tuple[Stretch, ...] = ()
    tried: tuple[Verified, ...] = ()


def find_lineup(
    clock: str,
    edge: Edge,
    good_edges_ps: Int64,
    suspect_edges_ps: Int64,
    good_states: UInt8,
    suspect_states: UInt8,
    names: tuple[str, ...],
    offset: int | None = None,
    left_out: tuple[Bools, Bools] | None = None,
    periods_ps: tuple[int, int] | None = None,
    spans_ps: tuple[Span, Span] | None = None,
) -> Lineup:
    """Pairs the cycles of both sides.

    ``good_states`` uint8[S, N] and ``suspect_states`` uint8[S, M] are the states of the signals ``names`` in each
    cycle. ``offset`` sets the pairing by hand: suspect cycle = good cycle + offset where that fits best; slips are
    followed from there. Where it fits nowhere it is kept throughout.
    ``left_out`` bool[N] and bool[M] mark cycles that are not looked at. ``periods_ps`` are both sides' sample periods:
    where they are known, edges are averaged as far as sampling explains what that moves. ``spans_ps`` are where both
    captures start and stop.
    """
    kept = None
    if left_out is not None:
        kept = tuple(np.flatnonzero(~mask) for mask in left_out)
        good_states, suspect_states = good_states[:, kept[0]], suspect_states[:, kept[1]]
    numbers = kept[0] if kept is not None else None
    sides = Sides(good_states, suspect_states, live_signals(good_states, suspect_states), names, numbers)
    found = _answer(sides, clock, offset)
    runs, slips = _runs(found.stretches), slips_of(found.stretches)
    if kept is not None:
        runs, slips = _renumbered(found.stretches, slips, *kept)
    near = [v for v in found.tried[1:12] if found.status in ("weak", "ambiguous") and ties_with(v, found.tried[0])]
    candidates = tuple(
        _candidate(v, sides, bool(near) and (v in near or v is found.tried[0])) for v in found.tried[:12]
    )
    ratio = clock_ratio(Pairing(runs, good_edges_ps, suspect_edges_ps))
    return Lineup(
        clock,
        edge,
        found.status if runs else "none",
        " ".join(filter(None, (found.reason, slip_words(slips if runs else ())))),
        found.offset,
        found.confidence,
        runs,
        candidates,
        good_edges_ps,
        suspect_edges_ps,
        None if ratio is None else round(ratio.ppm, 1),
        slips if runs else (),
        (0, 0) if left_out is None else (int(left_out[0].sum()), int(left_out[1].sum())),
        _widths(good_edges_ps, suspect_edges_ps, periods_ps) if runs and periods_ps else (0, 0),
        _outside(found.stretches, kept) if kept is not None else None,
        spans_ps,
        periods_ps or (0, 0),
        tuple(c for c in candidates if any(c.offset_cycles == v.offset for v in near)),
        _unseen(good_states, suspect_states, names, found.stretches, kept) if slips else (),
    )


def _unseen(
    good: UInt8, suspect: UInt8, names: tuple[str, ...], stretches: Sequence[Stretch], kept: Sequence[Int64] | None
) -> tuple[UnseenState, ...]:
    """What the good side never shows, in the captures' own numbers."""
    found = unseen_states(good, suspect, names, stretches)
    return found if kept is None else tuple(replace(u, first_cycle=int(kept[1][u.first_cycle])) for u in found)


def _outside(stretches: Sequence[Stretch], kept: Sequence[Int64]) -> tuple[Span, Span]:
    """Of the cycles that are kept, those before and behind all stretches, good and suspect."""
    totals = [len(side) for side in kept]
    if not stretches:
        return (totals[0], 0), (totals[1], 0)
    first, last = stretches[0], stretches[-1]
    return (first.good_start, totals[0] - last.good_stop), (first.suspect_start, totals[1] - last.suspect_stop)


def _candidate(v: Verified, sides: Sides, whole: bool) -> Candidate:
    """An offset as it is told; ``whole`` asks whether all of the overlap agrees."""
    disagreeing = int((v.agree[sides.live] < 0.99).sum())
    agrees = whole and _agrees(sides, v.offset)
    return Candidate(v.offset, v.agreement, v.overlap, disagreeing, round(v.robust, 4), agrees)


def _agrees(sides: Sides, offset: int) -> bool:
    """Does every decided state of both sides agree at one offset?"""
    low, high = max(0, -offset), min(sides.counts[0], sides.counts[1] - offset)
    for good, suspect in zip(sides.good, sides.suspect, strict=True):
        a, b = good[low:high], suspect[low + offset : high + offset]
        if ((a ^ b == 1) & (a < UNKNOWN) & (b < UNKNOWN)).any():
            return False
    return high > low


def _runs(stretches: Iterable[Stretch]) -> Runs:
    starts, lengths = _starts(stretches)
    return Runs(np.column_stack((starts, lengths)))


def _renumbered(
    stretches: Iterable[Stretch], slips: tuple[Slip, ...], good: Int64, suspect: Int64
) -> tuple[Runs, tuple[Slip, ...]]:
    """Runs and slips in the captures' own numbers, ``good`` and ``suspect`` int64 being the cycles that are kept: a
    run ends where cycles are left out."""
    tables = [np.empty((0, 3), np.int64)]
    for s in stretches:
        # long ones in parts: a condition may cut them into millions of runs
        for start in range(0, s.size[0] if s.kind == "paired" else 0, _PART):
            count = min(_PART, s.size[0] - start)
            a, b = good[s.good_start + start :][:count], suspect[s.suspect_start + start :][:count]
            begins = np.flatnonzero(np.append(True, (np.diff(a) != 1) | (np.diff(b) != 1)))
            rows = np.column_stack((a[begins], b[begins], np.diff(begins, append=count)))
            if len(tables[-1]) and (tables[-1][-1, :2] + tables[-1][-1, 2] == rows[0, :2]).all():
                tables[-1][-1, 2] += rows[0, 2]
                rows = rows[1:]
            if len(rows):
                tables.append(rows)
    table = np.concatenate(tables)
    ends = np.append(good, good[-1:] + 1), np.append(suspect, suspect[-1:] + 1)
    moved = tuple(
        replace(s, good_cycle=int(ends[0][s.good_cycle]), suspect_cycle=int(ends[1][s.suspect_cycle])) for s in slips
    )
    return Runs(table), moved


def _answer(sides: Sides, clock: str, offset: int | None) -> _Answer:
    if sides.cycles < FEWEST_CYCLES:
        return _Answer(
            "none",
            f"{clock} makes only {max(sides.cycles, 0)} whole cycles on one side; at least "
            f"{FEWEST_CYCLES} are needed. Capture longer, or choose another clock.",
        )
    if offset is not None:
        return _by_hand(sides, offset)
    if not sides.live.any():
        return _Answer(
            "none",
            "No signal that both sides have moves on both, so nothing tells the cycles apart. "
            "Set the offset by hand, or capture a signal that moves.",
        )
    words = both_words(sides.good, sides.suspect, sides.live)
    tried = _judged(sides, words)
    if tried and tried[0].robust * tried[0].overlap >= max(
        min(FEWEST_CYCLES, 0.2 * sides.cycles), 0.002 * sides.cycles
    ):
        best = tried[0]
        stretches = follow(*words[:2], Places(best.anchor, best.anchor + best.offset), words.live)
        # of a dead board most of a cycle's signals may agree and no two cycles be alike: that is no line-up
        if _matched(stretches):
            return _told(sides, tried, stretches)
    return _in_stretches(sides, words, tried) or _Answer(
        "none",
        "No offset makes the two sides agree: they may run different programs, the captures "
        "may not overlap, or the clock may be wrong. Set the offset by hand if it is known.",
        tried=tuple(tried),
    )


def _by_hand(sides: Sides, offset: int) -> _Answer:
    """The offset as it was set, and slips followed from where it fits best; where it fits nowhere, kept throughout."""
    verified = verify(sides.good, sides.suspect, offset, sides.live)
    said = f"Offset {offset:+d} was set by hand"
    if verified is not None and verified.at_best >= _FITS:
        words = both_words(sides.good, sides.suspect, sides.live)
        anchor = Places(verified.anchor, verified.anchor + offset)
        stretches = follow(*words[:2], anchor, words.live)
        if _holds_at(stretches, anchor):
            if not slips_of(stretches):
                return _Answer("by hand", f"{said}. No slip is seen.", offset, 1.0, tuple(stretches), (verified,))
            judged = verify_runs(sides.good, sides.suspect, *_starts(stretches), sides.live, offset)
            holds = sides.good_number(verified.anchor)
            said += f". It holds round good cycle {holds}, and slips are followed from there, both ways."
            return _Answer("by hand", said, offset, 1.0, tuple(stretches), (judged,))
    low, high = max(0, -offset), min(sides.good.shape[1], sides.suspect.shape[1] - offset)
    kept = (Stretch("paired", low, high, low + offset, high + offset),) if high > low else ()
    said += ". It fits nowhere, so it is kept throughout and no slip is followed."
    return _Answer("by hand", said, offset, 1.0 if verified else 0.0, kept, (verified,) if verified else ())


def _holds_at(stretches: Iterable[Stretch], at: Places) -> bool:
    """Is the pair of cycles in a stretch of pairs long enough to be no chance, or as long as the captures allow?"""
    return any(
        s.kind == "paired"
        and s.good_start <= at.good < s.good_stop
        and s.suspect_start - s.good_start == at.suspect - at.good
        and (s.good_stop - s.good_start >= LEAST_TOGETHER or not slips_of(stretches))
        for s in stretches
    )


def _told(sides: Sides, tried: list[Verified], stretches: list[Stretch]) -> _Answer:
    """The answer where one offset fits well enough to start from."""
    best, slips = tried[0], slips_of(stretches)
    if slips:
        # what was followed is judged as a whole, and its offsets are no rivals of one another
        own = {s.suspect_start - s.good_start for s in stretches if s.kind == "paired"}
        best = verify_runs(sides.good, sides.suspect, *_starts(stretches), sides.live, best.offset)
        if stretches[0].kind == "diverged" and best.overlap < 0.5 * sides.cycles:
            return _only_stretches(sides, stretches, best.offset, tried)
        tried = [best, *(v for v in tried[1:] if v.offset not in own)]
    # where slips are followed the best fit has no one offset by which to refute another
    comes_near = [] if slips else [v for v in tried[1:] if v.robust > 0.5 * best.robust]
    beaten = [v for v in comes_near if refuted(v, best, sides.counts)]
    status, chosen, near, reason = status_of([v for v in tried if v not in beaten], sides)
    if beaten and status == "unique" and ties_with(beaten[0], chosen):
        reason = refuted_words(beaten[0], chosen, sides)
    tried = put_first(chosen, tried)
    if chosen is not best:
        # all signals told for another offset than the best two thirds
        words = both_words(sides.good, sides.suspect, sides.live)
        other = follow(*words[:2], Places(chosen.anchor, chosen.anchor + chosen.offset), words.live)
        stretches = other if _matched(other) else stretches
    rival = next((v for v in near if v is not chosen), None)
    confidence = 1.0 if rival is None else 1.0 - min(1.0, rivalry(rival, chosen))
    if status == "weak":
        confidence = min(confidence, 0.6)
    confidence = round(confidence * min(1.0, 0.5 + chosen.robust / 2), 4)
    return _Answer(status, reason, chosen.offset, confidence, tuple(stretches), tuple(tried))


def _in_stretches(sides: Sides, words: BothWords, tried: list[Verified]) -> _Answer | None:
    """No offset fits a good part of the captures, but stretches of them agree, each at its own."""
    best: list[Stretch] = []
    for place in local_places(sides.good, sides.suspect, words):
        stretches = follow(*words[:2], place, words.live)
        if _matched(stretches) > _matched(best):
            best, offset = stretches, place.suspect - place.good
        if _matched(best) > 0.5 * sides.cycles:
            break
    share = _matched(best) / sides.cycles
    if _matched(best) < 4 * LEAST_TOGETHER or share < 0.02:
        return None
    if share > 0.5:
        reason = "No one offset holds for long, but one follows from another."
        return _Answer("unique", reason, offset, round(share, 4), tuple(best), tuple(tried))
    return _only_stretches(sides, best, offset, tried)


def _only_stretches(sides: Sides, stretches: list[Stretch], offset: int, tried: list[Verified]) -> _Answer:
    share = _matched(stretches) / sides.cycles
    reason = f"Only stretches of the two agree, {_matched(stretches)} of {sides.cycles} cycles, each at its own offset."
    return _Answer("local", reason, offset, round(share / 2, 4), tuple(stretches), tuple(tried))


def _starts(stretches: Iterable[Stretch]) -> tuple[Int64, Int64]:
    """Where paired stretches start, int64[R, 2], good and suspect, and how long they are."""
    paired = [s for s in stretches if s.kind == "paired"]
    starts = np.array([(s.good_start, s.suspect_start) for s in paired], np.int64).reshape(-1, 2)
    return starts, np.array([s.good_stop - s.good_start for s in paired], np.int64)


def _matched(stretches: Iterable[Stretch]) -> int:
    return sum(s.good_stop - s.good_start for s in stretches if s.kind == "paired")


def slip_words(slips: tuple[Slip, ...]) -> str:
    """Where the two do not go on alike, in words; empty without slips."""
    moved = [s for s in slips if s.kind in ("inserted", "missing")]
    parted, unsure = ([s for s in slips if s.kind == kind] for kind in ("diverged", "unsure"))
    words = []
    if moved:
        inserted, missing = sum(s.inserted for s in moved), sum(s.missing for s in moved)
        words.append(
            f"{_count(len(moved), 'slip')} followed, first at good cycle {moved[0].good_cycle}: "
            f"{_count(inserted, 'cycle')} inserted, {missing} missing."
        )
    if parted:
        words.append(
            f"From good cycle {parted[0].good_cycle} on the two do different things"
            f"{'' if len(parted) == 1 else f', as in {len(parted) - 1} more stretches'}: what differs later may be a "
            "consequence."
        )
    if unsure:
        good, suspect = sum(s.missing for s in unsure), sum(s.inserted for s in unsure)
        words.append(
            f"In {_count(len(unsure), 'place')}, first at good cycle {unsure[0].good_cycle}, it is not settled which "
            f"cycle is which: {good} good and {suspect} suspect cycles are not compared."
        )
    if len(slips) > MOST_EVENTS // 2:
        words.append("So many slips are a guess: leave out the cycles that come and go by a condition.")
    return " ".join(words)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _judged(sides: Sides, words: BothWords) -> list[Verified]:
    """All candidates, best first, the winner challenged by the shifts at which the good side resembles itself."""
    good, suspect, live = sides.good, sides.suspect, sides.live
    judged: dict[int, Verified] = {}

    def judge(offsets: list[int]) -> None:
        for at in offsets:
            if at not in judged and (v := verify(good, suspect, at, live)) is not None:
                judged[at] = v

    for batch in candidate_offsets(good, suspect, live, words):
        judge(batch)
        if any(v.robust > 0.9 and v.robust * v.overlap > 0.1 * sides.cycles for v in judged.values()):
            break
    # where captures are equal at several offsets, the longest overlap, then the smallest move, comes first
    order = lambda v: (-v.evidence, abs(v.offset))  # noqa: E731
    best = min(judged.values(), key=order, default=None)
    if best is not None and best.robust > 0.05:
        judge([best.offset + s * shift for shift in self_shifts(good, live) for s in (1, -1)])
    return sorted(judged.values(), key=order)


def _widths(good_edges_ps: Int64, suspect_edges_ps: Int64, periods_ps: tuple[int, int]) -> tuple[int, int]:
    """Over how many cycles either way each side's edges may be averaged."""
    return averaging_width(good_edges_ps, periods_ps[0]), averaging_width(suspect_edges_ps, periods_ps[1])
