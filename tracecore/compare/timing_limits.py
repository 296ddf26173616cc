"""What a receiving part needs in time, and what a signal leaves it: setup, hold and pulse durations against limits."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from tracecore.capture import HIGH, LOW, DigitalTrace, Int64
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.errors import RequestError
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.runs import runs_table
from tracecore.measure.part_figures import PartFigure, PartFigures, part_figures
from tracecore.measure.timing import (
    Smallest,
    TimingFigures,
    TimingVerdict,
    limit_verdict,
    smallest_of,
    timing_figures,
    whole_pulses,
)
from tracecore.quantities import format_time, parse_time_ps

ENTERED = "entered by hand"
_ENTRY = re.compile(r"(setup|hold|high|low)\s*=\s*(-?[\d.,]+\s*[munp]?s)\b", re.IGNORECASE)
_EXAMPLE = "'setup=20 ns hold=5 ns high=30 ns low=37 ns'"
_TIMES_AS_OFTEN = 3


def _none() -> Int64:
    return np.empty(0, np.int64)


@dataclass(frozen=True, slots=True)
class TimingLimits:
    """What a receiving part needs at least, in picoseconds; ``high_ps`` and ``low_ps`` are pulse durations,
    ``period_ps`` a clock's cycle. ``source`` says whose figures they are. None: not limited."""

    setup_ps: int | None
    hold_ps: int | None
    source: str
    part: str = ""
    high_ps: int | None = None
    low_ps: int | None = None
    period_ps: int | None = None

    @property
    def whose(self) -> str:
        """Who needs it, in a sentence."""
        return self.part or f"the limit ({self.source})"


@dataclass(frozen=True, slots=True, eq=False)
class LimitReading:
    """One reading against its limit: ``what`` is "setup", "hold", "high pulse", "low pulse" or "period"; ``good_cycle``
    is where the smallest was found, None where that cycle has no partner. ``breaks_ps`` int64[N] are the places that
    break it for certain, on the side's own clock; ``break_cycles`` int64[N] are their good cycles, -1 without one;
    ``break_values_ps`` int64[N] is what each leaves."""

    what: str
    smallest: Smallest
    limit_ps: int
    resolution_ps: int
    verdict: TimingVerdict
    good_cycle: int | None
    unclear: int
    breaks_ps: Int64 = field(default_factory=_none)
    break_cycles: Int64 = field(default_factory=_none)
    break_values_ps: Int64 = field(default_factory=_none)

    @property
    def breaking(self) -> int:
        """How many break it for certain."""
        return len(self.breaks_ps)

    @property
    def words(self) -> str:
        """The reading in one line: ``setup −42 ns, needs 20 ns``."""
        return f"{self.what} {format_time(self.smallest.value_ps)}, needs {format_time(self.limit_ps)}"


@dataclass(frozen=True, slots=True, eq=False)
class LimitsKept:
    """What both sides leave of the limits of the part that takes a signal in."""

    limits: TimingLimits
    good: tuple[LimitReading, ...] = ()
    suspect: tuple[LimitReading, ...] = ()

    @property
    def missed(self) -> tuple[LimitReading, ...]:
        """The suspect's readings that violate, of what the good side misses less than a third as often."""
        usual = {r.what: r.breaking for r in self.good}
        return tuple(
            r for r in self.suspect if r.verdict == "violates" and r.breaking > _TIMES_AS_OFTEN * usual.get(r.what, 0)
        )

    @property
    def missed_cycles(self) -> Int64:
        """int64[M]: the good cycles in which the suspect misses them, increasing."""
        found = [r.break_cycles[r.break_cycles >= 0] for r in self.missed]
        return np.unique(np.concatenate(found)) if found else _none()

    def first_missed(self) -> tuple[int, int] | None:
        """The good cycle and the suspect's time of the earliest place; None without one in a matched cycle."""
        places = [
            (int(at), int(cycle))
            for r in self.missed
            for at, cycle in zip(r.breaks_ps.tolist(), r.break_cycles.tolist(), strict=True)
            if cycle >= 0
        ]
        if not places:
            return None
        at, cycle = min(places)
        return cycle, at


def entered_limits(text: str) -> TimingLimits | None:
    """Limits typed in place of a part; None where the text has no "=" and so names a part.

    Raises RequestError for limits that cannot be read.

    >>> entered_limits("setup=20 ns hold=5 ns").setup_ps, entered_limits("7474")
    (20000, None)
    """
    if "=" not in text:
        return None
    found = {name.lower(): value for name, value in _ENTRY.findall(text)}
    if not found or _ENTRY.sub("", text).strip(" ,;"):
        raise RequestError(f"Limits {text!r} cannot be read: expected least times, as in {_EXAMPLE}.")
    values = {name: round(parse_time_ps(value.replace(",", "."))) for name, value in found.items()}
    for name in ("high", "low"):
        if name in values and values[name] <= 0:
            raise RequestError(
                f"Limits {text!r}: a pulse lasts longer than {values[name] / 1000:g} ns. Enter its least."
            )
    setup, hold = values.get("setup"), values.get("hold")
    if setup is not None and hold is not None and setup + hold <= 0:
        raise RequestError(
            f"Limits {text!r}: setup {setup / 1000:g} ns and hold {hold / 1000:g} ns leave no window; expected a sum "
            "above zero. Check which is which."
        )
    return TimingLimits(setup, hold, ENTERED, "", values.get("high"), values.get("low"))


def part_limits(part: PartFigures, pin: str = "") -> TimingLimits:
    """Setup, hold and pulse durations of a part's pin as printed; without a pin those of its data. Raises RequestError
    where the sheet prints none of them."""
    setup, hold = part.setup(pin), part.hold(pin)
    high, low = (part.pulse(pin, level) if pin else None for level in ("high", "low"))
    printed = next((f for f in (setup, hold, high, low) if f is not None), None)
    if printed is None:
        where = f" at {pin}" if pin else ""
        raise RequestError(
            f"{part.part} has no setup or hold time{where} in its sheet ({part.function}). "
            "Name the register that takes it in."
        )
    note = "" if printed.status == "seen" else ", from memory"
    least = [_least_of(figure) for figure in (setup, hold, high, low)]
    source = f"{part.part}, {printed.source}{note}"
    return TimingLimits(least[0], least[1], source, f"{part.part} {pin}".strip(), least[2], least[3])


def _least_of(figure: PartFigure | None) -> int | None:
    return None if figure is None else figure.least


def limits_into(into: str, edge: str) -> TimingLimits:
    """The limits of what takes a signal in: a part's number, with a pin where wanted, or limits entered by hand.

    Raises RequestError for a part that is unknown, prints no figures, or takes its data in at the other edge than
    ``edge``, which counts the cycles.
    """
    entered = entered_limits(into)
    if entered is not None:
        return entered
    number, _, pin = into.strip().partition(" ")
    part = part_figures(number)
    limits = part_limits(part, pin.strip())
    timed = limits.setup_ps is not None or limits.hold_ps is not None
    if timed and part.edge and part.edge != edge:
        raise RequestError(
            f"a {part.part} takes its data in at the {part.edge} edge, and the {edge} edge counts the cycles here. "
            f"Count by the {part.edge} edge to judge it."
        )
    return limits


def limits_of_sheet(sheet: ProbeSheet, edge: str) -> dict[str, TimingLimits]:
    """The limits by signal; what the sheet names and the tables lack is left out, for the timing report to tell."""
    out = {}
    for probe in sheet.probes:
        if probe.into:
            try:
                out[probe.signal] = limits_into(probe.into, edge)
            except RequestError:
                continue
    return out


def clock_limits(parts: Iterable[str], edge: str) -> TimingLimits | None:
    """What a clock owes the parts that it clocks by ``edge``: the longest of their least pulses and periods. None where
    no part of ``parts``, as written on a sheet, prints any."""
    least: dict[str, tuple[int, str]] = {}
    sources: dict[str, str] = {}
    for into in dict.fromkeys(parts):
        number = into.strip().partition(" ")[0]
        try:
            part = part_figures(number)
        except RequestError:
            continue
        if part.edge and part.edge != edge:
            continue
        rate = part.highest_clock()
        found = {
            "high": _least_of(part.pulse("CLK", "high")),
            "low": _least_of(part.pulse("CLK", "low")),
            "period": None if rate is None or not rate.least else round(1e12 / rate.least),
        }
        for name, value in found.items():
            if value is not None and value > least.get(name, (0, ""))[0]:
                least[name] = value, part.part
                sources[part.part] = next(r.source for r in part.rows if r.parameter in ("tw", "fmax"))
    if not least:
        return None
    strictest = dict.fromkeys(name for _, name in least.values())
    high, low, period = (least[name][0] if name in least else None for name in ("high", "low", "period"))
    source = "; ".join(f"{name}, {sources[name]}" for name in strictest)
    return TimingLimits(None, None, source, f"{', '.join(strictest)} CLK", high, low, period)


def limits_kept(
    good: tuple[DigitalTrace, TimingFigures] | None,
    suspect: tuple[DigitalTrace, TimingFigures] | None,
    limits: TimingLimits,
    lineup: Lineup,
) -> LimitsKept:
    """Both sides' readings; a side is None where it lacks the signal."""
    return LimitsKept(
        limits,
        () if good is None else limit_readings(*good, limits, lineup, suspect_side=False),
        () if suspect is None else limit_readings(*suspect, limits, lineup, suspect_side=True),
    )


def kept_of_pair(good: DigitalTrace, suspect: DigitalTrace, limits: TimingLimits, lineup: Lineup) -> LimitsKept:
    """The same from the traces of a lined-up pair."""
    periods = max(lineup.periods_ps[0], 1), max(lineup.periods_ps[1], 1)
    own = timing_figures(good, lineup.good_edges_ps, periods[0])
    home = own.median_ps if own.count else None
    other = timing_figures(suspect, lineup.suspect_edges_ps, periods[1], home_ps=home)
    return limits_kept((good, own), (suspect, other), limits, lineup)


def limit_readings(
    trace: DigitalTrace, figures: TimingFigures, limits: TimingLimits, lineup: Lineup, *, suspect_side: bool
) -> tuple[LimitReading, ...]:
    """The readings of one side, of whatever is limited and was seen."""
    edges = lineup.suspect_edges_ps if suspect_side else lineup.good_edges_ps
    rows: list[tuple[str, int, Int64, Int64, Int64]] = []
    if figures.count and limits.setup_ps is not None:
        rows.append(
            ("setup", limits.setup_ps, edges[figures.cycles + 1] - figures.at_ps, figures.at_ps, figures.cycles)
        )
    if figures.count and limits.hold_ps is not None:
        rows.append(("hold", limits.hold_ps, figures.delays_ps, figures.at_ps, figures.cycles))
    for word, level, limit in (("high pulse", HIGH, limits.high_ps), ("low pulse", LOW, limits.low_ps)):
        if limit is not None:
            at, lasts, cycles = whole_pulses(trace, level, edges)
            rows.append((word, limit, lasts, at, cycles))
    if limits.period_ps is not None and len(edges) > 1:
        rows.append(("period", limits.period_ps, np.diff(edges), edges[:-1], np.arange(len(edges) - 1)))
    out = []
    for what, limit, values, at, cycles in rows:
        smallest = smallest_of(values, cycles, at)
        if smallest is None:
            continue
        r = figures.resolution_ps
        breaks = np.flatnonzero(values + r < limit)
        partners = good_cycles_of(lineup, cycles[breaks]) if suspect_side else cycles[breaks]
        own = good_cycles_of(lineup, np.array([smallest.cycle], np.int64))[0] if suspect_side else smallest.cycle
        out.append(
            LimitReading(
                what,
                smallest,
                limit,
                r,
                limit_verdict(smallest.value_ps, r, limit),
                None if own < 0 else int(own),
                int(((values < limit) & (values + r >= limit)).sum()),
                at[breaks],
                partners,
                values[breaks],
            )
        )
    return tuple(out)


def good_cycles_of(lineup: Lineup, suspect_cycles: Int64) -> Int64:
    """The good cycles that pair with suspect ones, int64[N]; -1 where one has no partner."""
    runs = runs_table(lineup.runs)
    if not len(runs):
        return np.full(len(suspect_cycles), -1, np.int64)
    k = runs[:, 1].searchsorted(suspect_cycles, side="right") - 1
    run = runs[np.maximum(k, 0)]
    inside = (k >= 0) & (suspect_cycles < run[:, 1] + run[:, 2])
    return np.where(inside, run[:, 0] + suspect_cycles - run[:, 1], -1)
