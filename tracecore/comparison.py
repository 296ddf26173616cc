"""Captures in, findings out: the one entry for the window, the command line and the tests."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from tracecore.capture import Capture, DigitalTrace, UInt8
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.circuit.wire_list import WireList
from tracecore.compare.cause_order import Circuit
from tracecore.compare.causes import Seen, Witness, rank_causes
from tracecore.compare.divergence import Divergence, Limits, diverge, matched
from tracecore.compare.drift import Drift, drift
from tracecore.compare.fault_modes import name_fault, never_known
from tracecore.compare.findings import Cause, FirstDivergence, LevelViolation, Side, SignalFinding
from tracecore.compare.leaving_out import left_out
from tracecore.compare.lineup import Edge, Lineup, TimeMap, find_lineup, slip_words
from tracecore.compare.qualifier import in_words, parse
from tracecore.compare.state_words import Bools
from tracecore.errors import RequestError
from tracecore.measure.clock import ClockCandidate, clock_candidates, cycle_states
from tracecore.measure.cycle_count import (
    ANY_TRANSITION,
    best_count,
    counting_edges_ps,
    counting_signals,
    quiet_ps,
    two_phases,
)
from tracecore.measure.families import family
from tracecore.measure.levels import LevelEvent, digitise
from tracecore.quantities import format_time

Progress = Callable[[float, str], None]
"""Called with a share (0 to 1) and what is being done; may raise ``Stopped`` to stop the work."""

BOARD_ALLOWANCE_PS = 10_000
"""What two sound boards' parts may differ by. Common practice: a few gates' spread."""


class Stopped(Exception):
    """Raised by a progress callback when the person asked to stop."""


@dataclass(frozen=True, slots=True, eq=False)
class CompareRequest:
    """What to compare. The first capture of each side is the pair that is shown; the others count in "seen in".

    ``clock`` is a signal name, or None to take the best candidate; ``offset`` None finds the offset.
    ``tolerance_ps`` None takes the sum of both sample periods and 10 ns for two boards' parts. ``qualifier`` is a
    condition on signals, in the operators of IEEE Std 1364: cycles in which it is true are left out on both sides.
    """

    good: tuple[Capture, ...]
    suspect: tuple[Capture, ...]
    sheet: ProbeSheet = field(default_factory=ProbeSheet)
    clock: str | None = None
    edge: Edge = "rising"
    offset: int | None = None
    family: str = "74"
    tolerance_ps: int | None = None
    qualifier: str | None = None
    wire_list: WireList | None = None
    """Which nets feed which part, in signal names; it orders the likely causes."""


@dataclass(frozen=True, slots=True)
class CaptureSeen:
    """One suspect capture against the good one that is shown: the signals that differ in it.

    ``compared`` is False where its cycles did not line up; then nothing is known of it.
    """

    name: str
    compared: bool
    diverges: frozenset[str]


@dataclass(frozen=True, slots=True, eq=False)
class Comparison:
    """What came out. ``signals`` in the sheet's order, the clock first; ``causes`` best supported first; ``drift`` of
    the suspect's clock against the good one's, None with too few matched cycles."""

    request: CompareRequest
    lineup: Lineup
    signals: tuple[SignalFinding, ...]
    causes: tuple[Cause, ...]
    warnings: tuple[str, ...]
    drift: Drift | None = None
    captures: tuple[CaptureSeen, ...] = ()
    """What each suspect capture showed, in the request's order."""

    @property
    def diverges(self) -> bool:
        """Does any signal diverge, in the pair that is shown or in another suspect capture?"""
        return any(s.verdict == "diverges" for s in self.signals) or any(c.diverges for c in self.captures)

    @property
    def only_elsewhere(self) -> tuple[CaptureSeen, ...]:
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


@dataclass(frozen=True, slots=True, eq=False)
class Board:
    """One capture by signal instead of by channel: its traces, and what its volts show."""

    capture: Capture
    traces: dict[str, DigitalTrace]
    events: dict[str, tuple[LevelEvent, ...]]
    channel_of: dict[str, str]


@dataclass(frozen=True, slots=True, eq=False)
class PairFindings:
    """One good and one suspect capture, compared. ``found`` and ``violations`` are by signal, the clock left out;
    both are empty where the cycles do not line up."""

    lineup: Lineup
    limits: Limits
    found: dict[str, Divergence]
    violations: dict[str, tuple[LevelViolation, ...]]

    def wrong(self, signal: str) -> bool:
        """Does this pair differ on the signal?"""
        return signal in self.found and (
            len(self.found[signal].cycles) > 0 or bool(new_violations(self.violations[signal]))
        )


def compare(request: CompareRequest, progress: Progress | None = None) -> Comparison:
    """Compares the shown pair in full, and the other captures to count where a signal differs too.

    Raises RequestError where the request itself cannot be met: no capture, no signal in common, a clock or a
    family that is not there. What is wrong with a board is a finding, never an error.
    """
    tell = progress or (lambda share, what: None)
    if not request.good or not request.suspect:
        raise RequestError("A comparison needs at least one known-good and one suspect capture. Add the missing one.")
    total = len(request.good) + len(request.suspect)
    boards = []
    for i, capture in enumerate((*request.good, *request.suspect)):
        tell(0.3 * i / total, f"reading levels of {capture.name}")
        boards.append(board(capture, request.sheet, request.family))
    goods, suspects = boards[: len(request.good)], boards[len(request.good) :]
    clock = _clock(request, goods[0], suspects[0])
    tell(0.3, "lining up")
    shown = compare_pair(goods[0], suspects[0], clock, request, request.offset, tell)
    others = [(s, goods[0]) for s in suspects[1:]], [(g, goods[0]) for g in goods[1:]]
    extra_warnings: list[str] = []
    counted: list[list[PairFindings]] = [[], []]
    lined_up: list[tuple[Board, PairFindings]] = []
    seen = [_seen(suspects[0], shown if shown.lineup else None)]
    for side, pairs in enumerate(others):
        for i, (other, reference) in enumerate(pairs):
            tell(0.8 + 0.15 * (side + i / len(pairs)) / 2, f"comparing {other.capture.name}")
            pair = _other_pair(reference, other, clock, request, extra_warnings)
            if pair is not None:
                counted[side].append(pair)
            if side == 0:
                seen.append(_seen(other, pair))
                lined_up += [(other, pair)] if pair is not None else []
    tell(0.95, "ranking causes")
    result = _assemble(request, goods[0], suspects[0], clock, shown, counted[0], counted[1], extra_warnings)
    result = replace(result, captures=tuple(seen))
    if shown.lineup and result.only_elsewhere:
        result = replace(result, causes=_causes_elsewhere(request, goods[0], clock, shown, lined_up, counted[1]))
    tell(1.0, "done")
    return result


def _causes_elsewhere(
    request: CompareRequest,
    good: Board,
    clock: str,
    shown: PairFindings,
    others: list[tuple[Board, PairFindings]],
    more_goods: list[PairFindings],
) -> tuple[Cause, ...]:
    """What the shown pair does not show: by the first capture that differs, the others only counted."""
    first = next(i for i, (_, pair) in enumerate(others) if any(pair.wrong(s) for s in pair.found))
    suspect, pair = others[first]
    rest = [shown, *(p for i, (_, p) in enumerate(others) if i != first)]
    found = _assemble(request, good, suspect, clock, pair, rest, more_goods, [])
    name = suspect.capture.name
    told = f"Seen in {name}, which is not the capture shown; the shown pair does not show it."
    return tuple(replace(c, because=(told, *c.because), capture=name) for c in found.causes)


def _seen(suspect: Board, pair: PairFindings | None) -> CaptureSeen:
    """What one suspect capture showed."""
    if pair is None:
        return CaptureSeen(suspect.capture.name, False, frozenset())
    return CaptureSeen(suspect.capture.name, True, frozenset(s for s in pair.found if pair.wrong(s)))


def board(capture: Capture, sheet: ProbeSheet, default_family: str) -> Board:
    """Names the channels by the sheet and reads volts as logic, by the family that the sheet gives a channel."""
    traces: dict[str, DigitalTrace] = {}
    events: dict[str, tuple[LevelEvent, ...]] = {}
    channel_of: dict[str, str] = {}
    for channel in capture.channels:
        probe = sheet.probe(channel)
        if probe.signal in traces:
            raise RequestError(
                f"{capture.name}: channel {channel} and channel {channel_of[probe.signal]} would both be signal "
                f"{probe.signal}. Give one of them its own row on the probe sheet."
            )
        channel_of[probe.signal] = channel
        if channel in capture.analog:
            levels = digitise(capture.analog[channel], family(probe.family or default_family))
            traces[probe.signal] = levels.digital
            events[probe.signal] = levels.events
        else:
            traces[probe.signal] = capture.digital[channel]
            events[probe.signal] = ()
    return Board(capture, traces, events, channel_of)


def _clock(request: CompareRequest, good: Board, suspect: Board) -> str:
    """The clock asked for, or the evenest signal that both sides have."""
    common = [s for s in good.traces if s in suspect.traces]
    if not common:
        raise RequestError(
            f"{good.capture.name} has {few_names(good.traces)} and {suspect.capture.name} has "
            f"{few_names(suspect.traces)}: no signal in common. Name the channels alike on the probe sheet."
        )
    if request.clock is not None:
        for side in (good, suspect):
            if counting_signals(request.clock, side.traces) is None:
                raise RequestError(
                    f"Clock {request.clock!r} is not in {side.capture.name}, which has {few_names(side.traces)}. "
                    "Name one of these as the clock."
                )
        return request.clock
    shared = {s: good.traces[s] for s in common}
    candidates: tuple[ClockCandidate, ...] = clock_candidates(shared, good.capture.resolution_ps)
    if candidates and candidates[0].regularity >= 0.5:
        phases = two_phases(shared, good.capture.resolution_ps)
        return phases if phases and candidates[0].signal in phases.split("+") else candidates[0].signal
    return best_count(shared, good.capture.resolution_ps, request.edge)


def few_names(names: object, most: int = 12) -> str:
    """Names in a row, the first ``most`` of them."""
    listed = list(names)  # type: ignore[call-overload]
    return ", ".join(listed[:most]) + (f" and {len(listed) - most} more" if len(listed) > most else "")


def compare_pair(
    good: Board, suspect: Board, clock: str, request: CompareRequest, offset: int | None, tell: Progress
) -> PairFindings:
    """Lines up two boards by ``clock`` and compares each signal that both have; ``offset`` None finds the offset."""
    shared = [s for s in good.traces if s in suspect.traces]
    common = [s for s in shared if s not in (counting_signals(clock, good.traces) or ())]
    periods = good.capture.resolution_ps, suspect.capture.resolution_ps
    quiet = quiet_ps({s: good.traces[s] for s in shared}, max(periods)) if clock == ANY_TRANSITION else 0
    edges = [
        counting_edges_ps(clock, {s: side.traces[s] for s in shared}, request.edge, quiet) for side in (good, suspect)
    ]
    states = []
    for side, own_edges, period in zip((good, suspect), edges, periods, strict=True):
        rows = [cycle_states(side.traces[s], own_edges, period) for s in common]
        states.append(np.array(rows, np.uint8).reshape(len(common), max(0, len(own_edges) - 1)))
    left_out = _left_out(request, tuple(common), states)
    lineup = find_lineup(clock, request.edge, edges[0], edges[1], states[0], states[1], tuple(common), offset, left_out)
    cycle_ps = int(np.median(np.diff(edges[0]))) if len(edges[0]) > 1 else 1
    tolerance = request.tolerance_ps if request.tolerance_ps is not None else sum(periods) + BOARD_ALLOWANCE_PS
    # less than both periods would report the instruments' own steps as differences
    limits = Limits(max(tolerance, sum(periods)), max(int(1.3 * cycle_ps), 3 * sum(periods)), *periods)
    found: dict[str, Divergence] = {}
    violations: dict[str, tuple[LevelViolation, ...]] = {}
    if lineup:
        pairing = matched(lineup)
        for i, signal in enumerate(common):
            tell(0.4 + 0.4 * i / len(common), f"comparing {signal}")
            pair = good.traces[signal], suspect.traces[signal]
            found[signal] = never_known(diverge(*pair, states[0][i], states[1][i], pairing, limits), *pair)
            violations[signal] = _violations(good.events[signal], suspect.events[signal], lineup)
    return PairFindings(lineup, limits, found, violations)


def _left_out(request: CompareRequest, names: tuple[str, ...], states: list[UInt8]) -> tuple[Bools, Bools] | None:
    """The cycles of both sides that the request's condition leaves out; None without one."""
    if not (request.qualifier or "").strip():
        return None
    condition = parse(request.qualifier or "")
    buses: dict[str, dict[int, str]] = {}
    for probe in request.sheet.probes:
        if probe.bus and probe.bit is not None and probe.signal in names:
            buses.setdefault(probe.bus, {})[probe.bit] = probe.signal
    good, suspect = (left_out(condition, dict(zip(names, side, strict=True)), buses) for side in states)
    return good, suspect


def _other_pair(
    reference: Board, other: Board, clock: str, request: CompareRequest, warnings: list[str]
) -> PairFindings | None:
    """One more capture against the shown good one; it must have the clock and line up by itself to count."""
    if counting_signals(clock, other.traces) is None or not any(
        s in reference.traces for s in other.traces if s != clock
    ):
        warnings.append(f"{other.capture.name} does not count: it lacks the clock {clock} or any other shared signal.")
        return None
    pair = compare_pair(reference, other, clock, request, None, lambda share, what: None)
    if not pair.lineup or pair.lineup.status in ("ambiguous", "none"):
        warnings.append(f"{other.capture.name} does not count: {pair.lineup.reason}")
        return None
    return pair


def _violations(
    good: tuple[LevelEvent, ...], suspect: tuple[LevelEvent, ...], lineup: Lineup
) -> tuple[LevelViolation, ...]:
    timemap = TimeMap(lineup)
    starts = np.array([r.good_start for r in lineup.runs], np.int64)
    stops = starts + [r.length for r in lineup.runs]
    rows: list[LevelViolation] = []
    sides: tuple[tuple[Side, tuple[LevelEvent, ...]], ...] = (("good", good), ("suspect", suspect))
    for side, events in sides:
        if not events:
            continue
        at = np.array([e.start_ps for e in events], np.int64)
        on_good = at if side == "good" else timemap.to_good_ps(at)
        cycle = lineup.good_edges_ps.searchsorted(on_good, side="right") - 1
        run = starts.searchsorted(cycle, side="right") - 1
        inside_run = (run >= 0) & (cycle < stops[np.maximum(run, 0)])
        for event, k, inside in zip(events, cycle.tolist(), inside_run.tolist(), strict=True):
            rows.append(
                LevelViolation(
                    event.kind,
                    side,
                    event.start_ps,
                    event.stop_ps,
                    event.volts,
                    event.limit_v,
                    int(k) if inside else None,
                )
            )
    return tuple(rows)


def new_violations(rows: tuple[LevelViolation, ...]) -> tuple[LevelViolation, ...]:
    """The suspect's violations of the kinds that the good side shows less than a third as often."""
    count = {"good": {}, "suspect": {}}  # type: dict[str, dict[str, int]]
    for row in rows:
        count[row.side][row.kind] = count[row.side].get(row.kind, 0) + 1
    kinds = {k for k, n in count["suspect"].items() if n > 3 * count["good"].get(k, 0)}
    return tuple(r for r in rows if r.side == "suspect" and r.kind in kinds and r.cycle is not None)


def _assemble(
    request: CompareRequest,
    good: Board,
    suspect: Board,
    clock: str,
    shown: PairFindings,
    more_suspects: list[PairFindings],
    more_goods: list[PairFindings],
    extra_warnings: list[str],
) -> Comparison:
    cycle_ps = _cycle_ps(shown.lineup)
    findings: list[SignalFinding] = []
    witnesses: list[Witness] = []
    for signal in _order(request, good, suspect, clock):
        finding = _finding(signal, request, good, suspect, clock, shown)
        if finding.verdict == "diverges":
            fresh = new_violations(shown.violations[signal])
            mode = name_fault(signal, shown.found[signal], fresh, shown.found, cycle_ps)
            finding = replace(finding, fault_mode=mode.name)
            seen = Seen(1 + sum(p.wrong(signal) for p in more_suspects), 1 + len(more_suspects))
            varies = Seen(sum(p.wrong(signal) for p in more_goods), len(more_goods))
            witnesses.append(Witness(finding, mode, seen, varies))
        findings.append(finding)
    breaks = np.cumsum([r.length for r in shown.lineup.runs], dtype=np.int64)[:-1]
    circuit = Circuit(shown.found, request.wire_list, breaks, shown.lineup.good_edges_ps)
    causes = rank_causes(witnesses, shown.limits.uncertainty_ps, circuit)
    warnings = (*_warnings(request, good, suspect, clock, shown, findings), *extra_warnings)
    clocks = drift(shown.lineup, good.capture.resolution_ps, suspect.capture.resolution_ps)
    return Comparison(request, shown.lineup, tuple(findings), causes, warnings, clocks)


def _cycle_ps(lineup: Lineup) -> int:
    return int(np.median(np.diff(lineup.good_edges_ps))) if len(lineup.good_edges_ps) > 1 else 1


def _order(request: CompareRequest, good: Board, suspect: Board, clock: str) -> list[str]:
    counting = counting_signals(clock, good.traces) or ()
    names = dict.fromkeys([*counting, *(p.signal for p in request.sheet.probes), *good.traces, *suspect.traces])
    return [n for n in names if n in good.traces or n in suspect.traces]


def _finding(
    signal: str, request: CompareRequest, good: Board, suspect: Board, clock: str, shown: PairFindings
) -> SignalFinding:
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
        return _clock_finding(base, shown)
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
        matched_first=runs[0].good_start,
        matched_stop=runs[-1].good_start + runs[-1].length,
        skew=found.skew,
        missing_transitions=len(found.matching.missing),
        extra_transitions=len(found.matching.extra),
        moved_transitions=len(found.moved_by_ps),
        levels=shown.violations[signal],
        ties=found.ties,
        difference_on_good_ps=found.spans_on_good_ps,
        suspect_on_good=found.suspect_on_good,
    )
    finding = _with_levels(finding, shown)
    if len(finding.diverging_cycles):
        return replace(finding, verdict="diverges")
    if not found.compared and not len(found.ties.good_ps):
        return replace(finding, verdict="undecided")
    return replace(finding, verdict="agrees")


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
    fresh = new_violations(finding.levels)
    if not fresh:
        return finding
    cycles = np.union1d(finding.diverging_cycles, np.array([v.cycle for v in fresh], np.int64))
    earliest = min(fresh, key=lambda v: v.start_ps)
    on_good = int(TimeMap(shown.lineup).to_good_ps(np.array([earliest.start_ps], np.int64))[0])
    first = finding.first_divergence
    if first is None or on_good < first.good_ps:
        first = FirstDivergence(int(earliest.cycle or 0), on_good, earliest.start_ps)
    return replace(finding, diverging_cycles=cycles, first_divergence=first)


def _clock_finding(base: SignalFinding, shown: PairFindings) -> SignalFinding:
    """The clock counts the cycles, so it is not compared by cycle; a drift is told with the line-up."""
    if not shown.lineup or base.suspect_trace is None or base.good_trace is None:
        return replace(base, verdict="undecided")
    runs = shown.lineup.runs
    empty = np.full(len(shown.lineup.good_edges_ps) - 1, 1, np.uint8)
    other = np.full(len(shown.lineup.suspect_edges_ps) - 1, 1, np.uint8)
    found = diverge(base.good_trace, base.suspect_trace, empty, other, matched(shown.lineup), shown.limits)
    return replace(
        base,
        verdict="agrees",
        compared_cycles=shown.lineup.matched_cycles,
        matched_first=runs[0].good_start,
        matched_stop=runs[-1].good_start + runs[-1].length,
        ties=found.ties,
        skew=found.skew,
        suspect_on_good=found.suspect_on_good,
    )


def _warnings(
    request: CompareRequest, good: Board, suspect: Board, clock: str, shown: PairFindings, findings: list[SignalFinding]
) -> list[str]:
    out = [f"{b.capture.name}: {note}" for b in (good, suspect) for note in b.capture.notes]
    if request.clock is None and clock == ANY_TRANSITION:
        out.append("No signal ticks or strobes: a cycle is what lies between two bursts of transitions.")
    elif request.clock is None and (rough := _roughness(good, clock)) is not None:
        out.append(
            f"No signal ticks evenly; {clock} counts the cycles, which is even in {rough:.0%} of them. If another "
            "signal strobes what is compared, name it as the clock."
        )
    if shown.lineup.status not in ("unique", "by hand"):
        out.append(f"Line-up {shown.lineup.status}: {shown.lineup.reason}")
    for side, edges in ((good, shown.lineup.good_edges_ps), (suspect, shown.lineup.suspect_edges_ps)):
        if len(edges) < 2:
            out.append(f"{side.capture.name}: {clock} never toggles there; that may be the fault itself.")
            continue
        samples = float(np.median(np.diff(edges))) / side.capture.resolution_ps
        if samples < 4:
            out.append(
                f"{side.capture.name}: {samples:.1f} samples a cycle of {clock}; at least 4 are wanted for states, "
                "10 for timing. Capture faster."
            )
    if any(shown.lineup.left_out):
        out.append(_left_out_words(request, shown.lineup))
    if shown.lineup.slips and shown.lineup.status == "unique":
        out.append(slip_words(shown.lineup.slips))
    lacking = [f.signal for f in findings if f.verdict == "missing"]
    if lacking:
        out.append(f"Only one side has {few_names(lacking)}: not compared.")
    drift = shown.lineup.drift_ppm
    if drift is not None and abs(drift) > 20_000:
        out.append(
            f"The suspect's cycle is {drift / 1e4:+.1f} % longer than the good one's, "
            f"{format_time(_cycle_ps(shown.lineup))}: more than crystals differ by."
        )
    return out


def _roughness(good: Board, clock: str) -> float | None:
    """How even a clock is that is no even one, 0 to 1; None for an even one."""
    if clock not in good.traces:
        return None
    found = clock_candidates({clock: good.traces[clock]}, good.capture.resolution_ps)
    return found[0].regularity if found and found[0].regularity < 0.5 else None


def _left_out_words(request: CompareRequest, lineup: Lineup) -> str:
    """How much the condition takes out."""
    counts = []
    for number, edges, side in zip(
        lineup.left_out, (lineup.good_edges_ps, lineup.suspect_edges_ps), ("good", "suspect"), strict=True
    ):
        counts.append(f"{number} of {max(0, len(edges) - 1)} {side} cycles")
    return f"Left out where {in_words(parse(request.qualifier or ''))}: {' and '.join(counts)}."
