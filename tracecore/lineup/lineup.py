"""Which cycle of the suspect is which cycle of the good one.

One offset is found first. From a place where it fits both captures are followed both ways, so that cycles that one
side inserts or lacks are slips, and not differences from there on.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from tracecore.capture import Int64, UInt8
from tracecore.lineup.answer import CERTAIN, LIKELY, Candidate, answer, starts_of
from tracecore.lineup.averaged_edges import averaging_width
from tracecore.lineup.coverage import Coverage, Span, coverage
from tracecore.lineup.drift import clock_ratio
from tracecore.lineup.follower import MOST_EVENTS, Stretch
from tracecore.lineup.offset import live_signals
from tracecore.lineup.rivals import Sides, Status
from tracecore.lineup.runs import MatchedRun, Runs, runs_table
from tracecore.lineup.shown_elsewhere import shown_nowhere
from tracecore.lineup.slips import Slip, slips_of
from tracecore.lineup.state_words import Bools
from tracecore.lineup.time_map import Pairing, TimeMap
from tracecore.lineup.unseen import UnseenState, unseen_states
from tracecore.settings import Edge

__all__ = ["Candidate", "Edge", "Lineup", "MatchedRun", "Status", "TimeMap", "find_lineup"]

Sure = Literal["certain", "likely", "doubtful", "by hand", "none"]
_PART = 1 << 18
_FIRST_STEPS = 24.0
"""Bits that speak for the start of two programs at most. Tried on 50 drawn pairs of them, of which 25 part for good,
with 0 to 33 bits; of 95 faults three part for good with less than this."""


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
    bits: float = math.inf
    """How many bits speak for the offset: what both do alike that neither repeats. By hand no bits are asked for."""
    begins_at: int | None = None
    """The good cycle in which both begin to move, or show an event that each has once; None without one."""
    unseen: tuple[UnseenState, ...] = ()
    """States in the suspect's cycles without partner that the good side never shows."""
    shown_nowhere: tuple[int, int] = (0, 0)
    """How many good and suspect cycles without partner, of more than a few in a row that do not wait, the other side
    shows at no other place either."""

    _counted: list[Coverage] = field(default_factory=list, init=False, repr=False, compare=False)

    @property
    def coverage(self) -> Coverage:
        """Where each cycle of both captures went; counted once, for it goes over every edge."""
        if not self._counted:
            self._counted.append(coverage(self))
        return self._counted[0]

    @property
    def sure(self) -> Sure:
        """The one word for how sure the line-up is; never at odds with ``confidence``."""
        if not self.runs:
            return "none"
        if self.status == "by hand":
            return "by hand"
        if self.status not in ("unique", "partial") or self.confidence < LIKELY:
            return "doubtful"
        return "certain" if self.confidence >= CERTAIN else "likely"

    @property
    def may_be_a_guess(self) -> bool:
        """May another offset be as good? ``confidence`` says how likely this one is."""
        return self.status in ("weak", "local")

    @property
    def may_clear(self) -> bool:
        """May a comparison over this line-up say that the two agree? Where it is certain or set by hand, or where
        every offset that may be the right one agrees throughout as well."""
        if self.sure in ("certain", "by hand"):
            return True
        own = next((c for c in self.candidates if c.offset_cycles == self.offset_cycles), None)
        return own is not None and own.agrees and bool(self.rivals) and all(c.agrees for c in self.rivals)

    @property
    def parts_for_good(self) -> bool:
        """Do the two go on together for less than half of both captures, and then do different things to the end? A
        fault may do that; so do two different programs behind one reset."""
        last = self.slips[-1] if self.slips else None
        if last is None or last.kind != "diverged" or min(last.inserted, last.missing) < self.matched_cycles:
            return False
        return bool(runs_table(self.runs)[-1, 0] < last.good_cycle)

    @property
    def shares_a_start_alone(self) -> bool:
        """Do the two part for good right behind their start? Two programs do that behind one reset, and so does a
        fault that shows in the first steps: what little agrees is the reset's own."""
        return self.parts_for_good and self.begins_at is not None and self.bits < _FIRST_STEPS

    @property
    def rivals_alike(self) -> bool:
        """Do all offsets that may be the right one agree as well as the one taken, so that which it is matters little?
        Such are the turns of a loop in which both captures lie."""
        own = next((c for c in self.candidates if c.offset_cycles == self.offset_cycles), None)
        return own is not None and bool(self.rivals) and all(c.agreement >= own.agreement - 0.01 for c in self.rivals)

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
    same_start: bool = False,
) -> Lineup:
    """Pairs the cycles of both sides.

    ``good_states`` uint8[S, N] and ``suspect_states`` uint8[S, M] are the states of the signals ``names`` in each
    cycle. ``offset`` sets the pairing by hand: suspect cycle = good cycle + offset where that fits best; slips are
    followed from there. Where it fits nowhere it is kept throughout.
    ``left_out`` bool[N] and bool[M] mark cycles that are not looked at. ``periods_ps`` are both sides' sample periods:
    where they are known, edges are averaged as far as sampling explains what that moves. ``spans_ps`` are where both
    captures start and stop. ``same_start`` says that both were triggered by the same event, so that a far offset is
    hardly believed.
    """
    kept = None
    if left_out is not None:
        kept = tuple(np.flatnonzero(~mask) for mask in left_out)
        good_states, suspect_states = good_states[:, kept[0]], suspect_states[:, kept[1]]
    numbers = kept[0] if kept is not None else None
    sides = Sides(good_states, suspect_states, live_signals(good_states, suspect_states), names, numbers)
    found = answer(sides, clock, offset, same_start)
    runs, slips = _runs(found.stretches), slips_of(found.stretches)
    if kept is not None:
        runs, slips = _renumbered(found.stretches, slips, *kept)
    begins = found.begins if found.begins is None or kept is None else int(kept[0][found.begins])
    ratio = clock_ratio(Pairing(runs, good_edges_ps, suspect_edges_ps))
    return Lineup(
        clock,
        edge,
        found.status if runs else "none",
        " ".join(filter(None, (found.reason, slip_words(slips if runs else ())))),
        found.offset,
        found.confidence,
        runs,
        found.tried,
        good_edges_ps,
        suspect_edges_ps,
        None if ratio is None else round(ratio.ppm, 1),
        slips if runs else (),
        (0, 0) if left_out is None else (int(left_out[0].sum()), int(left_out[1].sum())),
        _widths(good_edges_ps, suspect_edges_ps, periods_ps) if runs and periods_ps else (0, 0),
        _outside(found.stretches, kept) if kept is not None else None,
        spans_ps,
        periods_ps or (0, 0),
        found.rivals if runs else (),
        found.bits,
        begins,
        _unseen(good_states, suspect_states, names, found.stretches, kept) if slips else (),
        shown_nowhere(good_states, suspect_states, found.stretches) if slips else (0, 0),
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


def _runs(stretches: Iterable[Stretch]) -> Runs:
    starts, lengths = starts_of(stretches)
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


def _widths(good_edges_ps: Int64, suspect_edges_ps: Int64, periods_ps: tuple[int, int]) -> tuple[int, int]:
    """Over how many cycles either way each side's edges may be averaged."""
    return averaging_width(good_edges_ps, periods_ps[0]), averaging_width(suspect_edges_ps, periods_ps[1])
