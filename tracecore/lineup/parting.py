"""Up to where two captures go together at an offset, and how many bits speak for it: many offsets in one step.

Let e be where the two differ under an offset, signal by signal. What stays as it is earns its worth, so that a signal
that is inverted throughout agrees as well as a sound one. A signal that goes wrong costs ``OUT``, one that comes right
again ``BACK``: about the bits that say which signal does so, and when. One that is wrong too often is faulty by itself
and neither earns nor costs any more. The parting point is where the sum over all signals stands highest.

Most offsets part within some ten cycles. So all of them are followed side by side, a few cycles first and then ever
more, and those that have parted fall out. What comes out is the same as if each had been followed alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64
from tracecore.lineup.state_words import Bools
from tracecore.lineup.worth import Cells, Floats32, Told

Signs = NDArray[np.int8]
# Tried on draws of their own; half or twice of each moves few answers.
OUT, BACK, START = 8.0, 3.0, 2.0  # bits: a signal goes wrong, comes right again, is wrong in the first cycle
GIVE_UP = 14.0  # bits that saying "this signal is faulty by itself" costs
PARTED = 45.0  # bits lost since the best place: the two have parted
ENOUGH = 4000.0  # bits beyond which nothing more need be counted
LONGER = 8  # cycles by which a seldom signal may go on agreeing behind the others
FIRST_STEP, LONGEST_STEP = 48, 1 << 13  # cycles
_CELLS = 1 << 16  # states that are looked at in one step
_WIDE = 150  # states in a row from which on row by row is quicker than column by column


class Begin(NamedTuple):
    """Where to begin: the offset (suspect cycle less good cycle), the good cycle, and the bits that a signal costs
    which is wrong there already."""

    offset: int
    cycle: int
    start: float = START


class Parting(NamedTuple):
    """``bits`` up to good cycle ``parts`` (open; None where the two agree to the end of the overlap), and the signals,
    by bit, that are ``faulty`` by themselves."""

    bits: float
    parts: int | None
    faulty: tuple[int, ...]


def partings(told: Told, begins: Sequence[Begin]) -> list[Parting]:
    """The best parting point of each beginning, in their order."""
    if not begins:
        return []
    walk = _Walk(told, begins)
    step = FIRST_STEP
    while len(going := walk.going()):
        for some, cycles in walk.alike(going, step):
            walk.step(some, cycles)
        step = min(2 * step, LONGEST_STEP)
    return walk.found()


class _Walk:
    """Where each of the beginnings has got to. Arrays by beginning, and by signal where that has its own."""

    def __init__(self, told: Told, begins: Sequence[Begin]) -> None:
        self.told = told
        self.seldom = np.flatnonzero(told.seldom)
        count, signals = len(begins), told.good.levels.shape[1]
        self.offset = np.array([b.offset for b in begins], np.int64)
        self.begin = np.array([b.cycle for b in begins], np.int64)
        self.start = np.array([b.start for b in begins], np.float32)
        self.high = np.minimum(len(told.good.levels), len(told.suspect.levels) - self.offset)
        self.at, self.parts = self.begin.copy(), self.begin.copy()
        self.best, self.last = np.zeros(count, np.float32), np.zeros(count, np.float32)
        self.broke = np.zeros(count, np.bool_)
        self.faulty = np.zeros((count, signals), np.bool_)
        self.wrong, self.never_right = np.zeros((count, signals), np.int8), np.zeros((count, signals), np.int8)
        self.total, self.peak = np.zeros((count, signals), np.float32), np.zeros((count, signals), np.float32)

    def going(self) -> Int64:
        """Those that have neither parted, nor reached the end of the overlap, nor enough bits."""
        return np.flatnonzero((self.at < self.high) & ~self.broke & (self.best < ENOUGH))

    def alike(self, going: Int64, step: int) -> Iterator[tuple[Int64, int]]:
        """Batches of those that go on by as many cycles, ``step`` or what is left, and that number of cycles."""
        cycles = np.minimum(self.high[going] - self.at[going], step)
        for length in np.unique(cycles).tolist():
            own = going[cycles == length]
            batch = max(1, _CELLS // (length * self.wrong.shape[1]))
            for first in range(0, len(own), batch):
                yield own[first : first + batch], length

    def step(self, own: Int64, cycles: int) -> None:
        """Goes on by so many cycles with some that have as many before them. Arrays are by cycle, then by beginning:
        so each cycle follows from the one before it in one operation on all of them."""
        good, suspect = self.told.good, self.told.suspect
        at = self.at[own] + np.arange(cycles)[:, None]
        there = at + self.offset[own]
        worth = good.worth.take(at, axis=0)
        worth += suspect.worth.take(there, axis=0)
        worth /= 2
        known = _both_known(good, suspect, at, there)
        e = np.empty((cycles + 1, len(own), worth.shape[2]), np.int8)
        np.not_equal(good.levels.take(at, axis=0), suspect.levels.take(there, axis=0), out=e[1:].view(np.bool_))
        if first := bool(self.at[own[0]] == self.begin[own[0]]):
            self.wrong[own] = e[1] if known is None else e[1] & known[0]
            self.never_right[own] = self.wrong[own]
            self.total[own] = -self.start[own, None] * self.wrong[own]
        e[0] = self.wrong[own]
        if known is not None and not known.all():
            worth *= known
            _hold(e, known)
        cum, self.never_right[own] = self._gained(own, e, worth, first)
        top = cum.copy()
        np.maximum(top[0], self.peak[own], out=top[0])
        _accumulate(np.maximum, top)
        value = np.maximum(cum, top - np.float32(GIVE_UP))
        self._prolong(value, cum)
        self._mark(own, value.sum(2), cum, top)
        self.total[own], self.peak[own], self.wrong[own] = cum[-1], top[-1], e[-1]
        self.at[own] += cycles

    def _gained(self, own: Int64, e: Signs, worth: Floats32, first: bool) -> tuple[Floats32, Signs]:
        """What each signal has earned up to each cycle; and those that were wrong in each cycle up to the last one."""
        never_right = e.copy()
        never_right[0] = self.never_right[own]
        _accumulate(np.minimum, never_right)
        flip = e[1:] != e[:-1]
        went_wrong = flip & e[1:].view(np.bool_)
        # what was wrong from the start on is how the parts came up: that it comes right costs nothing
        came_right = flip & e[:-1].view(np.bool_) & ~never_right[:-1].view(np.bool_)
        worth *= ~flip
        worth -= np.float32(OUT) * went_wrong
        worth -= np.float32(BACK) * came_right
        if first:
            worth[0] = 0  # what came before it is not in both
        _accumulate(np.add, worth)
        worth += self.total[own]
        return worth, never_right[-1]

    def _prolong(self, value: Floats32, cum: Floats32) -> None:
        """A seldom signal may agree a few cycles longer than the rest: what it earns there counts as well."""
        cycles = len(value)
        for i in self.seldom.tolist():
            later = np.full((cycles + LONGER, value.shape[1]), -np.inf, np.float32)
            later[: cycles - 1] = cum[1:, :, i]
            # the highest of the next eight, by that of two, of four and of eight
            for reach in (1, 2, 4):
                later = np.maximum(later[:-reach], later[reach:])
            np.maximum(value[:, :, i], later[:cycles], out=value[:, :, i])

    def _mark(self, own: Int64, score: Floats32, cum: Floats32, top: Floats32) -> None:
        """Keeps the best place up to where the two part."""
        best, columns = self.best[own], np.arange(len(own))
        high = score.copy()
        np.maximum(high[0], best, out=high[0])
        _accumulate(np.maximum, high)
        lost = score < high - np.float32(PARTED)
        broke = lost.any(0)
        until = np.where(broke, np.maximum(1, lost.argmax(0)), len(score))
        i = np.where(np.arange(len(score))[:, None] < until, score, -np.inf).argmax(0)
        better = score[i, columns] > best
        i, columns, kept = i[better], columns[better], own[better]
        self.best[kept] = score[i, columns]
        self.parts[kept] = self.at[kept] + i + 1
        self.faulty[kept] = cum[i, columns] <= top[i, columns] - np.float32(GIVE_UP)
        self.last[own], self.broke[own] = score[-1], broke

    def found(self) -> list[Parting]:
        """What came out."""
        ends = ~self.broke & (self.last.astype(np.float64) >= self.best.astype(np.float64) - OUT)
        rows = zip(self.best.tolist(), ends.tolist(), self.parts.tolist(), self.faulty, strict=True)
        return [Parting(bits, None if e else p, tuple(np.flatnonzero(f).tolist())) for bits, e, p, f in rows]


def _accumulate(operation: np.ufunc, rows: NDArray[Any]) -> None:
    """Works each row into the next, in place: ``operation.accumulate``, which goes down one column after the other and
    so takes several times as long where the rows are wide."""
    if rows[0].size < _WIDE:
        operation.accumulate(rows, axis=0, out=rows)
        return
    for before, row in pairwise(rows):
        operation(before, row, out=row)


def _hold(e: Signs, known: Bools) -> None:
    """Where a state is not known, the two differ or agree as in the cycle before, in place; e[0] stands before it."""
    if known[0].size < _WIDE:
        held = np.where(known, np.arange(1, len(e))[:, None, None], 0)
        e[1:] = np.take_along_axis(e, np.maximum.accumulate(held, axis=0), 0)
        return
    for before, row, own in zip(e, e[1:], ~known, strict=False):
        np.copyto(row, before, where=own)


def _both_known(good: Cells, suspect: Cells, own: Int64, there: Int64) -> Bools | None:
    """Which states are decided on both sides in good cycles and the suspect's over against them; None for all."""
    if good.known is None:
        return None if suspect.known is None else suspect.known.take(there, axis=0)
    known = good.known.take(own, axis=0)
    return known if suspect.known is None else known & suspect.known.take(there, axis=0)
