"""Timing of both sides: delays set side by side, setup and hold against limits, and a verdict for each signal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from tracecore.capture import DigitalTrace, Int64
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.compare.clock_faults import ClockPair
from tracecore.compare.divergence import BOARD_ALLOWANCE_PS
from tracecore.compare.findings import SignalFinding, Skew
from tracecore.compare.timing_limits import LimitReading, TimingLimits, clock_limits, limits_into, limits_kept
from tracecore.errors import RequestError
from tracecore.lineup.lineup import Lineup
from tracecore.measure.timing import Direction, TimingFigures, TimingVerdict, rate_that_tells_hz, timing_figures
from tracecore.own_names import EACH_ROW
from tracecore.quantities import format_rate, format_time

FEWEST_TO_LEARN = 3
_NO_TIMES = (
    "The board's own clock took each row, so nothing tells when within a cycle a signal moves. For delays, capture "
    "again by the instrument's own clock."
)
WORST_FIRST: tuple[TimingVerdict, ...] = ("violates", "cannot be judged", "marginal", "within")


@dataclass(frozen=True, slots=True)
class TimingSettings:
    """``entered`` are limits by signal, which go before those of the sheet's parts. ``direction`` picks transitions."""

    entered: Mapping[str, TimingLimits] = field(default_factory=dict)
    direction: Direction = "both"


@dataclass(frozen=True, slots=True, eq=False)
class SignalTiming:
    """One signal. ``difference_ps`` is suspect less good in the median, ``difference_reads_to_ps`` what it reads to.
    ``skew`` is that of the comparison, over pairs of transitions, None where none pair."""

    signal: str
    place: str
    into: str
    active: str
    good: TimingFigures | None
    suspect: TimingFigures | None
    limits: TimingLimits | None
    readings: tuple[LimitReading, ...]
    good_readings: tuple[LimitReading, ...]
    verdict: TimingVerdict
    why: str
    difference_ps: float | None
    difference_reads_to_ps: float | None
    skew: Skew | None = None

    @property
    def differs(self) -> bool:
        """Is the difference more than what it reads to and what the parts of two sound boards may differ by?"""
        if self.difference_ps is None or self.difference_reads_to_ps is None:
            return False
        return abs(self.difference_ps) > self.difference_reads_to_ps + BOARD_ALLOWANCE_PS

    @property
    def worst(self) -> LimitReading | None:
        """The reading that decides the verdict."""
        return min(
            self.readings, key=lambda r: (WORST_FIRST.index(r.verdict), r.smallest.value_ps - r.limit_ps), default=None
        )


@dataclass(frozen=True, slots=True, eq=False)
class TimingReport:
    """All signals, the worst first; of the clock itself the other edge, its pulses and its cycle. ``period_ps`` is the
    good side's cycle; ``inactive_ps`` is when its other edge comes. ``clocks`` are both clocks measured on their own,
    and ``drift_ppm`` how much longer the suspect's cycle is; None where not known."""

    clock: str
    edge: str
    period_ps: int
    inactive_ps: int | None
    rows: tuple[SignalTiming, ...]
    notes: tuple[str, ...] = ()
    clocks: ClockPair | None = None
    drift_ppm: float | None = None

    def row(self, signal: str) -> SignalTiming:
        """The row of one signal; KeyError where there is none."""
        for row in self.rows:
            if row.signal == signal:
                return row
        raise KeyError(signal)

    @property
    def diverges(self) -> bool:
        """Does any signal violate its limits, on the suspect side?"""
        return any(row.verdict == "violates" for row in self.rows)

    def count(self, verdict: TimingVerdict) -> int:
        """How many signals have that verdict."""
        return sum(row.verdict == verdict for row in self.rows)


def compare_timing(
    signals: Sequence[SignalFinding],
    lineup: Lineup,
    sheet: ProbeSheet,
    settings: TimingSettings | None = None,
    more_good: Sequence[Mapping[str, TimingFigures]] = (),
) -> TimingReport:
    """Sets both sides' timing side by side. ``more_good`` are further known-good captures' figures, to learn limits."""
    if lineup.clock == EACH_ROW:
        return TimingReport(EACH_ROW, lineup.edge, 0, None, (), (_NO_TIMES,))
    settings = settings or TimingSettings()
    probes = {p.signal: p for p in sheet.probes}
    period = max(lineup.periods_ps[0], 1), max(lineup.periods_ps[1], 1)
    notes: list[str] = []
    if min(len(lineup.good_edges_ps), len(lineup.suspect_edges_ps)) < 2:
        notes.append(
            f"The active edge of {lineup.clock} never comes twice on one side, so no delay is measured. "
            "Choose another clock, or capture longer."
        )
    clock = settings.entered.get(lineup.clock) or clock_limits((p.into for p in sheet.probes if p.into), lineup.edge)
    rows = []
    for finding in signals:
        probe = probes.get(finding.signal, Probe(finding.signal, finding.signal))
        learned = [one[finding.signal] for one in more_good if finding.signal in one]
        row, note = _signal(finding, probe, lineup, period, settings, learned, clock)
        rows.append(row)
        notes += [note] if note else []
    rows.sort(key=_rank)
    cycle, inactive = _cycle(signals, lineup)
    return TimingReport(lineup.clock, lineup.edge, cycle, inactive, tuple(rows), tuple(notes))


def _rank(row: SignalTiming) -> tuple[float, float, str]:
    """Worst first; what no part was given for stands last."""
    worst = row.worst
    slack = float("inf") if worst is None else worst.smallest.value_ps - worst.limit_ps
    return WORST_FIRST.index(row.verdict) + (2.5 if row.limits is None else 0.0), slack, row.signal


def _cycle(signals: Sequence[SignalFinding], lineup: Lineup) -> tuple[int, int | None]:
    if len(lineup.good_edges_ps) < 2:
        return 0, None
    clock = next((s for s in signals if s.signal == lineup.clock), None)
    period = int(np.median(np.diff(lineup.good_edges_ps)))
    if clock is None or clock.good_trace is None:
        return period, None
    at = clock.good_trace.transitions_ps
    other = at[~np.isin(at, lineup.good_edges_ps)]
    k = lineup.good_edges_ps.searchsorted(other, side="right") - 1
    inside = (k >= 0) & (k < len(lineup.good_edges_ps) - 1)
    return period, int(np.median(other[inside] - lineup.good_edges_ps[k[inside]])) if inside.any() else None


def _signal(
    finding: SignalFinding,
    probe: Probe,
    lineup: Lineup,
    period: tuple[int, int],
    settings: TimingSettings,
    learned: list[TimingFigures],
    clock: TimingLimits | None,
) -> tuple[SignalTiming, str]:
    direction = settings.direction
    if finding.signal == lineup.clock:
        direction = "falling" if lineup.edge == "rising" else "rising"
    good = _measured(finding.good_trace, lineup.good_edges_ps, period[0], direction, None)
    home = good.median_ps if good is not None else None
    suspect = _measured(finding.suspect_trace, lineup.suspect_edges_ps, period[1], direction, home)
    if finding.signal == lineup.clock:
        limits, note = clock, ""
    else:
        limits, note = _limits(finding, probe, settings, good, learned, lineup.edge)
    kept = None
    if limits is not None:
        sides = [
            None if trace is None or own is None else (trace, own)
            for trace, own in ((finding.good_trace, good), (finding.suspect_trace, suspect))
        ]
        kept = limits_kept(sides[0], sides[1], limits, lineup)
    good_readings, readings = (kept.good, kept.suspect) if kept is not None else ((), ())
    verdict, why = _verdict(suspect, limits, readings, note)
    difference = reads_to = None
    if good is not None and suspect is not None and good.count and suspect.count:
        difference = (suspect.median_ps or 0) - (good.median_ps or 0)
        if good.locked or suspect.locked:
            reads_to = float(good.resolution_ps + suspect.resolution_ps)
        else:
            reads_to = float(np.hypot(good.median_reads_to_ps, suspect.median_reads_to_ps))
    row = SignalTiming(
        finding.signal,
        finding.place,
        limits.part if limits is not None and limits.part else probe.into,
        finding.active,
        good,
        suspect,
        limits,
        readings,
        good_readings,
        verdict,
        why,
        difference,
        reads_to,
        finding.skew,
    )
    return row, note


def _measured(
    trace: DigitalTrace | None, edges_ps: Int64, resolution: int, direction: Direction, home: float | None
) -> TimingFigures | None:
    if trace is None:
        return None
    return timing_figures(trace, edges_ps, resolution, home_ps=home, direction=direction)


def _limits(
    finding: SignalFinding,
    probe: Probe,
    settings: TimingSettings,
    good: TimingFigures | None,
    learned: list[TimingFigures],
    edge: str,
) -> tuple[TimingLimits | None, str]:
    """Entered limits first, then the receiving part's, then what several good captures teach."""
    if finding.signal in settings.entered:
        return settings.entered[finding.signal], ""
    if probe.into:
        try:
            return limits_into(probe.into, edge), ""
        except RequestError as error:
            return None, f"{finding.signal}: {error}"
    several = [one for one in [good, *learned] if one is not None and one.count and one.setup and one.hold]
    if len(several) >= FEWEST_TO_LEARN:
        widest = max(one.resolution_ps for one in several)
        setup = min(one.setup.value_ps for one in several if one.setup) - widest
        hold = min(one.hold.value_ps for one in several if one.hold) - widest
        return TimingLimits(setup, hold, f"learned from {len(several)} known-good captures"), ""
    return None, ""


def _verdict(
    suspect: TimingFigures | None, limits: TimingLimits | None, readings: tuple[LimitReading, ...], note: str
) -> tuple[TimingVerdict, str]:
    if suspect is None:
        return "cannot be judged", "the suspect capture lacks it"
    if not suspect.count:
        return "cannot be judged", "no transitions on the suspect side"
    if limits is None:
        return "cannot be judged", "its part has no figures" if note else "no part given"
    worst = min(readings, key=lambda r: (WORST_FIRST.index(r.verdict), r.smallest.value_ps - r.limit_ps), default=None)
    if worst is None:
        return "cannot be judged", "nothing is printed to judge it by"
    why = worst.words
    if worst.verdict == "cannot be judged":
        rate = rate_that_tells_hz(worst.smallest.value_ps, worst.limit_ps)
        why += f"; accurate to ±{format_time(worst.resolution_ps)}"
        why += f", {format_rate(rate)} or more would tell" if rate is not None else ""
    return worst.verdict, why
