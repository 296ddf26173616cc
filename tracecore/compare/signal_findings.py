"""What a compared pair says of one signal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from tracecore.capture import Int64
from tracecore.circuit.probe_sheet import Probe
from tracecore.compare.capture_signals import CaptureSignals
from tracecore.compare.clock_finding import clock_finding
from tracecore.compare.fault_kinds import FaultKind
from tracecore.compare.findings import FirstDivergence, SignalFinding
from tracecore.compare.pair import PairFindings
from tracecore.compare.request import CompareRequest
from tracecore.compare.unaligned import Unaligned
from tracecore.lineup.lineup import Lineup, TimeMap
from tracecore.measure.cycle_count import counting_signals


def signal_order(request: CompareRequest, good: CaptureSignals, suspect: CaptureSignals, clock: str) -> list[str]:
    """The clock first, then the sheet's order, then what only a capture names."""
    counting = counting_signals(clock, good.traces) or ()
    names = dict.fromkeys([*counting, *(p.signal for p in request.sheet.probes), *good.traces, *suspect.traces])
    return [n for n in names if n in good.traces or n in suspect.traces]


def signal_finding(
    signal: str, request: CompareRequest, good: CaptureSignals, suspect: CaptureSignals, clock: str, shown: PairFindings
) -> SignalFinding:
    """One signal of the pair; ``missing`` where one side lacks it, its fault mode left open."""
    channel = good.channel_of.get(signal) or suspect.channel_of[signal]
    base = _described(request.sheet.probe(channel), signal)
    base = replace(
        base,
        good_trace=good.traces.get(signal),
        suspect_trace=suspect.traces.get(signal),
        good_volts=good.capture.analog.get(channel),
        suspect_volts=suspect.capture.analog.get(channel),
    )
    if signal not in good.traces or signal not in suspect.traces:
        return base
    if signal in (counting_signals(clock, good.traces) or ()):
        return clock_finding(base, shown)
    found = shown.found.get(signal)
    if found is None:
        return replace(base, verdict="undecided")
    runs = shown.lineup.runs
    finding = replace(
        base,
        first_divergence=found.first,
        diverging_cycles=found.cycles,
        undecided_cycles=found.undecided,
        compared_cycles=found.compared,
        matched_stop=runs[-1].good_start + runs[-1].length,
        # rows that the board's own clock took do not tell when within a cycle a signal moves
        skew=None if good.capture.row_is_cycle else found.skew,
        missing_transitions=len(found.matching.missing),
        extra_transitions=len(found.matching.extra),
        moved_transitions=len(found.moved_by_ps),
        levels=shown.violations[signal],
        limits=shown.kept.get(signal),
        ties=found.ties,
        difference_on_good_ps=found.spans_on_good_ps,
        suspect_on_good=found.suspect_on_good,
        let_off_cycles=shown.let_off.get(signal, np.empty(0, np.int64)),
    )
    finding = _with_missed(_with_levels(finding, shown), shown.lineup)
    if len(finding.diverging_cycles):
        return replace(finding, verdict="diverges")
    if signal in shown.noisy or (not found.compared and not len(found.ties.good_ps)):
        return replace(finding, verdict="undecided")
    return replace(finding, verdict="undecided" if finding.is_too_still else "agrees")


def _described(probe: Probe, signal: str) -> SignalFinding:
    return SignalFinding(
        signal,
        "missing",
        slot=probe.slot,
        pin=probe.pin,
        active=probe.active,
        bus=probe.bus,
        bit=probe.bit,
        driver=probe.driver,
        family=probe.family,
    )


def _with_levels(finding: SignalFinding, shown: PairFindings) -> SignalFinding:
    """Cycles with a level that only the suspect breaks diverge too, and may be the first to."""
    fresh = shown.fresh(finding.signal)
    if not fresh:
        return finding
    cycles = np.union1d(finding.diverging_cycles, np.array([v.cycle for v in fresh], np.int64))
    earliest = min(fresh, key=lambda v: v.start_ps)
    return _earlier(finding, cycles, int(earliest.cycle or 0), earliest.start_ps, shown.lineup)


def _with_missed(finding: SignalFinding, lineup: Lineup) -> SignalFinding:
    """Cycles in which only the suspect misses a limit of the part that takes the signal in diverge too."""
    place = None if finding.limits is None else finding.limits.first_missed()
    if finding.limits is None or place is None:
        return finding
    cycles = np.union1d(finding.diverging_cycles, finding.limits.missed_cycles)
    return _earlier(finding, cycles, *place, lineup)


def _earlier(finding: SignalFinding, cycles: Int64, cycle: int, suspect_ps: int, lineup: Lineup) -> SignalFinding:
    """The finding with these cycles, and with that place as its first divergence where it is the earlier one."""
    on_good = int(TimeMap(lineup).to_good_ps(np.array([suspect_ps], np.int64))[0])
    first = finding.first_divergence
    if first is None or on_good < first.good_ps:
        first = FirstDivergence(cycle, on_good, suspect_ps)
    return replace(finding, diverging_cycles=cycles, first_divergence=first)


def without_lineup(finding: SignalFinding, found: Mapping[str, Unaligned]) -> SignalFinding:
    """The finding of a signal that could not be compared by cycle, with what is known of it all the same."""
    own = found.get(finding.signal)
    if own is None or finding.verdict != "undecided":
        return finding
    return replace(finding, verdict="diverges", fault_mode=own.kind, fault_kind=FaultKind(own.kind))
