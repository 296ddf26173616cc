"""Levels of both sides: margins, what was lost, and by how much the two differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from tracecore.capture import HIGH, AnalogTrace, DigitalTrace
from tracecore.circuit.net_families import driver_family, receiver_family
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.compare.findings import SignalFinding
from tracecore.compare.level_findings import ground_shift, level_finding
from tracecore.compare.signal_levels import Difference, SignalLevels
from tracecore.compare.violations import violations_by_cycle
from tracecore.lineup.lineup import Lineup
from tracecore.measure.level_figures import (
    WORST_FIRST,
    LevelFigures,
    LevelSettings,
    LevelVerdict,
    level_figures,
)
from tracecore.name_lists import few_names
from tracecore.quantities import format_volts
from tracecore.settings import CompareSettings

_COINCIDES = 0.95
_FEWEST = 4
_FEWEST_SHIFTED = 3  # signals that a common shift takes


@dataclass(frozen=True, slots=True)
class CommonShift:
    """Low and high of several signals moved by the same, as one ground does it."""

    signals: tuple[str, ...]
    by_v: float

    @property
    def sentence(self) -> str:
        """What was found, and what may do that."""
        way = "above" if self.by_v > 0 else "below"
        return (
            f"Low and high of {few_names(self.signals, 6)} lie {format_volts(abs(self.by_v))} {way} the known-good "
            "side's, all alike. One ground may be the cause: the board's, or that of the instrument's leads."
        )


@dataclass(frozen=True, slots=True, eq=False)
class LevelReport:
    """All signals with volts, the worst margin first; ``without`` are those that have none on either side, ``notes``
    what must be known before the figures are believed."""

    rows: tuple[SignalLevels, ...]
    without: tuple[str, ...]
    notes: tuple[str, ...]
    common_shift: CommonShift | None = None

    def row(self, signal: str) -> SignalLevels:
        """The row of one signal; KeyError where there is none."""
        for row in self.rows:
            if row.signal == signal:
                return row
        raise KeyError(signal)

    @property
    def unbelieved(self) -> dict[str, str]:
        """The signals whose states cannot be believed, since the instrument spoilt a trace: what it did, by signal."""
        return {
            row.signal: f"{row.signal}, {words}: {side.trouble.sentence}"
            for row in self.rows
            for words, side in row.sides
            if side.trouble is not None and side.trouble.spoils_logic
        }

    @property
    def diverges(self) -> bool:
        """Does a signal violate its limits on the suspect side?"""
        return any(row.verdict == "violates" for row in self.rows)

    def count(self, verdict: LevelVerdict) -> int:
        """How many signals have that verdict."""
        return sum(row.verdict == verdict for row in self.rows)


@dataclass(frozen=True, slots=True)
class LevelRequest:
    """``families`` are driver and receiver by signal, which go before the sheet; ``attenuation`` factors by signal."""

    default_family: str = "74"
    settings: LevelSettings = field(default_factory=LevelSettings)
    families: Mapping[str, tuple[str, str]] = field(default_factory=dict)
    attenuation: Mapping[str, float] = field(default_factory=dict)


def level_request(settings: CompareSettings) -> LevelRequest:
    """What a comparison's settings say of levels."""
    return LevelRequest(settings.family, LevelSettings(settings.supply_v, settings.bandwidth_hz))


def compare_levels(
    signals: Sequence[SignalFinding], lineup: Lineup, sheet: ProbeSheet, request: LevelRequest | None = None
) -> LevelReport:
    """Measures every signal that has volts on a side. Raises RequestError for a family that is not known."""
    request = request or LevelRequest()
    rows, without, notes = [], [], []
    for one in signals:
        if one.good_volts is None and one.suspect_volts is None:
            without.append(one.signal)
            continue
        row = _row(one, sheet.row_of(one.signal), lineup, signals, request)
        rows.append(row)
        notes += _notes(row)
    rows.sort(key=lambda row: (WORST_FIRST.index(row.verdict), row.worst_margin_v))
    shift = _common_shift(rows)
    notes += [shift.sentence] if shift is not None else []
    return LevelReport(tuple(rows), tuple(without), tuple(notes), shift)


@dataclass(frozen=True, slots=True)
class ShortMargin:
    """A noise margin, "low" or "high", that is shorter than promised on the suspect side, and not on the good one."""

    signal: str
    word: str
    before_v: float
    now_v: float
    promised_v: float


def short_margins(report: LevelReport) -> list[ShortMargin]:
    """Those of all signals, by more than both sides read to."""
    found = []
    for row in report.rows:
        good, suspect = row.good, row.suspect
        if good is None or suspect is None or good.trouble or suspect.trouble:
            continue
        reads_to = good.reads_to_v + suspect.reads_to_v
        for word, before, now, promised in (
            ("low", good.low_margin_v, suspect.low_margin_v, suspect.promised_low_v),
            ("high", good.high_margin_v, suspect.high_margin_v, suspect.promised_high_v),
        ):
            if before is None or now is None:
                continue
            if now + suspect.reads_to_v < promised <= before and before - now > reads_to:
                found.append(ShortMargin(row.signal, word, before, now, promised))
    return found


def _row(
    one: SignalFinding, probe: Probe, lineup: Lineup, signals: Sequence[SignalFinding], request: LevelRequest
) -> SignalLevels:
    driver_name, receiver_name = request.families.get(one.signal, ("", ""))
    named = replace(probe, family=driver_name or probe.family, receiver=receiver_name or probe.receiver)
    driver = driver_family(named, request.default_family)
    receiver = receiver_family(named, request.default_family)
    factor = request.attenuation.get(one.signal, 1.0)
    good, suspect = (
        None if trace is None else level_figures(_times(trace, factor), driver, receiver, request.settings)
        for trace in (one.good_volts, one.suspect_volts)
    )
    violations = violations_by_cycle(good.events if good else (), suspect.events if suspect else (), lineup)
    condition, high = _condition(one, suspect, signals)
    judged = suspect if suspect is not None else good
    verdict: LevelVerdict = "cannot be judged" if judged is None else judged.verdict
    if suspect is None:
        verdict = "cannot be judged"
    row = SignalLevels(
        one.signal, one.place, one.active, good, suspect, violations, verdict, None, *_differences(good, suspect),
        condition, high,
    )  # fmt: skip
    return replace(row, finding=level_finding(row, probe))


def _times(trace: AnalogTrace, factor: float) -> AnalogTrace:
    if factor == 1.0:
        return trace
    return AnalogTrace(trace.start_ps, trace.interval_ps, (trace.volts * np.float32(factor)).astype(np.float32))


def _notes(row: SignalLevels) -> list[str]:
    out = [f"{row.signal}, {words}: {side.trouble.sentence}" for words, side in row.sides if side.trouble is not None]
    if row.good is None or row.suspect is None:
        lacks, has = ("known-good", "suspect") if row.good is None else ("suspect", "known-good")
        out.append(
            f"{row.signal} has volts on the {has} side only; its own margins are shown, and nothing is compared. "
            f"Capture its volts on the {lacks} side too."
        )
    return out


def _common_shift(rows: Sequence[SignalLevels]) -> CommonShift | None:
    shifts = {row.signal: row.low_shift for row in rows if row.low_shift is not None and ground_shift(row)}
    if len(shifts) < _FEWEST_SHIFTED:
        return None
    middle = float(np.median([own.value for own in shifts.values()]))
    alike = [s for s, own in sorted(shifts.items()) if abs(own.value - middle) <= max(own.reads_to, 0.25 * abs(middle))]
    if len(alike) < _FEWEST_SHIFTED:
        return None
    return CommonShift(tuple(alike), middle)


def _differences(
    good: LevelFigures | None, suspect: LevelFigures | None
) -> tuple[Difference | None, Difference | None, Difference | None]:
    """Shift of low and high, and the ratio of the rise times; None where a side does not have it or cannot tell."""
    if good is None or suspect is None or good.trouble or suspect.trouble:
        return None, None, None
    reads_to = good.reads_to_v + suspect.reads_to_v
    shifts = [
        None if a is None or b is None else Difference(b - a, reads_to)
        for a, b in ((good.states.low_v, suspect.states.low_v), (good.states.high_v, suspect.states.high_v))
    ]
    a, b = good.signal_transition_ps(True), suspect.signal_transition_ps(True)
    ratio = None
    if a and b:
        # each duration reads to one sample interval; medians of many read better, which is not claimed here
        spread = float(np.hypot(good.reads_to_ps / a, suspect.reads_to_ps / b))
        ratio = Difference(b / a, b / a * spread)
    return shifts[0], shifts[1], ratio


def _condition(one: SignalFinding, suspect: LevelFigures | None, signals: Sequence[SignalFinding]) -> tuple[str, bool]:
    """Another signal at whose one level all weak lows fall, where that level is not the usual one of its lows."""
    if suspect is None:
        return "", True
    weak = [e for e in suspect.events if e.kind in ("weak low", "weak high")]
    if len(weak) < _FEWEST or one.suspect_trace is None:
        return "", True
    at = np.array([(e.start_ps + e.stop_ps) // 2 for e in weak], np.int64)
    sound = _sound_lows(one.suspect_trace)
    best: tuple[float, str, bool] | None = None
    for other in signals:
        trace = other.suspect_trace
        if other.signal == one.signal or trace is None:
            continue
        share = float(np.mean(trace.level_at(at) == HIGH))
        usual = float(np.mean(trace.level_at(sound) == HIGH)) if len(sound) else 0.5
        for high, found, base in ((True, share, usual), (False, 1 - share, 1 - usual)):
            if found >= _COINCIDES and base < 0.5 and (best is None or found - base > best[0]):
                best = found - base, other.signal, high
    return ("", True) if best is None else (best[1], best[2])


def _sound_lows(trace: DigitalTrace) -> np.ndarray:
    """The middles of the lows that are read as such."""
    stops = np.append(trace.times_ps[1:], trace.stop_ps)
    low = trace.levels == 0
    return np.asarray((trace.times_ps[low] + stops[low]) // 2)
