"""Levels of both sides: margins, what was lost, and what a difference in volts may come from.

What a level suggests is a guess and says "may"; what would confirm it stands beside it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from tracecore.capture import HIGH, AnalogTrace, DigitalTrace
from tracecore.circuit.net_families import driver_family, receiver_family
from tracecore.circuit.probe_sheet import Probe, ProbeSheet
from tracecore.compare.findings import LevelViolation, Side, SignalFinding
from tracecore.compare.violations import violations_by_cycle
from tracecore.lineup.lineup import Lineup
from tracecore.measure.level_figures import (
    BREAKS,
    WORST_FIRST,
    LevelFigures,
    LevelSettings,
    LevelVerdict,
    level_figures,
)
from tracecore.name_lists import few_names
from tracecore.quantities import format_time, format_volts
from tracecore.settings import CompareSettings

GROUND_SHIFT_V = 0.1
"""Both levels raised alike by more than this may be a shift of ground (common practice)."""
FIGHT_V = 1.5
_ASYMMETRY = 4
_COINCIDES = 0.95
_FEWEST = 4
_FEWEST_SHIFTED = 3  # signals that a common shift takes


@dataclass(frozen=True, slots=True)
class Difference:
    """Suspect less good, in volts or as a ratio, with what it reads to."""

    value: float
    reads_to: float

    @property
    def tells(self) -> bool:
        """Is it more than it reads to?"""
        return abs(self.value) > self.reads_to


@dataclass(frozen=True, slots=True)
class LevelFinding:
    """What stands out on one signal. ``title`` is short (``weak low 1.11 V``); ``text`` are sentences; ``probe`` says
    where to measure, ``readings`` what each reading there may mean. ``side`` is the side that shows it."""

    title: str
    text: str
    probe: str = ""
    readings: tuple[tuple[str, str], ...] = ()
    side: Side = "suspect"
    since_cycle: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class SignalLevels:
    """One signal in volts. A side without volts has no figures. ``condition`` names a signal at whose one level all of
    the findings fall, and ``condition_high`` which."""

    signal: str
    place: str
    active: str
    good: LevelFigures | None
    suspect: LevelFigures | None
    violations: tuple[LevelViolation, ...]
    verdict: LevelVerdict
    finding: LevelFinding | None
    low_shift: Difference | None = None
    high_shift: Difference | None = None
    rise_ratio: Difference | None = None
    condition: str = ""
    condition_high: bool = True

    @property
    def sides(self) -> tuple[tuple[str, LevelFigures], ...]:
        """The sides that have volts, by their words."""
        both = ("known-good", self.good), ("suspect", self.suspect)
        return tuple((words, side) for words, side in both if side is not None)

    @property
    def worst_margin_v(self) -> float:
        """The smallest margin of either side; infinite where none was seen."""
        sides = (side.worst_margin_v for _, side in self.sides)
        return min((m for m in sides if m is not None), default=float("inf"))


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
    probes = {p.signal: p for p in sheet.probes}
    rows, without, notes = [], [], []
    for one in signals:
        if one.good_volts is None and one.suspect_volts is None:
            without.append(one.signal)
            continue
        row = _row(one, probes.get(one.signal, Probe(one.signal, one.signal)), lineup, signals, request)
        rows.append(row)
        notes += _notes(row)
    rows.sort(key=lambda row: (WORST_FIRST.index(row.verdict), row.worst_margin_v))
    shift = _common_shift(rows)
    notes += [shift.sentence] if shift is not None else []
    return LevelReport(tuple(rows), tuple(without), tuple(notes), shift)


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
    return replace(row, finding=_finding(row, probe))


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
    shifts = {row.signal: row.low_shift for row in rows if row.low_shift is not None and _ground_shift(row)}
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


# ---- what a finding may come from

MORE_OHMS, PULL_UP, LOAD = "More ohms than good", "may be the pull-up or terminator", "may be load"
"""What ohms from a line that rises slowly to +5 V may say; the likely causes ask for the same."""


def _finding(row: SignalLevels, probe: Probe) -> LevelFinding | None:
    """The gravest thing that the suspect shows and the good side does not; else what both show."""
    side = row.suspect if row.suspect is not None else row.good
    if side is None or side.trouble is not None:
        return None
    own: Side = "suspect" if row.suspect is not None else "good"
    counts = {kind: side.count(kind) for kind in BREAKS}
    good_counts = {kind: row.good.count(kind) if row.good is not None and own == "suspect" else 0 for kind in BREAKS}
    new = [kind for kind in BREAKS if counts[kind] > 3 * good_counts[kind]]
    driver_pin = probe.driver or "the driver's own pin"
    first = next(
        (v.cycle for v in row.violations if v.side == own and v.kind in (new or BREAKS) and v.cycle is not None), None
    )
    found: LevelFinding | None = None
    if "steady mid-level" in new:
        found = _open_input(row, side, own, driver_pin)
    elif _slow_rise(row, side):
        found = _no_pull_up(row, side, own, driver_pin)
    elif "weak low" in new:
        found = _weak_low(row, side, own, driver_pin)
    elif new:
        found = _plain(side, own, new[0])
    elif _ground_shift(row):
        found = _ground(row, side, own)
    elif row.verdict in ("violates", "marginal"):
        found = _margin(row, side, own)
    return None if found is None else replace(found, since_cycle=first)


def _events(side: LevelFigures, kind: str) -> list[float]:
    return [e.volts for e in side.events if e.kind == kind]


def _open_input(row: SignalLevels, side: LevelFigures, own: Side, pin: str) -> LevelFinding:
    volts = float(np.median(_events(side, "steady mid-level")))
    good = "" if row.good is None or own == "good" else " while the known-good side moves"
    return LevelFinding(
        f"rests at {format_volts(volts)}",
        f"It rests at {format_volts(volts)} on the {own} side{good}: neither low nor high. It may be an open input, "
        "which rests between 1.1 and 1.8 V, with the path to its driver open.",
        f"with power off, ohms from {pin} to this pin; with power on, the level at {pin}",
        (("Moves there", "may be an open wire, contact or via"), ("Rests there too", "may be the driver's output")),
        own,
    )


def _slow_rise(row: SignalLevels, side: LevelFigures) -> bool:
    """A slow rise with a quick fall: a line that is let go and pulled up by too little."""
    rise, fall = side.rising.median_ps, side.falling.median_ps
    if rise is None or fall is None or rise < _ASYMMETRY * max(fall, side.instrument_ps):
        return False
    good = row.good.rising.median_ps if row.good is not None and side is row.suspect else None
    slower = good is None or rise > 2 * good
    return slower and (side.count("slow transition") > 0 or side.count("weak high") > 0 or rise > 60_000)


def _no_pull_up(row: SignalLevels, side: LevelFigures, own: Side, pin: str) -> LevelFinding:
    rise, fall = side.rising.median_ps or 0.0, side.falling.median_ps or 0.0
    was = ""
    if row.good is not None and side is row.suspect and row.good.rising.median_ps:
        was = f", {format_time(round(row.good.rising.median_ps), digits=3)} on the known-good side"
    return LevelFinding(
        f"slow rise, {format_time(round(rise), digits=2)}",
        f"It rises in {format_time(round(rise), digits=3)} (10 to 90 %{was}) and falls in "
        f"{format_time(round(fall), digits=2)}. It may be an open-collector line without its pull-up or terminator, or "
        "with more load than it had: the rise takes 2.2 times R times C.",
        "with power off, ohms from this line to +5 V, both units; with power on, where it rests while no one drives it",
        ((MORE_OHMS, PULL_UP), ("The same", f"{LOAD}; compare at {pin}")),
        own,
    )


def _weak_low(row: SignalLevels, side: LevelFigures, own: Side, pin: str) -> LevelFinding:
    volts = _events(side, "weak low")
    typical = float(np.median(volts))
    count = len(volts)
    while_ = f" while {row.condition} is {'high' if row.condition_high else 'low'}" if row.condition else ""
    fight = typical <= FIGHT_V
    either = " or two outputs that fight" if fight else ""
    return LevelFinding(
        f"weak low {format_volts(typical)}",
        f"{count} low{'s' if count != 1 else ''} rise{'s' if count == 1 else ''} to {format_volts(typical)} on the "
        f"{own} side{while_}; a low is {format_volts(side.receiver.vil_v)} at most. It may be a contact or wire of "
        f"raised resistance{either}.",
        pin,
        (
            ("Low there", "may be a contact or wire"),
            ("Raised there too", "may be two outputs that fight, or its ground"),
        ),
        own,
    )


_PLAIN: dict[str, tuple[str, str]] = {
    "weak high": (
        "Highs stop at {volts}; a high is {limit} at least.",
        "may be a heavy load, or an output that is tired",
    ),
    "runt": ("Pulses turn back at {volts}, before the other level is reached.", "may be two signals that race"),
    "undefined": ("It lingers near {volts}, between low and high.", "may be a net that no output drives"),
    "slow transition": (
        "It takes longer through the undefined band than an input takes.",
        "may be load or a weak output",
    ),
}


def _plain(side: LevelFigures, own: Side, kind: str) -> LevelFinding:
    volts = _events(side, kind)
    level = float(np.median(volts)) if volts else 0.0
    limit = side.receiver.vih_v if kind == "weak high" else side.receiver.vil_v
    words, may = _PLAIN.get(kind, ("", "may be many things"))
    text = words.format(volts=format_volts(level), limit=format_volts(limit))
    return LevelFinding(
        f"{kind} {format_volts(level)}",
        f"{text} {len(volts)} times on the {own} side: {may}.",
        "the driver's own pin, and its supply and ground pins",
        (("The same there", "may be the part or its supply"), ("Sound there", "may be the path between")),
        own,
    )


def _ground_shift(row: SignalLevels) -> bool:
    low, high = row.low_shift, row.high_shift
    if low is None or high is None:
        return False
    alike = abs(low.value - high.value) <= max(low.reads_to, 0.25 * abs(low.value))
    return alike and min(abs(low.value), abs(high.value)) > max(GROUND_SHIFT_V, low.reads_to)


def _ground(row: SignalLevels, side: LevelFigures, own: Side) -> LevelFinding:
    assert row.low_shift is not None
    by = row.low_shift.value
    return LevelFinding(
        f"both levels {'raised' if by > 0 else 'lowered'} by {format_volts(abs(by))}",
        f"Low and high lie {format_volts(abs(by))} {'above' if by > 0 else 'below'} those of the known-good side, "
        "alike. It may be the ground of the board or of the probe.",
        "millivolts from this board's ground pin to the backplane's ground, in operation",
        (("The same shift there", "may be the ground contacts"), ("None", "may be the probe's own ground lead")),
        own,
    )


def _margin(row: SignalLevels, side: LevelFigures, own: Side) -> LevelFinding | None:
    worst = side.worst_margin_v
    if worst is None:
        return None
    low = worst == side.low_margin_v
    promised = side.promised_low_v if low else side.promised_high_v
    return LevelFinding(
        f"{'low' if low else 'high'} margin {format_volts(worst)}",
        f"The {'low' if low else 'high'} margin is {format_volts(worst)} on the {own} side; {side.driver.name} into "
        f"{side.receiver.name} is promised {format_volts(promised)}.",
        "the driver's own pin",
        (("More margin there", "may be the path between"), ("The same there", "may be the part or its load")),
        own,
    )
