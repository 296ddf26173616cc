"""Goes along both captures cycle by cycle from one pair that fits, and says where cycles were inserted or are missing.

While the words agree, whole stretches are passed at once. Trouble is a short stretch that is dear to pair. The way on
is asked for in this order:

1. Do the signals that were wrong before explain it? These do not judge (they are still compared).
2. Do few of the moving signals explain it, all others going on in step? A slip is shared by all, a fault by few.
3. Does one gap near by put everything right?
4. Is there a way through, gaps and faults together, that is cheap (``alignment``)?
5. Do both sides go on together further off (``rejoin``)? Then what lies between is a gap, or diverged.
6. Otherwise the way is lost: a stretch is diverged, and the question is put again behind it.

Near the end of the captures the cheapest way may leave the last cycles unpaired, so that a slip there accuses
no signal.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np

from tracecore.lineup.alignment import GAP_CYCLE, INSERT, MISS, PAIR, Int32, Ops, Path, Places, WordPair, cheapest
from tracecore.lineup.rejoin import FEW, rejoin
from tracecore.lineup.state_words import mask_of, signal_counts, size_of

Kind = Literal["paired", "inserted", "missing", "diverged", "unsure"]

MOST_EVENTS = 50_000
_SPAN, _DEAR = 8, 250  # so many cycles that cost more than that together are no chance
_LONG, _A_LITTLE = 32, 12  # nor are so many that cost this each
_LOST = 45  # mean cost of pairs from which on they are not right
_NEAR, _BACK = 64, 16
_CHUNK = 1 << 16
_PAIRS_A_GAP = 6
_APART = 3  # a step beside those of ``Ops``: a pair of cycles of which most signals differ
_UNLIKE = 60
_NONE = np.uint64(0)
_KINDS: tuple[Kind, ...] = ("paired", "inserted", "missing", "diverged")


class Stretch(NamedTuple):
    """Cycles [start, stop) of each side: ``paired`` one to one, ``inserted`` in the suspect alone, ``missing`` from
    it, ``diverged``, where the two do different things, or ``unsure``, where which cycle is which is not settled."""

    kind: Kind
    good_start: int
    good_stop: int
    suspect_start: int
    suspect_stop: int

    @property
    def size(self) -> tuple[int, int]:
        """How many good and suspect cycles."""
        return self.good_stop - self.good_start, self.suspect_stop - self.suspect_start


class Follower:
    """One walk from the first cycle of both sides to the end of either. ``stretches`` is what it found, in order and
    without holes."""

    def __init__(self, pair: WordPair, live: np.uint64) -> None:
        self.pair, self.live, self.mask = pair, live, live
        self._turned = WordPair(pair.suspect, pair.good, pair.costs)
        self.at = Places(0, 0)
        self.stretches: list[Stretch] = []
        self._lost = 0

    def walk(self) -> list[Stretch]:
        """All stretches to the end of the shorter side. A walk with too many slips ends as unsure."""
        chunk, events = 256, 0
        self._begin()
        while left := self.pair.left(self.at):
            count = min(chunk, left)
            at = _trouble(self.pair.pair_cost(self.at, count, self.mask), last=count == left)
            if at is None:
                self._pair(count if count == left else count - _LONG)
                chunk = min(_CHUNK, chunk * 4)
                continue
            self._pair(at)
            chunk, events = 256, events + 1
            if events > MOST_EVENTS:
                self._add("unsure", self.pair.left(self.at), self.pair.left(self.at))
            elif self.pair.left(self.at):
                self._resolve()
        return self.stretches

    def _begin(self) -> None:
        """Hides what is wrong from the start, as far ahead as few signals are."""
        for count in (1024, 256, 64):
            wrong = self.pair.few_wrong(self.at, count, self.mask, FEW)
            if wrong is not None:
                return self._hide(wrong)

    def _resolve(self) -> None:
        """One answer to the question of this module's head."""
        if self._small_gap() or self._known():
            return
        apart = bool(self.stretches) and self.stretches[-1].kind == "diverged"
        if not apart and self._few(FEW, (256, 64, 24)):
            found = True
        elif not self._several_wrong():
            # one late, inverted or stuck signal never makes a slip
            self._few(0.6, (256, 64))
            self._pair(min(_LONG, self.pair.left(self.at)))
            return
        elif not apart and self._one_gap():
            found = True
        else:
            found = self._path(11) or self._far(only_gap=True) or self._path(_NEAR) or self._far()
        if found:
            self._lost = 0
        elif not self._few(0.6, (256, 64)):
            # a way that is lost may be found again a little further on, with better proof
            self._lost += 1
            left = self.pair.left(self.at)
            count = left if self._lost > 3 else min(64 << self._lost, left)
            self._add("diverged", count, count)

    # --- signals that do not judge

    def _hide(self, wrong: np.uint64) -> None:
        """Signals that stop judging, unless hardly any would be left."""
        kept = self.mask & ~wrong
        if size_of(kept) >= max(1, size_of(self.live) // 3):
            self.mask = kept

    def _known(self) -> bool:
        """Lets the signals that were wrong in the last pairs, and no others, be silent. Does that explain it?"""
        words, left = [], 512
        for s in self.stretches[:-64:-1]:
            if s.kind == "paired" and left:
                count = min(left, s.size[0])
                words.append(
                    self.pair.differences(Places(s.good_stop - count, s.suspect_stop - count), count, self.live)
                )
                left -= count
        count = 512 - left
        if count < 48:
            return False
        seen = np.concatenate(words)
        # cycles in which all is wrong say nothing of single signals
        single = seen[np.bitwise_count(seen) <= max(3, size_of(self.live) // 3)]
        before, self.mask = self.mask, self.live
        self._hide(mask_of(signal_counts(single) > max(2, 0.05 * count)))
        if self.mask == before:
            return False
        ahead = min(2 * _SPAN, self.pair.left(self.at))
        costs = self.pair.pair_cost(self.at, ahead, self.mask)
        return _trouble(costs, last=ahead == self.pair.left(self.at)) is None

    def _few(self, share: float, spans: tuple[int, ...]) -> bool:
        """Do few of the signals that move explain what differs ahead? Then they are hidden, and some cycles paired. A
        slip further on spoils what is seen far ahead, so that less of it may tell more."""
        left = self.pair.left(self.at)
        near = self.pair.pair_cost(self.at, min(_SPAN, left), self.mask)
        if int(near.sum()) > _UNLIKE * len(near):
            return False  # nearly all is wrong at once
        for count in spans:
            if left < count > spans[-1] or left < _SPAN:
                continue
            wrong = self.pair.few_wrong(self.at, count, self.mask, share, damage=True)
            before = self.mask
            if wrong and self._lasts(wrong, count):
                self._hide(wrong)
            if self.mask != before:
                self._pair(_SPAN)
                return True
        return False

    def _lasts(self, wrong: np.uint64, count: int) -> bool:
        """Do these signals differ a little later as well? What differs for a few cycles alone may be two slips that
        take one another back."""
        rest = min(count, _LONG, self.pair.left(self.at)) - _SPAN
        if rest <= 0:
            # the captures end here: nothing takes it back
            return True
        later = self.pair.differences(self.at.on(_SPAN, _SPAN), rest, wrong)
        return size_of(np.bitwise_or.reduce(later)) > size_of(wrong) // 2

    def _several_wrong(self) -> bool:
        """Do two of the judging signals or more differ in the next cycles?"""
        words = self.pair.differences(self.at, min(_LONG, self.pair.left(self.at)), self.mask)
        return size_of(np.bitwise_or.reduce(words)) >= 2

    # --- gaps

    def _small_gap(self) -> bool:
        """A gap of a few cycles right here, the only one behind which all judging signals agree for a while. Most slips
        are such, and are told at little cost."""
        at, count, reach = self.at, 16, 8
        if self.pair.left(at) < count + reach:
            return False
        if int(self.pair.pair_cost(at, count, self.mask).sum()) < _UNLIKE * count // 2:
            return False
        more = self.pair.band(at, count, 1, reach, self.mask).any(0)
        fewer = self._turned.band(Places(at.suspect, at.good), count, 1, reach, self.mask).any(0)
        fits = np.flatnonzero(~np.concatenate((more, fewer)))
        if len(fits) != 1:
            return False
        size, inserted = int(fits[0]) % reach + 1, int(fits[0]) < reach
        if not self._alike(at.on(0, size) if inserted else at.on(size, 0), count):
            return False
        self._add("inserted" if inserted else "missing", 0 if inserted else size, size if inserted else 0)
        self._pair(count)
        self._lost = 0
        return True

    def _one_gap(self) -> bool:
        """One gap of up to ``_NEAR`` cycles, a little ahead, behind which all goes on in step."""
        pair, count = self.pair, 24
        for skip in (0, 6, 16):
            at = self.at.on(skip, skip)
            if pair.left(at) < count + 8:
                return False
            more = pair.band(at, count, 0, _NEAR, self.mask).sum(0)
            fewer = self._turned.band(Places(at.suspect, at.good), count, 0, _NEAR, self.mask).sum(0)
            slips = np.arange(-_NEAR, _NEAR + 1)
            total = np.concatenate((fewer[:0:-1], more)) + GAP_CYCLE * np.abs(slips)
            for slip in slips[np.argsort(total, kind="stable")[:3]].tolist():
                cost = total[slip + _NEAR]
                if slip == 0 or cost > 0.5 * more[0] or cost > 0.8 * _LOST * count:
                    continue
                good, suspect = max(0, -slip), max(0, slip)
                behind = at.on(good, suspect)
                if pair.few_wrong(behind, 40, self.mask, FEW) == 0 or self._alike(behind):
                    return self._gap(good, suspect, skip + count // 2, most=120)
        return False

    def _alike(self, at: Places, count: int = 16) -> bool:
        """Are the next pairs the same in all judging signals, and different enough from one another to be no chance?"""
        if self.pair.differences(at, count, self.mask).any():
            return False
        return len(np.unique(self.pair.good.levels[at.good : at.good + count] & self.mask)) > count // 2

    def _gap(self, good: int, suspect: int, ahead: int, wrong: np.uint64 = _NONE, most: int = 1 << 28) -> bool:
        """A gap of ``good`` or ``suspect`` cycles at its cheapest place before ``ahead`` cycles from here; a loop may
        move it back through all that is paired. Not where that leaves more than ``most`` unexplained near by."""
        last = self.stretches[-1] if self.stretches else None
        own = last.size[0] if last is not None and last.kind == "paired" else 0
        mask, back = self.mask & ~wrong, min(own, 256)
        end = min(ahead, max(0, self.pair.left(self.at) - max(good, suspect)))
        while True:
            start, count = self.at.on(-back, -back), back + end
            old = self.pair.pair_cost(start, count, mask).astype(np.int64)
            new = self.pair.pair_cost(start.on(good, suspect), count, mask).astype(np.int64)
            total = np.concatenate(([0], np.cumsum(old - new)))
            best = np.flatnonzero(total == total.min())
            cut = int(best[-1])
            if int(old[max(0, cut - 32) : cut].sum() + new[cut:].sum()) > most:
                return False
            if best[0] > 0 or back >= own:
                break
            back = min(own, back * 8)
        self._unpair(back)
        self._pair(cut)
        self._add("missing" if good else "inserted", good, suspect)
        self._pair(count - cut)
        self._hide(wrong)
        return True

    def _path(self, most: int) -> bool:
        """The cheapest way within the band, as far as it is right; not with a gap of more than ``most``. Where it is
        not right, the signals that stand out along it are left out, and it is asked for once more."""
        last = self.stretches[-1] if self.stretches else None
        back = min(_BACK, last.size[0]) if last is not None and last.kind == "paired" else 0
        start, mask = self.at.on(-back, -back), self.mask
        reach, rows = (20, 112) if most < 20 else (_NEAR + 8, 192)
        at_end = self.pair.left(start) <= rows - _BACK
        rows = min(rows, len(self.pair.good) - start.good)
        for attempt in range(4):
            path = cheapest(self.pair, start, rows, -reach, reach, mask, at_end=at_end)
            stop = _right_to(path, _LOST if mask == self.mask else 0.6 * _LOST, at_end=at_end)
            whole = at_end and stop == len(path.ops)
            taken = int((path.ops[:stop] != MISS).sum())
            if (whole and not self._lost) or taken >= (64 if self._lost else back + 12):
                break
            wrong = self._standing_out(start, path.ops, mask) if attempt else self._lately(mask)
            if attempt == 3 or (attempt and not wrong):
                return False
            mask &= ~wrong
        ops = path.ops[:stop]
        ends = np.flatnonzero(np.diff(ops, append=9))
        sizes = np.diff(ends, prepend=-1)
        gaps = ops[ends] != PAIR
        # a loop that turns more often can be told as a gap in each turn: one long gap is likelier
        if bool((sizes[gaps] > most).any()) or (most < _NEAR and taken < _PAIRS_A_GAP * int(gaps.sum())):
            return False
        self._unpair(back)
        self._take(_with_apart(ops, path.costs[:stop]))
        self._hide(self.mask & ~mask)
        if whole and (left := self.pair.left(self.at)):
            self._add("diverged", left, left)  # last cycles that nothing behind them can settle
        return True

    def _lately(self, mask: np.uint64) -> np.uint64:
        """Signals that differ in the last pairs, or alone in the next ones; none where these are many."""
        words = self.pair.differences(self.at, min(12, self.pair.left(self.at)), mask)
        many = np.flatnonzero(np.bitwise_count(words) > max(1, size_of(mask) // 3))
        wrong = np.bitwise_or.reduce(words[: many[0]] if len(many) else words)
        last = self.stretches[-1] if self.stretches else None
        if last is not None and last.kind == "paired":
            count = min(last.size[0], 64)
            before = self.pair.differences(self.at.on(-count, -count), count, mask)
            wrong |= mask_of(signal_counts(before) > 0.2 * count)
        return wrong if size_of(wrong) <= max(1, size_of(self.live) // 3) else np.uint64(0)

    def _standing_out(self, start: Places, ops: Ops, mask: np.uint64) -> np.uint64:
        """The signals that differ much more often along a way than most do."""
        good = start.good + np.cumsum(ops != INSERT)[ops == PAIR] - 1
        suspect = start.suspect + np.cumsum(ops != MISS)[ops == PAIR] - 1
        if len(good) < 48:
            return np.uint64(0)
        words = (self.pair.good.levels[good] ^ self.pair.suspect.levels[suspect]) & mask
        rate = signal_counts(words) / len(words)
        judging = [bit for bit in range(64) if int(mask) >> bit & 1]
        wrong = mask_of(rate > float(np.median(rate[judging])) + 0.15)
        return wrong if size_of(wrong) <= max(1, size_of(self.live) // 3) else np.uint64(0)

    # --- further off

    def _far(self, *, only_gap: bool = False) -> bool:
        """Both sides go on together further off: a gap, or a bridge over what is left between."""
        found = rejoin(self.pair, self.at, self.mask)
        if found is None:
            return False
        mask = self.mask & ~found.wrong
        back = self._together_before(found.at, mask)
        good, suspect = found.at.good - back - self.at.good, found.at.suspect - back - self.at.suspect
        near, more = min(good, suspect), suspect - good
        if not near and not more:
            self._hide(found.wrong)
            self._pair(max(back, 1))
            return True
        most = 150 if near else 1 << 28
        if near <= 96 and more and self._gap(max(0, -more), max(0, more), near, found.wrong, most):
            self._pair(max(0, found.at.good - self.at.good))
            return True
        if only_gap:
            return False
        if max(good, suspect) <= 1500 and abs(more) <= 400:
            low, high = min(0, more) - 24, max(0, more) + 24
            self._take(cheapest(self.pair, self.at, good, low, high, mask, to=suspect).ops)
        else:
            self._add("diverged", good, suspect)
        self._hide(found.wrong)
        self._pair(back)
        return True

    def _together_before(self, ahead: Places, mask: np.uint64) -> int:
        """How many cycles before a place both agree already."""
        back, room = 0, min(ahead.good - self.at.good, ahead.suspect - self.at.suspect)
        while back < room:
            count = min(4096, room - back)
            costs = self.pair.pair_cost(ahead.on(-back - count, -back - count), count, mask)[::-1]
            at = _trouble(costs, last=False)
            if at is not None:
                return back + at
            back += count
        return back

    # --- what was found

    def _pair(self, count: int) -> None:
        self._add("paired", count, count)

    def _take(self, ops: Ops) -> None:
        """Steps as stretches."""
        ends = np.flatnonzero(np.diff(ops, append=9)) + 1
        for stop, count in zip(ends.tolist(), np.diff(ends, prepend=0).tolist(), strict=True):
            op = int(ops[stop - 1])
            self._add(_KINDS[op], 0 if op == INSERT else count, 0 if op == MISS else count)

    def _add(self, kind: Kind, good: int, suspect: int) -> None:
        if not good and not suspect:
            return
        (a, b), self.at = self.at, self.at.on(good, suspect)
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
        self.at = self.at.on(-count, -count)
        if last.good_start < self.at.good:
            self.stretches.append(last._replace(good_stop=self.at.good, suspect_stop=self.at.suspect))


def _trouble(costs: Int32, *, last: bool) -> int | None:
    """The first costly pair of a stretch that is too dear, much at once or a little for long; None without one. The
    ``last`` pairs of a capture have nothing behind them that could tell, so single ones count."""
    if not costs.any():
        return None
    total = np.zeros(len(costs) + _LONG, np.int64)
    np.cumsum(costs, out=total[1 : len(costs) + 1])
    total[len(costs) + 1 :] = total[len(costs)]
    found = []
    for span, most in ((3, 3 * _UNLIKE), (_SPAN, _DEAR), (_LONG, _A_LITTLE * _LONG)):
        bad = total[span:] - total[:-span] > most
        if bad.any():
            found.append(int(bad.argmax()))
    if last:
        end = max(0, len(costs) - _SPAN)
        found += (end + np.flatnonzero(costs[end:] >= 40)[:1]).tolist()
    if not found:
        return None
    first = min(found)
    return first + int(np.flatnonzero(costs[first:])[0])


def _right_to(path: Path, most: float, *, at_end: bool) -> int:
    """How many of the steps are right: up to three good pairs before pairs become dear."""
    ops, costs = path
    total = np.concatenate(([0], np.cumsum(np.where(ops == PAIR, costs, 30))))
    bad = np.flatnonzero(total[24:] - total[:-24] > most * 24) if len(ops) >= 24 else np.empty(0, np.int64)
    stop = int(bad[0]) if len(bad) else len(ops) - (0 if at_end else _LONG)
    if at_end and stop == len(ops):
        return stop
    good = (ops == PAIR) & (costs <= most)
    three = good[:-2] & good[1:-1] & good[2:] if len(ops) > 2 else good[:0]
    right = np.flatnonzero(three[: max(0, stop)])
    return int(right[-1]) + 1 if len(right) else 0


def _with_apart(ops: Ops, costs: Int32) -> Ops:
    """Marks stretches of three pairs and more in which most signals differ: as many cycles, but others."""
    dear = ((ops == PAIR) & (costs >= _UNLIKE)).astype(np.int8)
    ends = np.flatnonzero(np.diff(np.concatenate(([0], dear, [0]))))
    out = ops.copy()
    for a, b in ends.reshape(-1, 2).tolist():
        if b - a >= 3:
            out[a:b] = _APART
    return out
