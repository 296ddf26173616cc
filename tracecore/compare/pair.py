"""One good and one suspect board: lined up, and each signal that both have compared."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from tracecore.capture import Int64, UInt8
from tracecore.compare.capture_signals import CaptureSignals
from tracecore.compare.clock_faults import ClockPair, ClockSide, compare_clocks
from tracecore.compare.divergence import BOARD_ALLOWANCE_PS, Divergence, Limits, Matched, diverge, matched
from tracecore.compare.envelope import Shift
from tracecore.compare.fault_modes import never_known
from tracecore.compare.findings import LevelViolation
from tracecore.compare.left_out_check import LeftOutFigure, left_out_figures
from tracecore.compare.pair_shifts import pair_shifts
from tracecore.compare.request import CompareRequest, Progress
from tracecore.compare.timing_limits import LimitsKept, TimingLimits, kept_of_pair, limits_of_sheet
from tracecore.compare.violations import new_violations, violations_by_cycle
from tracecore.errors import RequestError
from tracecore.lineup.condition import parse
from tracecore.lineup.leaving_out import left_out
from tracecore.lineup.lineup import Lineup, find_lineup
from tracecore.lineup.state_words import Bools
from tracecore.measure.cycle_count import ANY_TRANSITION, counting_edges_ps, counting_signals, quiet_ps
from tracecore.quantities import format_time
from tracecore.settings import CompareSettings

_FEWEST_EDGES, _EDGES_LOOKED_AT = 32, 4096
_STRAYS_FREELY = 0.8


_DOUBTED = 0.6  # no better is a line-up known that is counted by a signal in the clock's place


@dataclass(frozen=True, slots=True, eq=False)
class PairFindings:
    """One good and one suspect capture, compared. ``found`` and ``violations`` are by signal, the clock left out;
    both are empty where the cycles do not line up.

    ``let_off`` int64[N] are for a signal the good cycles in which it differs as known-good captures do too; they are
    out of ``found`` already. Of ``noisy`` signals all is let off. ``shifts`` say how far transitions stray on the
    average from those of known-good captures, where there are enough to know. ``clocks`` are both sides' clocks
    compared, None where no single clock counts; they are there without a line-up too. ``kept`` is what both sides
    leave of the limits of the parts that take signals in, where the sheet names them.
    """

    lineup: Lineup
    limits: Limits
    found: dict[str, Divergence]
    violations: dict[str, tuple[LevelViolation, ...]]
    let_off: Mapping[str, Int64] = field(default_factory=dict)
    noisy: frozenset[str] = frozenset()
    shifts: Mapping[str, tuple[Shift, ...]] = field(default_factory=dict)
    pairing: Matched | None = None
    clocks: ClockPair | None = None
    left_figures: tuple[LeftOutFigure, ...] = ()
    """What is to be told of the cycles that a condition leaves out."""
    kept: Mapping[str, LimitsKept] = field(default_factory=dict)

    def wrong(self, signal: str) -> bool:
        """Does this pair differ on the signal, in states, times, levels, or a limit that the suspect misses?"""
        if signal not in self.found:
            return False
        return bool(len(self.found[signal].cycles) or self.fresh(signal) or len(self.missed_cycles(signal)))

    def missed_cycles(self, signal: str) -> Int64:
        """int64[M]: the good cycles in which the suspect misses a limit of the part that takes the signal in."""
        return self.kept[signal].missed_cycles if signal in self.kept else np.empty(0, np.int64)

    @property
    def all_wrong(self) -> frozenset[str]:
        """The signals that it differs on."""
        return frozenset(s for s in self.found if self.wrong(s))

    def fresh(self, signal: str) -> tuple[LevelViolation, ...]:
        """The levels that only the suspect breaks, and that good captures do not break there too."""
        rows = new_violations(self.violations[signal])
        off = set(self.let_off.get(signal, ()))
        return tuple(v for v in rows if v.cycle not in off)

    def steadily_off(self, signal: str) -> Shift | None:
        """The larger of its shifts that are more than chance and another board's parts make: against the known-good
        captures' average where there are enough to know it, else against the one that is compared."""
        known = signal in self.shifts or signal not in self.found
        shifts = self.shifts.get(signal, ()) if known else pair_shifts(self.found[signal], self.limits)
        own = [s for s in shifts if s.systematic]
        return max(own, key=lambda s: abs(s.by_ps), default=None)


@dataclass(frozen=True, slots=True, eq=False)
class LinedUp:
    """Two boards whose cycles are lined up, or that do not line up, to be compared one signal at a time.

    ``names`` are the signals that both have, those that count the cycles left out, and ``states`` uint8[len(names), K]
    what they are in each cycle of either side. ``pairing`` is None where nothing lines up. ``needs`` are the limits of
    the parts that take signals in.
    """

    good: CaptureSignals
    suspect: CaptureSignals
    lineup: Lineup
    limits: Limits
    names: tuple[str, ...]
    states: tuple[UInt8, UInt8]
    pairing: Matched | None
    clocks: ClockPair | None = None
    left_figures: tuple[LeftOutFigure, ...] = ()
    needs: Mapping[str, TimingLimits] = field(default_factory=dict)

    def doubted(self, why: str) -> LinedUp:
        """The same, and no certain line-up: ``why`` is a sentence."""
        status = "weak" if self.lineup.status == "unique" else self.lineup.status
        confidence = min(self.lineup.confidence, _DOUBTED)
        reason = f"{why} {self.lineup.reason}".strip()
        return replace(self, lineup=replace(self.lineup, status=status, confidence=confidence, reason=reason))

    def one_by_one(self) -> Iterator[PairFindings]:
        """Each signal by itself, compared when it is asked for: so one of them at a time takes memory."""
        if self.pairing is None:
            return
        for i, signal in enumerate(self.names):
            pair = self.good.traces[signal], self.suspect.traces[signal]
            found = never_known(diverge(*pair, self.states[0][i], self.states[1][i], self.pairing, self.limits), *pair)
            levels = violations_by_cycle(self.good.events[signal], self.suspect.events[signal], self.lineup)
            kept = {signal: kept_of_pair(*pair, self.needs[signal], self.lineup)} if signal in self.needs else {}
            yield PairFindings(
                self.lineup,
                self.limits,
                {signal: found},
                {signal: levels},
                pairing=self.pairing,
                clocks=self.clocks,
                left_figures=self.left_figures,
                kept=kept,
            )

    def whole(self, tell: Progress = lambda share, what: None) -> PairFindings:
        """All signals at once; ``tell`` hears of each, with a share from 0 to 1."""
        found: dict[str, Divergence] = {}
        violations: dict[str, tuple[LevelViolation, ...]] = {}
        kept: dict[str, LimitsKept] = {}
        for i, one in enumerate(self.one_by_one()):
            tell(i / len(self.names), f"comparing {self.names[i]}")
            found.update(one.found)
            violations.update(one.violations)
            kept.update(one.kept)
        return PairFindings(
            self.lineup,
            self.limits,
            found,
            violations,
            pairing=self.pairing,
            clocks=self.clocks,
            left_figures=self.left_figures,
            kept=kept,
        )


def line_up_pair(
    good: CaptureSignals, suspect: CaptureSignals, clock: str, request: CompareRequest, offset: int | None
) -> LinedUp:
    """Lines up two boards by ``clock``; ``offset`` None finds the offset."""
    shared = [s for s in good.traces if s in suspect.traces]
    common = tuple(s for s in shared if s not in (counting_signals(clock, good.traces) or ()))
    periods = good.capture.resolution_ps, suspect.capture.resolution_ps
    clocks = clocks_of(good, suspect, clock, request)
    quiet = quiet_ps({s: good.traces[s] for s in shared}, max(periods)) if clock == ANY_TRANSITION else 0
    edges = (
        clocks.edges_ps
        if clocks is not None
        else [counting_edges_ps(clock, {s: b.traces[s] for s in shared}, request.edge, quiet) for b in (good, suspect)]
    )
    states = [good.states(common, edges[0], keep=True), suspect.states(common, edges[1])]
    left_out = _left_out(request, common, states)
    sides = edges[0], edges[1], states[0], states[1]
    spans = [(side.capture.start_ps, side.capture.stop_ps) for side in (good, suspect)]
    lineup = find_lineup(
        clock,
        request.edge,
        *sides,
        common,
        offset,
        left_out,
        periods,
        spans_ps=(spans[0], spans[1]),
        same_start=request.same_start,
    )
    cycle_ps = int(np.median(np.diff(edges[0]))) if len(edges[0]) > 1 else 1
    tolerance = tolerated_ps(request, clock, edges[0], sum(periods))
    in_step = keeps_step(edges[0], periods[0]), keeps_step(edges[1], periods[1])
    limits = Limits(tolerance, max(int(1.3 * cycle_ps), 3 * sum(periods)), *periods, in_step)
    most = max((len(good.traces[s].times_ps) for s in common), default=0)
    pairing = matched(lineup, most) if lineup else None
    traces = good.traces, suspect.traces
    figures = left_out_figures(lineup, left_out, common, (states[0], states[1]), traces, tolerance) if left_out else ()
    needs = limits_of_sheet(request.sheet, request.edge)
    both = states[0], states[1]
    return LinedUp(good, suspect, lineup, limits, common, both, pairing, clocks, figures, needs)


def tolerated_ps(settings: CompareSettings, clock: str, good_edges_ps: Int64, periods_ps: int) -> int:
    """How far apart transitions may lie, never less than both sample periods ``periods_ps`` together: that would report
    the instruments' own steps as differences.

    Raises RequestError where a person sets more than half a cycle of the known-good clock: a transition of one cycle
    would pass for one of the next, and a line that stands still for one that is late.
    """
    if settings.tolerance_ps is None:
        return periods_ps + BOARD_ALLOWANCE_PS
    if len(good_edges_ps) > 1:
        half_ps = int(np.median(np.diff(good_edges_ps))) // 2
        if settings.tolerance_ps > max(half_ps, periods_ps + BOARD_ALLOWANCE_PS):
            raise RequestError(
                f"Tolerance: found {format_time(settings.tolerance_ps)}; expected at most half a cycle of {clock}, "
                f"{format_time(half_ps)}, since a wrong state would pass for a late one. Set a shorter one."
            )
    return max(settings.tolerance_ps, periods_ps)


def clocks_of(good: CaptureSignals, suspect: CaptureSignals, clock: str, request: CompareRequest) -> ClockPair | None:
    """Both sides' clocks compared; None where two phases, or no signal at all, count the cycles."""
    if clock not in good.traces or clock not in suspect.traces:
        return None
    sides = [
        ClockSide(
            side.traces[clock],
            side.events[clock],
            {s: t for s, t in side.traces.items() if s != clock},
            side.capture.resolution_ps,
        )
        for side in (good, suspect)
    ]
    return compare_clocks(clock, request.edge, sides[0], sides[1], request.tolerance_ps)


def keeps_step(edges_ps: Int64, period_ps: int) -> bool:
    """Does the sampling keep step with the clock? Then it reads every transition late by the same, and a mean over many
    tells no more than one. Edges that drift through the samples stray from a straight line as sampling makes them:
    evenly over one period, which is a standard deviation of its twelfth part's root."""
    if len(edges_ps) < _FEWEST_EDGES:
        return True
    number = np.unique(np.linspace(0, len(edges_ps) - 1, _EDGES_LOOKED_AT).astype(np.int64))
    off = (edges_ps[number] - edges_ps[0]).astype(np.float64)
    line = np.polynomial.Polynomial.fit(number, off, 1)
    return bool(np.std(off - line(number)) < _STRAYS_FREELY * period_ps / np.sqrt(12))


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
