"""The captures beside the shown pair: what the other known-good ones teach, and what each suspect one counts for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, replace

import numpy as np

from tracecore.capture import Int64
from tracecore.compare.capture_signals import CaptureSignals
from tracecore.compare.clock_faults import ClockPair
from tracecore.compare.pair import LinedUp, PairFindings, line_up_pair
from tracecore.compare.request import CompareRequest, Progress
from tracecore.compare.same_bytes import first_of
from tracecore.measure.cycle_count import counting_signals
from tracecore.name_lists import few_names
from tracecore.notices import Notice, notice
from tracecore.outcome import Outcome
from tracecore.repeats.learned_variation import FEWEST_TO_PREDICT, LearnedVariation
from tracecore.repeats.learning import learner_for, less_what_varies, share_wrong, teach
from tracecore.repeats.odd_captures import OddCapture, believed
from tracecore.repeats.outcome import outcome_of, outcome_without_lineup
from tracecore.repeats.table import CaptureOutcome

_NO_WORSE = 2.0
"""So many times as often as in the worst known-good capture a signal may differ and be no worse: a choice."""


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """The known-good board that all others are compared with; ``edges_ps`` int64[K + 1] count its cycles."""

    request: CompareRequest
    board: CaptureSignals
    clock: str
    edges_ps: Int64


@dataclass(frozen=True, slots=True, eq=False)
class Varies:
    """What varies among the known-good captures. ``differ`` are for each of them the signals that it differs on, with
    the share of cycles in which it does, before anything is let off; ``slips`` how many slips it shows. ``taught`` are
    those that taught, by place among the good captures, with how far each is off the reference in cycles, this itself
    the first."""

    tolerance: LearnedVariation | None = None
    differ: tuple[Mapping[str, float], ...] = ()
    slips: tuple[int, ...] = ()
    taught: tuple[tuple[int, int], ...] = ()

    def taken_from(self, pair: PairFindings) -> PairFindings:
        """The pair less what varies."""
        return pair if self.tolerance is None else less_what_varies(pair, self.tolerance)

    def seen(self, signal: str, share: float) -> tuple[int, int]:
        """In how many other known-good captures a signal differs, by more than the rest of them lets off where there
        are enough to say, and of how many; in none where none differs half as often as its ``share`` of the cycles."""
        if self.tolerance is not None and self.tolerance.captures >= FEWEST_TO_PREDICT:
            own, others = self.tolerance.surprises.get(signal, 0), self.tolerance.captures - 1
        else:
            own, others = sum(signal in wrong for wrong in self.differ), len(self.differ)
        most = max((wrong.get(signal, 0.0) for wrong in self.differ), default=0.0)
        return (own if share <= _NO_WORSE * most else 0), others

    def as_good(self, signal: str, share: float) -> bool:
        """Is a signal that differs in a share of its cycles no worse than the known-good captures among themselves, of
        which at least half differ on it?"""
        own, others = self.seen(signal, share)
        return 0 < others <= 2 * own


def learnt(
    reference: Reference,
    others: Sequence[CaptureSignals],
    told: list[Notice],
    tell: Progress,
    known_odd: OddCapture | None = None,
) -> Varies:
    """What the other known-good captures teach; what hinders one of them is ``told``. One that is ``known_odd`` is the
    last of them."""
    learner = None
    taught = [(0, 0)]
    differ: list[tuple[int, Mapping[str, float]]] = []
    slips = []
    for i, other in enumerate(others):
        name = other.capture.name
        tell(0.4 + 0.2 * i / len(others), f"comparing {name}")
        lined = other_lined_up(reference, other, told, "good_capture_unused")
        if lined is None:
            continue
        slips.append(len(lined.lineup.slips))
        same_cycles = np.array_equal(lined.lineup.good_edges_ps, reference.edges_ps)
        if same_cycles:
            learner = learner or learner_for(reference.board, reference.clock, reference.edges_ps)
        else:
            text = f"{name} teaches nothing of what varies: without a clock its signals make other cycles."
            told.append(notice("teaches_nothing", text))
        wrong = teach(learner if same_cycles else None, lined, name)
        differ.append((learner.captures - 1 if learner is not None and same_cycles else -1, wrong))
        if same_cycles:
            taught.append((i + 1, lined.lineup.offset_cycles))
    if known_odd is not None:
        known_odd = replace(known_odd, number=len(taught) - 1) if taught[-1][0] == len(others) else None
    tolerance = learner.tolerance(known_odd) if learner is not None else None
    told += tolerance.notices if tolerance is not None else ()
    odd = tolerance.odd if tolerance is not None else ()
    return Varies(tolerance, believed(differ, odd), tuple(slips), tuple(taught))


def other_lined_up(reference: Reference, other: CaptureSignals, told: list[Notice], code: str) -> LinedUp | None:
    """One more capture against the shown good one; it must have the clock and line up by itself to count."""
    clock, name = reference.clock, other.capture.name
    if counting_signals(clock, other.traces) is None or not any(
        s in reference.board.traces for s in other.traces if s != clock
    ):
        told.append(notice(code, f"{name} does not count: it lacks the clock {clock} or any other shared signal."))
        return None
    lined = line_up_pair(reference.board, other, clock, reference.request, None)
    found = lined.lineup
    # what is learnt must be at the very cycle, what is only counted need not be
    matters = found.status == "ambiguous" and not (
        found.may_clear if code == "good_capture_unused" else found.rivals_alike
    )
    if not found or found.status == "none" or matters:
        told.append(notice(code, f"{name} does not count: {lined.lineup.reason}"))
        return None
    return lined


def suspect_outcome(
    good: CaptureSignals,
    suspect: CaptureSignals,
    pair: PairFindings | None,
    good_slips: Sequence[int],
    clocks: ClockPair | None,
) -> CaptureOutcome:
    """What the signals of one suspect capture showed; of one that does not line up that is what needs no line-up."""
    name = suspect.capture.name
    if pair is None or not pair.lineup:
        wrong = outcome_without_lineup(good, suspect, clocks)
        return wrong or CaptureOutcome(name, reason="Its cycles do not line up.")
    return outcome_of(pair, name, good_slips)


def needs_whole_answer(found: CaptureOutcome, pair: PairFindings, in_volts: Set[str], varies: Varies) -> bool:
    """Do a capture's signals by themselves not settle what it counts for? Nor do those in volts, which the instrument
    may have spoilt, those at an offset that may be a guess, those that may have come up otherwise, and those that
    differ on known-good captures as often."""
    if not found.counts or not found.differs:
        return found.counts
    lineup = pair.lineup
    if lineup.shares_a_start_alone or lineup.may_be_a_guess or found.diverges <= in_volts:
        return True
    if all(s in pair.found and varies.as_good(s, share_wrong(pair, s)) for s in found.diverges):
        return True
    from_start = sum(bool(pair.found[s].differing[:1].any()) for s in found.diverges if s in pair.found)
    return from_start > 1 or from_start == len(found.diverges)


def counted(found: CaptureOutcome, answer: Outcome) -> CaptureOutcome:
    """What such a capture counts for, by the whole ``answer`` of its pair: it agrees only where that is the answer, so
    that many captures never prove what one does not. It diverges only where it does not rather run another program."""
    if answer.word == "agrees" or (answer.word == "diverges" and found.differs):
        return found
    if answer.word == "diverges" and answer.signals:
        first, *others = answer.signals
        also, wrong = frozenset(others) - {first}, frozenset(answer.signals)
        return replace(found, diverges=wrong, compared=found.compared | wrong, first=first, also_first=also)
    return CaptureOutcome(found.name, slips=found.slips, reason=answer.text)


def each_capture(
    asked: CompareRequest, compared: CompareRequest, seen: Sequence[CaptureOutcome]
) -> tuple[CaptureOutcome, ...]:
    """An outcome for each suspect capture that was asked for; one whose bytes were there already does not count."""
    left = iter(zip(compared.suspect, seen, strict=True))
    own = next(left, None)
    outcomes = []
    for capture in asked.suspect:
        if own is not None and capture is own[0]:
            outcomes.append(own[1])
            own = next(left, None)
        else:
            twin = first_of(asked.suspect, capture).name
            outcomes.append(CaptureOutcome(capture.name, reason=f"The same bytes as {twin}: it counts once."))
    return tuple(outcomes)


def slips_elsewhere(seen: Sequence[CaptureOutcome]) -> list[Notice]:
    """Captures that are not shown and differ by slips alone."""
    names = [own.name for own in seen if own.slips_tell and not own.diverges]
    if not names:
        return []
    take = "is not shown, takes" if len(names) == 1 else "are not shown, take"
    text = f"{few_names(names, 4)}, which {take} other cycles than the known-good captures do."
    return [notice("other_capture_slips", text)]
