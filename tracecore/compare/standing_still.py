"""Stretches in which the suspect stands still while the good side moves, and outside of which it is right."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, Int64, UInt8
from tracecore.compare.divergence import Divergence
from tracecore.measure.clock import known_transitions

FEWEST_MOVES = 4
"""Changes of the good side without which nothing is said of standing still."""
MOST_STRETCHES = 3
"""More of them are a fault that comes and goes."""
_UNKNOWN = 0.1  # the share of a stretch that may be undecided
_SPIKES = 0.02  # further transitions of the suspect, as a share of the good side's


@dataclass(frozen=True, slots=True)
class Stretch:
    """``first`` to ``last`` are the good cycles that diverge, both of them part of it; ``level`` is where the suspect
    stands, ``moves`` how often the good side changes meanwhile."""

    first: int
    last: int
    level: int
    moves: int


def stretches_of_standing_still(found: Divergence) -> tuple[Stretch, ...]:
    """The stretches, in order; empty where it diverges anywhere else, or stands still too often or to the end."""
    if not len(found.cycles):
        return ()
    known = found.suspect_states != UNKNOWN
    if not known.any():
        return ()
    suspect, good = _carried(found.suspect_states), _carried(found.good_states)
    number = np.cumsum(np.append(False, suspect[1:] != suspect[:-1]))
    moved = np.append(False, good[1:] != good[:-1])
    # behind a cycle that was left out or slipped no transition is looked for
    follows = np.append(False, np.diff(found.good_cycles) == 1)
    seen = 0
    wrong = np.unique(np.minimum(found.good_cycles.searchsorted(found.cycles), len(number) - 1))
    out: list[Stretch] = []
    covered = np.zeros(len(wrong), np.bool_)
    differing = wrong[found.differing[wrong]]
    begins = np.flatnonzero(np.append(True, np.diff(number[differing]) > 0)[: len(differing)])
    firsts, lasts = differing[begins], differing[np.append(begins[1:], len(differing))[: len(begins)] - 1]
    moves = _within(moved, firsts, lasts)
    long = (moves >= FEWEST_MOVES) & (_within(~known, firsts, lasts) <= _UNKNOWN * (lasts - firsts + 1))
    if int(long.sum()) > MOST_STRETCHES:
        return ()
    for first, last, changes in zip(firsts[long].tolist(), lasts[long].tolist(), moves[long].tolist(), strict=True):
        seen += int((moved & follows)[first : last + 1].sum())
        level = int(suspect[first])
        # the edges at which it lets go and comes back lie beside it
        beside = (wrong >= first - 1) & (wrong <= last + 1)
        covered |= beside
        first, last = int(wrong[beside][0]), int(wrong[beside][-1])
        out.append(Stretch(int(found.good_cycles[first]), int(found.good_cycles[last]), level, changes))
    ends = bool(out) and out[-1].last < int(found.good_cycles[-1])
    return tuple(out) if ends and bool(covered.all()) and not _moves(found, len(out), seen) else ()


def _within(which: NDArray[np.bool_], firsts: Int64, lasts: Int64) -> Int64:
    """How many cycles are such from each first to its last, both included: int64[N]."""
    before = np.append(0, np.cumsum(which))
    return np.asarray(before[lasts + 1] - before[firsts])


def _carried(states: UInt8) -> UInt8:
    """The states, each that is undecided taken as the one before."""
    if int(states.max()) < UNKNOWN:
        return states
    at = np.where(states != UNKNOWN, np.arange(len(states)), 0)
    return states[np.maximum.accumulate(at)]


def _moves(found: Divergence, stretches: int, moves: int) -> bool:
    """Does it move in between all the same? States once a cycle do not show pulses between two edges, of which the good
    side makes ``moves`` at least."""
    missing, extra = len(found.matching.missing), len(found.matching.extra)
    return extra > 2 * stretches + _SPIKES * moves or missing < (1 - _UNKNOWN) * moves - 2 * stretches


def stands_still(found: Divergence, moves: int) -> bool:
    """Does the suspect hardly move after its first divergence, where the good side makes so many ``moves``? Undecided
    states hide transitions, the trace does not; those in cycles without partner count as well, since a net that moves
    there is held by nothing."""
    if found.first is None:
        return True
    known = known_transitions(found.suspect_on_good)
    return int((known.times_ps[1:] > found.first.good_ps).sum()) <= 0.02 * moves + 2
