"""What varies among known-good captures, so that it is not held against a suspect.

First each good capture is judged by the others, and what one of them shows that stands alone is not learnt
(``odd_captures``). Three things are forgiven then. A cycle in which good captures differ from one another on a signal,
and its neighbours where nothing tells when that happens (an asynchronous strobe falls into one cycle or the next). All
cycles of a context in which the signal varies more often than by chance, up to half of all cycles: a bus that nobody
drives floats whenever its enable is off, and no number of captures shows every cycle of that. A transition that strays
no further than the good ones do. A signal that varies in more than a fifth of its cycles is left out altogether, unless
contexts tell when it does.

How well that was learnt is told by leaving out each good capture in turn: what the others would report of it is
what is to be expected of the next one, divided by the number of captures. Over single cycles that is the estimate of
I. J. Good, Biometrika 40 (1953): what was seen once, over the number of looks.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import Int64, UInt8
from tracecore.compare.envelope import Envelope, EnvelopeLearner
from tracecore.measure.chance import episodes
from tracecore.notices import Notice, notice
from tracecore.quantities import group_digits
from tracecore.repeats.context import Context, Cycles, choose_context, loose_contexts
from tracecore.repeats.departures import Departures, Int32, Kept
from tracecore.repeats.odd_captures import OddCapture, less_floating, odd_captures, with_known

FEWEST_TO_PREDICT = 3
NOISY = 0.2
_FEWEST_OTHERS = 2  # captures besides the reference that must reach a cycle

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Leeway:
    """What is forgiven of one signal.

    ``varying`` int64[N] are cycles in which good captures differ by more than time, ``moving`` int64[M] those in which
    transitions alone move, both increasing. ``loose`` bool[C] says for each context whether the signal was seen
    varying in it. ``noisy`` leaves it out altogether. The envelope is None under three captures.
    """

    varying: Int64
    moving: Int64
    loose: Bools
    noisy: bool
    envelope: Envelope | None

    def covers(self, cycles: Cycles, context: Context) -> Bools:
        """Are these cycles such in which the signal varies? Where contexts tell when it does, the neighbour
        of a varying cycle is none: that would cost a stuck bit of a floating bus another quarter of its cycles."""
        if self.loose.any():
            return np.isin(cycles, self.varying) | self.loose[context.of_cycle[cycles]]
        return _near(self.varying, cycles)

    def reported(self, found: Departures, context: Context, tolerance_ps: int, *, left_out: bool = False) -> Departures:
        """Only those cycles of ``found`` that are not forgiven; ``left_out`` as in ``Envelope.allows``."""
        if self.noisy:
            return found.where(np.zeros(len(found.cycles), np.bool_))
        forgiven = self.covers(found.cycles, context)
        timely = _near(self.moving, found.cycles)
        if self.envelope is not None:
            timely |= _moves_allowed(self.envelope, found, tolerance_ps, left_out=left_out)
        forgiven |= found.only_moved & timely
        # the way back from a wrong state that is forgiven is forgiven with it
        forgiven[1:] |= found.trails[1:] & forgiven[:-1]
        return found.where(~forgiven)


@dataclass(frozen=True, slots=True, eq=False)
class LearnedVariation:
    """What is forgiven, learnt from ``captures`` good ones, the reference among them.

    ``expected_false`` is in how many cells (one signal in one cycle) the next good capture is expected to differ all
    the same, ``expected_unpooled`` in how many it would if only the cycles themselves were forgiven (the ways back
    from wrong states not counted); both are None under three captures. ``thin_cycles`` are cycles of the reference
    that fewer than three captures reach. ``surprises`` say in how many good captures
    besides the reference the others would report a signal all the same (under three captures none is). ``odd`` are
    the good captures that stand alone against the others; what they show there is not forgiven.
    """

    captures: int
    context: Context
    signals: Mapping[str, Leeway]
    expected_false: float | None
    expected_unpooled: float | None
    thin_cycles: int
    odd: tuple[OddCapture, ...]
    surprises: Mapping[str, int] = field(default_factory=dict)

    @property
    def notices(self) -> tuple[Notice, ...]:
        """What must be known of the captures that stand alone."""
        return tuple(notice(own.code, own.sentence, signals=own.signals) for own in self.odd)

    @property
    def noisy(self) -> frozenset[str]:
        """Signals that are left out altogether."""
        return frozenset(s for s, leeway in self.signals.items() if leeway.noisy)

    def reported(self, signal: str, found: Departures, tolerance_ps: int) -> Departures:
        """Only those cycles that good captures do not account for; all of a signal that they do not have."""
        leeway = self.signals.get(signal)
        return found if leeway is None else leeway.reported(found, self.context, tolerance_ps)

    def described(self) -> tuple[str, ...]:
        """What is forgiven, in sentences; one for each signal that anything is forgiven of."""
        out = [self._described(signal, leeway) for signal, leeway in self.signals.items() if len(leeway.varying)]
        if self.expected_false is not None:
            out.append(
                f"Learnt from {self.captures} known-good captures. Compared with them, another sound one would show "
                f"{_about(self.expected_false)}."
            )
        elif self.captures > 1:
            out.append(f"{self.captures} known-good captures are too few to say what the next one will show; take 3.")
        return tuple(out)

    def _described(self, signal: str, leeway: Leeway) -> str:
        count = len(leeway.varying)
        text = f"{signal} varies among the known-good captures in {group_digits(count)} cycle{'s' if count > 1 else ''}"
        if leeway.noisy:
            return f"{text}, too many to tell when: it is left out."
        when = self.context.words(leeway.loose)
        return f"{text}; it is not compared where {when}." if when else f"{text}; these are not compared."


class ToleranceLearner:
    """Takes good captures one at a time, and of each one signal at a time, laid against the reference; of none of
    them more is kept than what it takes to leave it out again."""

    def __init__(
        self,
        reference_name: str,
        states: Mapping[str, UInt8],
        transitions: Mapping[str, tuple[Int64, UInt8]],
        sample_period_ps: int,
    ) -> None:
        """``states`` uint8[K] and ``transitions`` (times and levels) are those of the reference, by signal."""
        self._taught = _Taught(states, [reference_name], [], {signal: [] for signal in states}, [])
        self._edges = {s: EnvelopeLearner(*transitions[s], sample_period_ps) for s in states}

    @property
    def captures(self) -> int:
        """How many have been taken, the reference among them."""
        return len(self._taught.names)

    def begin(self, name: str, runs: Int64, tolerance_ps: int) -> None:
        """One more good capture, which covers ``runs`` int64[R, 2] of reference cycles [first, stop), in order and
        apart; ``tolerance_ps`` is what its transitions were matched with."""
        self._taught.names.append(name)
        self._taught.runs.append(runs)
        self._taught.tolerances.append(tolerance_ps)
        for earlier in self._taught.found.values():
            earlier.append(None)

    def learn(self, signal: str, found: Departures) -> None:
        """One signal of the capture that was begun last. A signal that the reference lacks teaches nothing."""
        if signal in self._taught.found:
            self._edges[signal].add(found.paired_ps, found.paired_by_ps)
            self._taught.found[signal][-1] = Kept.of(found)

    def tolerance(self, known_odd: OddCapture | None = None) -> LearnedVariation:
        """What the captures so far teach, without those that stand alone and one that is known to; with the reference
        alone, or with two that differ, nothing is forgiven."""
        odd = with_known(self._taught.less_floating(self._taught.odd_ones()), known_odd)
        taught = self._taught.without(odd)
        reach = taught.reach_of((True,) * len(taught.runs))
        cells = {s: taught.cells(found) for s, found in taught.found.items()}
        context = taught.context({s: own.cycles for s, (own, _) in cells.items()})
        captures = len(taught.names)
        enough = captures >= FEWEST_TO_PREDICT
        envelopes = self._envelopes(odd) if enough else {}
        sizes = context.sizes(reach > 0)
        signals = {
            s: _leeway(own.cycles, times.cycles, context, sizes, envelopes.get(s)) for s, (own, times) in cells.items()
        }
        false = [taught.false(i, cells, reach, envelopes) for i in range(captures)] if enough else []
        alone = [sum(len(c.odd[i]) for pair in cells.values() for c in pair) for i in range(captures)]
        return LearnedVariation(
            captures,
            context,
            MappingProxyType(signals),
            sum(sum(own.values()) for own in false) / captures if enough else None,
            sum(alone) / captures if enough else None,
            int((reach + 1 < FEWEST_TO_PREDICT).sum()),
            odd,
            MappingProxyType(dict(Counter(s for own in false[1:] for s, count in own.items() if count))),
        )

    def _envelopes(self, odd: Sequence[OddCapture]) -> dict[str, Envelope]:
        """How far transitions stray, the odd captures left out: of each transition the furthest is not believed where
        one of them is odd; where several are, nothing is."""
        others = [own for own in odd if own.number]
        if len([own for own in others if own.whole]) > 1:
            return {}
        out = {}
        for signal, edges in self._edges.items():
            doubted = sum(own.whole or signal in own.signals for own in others)
            if doubted <= 1:
                out[signal] = edges.envelope(doubt_furthest=bool(doubted))
        return out


@dataclass(frozen=True, slots=True, eq=False)
class _Taught:
    """All that is kept of the captures, by signal, to learn from: ``states`` of the reference, ``names`` of all, and
    of those besides the reference the ``runs`` they cover, what was ``found`` and their ``tolerances``."""

    states: Mapping[str, UInt8]
    names: list[str]
    runs: list[Int64]
    found: dict[str, list[Kept | None]]
    tolerances: list[int]
    reached: dict[tuple[bool, ...], Int64] = field(default_factory=dict)

    @property
    def cycles(self) -> int:
        """How many cycles the reference has."""
        return len(next(iter(self.states.values()))) if self.states else 0

    def odd_ones(self) -> tuple[OddCapture, ...]:
        """The captures that stand alone; of two that differ, both."""
        if len(self.names) == 2:
            differ = {s: own[0].cycles for s, own in self.found.items() if own[0] is not None and len(own[0].cycles)}
            places = sum(len(episodes(cycles)) for cycles in differ.values())
            return (OddCapture(1, self.names[1], tuple(differ), places, True, self.names[0]),) if differ else ()
        cells = {s: self.cells(found) for s, found in self.found.items()}
        cells = {s: pair for s, pair in cells.items() if any(len(own.cycles) for own in pair)}
        alone = {s: self.alone(pair) for s, pair in cells.items()}
        shared = {s: any(own.shared for own in pair) for s, pair in cells.items()}
        return odd_captures(self.names, alone, shared)

    def less_floating(self, odd: tuple[OddCapture, ...]) -> tuple[OddCapture, ...]:
        """The odd ones less those signals that differ in one capture alone, but only where others float."""
        doubted = {s for own in odd if not own.whole for s in own.signals}
        if not doubted:
            return odd
        others = self.without(odd)
        learnt = {s: others.cells(found)[0].cycles for s, found in others.found.items() if s not in doubted}
        context = others.context(learnt)
        sizes = context.sizes(others.reach_of((True,) * len(others.runs)) > 0)
        loose = [loose_contexts(cycles, context, sizes) for cycles in learnt.values()]
        floats = np.logical_or.reduce([np.zeros(len(sizes), np.bool_), *loose])
        share = float(sizes[floats].sum()) / max(1, int(sizes.sum()))
        alone = {s: self.alone(self.cells(self.found[s])) for s in doubted}
        return less_floating(odd, alone, floats[context.of_cycle], share)

    def alone(self, cells: tuple[_Cells, _Cells]) -> list[Int32]:
        """Of one signal the cells in which each capture stands alone, in states or in time."""
        own, times = cells
        return [np.union1d(own.odd[i], times.odd[i]) for i in range(len(self.names))]

    def without(self, odd: Sequence[OddCapture]) -> _Taught:
        """The same without what the odd ones show; the reference stays."""
        gone = {own.number for own in odd if own.whole and own.number}
        not_of = {(own.number, s) for own in odd if own.number for s in own.signals}
        stay = [i for i in range(1, len(self.names)) if i not in gone]
        found = {s: [None if (i, s) in not_of else own[i - 1] for i in stay] for s, own in self.found.items()}
        names = [self.names[0], *(self.names[i] for i in stay)]
        return _Taught(
            self.states, names, [self.runs[i - 1] for i in stay], found, [self.tolerances[i - 1] for i in stay]
        )

    def context(self, varying: Mapping[str, Int32]) -> Context:
        """The contexts that tell best when signals vary, made of those that do not."""
        learnt = {s: cycles for s, cycles in varying.items() if len(cycles)}
        return choose_context({s: row for s, row in self.states.items() if s not in learnt}, self.cycles, learnt)

    def cells(self, found: Sequence[Kept | None]) -> tuple[_Cells, _Cells]:
        """One signal's varying cells: those that differ by more than time, and those in which transitions move."""
        reach = self.reach_of(tuple(own is not None for own in found))
        return _Cells.of(found, reach, timing=False), _Cells.of(found, reach, timing=True)

    def reach_of(self, which: tuple[bool, ...]) -> Int64:
        """How many of these captures, the reference not among them, reach each cycle: int64[K]. Most signals are in
        all captures, so it is worked out once."""
        if which not in self.reached:
            step = np.zeros(self.cycles + 1, np.int64)
            for runs, own in zip(self.runs, which, strict=True):
                if own:
                    np.add.at(step, runs[:, 0], 1)
                    np.add.at(step, runs[:, 1], -1)
            self.reached.clear()
            self.reached[which] = np.cumsum(step[:-1])
        return self.reached[which]

    def false(
        self,
        left_out: int,
        cells: Mapping[str, tuple[_Cells, _Cells]],
        reach: Int64,
        envelopes: Mapping[str, Envelope],
    ) -> dict[str, int]:
        """How many cells of one good capture the others would report, by signal; they choose their contexts without
        it."""
        context = self.context({s: own.without(left_out) for s, (own, _) in cells.items()})
        sizes = context.sizes(reach > 0)
        count: dict[str, int] = {}
        for signal, (own, times) in cells.items():
            others = _leeway(own.without(left_out), times.without(left_out), context, sizes, envelopes.get(signal))
            if left_out:
                found, tolerance_ps = self.found[signal][left_out - 1], self.tolerances[left_out - 1]
                if found is None:
                    continue
                own_cells = others.reported(found.departures(), context, tolerance_ps, left_out=True)
                count[signal] = len(own_cells.cycles)
            elif not others.noisy:
                # the reference stands alone where all others differ from it; it has no departures of its own
                count[signal] = int((~others.covers(own.odd[0], context)).sum()) + len(times.odd[0])
        return count


@dataclass(frozen=True, slots=True, eq=False)
class _Cells:
    """One signal: all its varying ``cycles``, and for the reference and each capture those in which it stands alone
    against all others that reach the cycle."""

    cycles: Int32
    odd: tuple[Int32, ...]

    @staticmethod
    def of(found: Sequence[Kept | None], reach: Int64, *, timing: bool) -> _Cells:
        none = np.empty(0, np.int32)
        lists = [none if f is None else f.cycles[(f.only_moved == timing) & ~f.trails] for f in found]
        # where one capture alone reaches, nobody says which of the two is right
        lists = [own[reach[own] >= _FEWEST_OTHERS] for own in lists]
        cycles, counts = np.unique(np.concatenate((none, *lists)), return_counts=True)
        single = cycles[counts == 1]
        against_all = cycles[(counts == reach[cycles]) & (counts > 1)]
        return _Cells(cycles, (against_all, *(np.intersect1d(own, single, assume_unique=True) for own in lists)))

    @property
    def shared(self) -> bool:
        """Are there cells in which several captures, and not all but the reference, differ from it?"""
        return len(self.cycles) > sum(len(own) for own in self.odd)

    def without(self, left_out: int) -> Int32:
        """The cycles that vary among the others."""
        return np.setdiff1d(self.cycles, self.odd[left_out], assume_unique=True)


def _near(cycles: Int64, at: Cycles) -> Bools:
    """Is each of ``at`` one of the sorted ``cycles`` or next to one?"""
    if not len(cycles):
        return np.zeros(len(at), np.bool_)
    index = np.minimum(cycles.searchsorted(at - 1), len(cycles) - 1)
    return np.asarray(np.abs(cycles[index] - at) <= 1)


def _moves_allowed(envelope: Envelope, found: Departures, tolerance_ps: int, *, left_out: bool) -> Bools:
    """For each of the cycles: do all transitions that moved in it stay within the envelope?"""
    allowed = envelope.allows(found.moved_ps, found.moved_by_ps, tolerance_ps, left_out=left_out)
    outside = np.unique(found.moved_cycles[~allowed])
    inside = np.unique(found.moved_cycles[allowed])
    return np.isin(found.cycles, np.setdiff1d(inside, outside, assume_unique=True))


def _leeway(varying: Int32, moving: Int32, context: Context, sizes: Int64, envelope: Envelope | None) -> Leeway:
    """``sizes`` int64[C] is how many of the compared cycles are of each context. A signal that varies often is kept
    only if contexts tell when."""
    compared = max(1, int(sizes.sum()))
    loose = loose_contexts(varying, context, sizes)
    noisy = len(varying) > NOISY * compared and not loose.any()
    return Leeway(varying.astype(np.int64), moving.astype(np.int64), loose, noisy, envelope)


def _about(expected: float) -> str:
    if expected < 0.05:
        return "no difference"
    number = f"{expected:.1f}" if expected < 10 else group_digits(round(expected))
    return f"about {number} differences"
