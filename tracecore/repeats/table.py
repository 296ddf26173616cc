"""How often each signal diverges over many captures, and which one is first: a table that grows by one capture at
a time and takes no more memory after ten thousand of them than after two thousand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64
from tracecore.compare.envelope import Shift
from tracecore.lineup.slips import SlipCount
from tracecore.outcome import OutcomeWord
from tracecore.repeats.share import CONFIDENCE, Proof, Share, proof, share_of

Float64 = NDArray[np.float64]

KEPT = 1000
"""So many of the latest captures, and of the latest that diverge, are kept by name; counts hold for all."""

_LOOKED_AHEAD = 1000


@dataclass(frozen=True, slots=True)
class CaptureOutcome:
    """What one capture said. ``first_cycle`` is a cycle of the known-good capture that it was compared to.

    ``compared`` are the signals that could be judged (all that diverge are among them); ``also_first`` those that
    diverge so soon after ``first`` that the captures cannot tell which came earlier. ``cycles`` is how many cycles
    were compared. ``slips`` are cycles that it takes otherwise than the known-good capture, None without any, and
    ``slips_tell`` says whether these by themselves are a difference: where other good captures do not slip.
    ``shifted`` are signals that do not diverge, but whose transitions are steadily late or early, furthest first: told,
    but no difference, since another sound board's parts may be that much slower.
    A capture that could not be compared, or of which it cannot be told whether it agrees, has its ``reason`` and counts
    in nothing else.
    Raises ValueError where these contradict one another.
    """

    name: str
    diverges: frozenset[str] = frozenset()
    first: str | None = None
    first_cycle: int | None = None
    compared: frozenset[str] = frozenset()
    also_first: frozenset[str] = frozenset()
    cycles: int = 0
    reason: str = ""
    slips: SlipCount | None = None
    slips_tell: bool = False
    shifted: tuple[tuple[str, Shift], ...] = ()

    def __post_init__(self) -> None:
        if not self.diverges <= self.compared:
            raise ValueError("a signal that diverges must have been compared")
        if (self.first is None) != (not self.diverges) or not self.firsts <= self.diverges:
            raise ValueError("one of the diverging signals is the first, and there is none where nothing diverges")
        if self.first in self.also_first:
            raise ValueError("also_first are the signals beside the first")
        if self.reason and self.compared:
            raise ValueError("a capture that could not be compared has no compared signals")
        if self.slips_tell and (self.slips is None or not self.compared):
            raise ValueError("only slips of a capture that was compared can tell")

    @property
    def counts(self) -> bool:
        """Does it agree or diverge, so that it counts?"""
        return bool(self.compared)

    @property
    def word(self) -> OutcomeWord:
        """One of the three, as of a comparison.

        >>> CaptureOutcome("a", reason="Its cycles do not line up.").word
        'cannot tell'
        """
        return "cannot tell" if not self.counts else "diverges" if self.differs else "agrees"

    @property
    def differs(self) -> bool:
        """Does any signal diverge, or do its slips tell?"""
        return bool(self.diverges) or self.slips_tell

    @property
    def firsts(self) -> frozenset[str]:
        """The first signal and those that cannot be told from it; empty where nothing diverges."""
        return self.also_first if self.first is None else self.also_first | {self.first}


@dataclass(frozen=True, slots=True)
class SignalCounts:
    """One signal over all captures: ``compared`` in so many, it ``diverging`` in so many of these.

    ``first_credit``: 1 for each capture in which it is the first, 1/n where it cannot be told from n - 1 others.
    """

    compared: int = 0
    diverging: int = 0
    first_credit: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class SignalRepeats:
    """One row to show. ``captures`` are the kept names of those in which it diverges, oldest first; ``forgotten``
    how many more there were."""

    signal: str
    share: Share
    first_credit: float
    captures: tuple[str, ...]
    forgotten: int


@dataclass(frozen=True, slots=True)
class FirstVerdict:
    """Which signal diverges first most often, against the one that does so next often.

    ``signal`` is the leader, None while no signal diverged; ``before`` counts captures in which it was first and the
    rival was not, ``after`` the reverse. ``p_value`` is that of the exact two-sided sign test; ``more_needed`` how
    many more diverging captures would settle it (p at most 0.05) if things go on as they did: 0 if settled, None
    if no number up to a thousand would. ``first_in`` counts captures in which it is first, alone or beside others.
    """

    signal: str | None
    credit: float
    diverging: int
    rival: str | None
    before: int
    after: int
    p_value: float
    more_needed: int | None
    first_in: int = 0

    @property
    def sentence(self) -> str:
        """As it is printed: ``D03 is first in 4 of 5 diverging captures; 7 more would be needed to be sure.``"""
        plural = "" if self.diverging == 1 else "s"
        if self.signal is None and self.diverging:
            return f"No signal diverges, but {self.diverging} capture{plural} slip{'s' if self.diverging == 1 else ''}."
        if self.signal is None:
            return "No capture diverges."
        beside = "" if self.credit == self.first_in else ", alone or beside others,"
        text = f"{self.signal} is first{beside} in {self.first_in} of {self.diverging} diverging capture{plural}"
        if self.more_needed == 0:
            return f"{text}; that is no chance ({100 * CONFIDENCE:.0f} % confidence)."
        if self.more_needed is None:
            return f"{text}; {self.rival} is first about as often, so it cannot be told which of the two fails first."
        return f"{text}; {self.more_needed} more would be needed to be sure."


@dataclass(frozen=True, slots=True)
class RepeatTable:
    """Counts over all captures so far; ``with_outcome`` gives the table with one more.

    ``captures`` count, of ``uncounted`` ones it cannot be told. ``diverging`` are those in which any signal diverges or
    slips tell; in ``slipping`` there are slips, whether they tell or not, and ``slips_alone`` diverge by nothing else.
    ``shifting`` counts the captures in which a signal is steadily late or early without diverging.
    ``recent`` are the latest outcomes of both sorts and
    ``recent_diverging`` the latest that diverge, at most ``KEPT`` of each, oldest first. ``fewest_cycles`` is the
    shortest comparison: what comes later than that in a capture was not looked for in all of them.
    ``first_in`` counts the captures in which a signal is among the first, ``first_together`` those in which both of a
    pair (in order of name) are; at most one entry for each pair of signals.
    """

    captures: int = 0
    diverging: int = 0
    uncounted: int = 0
    signals: Mapping[str, SignalCounts] = field(default_factory=lambda: MappingProxyType({}))
    recent: tuple[CaptureOutcome, ...] = ()
    recent_diverging: tuple[CaptureOutcome, ...] = ()
    fewest_cycles: int | None = None
    first_together: Mapping[tuple[str, str], int] = field(default_factory=lambda: MappingProxyType({}))
    first_in: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))
    slipping: int = 0
    slips_alone: int = 0
    shifting: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def share(self) -> Share:
        """The share of captures in which any signal diverges or slips tell."""
        return share_of(self.diverging, self.captures)

    def with_outcome(self, outcome: CaptureOutcome) -> RepeatTable:
        """The table with one capture more.

        >>> one = CaptureOutcome("a", frozenset({"D0"}), "D0", 7, frozenset({"D0", "D1"}))
        >>> table = RepeatTable().with_outcome(one)
        >>> table.captures, table.diverging, table.signals["D1"].compared
        (1, 1, 1)
        """
        recent = (*self.recent, outcome)[-KEPT:]
        if not outcome.counts:
            return replace(self, uncounted=self.uncounted + 1, recent=recent)
        signals = dict(self.signals)
        for name in outcome.compared:
            old = signals.get(name, SignalCounts())
            credit = Fraction(int(name in outcome.firsts), max(1, len(outcome.firsts)))
            signals[name] = SignalCounts(
                old.compared + 1, old.diverging + (name in outcome.diverges), old.first_credit + credit
            )
        fewest = outcome.cycles if self.fewest_cycles is None else min(self.fewest_cycles, outcome.cycles)
        table = replace(
            self,
            captures=self.captures + 1,
            signals=MappingProxyType(signals),
            recent=recent,
            fewest_cycles=fewest,
            slipping=self.slipping + (outcome.slips is not None),
            slips_alone=self.slips_alone + (outcome.differs and not outcome.diverges),
            shifting=MappingProxyType(dict(Counter(self.shifting) + Counter(s for s, _ in outcome.shifted))),
        )
        return table._with_first(outcome) if outcome.differs else table

    def _with_first(self, outcome: CaptureOutcome) -> RepeatTable:
        together, single = dict(self.first_together), dict(self.first_in)
        firsts = sorted(outcome.firsts)
        for i, a in enumerate(firsts):
            single[a] = single.get(a, 0) + 1
            for b in firsts[i + 1 :]:
                together[a, b] = together.get((a, b), 0) + 1
        return replace(
            self,
            diverging=self.diverging + 1,
            recent_diverging=(*self.recent_diverging, outcome)[-KEPT:],
            first_together=MappingProxyType(together),
            first_in=MappingProxyType(single),
        )

    def row(self, signal: str) -> SignalRepeats:
        """One signal over all captures; KeyError where it was never compared."""
        counts = self.signals[signal]
        names = tuple(o.name for o in self.recent_diverging if signal in o.diverges)
        return SignalRepeats(
            signal,
            share_of(counts.diverging, counts.compared),
            float(counts.first_credit),
            names,
            counts.diverging - len(names),
        )

    def rows(self) -> tuple[SignalRepeats, ...]:
        """All signals: those that are first most often before those that diverge most often, then by name."""
        order = sorted(self.signals, key=lambda s: (*self._standing(s), s))
        return tuple(self.row(signal) for signal in order)

    def _standing(self, signal: str) -> tuple[Fraction, Fraction]:
        counts = self.signals[signal]
        return -counts.first_credit, -Fraction(counts.diverging, counts.compared)

    def first_verdict(self) -> FirstVerdict:
        """Is the signal that is first most often so by more than chance?

        Captures in which both leaders are among the first, or neither is, say nothing between them and are left out.
        The pair is chosen by looking at the counts, so take a p value just under 0.05 for a hint.
        """
        if not self.first_in:
            return FirstVerdict(None, 0.0, self.diverging, None, 0, 0, 1.0, None)
        order = sorted(self.signals, key=lambda s: (*self._standing(s), s))
        leader = order[0]
        rival = next((s for s in order[1:] if s in self.first_in), None)
        both = 0 if rival is None else self.first_together.get((min(leader, rival), max(leader, rival)), 0)
        before = self.first_in[leader] - both
        after = 0 if rival is None else self.first_in[rival] - both
        credit = float(self.signals[leader].first_credit)
        more = _more_to_settle(before, after, self.diverging)
        p_value = float(_sign_test(np.array([before]), np.array([after]))[0])
        return FirstVerdict(leader, credit, self.diverging, rival, before, after, p_value, more, self.first_in[leader])

    def proof(self) -> Proof:
        """What these captures show of a repair."""
        return proof(self.diverging, self.captures, uncounted=self.uncounted)


def table_of(outcomes: Iterable[CaptureOutcome]) -> RepeatTable:
    """The table of some outcomes, taken one at a time."""
    table = RepeatTable()
    for outcome in outcomes:
        table = table.with_outcome(outcome)
    return table


def _sign_test(before: Int64, after: Int64) -> Float64:
    """Exact two-sided p values, float64[N], for heads and tails of an even coin; 1 where there was no toss.

    >>> _sign_test(np.array([6, 4]), np.array([0, 1])).tolist()
    [0.03125, 0.375]
    """
    from scipy.special import bdtr

    # an even coin is symmetric: twice the smaller tail
    return np.asarray(np.minimum(1.0, 2 * bdtr(np.minimum(before, after), before + after, 0.5)), np.float64)


def _more_to_settle(before: int, after: int, diverging: int) -> int | None:
    """How many more diverging captures make the sign test significant if the proportions stay as they are."""
    if before <= after:
        return None
    more = np.arange(_LOOKED_AHEAD + 1)
    grown = 1 + more / diverging
    p_values = _sign_test(np.rint(before * grown).astype(np.int64), np.rint(after * grown).astype(np.int64))
    enough = np.flatnonzero(p_values <= 1 - CONFIDENCE)
    return int(more[enough[0]]) if len(enough) else None
