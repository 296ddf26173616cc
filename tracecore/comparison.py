"""Captures in, findings out: the one entry for the window, the command line and the tests."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tracecore.capture import Int64
from tracecore.causes.chip_causes import with_chips
from tracecore.causes.clock_causes import with_clock
from tracecore.causes.order import Circuit
from tracecore.causes.ranking import Seen, Witness, rank_causes
from tracecore.causes.unaligned_causes import unaligned_causes
from tracecore.compare.capture_signals import CaptureSignals, capture_signals
from tracecore.compare.chips import disobeying_chips, wrong_outputs
from tracecore.compare.clock_faults import ClockPair
from tracecore.compare.counting import chosen_clock, clock_on_one_side
from tracecore.compare.coverage_notices import coverage_notices
from tracecore.compare.fault_mode import FaultMode
from tracecore.compare.fault_modes import name_fault
from tracecore.compare.findings import Cause, SignalFinding
from tracecore.compare.level_comparison import LevelReport, compare_levels, level_request
from tracecore.compare.limit_notices import limit_notices
from tracecore.compare.missed_limits import missed_mode, with_missed
from tracecore.compare.notices import lead_notices, pair_notices
from tracecore.compare.pair import LinedUp, PairFindings, clocks_of, line_up_pair
from tracecore.compare.pair_checkup import PairLine, check_pair
from tracecore.compare.request import CompareRequest, Progress, Stopped
from tracecore.compare.same_bytes import each_once, first_of
from tracecore.compare.signal_findings import signal_finding, signal_order, without_lineup
from tracecore.compare.unaligned import Unaligned, compare_unaligned
from tracecore.decision import decide
from tracecore.errors import RequestError
from tracecore.lineup.drift import Drift, drift
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.runs import runs_table
from tracecore.lineup.slips import slip_count
from tracecore.measure.cycle_count import counting_signals
from tracecore.name_lists import few_names
from tracecore.notices import Notice, in_order, notice
from tracecore.outcome import Outcome, Reason
from tracecore.repeats.learned_variation import FEWEST_TO_PREDICT, LearnedVariation
from tracecore.repeats.learning import learner_for, less_what_varies, teach
from tracecore.repeats.odd_captures import believed
from tracecore.repeats.outcome import outcome_of, outcome_without_lineup
from tracecore.repeats.table import CaptureOutcome, RepeatTable, table_of
from tracecore.short_views import comparison_html, comparison_text
from tracecore.tables import capture_table, cause_table, divergence_table, level_table, signal_table

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CompareRequest", "Comparison", "Progress", "Stopped", "compare"]


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """What came out. ``signals`` in the sheet's order, the clock first; ``causes`` best supported first;
    ``notices`` the gravest first; ``drift`` of the suspect's clock against the good one's, None with too few matched
    cycles."""

    request: CompareRequest
    lineup: Lineup
    signals: tuple[SignalFinding, ...]
    causes: tuple[Cause, ...]
    notices: tuple[Notice, ...]
    drift: Drift | None = None
    captures: tuple[CaptureOutcome, ...] = ()
    """What each suspect capture showed, in the request's order."""
    good_slips: tuple[int, ...] = ()
    """How many slips each further known-good capture that lines up shows against the first."""
    tolerance: LearnedVariation | None = None
    """What varies among the known-good captures and is let off; None with one of them."""
    clocks: ClockPair | None = None
    """Both sides' clocks, measured and compared; None where no single signal counts the cycles."""
    levels: LevelReport | None = None
    """What was captured in volts, against the families."""

    def __repr__(self) -> str:
        return f"<{comparison_text(self)}>"

    def _repr_html_(self) -> str:
        return comparison_html(self)

    pair_lines: tuple[PairLine, ...] | None = None
    """What ``check_pair`` says of the shown pair; None where it was not asked."""

    @property
    def signal_table(self) -> pd.DataFrame:
        """A pandas table with a row for each signal; ``tracecore.tables`` says what the columns hold."""
        return signal_table(self)

    @property
    def cause_table(self) -> pd.DataFrame:
        """The same of the likely causes."""
        return cause_table(self)

    @property
    def divergence_table(self) -> pd.DataFrame:
        """The same of each stretch of diverging cycles."""
        return divergence_table(self)

    @property
    def level_table(self) -> pd.DataFrame:
        """The same of volts outside the limits."""
        return level_table(self)

    @property
    def capture_table(self) -> pd.DataFrame:
        """The same of the suspect captures."""
        return capture_table(self)

    @property
    def repeats(self) -> RepeatTable:
        """How often each signal diverges over the suspect captures, and which is first."""
        return table_of(self.captures)

    @property
    def outcome(self) -> Outcome:
        """Agrees, diverges or cannot tell, with why and what to do next."""
        return decide(self)

    @property
    def diverges(self) -> bool:
        """Is there any finding, in the pair that is shown or in another suspect capture?"""
        return self.outcome.word == "diverges"

    @property
    def slips_tell(self) -> bool:
        """Do slips alone make a difference? ``SlipCount.tells`` says when."""
        count = slip_count(self.lineup.slips)
        return count is not None and count.tells(self.good_slips)

    @property
    def only_elsewhere(self) -> tuple[CaptureOutcome, ...]:
        """The captures that differ where the shown pair agrees; empty where it differs too."""
        if any(s.verdict == "diverges" for s in self.signals):
            return ()
        return tuple(c for c in self.captures if c.diverges)

    def signal(self, name: str) -> SignalFinding:
        """The finding of one signal; KeyError where there is none."""
        for finding in self.signals:
            if finding.signal == name:
                return finding
        raise KeyError(name)


def compare(request: CompareRequest, progress: Progress | None = None) -> Comparison:
    """Compares the shown pair in full, and the other captures to count where a signal differs too.

    Raises RequestError where the request itself cannot be met: no capture, no signal in common, a clock or a
    family that is not there. What is wrong with a board is a finding, never an error.
    """
    tell = progress or (lambda share, what: None)
    if not request.good or not request.suspect:
        raise RequestError("A comparison needs at least one known-good and one suspect capture. Add the missing one.")
    asked = request
    request, same_bytes = each_once(asked)
    total = len(request.good) + len(request.suspect)
    boards = []
    for i, capture in enumerate((*request.good, *request.suspect)):
        tell(0.3 * i / total, f"reading levels of {capture.name}")
        boards.append(capture_signals(capture, request.sheet, request.family, request.supply_v))
    goods, suspects = boards[: len(request.good)], boards[len(request.good) :]
    clock = chosen_clock(request.clock, request.edge, goods[0], suspects[0])
    tell(0.3, "lining up")
    lined = line_up_pair(goods[0], suspects[0], clock, request, request.offset)
    if why := clock_on_one_side(clock, goods[0], suspects[0]):
        lined = lined.doubted(why)
    reference = Reference(request, goods[0], clock, lined.lineup.good_edges_ps)
    told: list[Notice] = list(same_bytes)
    # what varies is learnt first: the other way round the shown pair would take its memory beside
    varies = _learnt(reference, goods[1:], told, tell) if lined.lineup else Varies()
    start = 0.6 if goods[1:] else 0.4
    shown = varies.taken_from(lined.whole(lambda share, what: tell(start + (0.88 - start) * share, what)))
    of_good = tuple(told)
    found = _outcome(goods[0], suspects[0], shown, varies.slips, shown.clocks)
    result = None
    if needs_whole_answer(found, shown):
        whole = judge(reference, suspects[0], shown, [found], varies, of_good)
        # without a finding nothing that is ranked depends on the other captures
        result, found = (None if found.differs else whole), counted(found, whole)
    seen = [found]
    by_itself = replace(reference, request=replace(request, offset=None))
    elsewhere: tuple[CaptureSignals, PairFindings] | None = None
    for i, other in enumerate(suspects[1:]):
        tell(0.88 + 0.07 * i / len(suspects), f"comparing {other.capture.name}")
        fits = _other_lined_up(reference, other, told, "capture_not_compared")
        pair = varies.taken_from(fits.whole()) if fits is not None else None
        clocks = clocks_of(goods[0], other, clock, request)
        own = _outcome(goods[0], other, pair, varies.slips, clocks)
        if pair is not None and needs_whole_answer(own, pair):
            own = counted(own, judge(by_itself, other, pair, [own], varies, of_good))
        seen.append(own)
        if pair is not None and not seen[-1].counts:
            told.append(notice("capture_not_compared", f"{other.capture.name} does not count: {seen[-1].reason}"))
        if elsewhere is None and pair is not None and pair.lineup and seen[-1].diverges:
            elsewhere = other, pair
    tell(0.95, "ranking causes")
    result = result or judge(reference, suspects[0], shown, seen, varies)
    result = replace(
        result,
        request=asked,
        notices=in_order((*result.notices, *told, *_slips_elsewhere(seen[1:]))),
        captures=_each_capture(asked, request, seen),
    )
    if shown.lineup and elsewhere is not None and result.only_elsewhere:
        there = _assemble(reference, *elsewhere, seen, varies)
        result = replace(result, causes=_told_elsewhere(there.causes, elsewhere[0].capture.name))
    tell(1.0, "done")
    if result.outcome.reason is Reason.OTHER_PROGRAM:
        # what differs between two programs points at no part
        return replace(result, causes=())
    return replace(result, causes=_beside_the_count(result.causes, result.repeats))


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """The known-good board that all others are compared with; ``edges_ps`` int64[K + 1] count its cycles."""

    request: CompareRequest
    board: CaptureSignals
    clock: str
    edges_ps: Int64


@dataclass(frozen=True, slots=True, eq=False)
class Varies:
    """What varies among the known-good captures. ``differ`` are for each of them the signals that it differs on,
    ``slips`` how many slips it shows."""

    tolerance: LearnedVariation | None = None
    differ: tuple[frozenset[str], ...] = ()
    slips: tuple[int, ...] = ()

    def taken_from(self, pair: PairFindings) -> PairFindings:
        """The pair less what varies."""
        return pair if self.tolerance is None else less_what_varies(pair, self.tolerance)

    def seen(self, signal: str) -> Seen:
        """In how many other known-good captures a signal differs, by more than the rest of them lets off where there
        are enough to say."""
        if self.tolerance is not None and self.tolerance.captures >= FEWEST_TO_PREDICT:
            return Seen(self.tolerance.surprises.get(signal, 0), self.tolerance.captures - 1)
        return Seen(sum(signal in wrong for wrong in self.differ), len(self.differ))


def _learnt(reference: Reference, others: Sequence[CaptureSignals], told: list[Notice], tell: Progress) -> Varies:
    """What the other known-good captures teach; what hinders one of them is ``told``."""
    learner = None
    differ: list[tuple[int, frozenset[str]]] = []
    slips = []
    for i, other in enumerate(others):
        name = other.capture.name
        tell(0.4 + 0.2 * i / len(others), f"comparing {name}")
        lined = _other_lined_up(reference, other, told, "good_capture_unused")
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
    tolerance = learner.tolerance() if learner is not None else None
    told += tolerance.notices if tolerance is not None else ()
    odd = tolerance.odd if tolerance is not None else ()
    return Varies(tolerance, believed(differ, odd), tuple(slips))


def _told_elsewhere(causes: tuple[Cause, ...], name: str) -> tuple[Cause, ...]:
    """What the shown pair does not show: by the first capture that differs, the others only counted."""
    told = f"Seen in {name}, which is not the capture shown; the shown pair does not show it."
    return tuple(replace(c, because=(told, *c.because), capture=name) for c in causes)


def _beside_the_count(causes: tuple[Cause, ...], table: RepeatTable) -> tuple[Cause, ...]:
    """The causes; where over several captures another signal is first more often, the first of them says so, since its
    place rests on what else speaks for it."""
    if not causes or table.diverging < 2 or not table.first_in:
        return causes
    leader = min(table.first_in, key=lambda signal: (-table.first_in[signal], signal))
    own, most = (table.first_in.get(s, 0) for s in (causes[0].signal, leader))
    if own >= most:
        return causes
    told = (
        f"Of {table.diverging} captures that diverge {leader} goes wrong first in {most}, {causes[0].signal} "
        f"in {own}; the shown pair speaks for {causes[0].signal} all the same, for the reasons above."
    )
    return (replace(causes[0], because=(*causes[0].because, told)), *causes[1:])


def _unaligned(good: CaptureSignals, suspect: CaptureSignals, shown: PairFindings) -> dict[str, Unaligned]:
    """What is known of a pair that does not line up; nothing where leads may be swapped with the clock's."""
    if shown.lineup or (shown.clocks is not None and shown.clocks.ticks_instead):
        return {}
    clock = counting_signals(shown.lineup.clock, good.traces) or ()
    return compare_unaligned(good.traces, suspect.traces, clock)


def _outcome(
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


def judge(
    reference: Reference,
    suspect: CaptureSignals,
    shown: PairFindings,
    seen: Sequence[CaptureOutcome],
    varies: Varies,
    told: Sequence[Notice] = (),
) -> Comparison:
    """One pair by itself: its findings, causes and notices, and those ``told`` of the known-good side before."""
    result = _assemble(reference, suspect, shown, seen, varies)
    request = reference.request
    levels = compare_levels(result.signals, result.lineup, request.sheet, level_request(request))
    limits = limit_notices(levels, result.signals, result.lineup, request.sheet)
    lines = check_pair(result)
    return replace(
        result,
        notices=in_order((*result.notices, *told, *lead_notices(lines), *limits)),
        pair_lines=lines,
        good_slips=varies.slips,
        tolerance=varies.tolerance,
        levels=levels,
    )


def needs_whole_answer(found: CaptureOutcome, pair: PairFindings) -> bool:
    """Do a capture's signals by themselves not settle what it counts for?"""
    return found.counts and (not found.differs or pair.lineup.shares_a_start_alone)


def counted(found: CaptureOutcome, judged: Comparison) -> CaptureOutcome:
    """What such a capture counts for, by the whole answer of its pair: it agrees only where that is the answer, so that
    many captures never prove what one does not; and it diverges only where it does not rather run another program."""
    outcome = judged.outcome
    if outcome.word == "agrees" or (outcome.word == "diverges" and found.differs):
        return found
    if outcome.word == "diverges" and outcome.signals:
        first, *others = outcome.signals
        also, wrong = frozenset(others) - {first}, frozenset(outcome.signals)
        return replace(found, diverges=wrong, compared=found.compared | wrong, first=first, also_first=also)
    return CaptureOutcome(found.name, slips=found.slips, reason=outcome.text)


def _each_capture(
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


def _slips_elsewhere(seen: Sequence[CaptureOutcome]) -> list[Notice]:
    """Captures that are not shown and differ by slips alone."""
    names = [own.name for own in seen if own.slips_tell and not own.diverges]
    if not names:
        return []
    take = "is not shown, takes" if len(names) == 1 else "are not shown, take"
    text = f"{few_names(names, 4)}, which {take} other cycles than the known-good captures do."
    return [notice("other_capture_slips", text)]


def _other_lined_up(reference: Reference, other: CaptureSignals, told: list[Notice], code: str) -> LinedUp | None:
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


def _named(signal: str, shown: PairFindings) -> FaultMode:
    """The fault mode of a signal that diverges: that it misses a limit is one where nothing else is wrong."""
    found, fresh, kept = shown.found[signal], shown.fresh(signal), shown.kept.get(signal)
    missed = missed_mode(kept)
    if missed is not None and not fresh and not len(found.cycles):
        return missed
    return with_missed(name_fault(signal, found, fresh, shown.found, shown.lineup.cycle_ps), kept)


def _assemble(
    reference: Reference, suspect: CaptureSignals, shown: PairFindings, seen: Sequence[CaptureOutcome], varies: Varies
) -> Comparison:
    """The findings of one pair; ``seen`` and ``varies`` say what the other captures show."""
    request, good, clock = reference.request, reference.board, reference.clock
    compared = [own.diverges for own in seen if own.counts]
    findings: list[SignalFinding] = []
    witnesses: list[Witness] = []
    for signal in signal_order(request, good, suspect, clock):
        finding = signal_finding(signal, request, good, suspect, clock, shown)
        if finding.verdict == "diverges" and signal in shown.found:
            mode = _named(signal, shown)
            finding = replace(finding, fault_mode=mode.name, fault_kind=mode.kind)
            suspects = Seen(sum(signal in wrong for wrong in compared), len(compared))
            witnesses.append(Witness(finding, mode, suspects, varies.seen(signal)))
        findings.append(finding)
    still = _unaligned(good, suspect, shown)
    findings = [without_lineup(f, still) for f in findings]
    resolutions = good.capture.resolution_ps, suspect.capture.resolution_ps
    pins = request.pins if shown.lineup else None
    chips = () if pins is None else disobeying_chips(findings, shown.lineup, resolutions, pins)
    breaks = np.cumsum(runs_table(shown.lineup.runs)[:, 2])[:-1]
    circuit = Circuit(
        shown.found,
        request.wire_list,
        breaks,
        shown.lineup.good_edges_ps,
        shown.lineup.parts_at,
        shown.limits.feigned_ps,
        frozenset(net for chip in chips for net in wrong_outputs(chip).values()),
    )
    causes = with_chips(rank_causes(witnesses, shown.limits.uncertainty_ps, circuit), chips)
    causes += unaligned_causes(still, {f.signal: f for f in findings})
    if shown.clocks is not None:
        causes = with_clock(causes, shown.clocks, next(f for f in findings if f.signal == shown.clocks.signal))
    notices = tuple(pair_notices(request, good, suspect, clock, shown, findings))
    notices += tuple(coverage_notices(shown.lineup, chosen=request.offset is not None))
    if request.wire_list is not None:
        notices += request.wire_list.notices(set(good.traces) | set(suspect.traces))
    clocks = drift(shown.lineup, *resolutions)
    return Comparison(request, shown.lineup, tuple(findings), causes, notices, clocks, clocks=shown.clocks)
