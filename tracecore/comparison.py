"""Captures in, findings out: the one entry for the window, the command line and the tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from tracecore.causes.chip_causes import with_chips
from tracecore.causes.clock_causes import with_clock
from tracecore.causes.order import Circuit
from tracecore.causes.power_up import contents_notices
from tracecore.causes.ranking import Seen, Witness, rank_causes
from tracecore.causes.spoilt_traces import behind_believed
from tracecore.causes.unaligned_causes import unaligned_causes
from tracecore.compare.capture_signals import CaptureSignals, capture_signals
from tracecore.compare.chips import disobeying_chips, wrong_outputs
from tracecore.compare.clock_faults import ClockPair
from tracecore.compare.counting import check_rows_alike, chosen_clock
from tracecore.compare.coverage_notices import coverage_notices
from tracecore.compare.fault_mode import FaultMode
from tracecore.compare.fault_modes import name_fault
from tracecore.compare.findings import Cause, SignalFinding
from tracecore.compare.level_comparison import LevelReport, compare_levels, level_request
from tracecore.compare.limit_notices import limit_notices
from tracecore.compare.missed_limits import missed_mode, with_missed
from tracecore.compare.notices import lead_notices, pair_notices
from tracecore.compare.pair import PairFindings, clocks_of
from tracecore.compare.pair_checkup import PairLine, check_pair
from tracecore.compare.request import CompareRequest, Progress, Stopped
from tracecore.compare.same_bytes import each_once, same_run_notices
from tracecore.compare.signal_findings import signal_finding, signal_order, without_lineup
from tracecore.compare.still_ends import still_end_notices
from tracecore.compare.unaligned import Unaligned, compare_unaligned
from tracecore.decision import decide
from tracecore.errors import RequestError
from tracecore.lineup.drift import Drift, drift
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.runs import runs_table
from tracecore.lineup.slips import slip_count
from tracecore.measure.cycle_count import counting_signals
from tracecore.notices import Notice, in_order, notice
from tracecore.outcome import Outcome, Reason
from tracecore.repeats.learned_variation import LearnedVariation
from tracecore.repeats.learning import share_wrong
from tracecore.repeats.other_captures import (
    Reference,
    Varies,
    counted,
    each_capture,
    needs_whole_answer,
    other_lined_up,
    slips_elsewhere,
    suspect_outcome,
)
from tracecore.repeats.reference import in_order_of, in_place_of_odd, made_ready
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
    as_good: frozenset[str] = frozenset()
    """The signals that diverge no more than they do among the known-good captures."""

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
    def unbelieved(self) -> Mapping[str, str]:
        """The signals whose states cannot be believed, as the instrument spoilt a trace: what it did, by signal."""
        return {} if self.levels is None else self.levels.unbelieved

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
    check_rows_alike(request)
    total = len(request.good) + len(request.suspect)
    boards = []
    for i, capture in enumerate((*request.good, *request.suspect)):
        tell(0.3 * i / total, f"reading levels of {capture.name}")
        boards.append(capture_signals(capture, request.sheet, request.family, request.supply_v))
    goods, suspects = boards[: len(request.good)], boards[len(request.good) :]
    clock = chosen_clock(request.clock, request.edge, goods[0], suspects[0])
    tell(0.3, "lining up")
    ready = made_ready(request, goods, suspects[0], clock, tell)
    if (other_first := in_place_of_odd(ready, goods, suspects[0], tell)) is not None:
        ready, goods = other_first
        request = ready.reference.request
        asked = replace(asked, good=in_order_of(asked.good, goods), offset=request.offset)
    reference, lined, varies = ready.reference, ready.lined, ready.varies
    told: list[Notice] = [*same_bytes, *ready.told]
    start = 0.6 if goods[1:] else 0.4
    shown = varies.taken_from(lined.whole(lambda share, what: tell(start + (0.88 - start) * share, what)))
    of_good = tuple(told)
    found = suspect_outcome(goods[0], suspects[0], shown, varies.slips, shown.clocks)
    result = None
    if needs_whole_answer(found, shown, goods[0].in_volts | suspects[0].in_volts, varies):
        whole = judge(reference, suspects[0], shown, [found], varies, of_good)
        own = counted(found, whole.outcome)
        # without a finding nothing that is ranked depends on the other captures; nor does it where there are none
        result = whole if not found.differs or (own is found and len(suspects) == 1) else None
        found = own
    seen = [found]
    by_itself = replace(reference, request=replace(request, offset=None))
    elsewhere: tuple[CaptureSignals, PairFindings] | None = None
    for i, other in enumerate(suspects[1:]):
        tell(0.88 + 0.07 * i / len(suspects), f"comparing {other.capture.name}")
        fits = other_lined_up(reference, other, told, "capture_not_compared")
        pair = varies.taken_from(fits.whole()) if fits is not None else None
        clocks = clocks_of(goods[0], other, clock, request)
        own = suspect_outcome(goods[0], other, pair, varies.slips, clocks)
        if pair is not None and needs_whole_answer(own, pair, goods[0].in_volts | other.in_volts, varies):
            own = counted(own, judge(by_itself, other, pair, [own], varies, of_good).outcome)
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
        notices=in_order((*result.notices, *told, *slips_elsewhere(seen[1:]))),
        captures=each_capture(asked, request, seen),
    )
    if shown.lineup and elsewhere is not None and result.only_elsewhere:
        there = _assemble(reference, *elsewhere, seen, varies)
        result = replace(result, causes=_told_elsewhere(there.causes, elsewhere[0].capture.name))
    tell(1.0, "done")
    if result.outcome.reason is Reason.OTHER_PROGRAM:
        # what differs between two programs points at no part
        return replace(result, causes=())
    return replace(result, causes=_beside_the_count(result.causes, result.repeats))


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
        causes=behind_believed(result.causes, levels.unbelieved),
        notices=in_order((*result.notices, *told, *lead_notices(lines), *limits)),
        pair_lines=lines,
        good_slips=varies.slips,
        tolerance=varies.tolerance,
        levels=levels,
    )


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
    as_good: set[str] = set()
    for signal in signal_order(request, good, suspect, clock):
        finding = signal_finding(signal, request, good, suspect, clock, shown)
        if finding.verdict == "diverges" and signal in shown.found:
            mode = _named(signal, shown)
            finding = replace(finding, fault_mode=mode.name, fault_kind=mode.kind)
            suspects = Seen(sum(signal in wrong for wrong in compared), len(compared))
            share = share_wrong(shown, signal)
            if varies.as_good(signal, share):
                as_good.add(signal)
            witnesses.append(Witness(finding, mode, suspects, Seen(*varies.seen(signal, share))))
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
    notices += tuple(still_end_notices(shown.lineup, good, suspect, shown.found))
    notices += tuple(same_run_notices(request, shown, good, suspect))
    if request.wire_list is not None:
        notices += request.wire_list.notices(set(good.traces) | set(suspect.traces))
    notices += contents_notices(causes)
    clocks = drift(shown.lineup, *resolutions)
    return Comparison(
        request,
        shown.lineup,
        tuple(findings),
        causes,
        notices,
        clocks,
        clocks=shown.clocks,
        as_good=frozenset(as_good),
    )
