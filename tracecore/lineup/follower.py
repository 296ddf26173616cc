"""Goes along both captures cycle by cycle from one pair that fits, and says where cycles were inserted or are missing.

While the words agree, whole stretches are passed at once. Where they do not, the follower asks in turn:

1. Does only what was wrong before differ? Signals that keep differing do not judge (they are still compared).
2. Do both sides go on together some cycles apart, here or behind some damage? Then the gap is placed exactly there.
3. Do a few signals explain it, the others going on in step? Then those stop judging.
4. Do both go on together somewhere further off? Then the stretch in between is diverged.
5. Is a good part of the signals still in step? Then the pairing stands, and the signals are what is wrong.

An offset is believed only where it puts at least two signals right and hardly any wrong, so that one late, inverted or
stuck signal never makes a slip.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from tracecore.capture import Int64
from tracecore.lineup.alignment import GAP, GAP_CYCLE, Ops, Places, WordPair, cheapest, place
from tracecore.lineup.rejoin import FARTHEST, rejoins, together
from tracecore.lineup.state_words import Words, mask_of, signal_counts, size_of

Kind = Literal["paired", "inserted", "missing", "diverged"]

WINDOW = 32
_REACH = 64
_BROKEN, _SOUND = 25, 12  # mean cost of a pair at which the way is lost, and at which it is right
_FEW, _HALF, _MOST = 0.34, 0.5, 0.67
_AHEAD = 256
_BACK = 16
_CHUNK = 1 << 16
MOST_EVENTS = 20_000


class Stretch(NamedTuple):
    """Cycles [start, stop) of each side: ``paired`` one to one, ``inserted`` in the suspect alone, ``missing`` from
    it, or ``diverged``, where the two do different things."""

    kind: Kind
    good_start: int
    good_stop: int
    suspect_start: int
    suspect_stop: int


class Follower:
    """One walk to the end of either side. ``stretches`` is what it found, in order and without holes."""

    def __init__(self, pair: WordPair, at: Places, live: np.uint64) -> None:
        self.pair, self.at, self.live, self.mask = pair, at, live, live
        self.stretches: list[Stretch] = []
        self.events = 0
        self._chunk = 1024
        self._lost = 0

    def walk(self) -> list[Stretch]:
        """All stretches to the end of the shorter side. A walk with too many slips ends as diverged."""
        if size_of(self.live) and self.pair.left(self.at) >= WINDOW:
            self._begin()
        while (left := self.pair.left(self.at)) > 0:
            if left < WINDOW or size_of(self.live) < 2:
                self._pair(left)
            elif self.events > MOST_EVENTS:
                self._diverge(left)
            elif (self._lost or not self._pass()) and self.pair.left(self.at) >= WINDOW:
                self._resolve()
        return self.stretches

    def _begin(self) -> None:
        """Hides what is wrong from the start: as far ahead as few signals are."""
        for most in (1024, 256, 64, WINDOW):
            wrong = self._wrong_ahead(most)
            if size_of(wrong) <= _FEW * size_of(wrong | self._moving(self.at, most)):
                return self._hide(wrong)

    def _pass(self) -> bool:
        """Pairs cycles as long as they agree well; False at the first costly one of a window that does not."""
        count = min(self._chunk, self.pair.left(self.at))
        self._chunk = min(_CHUNK, self._chunk * 4)
        words = self.pair.differences(self.at, count, self.mask)
        if not words.any():
            self._pair(count)
            return True
        cost = self.pair.costs[np.bitwise_count(words)]
        window = min(WINDOW, count)
        total = np.concatenate(([0], np.cumsum(cost)))
        broken = np.flatnonzero(total[window:] - total[:-window] > _BROKEN * window)
        if not len(broken):
            # the last window may be the beginning of a bad one
            at_end = count == self.pair.left(self.at)
            self._pair(count if at_end or count <= window else count - window + 1)
            return True
        first = int(broken[0])
        self._pair(first + int(np.flatnonzero(cost[first:])[0]))
        self._chunk = 256
        return False

    def _resolve(self) -> None:
        """One answer to the question of this module's head."""
        self.events += 1
        if not self._lost and self._known_faults():
            return
        found = None if self._lost else self._offset()
        if found is not None:
            self._step_over(*found)
        elif self._lost or not any(self._few_wrong(_FEW, ahead) for ahead in (_AHEAD, _AHEAD // 4, WINDOW)):
            self._rejoin_or_part()

    # --- signals that do not judge

    def _hide(self, wrong: np.uint64) -> None:
        """Signals that stop judging, unless hardly any would be left."""
        kept = self.mask & ~wrong
        if size_of(kept) >= max(1, size_of(self.live) // 3):
            self.mask = kept

    def _known_faults(self) -> bool:
        """Were the signals that differ wrong before? Then they are hidden, anew each time, and the way goes on."""
        last = self.stretches[-1] if self.stretches else None
        if last is None or last.kind != "paired" or last.good_stop - last.good_start < WINDOW:
            return False
        count = min(1024, last.good_stop - last.good_start)
        words = self.pair.differences(Places(self.at.good - count, self.at.suspect - count), count, self.live)
        # cycles in which all is wrong say nothing of single signals
        words = words[np.bitwise_count(words) <= max(2, size_of(self.live) // 4)]
        wrong = mask_of(signal_counts(words) > max(2, 0.03 * count))
        if size_of(wrong) > _FEW * size_of(self.live):
            return False
        before, self.mask = self.mask, self.live & ~wrong
        if self.mask == before or not self._sound(self.at):
            return False
        self._pair(WINDOW)
        return True

    def _wrong_ahead(self, most: int = _AHEAD) -> np.uint64:
        """The signals that differ in more than 5 % of the next cycles."""
        count = min(most, self.pair.left(self.at))
        return mask_of(signal_counts(self.pair.differences(self.at, count, self.mask)) > 0.05 * count)

    def _few_wrong(self, share: float, ahead: int = _AHEAD) -> bool:
        """Do few of the signals that move explain what differs ahead? Then they are hidden, and the cycles are paired.
        A slip further on spoils what is seen far ahead, so that less of it may tell more."""
        count = min(ahead, self.pair.left(self.at))
        wrong = self._wrong_ahead(count)
        concerned = size_of(wrong | self._moving(self.at, count))
        if not wrong or size_of(wrong) > share * concerned:
            return False
        self._hide(wrong)
        self._pair(min(WINDOW if self._sound(self.at) else ahead, self.pair.left(self.at)))
        return True

    def _moving(self, at: Places, count: int) -> np.uint64:
        """The judging signals that change on either side within the cycles."""
        found = np.uint64(0)
        for words, start in ((self.pair.good, at.good), (self.pair.suspect, at.suspect)):
            levels = words.levels[start : start + count]
            found |= np.bitwise_or.reduce(levels[1:] ^ levels[:-1]) if count > 1 else np.uint64(0)
        return found & self.mask

    def _sound(self, at: Places) -> bool:
        return int(self.pair.pair_cost(at, WINDOW, self.mask).sum()) <= _SOUND * WINDOW

    # --- other offsets

    def _offset(self) -> tuple[int, int] | None:
        """Cycles inserted (above zero) or missing, and how far ahead that holds; None where nothing near fits."""
        best: tuple[int, int, int] | None = None
        for skip in (0, 8, 32, 128, 320):
            at = Places(self.at.good + skip, self.at.suspect + skip)
            if self.pair.left(at) < WINDOW:
                break
            cost = self._offset_costs(at)
            slip = int(cost.argmin()) - _REACH
            here, there = int(cost[_REACH]), int(cost[slip + _REACH])
            if slip == 0:
                if here <= _SOUND * WINDOW:
                    # a slip that is soon taken back: what fits in between is better than damage
                    return (0, skip) if best is None or best[0] < WINDOW else (best[1], best[2])
                continue
            if there - GAP - GAP_CYCLE * abs(slip) > _SOUND * WINDOW or there >= 0.6 * here:
                continue
            beyond = Places(at.good + max(0, -slip), at.suspect + max(0, slip))
            length = together(self.pair, beyond, self.mask)
            if not self._better(at, beyond, length):
                continue
            if length >= min(64 + skip, self.pair.left(beyond)):
                return slip, skip
            if best is None or length - skip > best[0]:
                best = length - skip, slip, skip
        return None if best is None or best[0] < WINDOW else (best[1], best[2])

    def _offset_costs(self, at: Places) -> Int64:
        """int64[2 * _REACH + 1]: cost of the next window with -_REACH .. _REACH cycles inserted, the gap included."""
        out = np.full(2 * _REACH + 1, 1 << 40, np.int64)
        ahead = min(_REACH, len(self.pair.suspect) - at.suspect - WINDOW)
        out[_REACH : _REACH + ahead + 1] = _sliding(self.pair, at, ahead, self.mask, good_moves=False)
        ahead = min(_REACH, len(self.pair.good) - at.good - WINDOW)
        out[_REACH - ahead : _REACH + 1] = _sliding(self.pair, at, ahead, self.mask, good_moves=True)[::-1]
        size = np.abs(np.arange(-_REACH, _REACH + 1))
        return out + np.where(size > 0, GAP + GAP_CYCLE * size, 0)

    def _better(self, here: Places, there: Places, count: int) -> bool:
        """Does the other offset put right at least two signals, most of those that move, and hardly any wrong?"""
        count = min(count, 1024, self.pair.left(here), self.pair.left(there))
        if count < WINDOW // 2:
            return False
        wrong_here = mask_of(signal_counts(self.pair.differences(here, count, self.mask)) > 0.05 * count)
        wrong_there = mask_of(signal_counts(self.pair.differences(there, count, self.mask)) > 0.05 * count)
        righted, spoilt = size_of(wrong_here & ~wrong_there), size_of(wrong_there & ~wrong_here)
        moving = size_of(wrong_here | self._moving(here, count))
        return righted >= 2 and righted > 2 * spoilt and size_of(wrong_here) > _FEW * moving

    def _step_over(self, slip: int, skip: int) -> None:
        """Pairs up to where the offset holds, with the gap at its cheapest place."""
        last = self.stretches[-1] if self.stretches else None
        back = min(_BACK, last.good_stop - last.good_start) if last is not None and last.kind == "paired" else 0
        reach = back + skip + WINDOW
        if slip == 0 and not self._all_wrong(skip):
            self._pair(skip + WINDOW)
            return
        self._unpair(back)
        if slip == 0:
            costs = self.pair.square(self.at, reach, reach, self.mask)
            total, ops = cheapest(costs, _BACK)
            worth = total + GAP // 2 < int(costs.trace())
            self._take(ops if worth else np.zeros(reach, np.uint8), reach, reach)
            return
        good, suspect = reach + max(0, -slip), reach + max(0, slip)
        self._take(place(self.pair, self.at, good, suspect, self.mask, band=8), good, suspect)

    def _all_wrong(self, count: int) -> bool:
        """Do most of the signals that move in the next cycles differ there, and more than one?"""
        if count < 2:
            return False
        wrong = mask_of(signal_counts(self.pair.differences(self.at, count, self.mask)) > 0)
        return size_of(wrong) >= 2 and size_of(wrong) > _HALF * size_of(wrong | self._moving(self.at, count))

    def _take(self, ops: Ops, good: int, suspect: int) -> None:
        """Steps as stretches; they lead over ``good`` and ``suspect`` cycles."""
        ends = np.append(np.flatnonzero(np.diff(ops)) + 1, len(ops))
        kinds: tuple[Kind, ...] = ("paired", "inserted", "missing")
        start, end_at = 0, Places(self.at.good + good, self.at.suspect + suspect)
        for stop in ends.tolist():
            kind, count = kinds[int(ops[start])], stop - start
            self._add(kind, 0 if kind == "inserted" else count, 0 if kind == "missing" else count)
            start = stop
        assert self.at == end_at

    # --- further off

    def _rejoin_or_part(self) -> None:
        """Both go on together further off, or are in step all the same, or do different things from here on."""
        if not self._lost and self._few_wrong(_HALF):
            return
        begin = self.at
        if self._lost and self.stretches[-1].kind == "diverged":
            last = self.stretches[-1]
            begin = Places(last.good_start, last.suspect_start)
        found: Places | None = None
        for ahead, length in rejoins(self.pair, self.at, self.mask):
            apart = max(ahead.good - self.at.good, ahead.suspect - self.at.suspect)
            here = Places(self.at.good + apart, self.at.suspect + apart)
            if self._same_offset(ahead) or self._better(here, ahead, length):
                found = ahead
        if found is not None:
            self._rejoin(begin, found)
        elif not self._few_wrong(_MOST):
            self._diverge(min((FARTHEST // 2) << min(self._lost, 3), self.pair.left(self.at)))
            self._lost += 1
        else:
            self._lost = 0

    def _same_offset(self, ahead: Places) -> bool:
        return ahead.suspect - ahead.good == self.at.suspect - self.at.good

    def _rejoin(self, begin: Places, ahead: Places) -> None:
        """Goes back from where both go on together as far as they do, and bridges what is left."""
        before = self.pair.part(ahead.good, ahead.suspect).backwards()
        room = min(ahead.good - begin.good, ahead.suspect - begin.suspect)
        back = together(before, Places(0, 0), self.mask, room) if room else 0
        if begin != self.at:
            self.stretches.pop()
            self.at = begin
        self._lost = 0
        good, suspect = ahead.good - back - self.at.good, ahead.suspect - back - self.at.suspect
        if good and suspect and good * (abs(suspect - good) + 32) < 200_000:
            self._take(place(self.pair, self.at, good, suspect, self.mask), good, suspect)
        elif good or suspect:
            self._add("diverged", good, suspect)
        self._pair(back + WINDOW // 2)

    # --- what was found

    def _pair(self, count: int) -> None:
        self._add("paired", count, count)

    def _diverge(self, count: int) -> None:
        self._add("diverged", count, count)

    def _add(self, kind: Kind, good: int, suspect: int) -> None:
        a, b = self.at
        self.at = Places(a + good, b + suspect)
        if not good and not suspect:
            return
        last = self.stretches[-1] if self.stretches else None
        if last is not None and last.kind == kind:
            self.stretches[-1] = last._replace(good_stop=a + good, suspect_stop=b + suspect)
        else:
            self.stretches.append(Stretch(kind, a, a + good, b, b + suspect))

    def _unpair(self, count: int) -> None:
        """Takes the last paired cycles back."""
        if not count:
            return
        last = self.stretches.pop()
        self.at = Places(last.good_stop - count, last.suspect_stop - count)
        if last.good_start < self.at.good:
            self.stretches.append(last._replace(good_stop=self.at.good, suspect_stop=self.at.suspect))


def _sliding(pair: WordPair, at: Places, ahead: int, mask: np.uint64, *, good_moves: bool) -> Int64:
    """int64[ahead + 1]: cost of a window of one side against the windows 0 .. ``ahead`` cycles on of the other."""
    moving, still = (pair.good, pair.suspect) if good_moves else (pair.suspect, pair.good)
    start, own = (at.good, at.suspect) if good_moves else (at.suspect, at.good)

    def windows(words: Words) -> Words:
        return np.lib.stride_tricks.sliding_window_view(words[start : start + ahead + WINDOW], WINDOW)

    x = (windows(moving.levels) ^ still.levels[own : own + WINDOW]) & mask
    if moving.undecided is not None:
        x &= ~windows(moving.undecided)
    if still.undecided is not None:
        x &= ~still.undecided[own : own + WINDOW]
    return np.asarray(pair.costs[np.bitwise_count(x)].sum(1), np.int64)
