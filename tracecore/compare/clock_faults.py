"""What is wrong with the suspect's clock against the good one's, before either of them counts a cycle.

Nothing here needs a line-up. What both clocks do is no fault: a kind of odd edge counts where the suspect shows it
more than three times as often as the good side. Only what sampling cannot feign is told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tracecore.capture import DigitalTrace, Int64
from tracecore.compare.fault_mode import counted
from tracecore.measure.clock import active_edges_ps
from tracecore.measure.clock_phase import CommonShift, common_shift, places
from tracecore.measure.clock_quality import ClockQuality, clock_quality
from tracecore.measure.levels import LevelEvent
from tracecore.quantities import format_time, group_digits, percent

ClockFaultKind = Literal[
    "dead",
    "stops",
    "runts",
    "weak low",
    "weak high",
    "undefined",
    "slow transitions",
    "divided",
    "other rate",
    "missing pulses",
    "double edges",
    "extra pulses",
    "duty factor",
    "late",
    "early",
    "pauses",
    "wandering period",
    "uneven period",
]

_TIMES_AS_OFTEN = 3
_BESIDES = 3  # so many more where the good side shows any
_RATE_OFF = 0.05  # common practice: crystals differ by far less
_SHIFT_PS = 25_000  # what the clock's way to the probe may differ by on two sound boards; common practice
_DUTY_PS = 10_000  # what rise and fall of a few gates differ by; common practice
_DUTY_SHARE = 0.03
_JITTER_SHARE = 0.03
_WANDER_SHARE = 0.005
_AS_EVEN = 0.95
_NO_REST = 1.5  # cycles; a longer gap has room for another edge
_LEVEL_KINDS: dict[str, ClockFaultKind] = {
    "runt": "runts",
    "weak low": "weak low",
    "weak high": "weak high",
    "undefined": "undefined",
    "slow transition": "slow transitions",
}


@dataclass(frozen=True, slots=True, eq=False)
class ClockFault:
    """One thing that is wrong with the suspect's clock. ``at_ps`` int64[N] are the places, on the suspect's axis; none
    where it is so throughout. ``name`` is as shown, ``because`` sentences with the figures of both sides."""

    kind: ClockFaultKind
    name: str
    because: tuple[str, ...]
    at_ps: Int64


@dataclass(frozen=True, slots=True, eq=False)
class ClockPair:
    """Both clocks, and what is wrong with the suspect's, the likeliest name first. ``shift`` is what all other signals
    share; ``edges_ps`` are the active edges that count on either side: real ones, the suspect's moved by the
    shift where the clock is late or early, by ``moved_ps``. ``levels`` are what both sides' volts show.
    ``ticks_instead`` names another signal of the suspect that ticks as the good clock does where the clock does not:
    then the leads may be swapped, and nothing is said against the clock."""

    signal: str
    good: ClockQuality
    suspect: ClockQuality
    faults: tuple[ClockFault, ...]
    shift: CommonShift | None
    edges_ps: tuple[Int64, Int64]
    levels: tuple[tuple[LevelEvent, ...], tuple[LevelEvent, ...]] = ((), ())
    moved_ps: int = 0
    ticks_instead: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class ClockSide:
    """One side's clock as captured: its trace, its levels' events, the other signals, and the sample period."""

    trace: DigitalTrace
    events: tuple[LevelEvent, ...]
    others: Mapping[str, DigitalTrace]
    resolution_ps: int


def compare_clocks(
    signal: str, edge: str, good: ClockSide, suspect: ClockSide, tolerance_ps: int | None = None
) -> ClockPair:
    """Both clocks measured and compared. ``tolerance_ps`` is what a person says two boards may differ by."""
    levels = good.events, suspect.events
    own = clock_quality(good.trace, edge, good.resolution_ps)
    if not own.regular:
        # of a strobe that comes when it likes no edge is odd
        own = clock_quality(good.trace, edge, good.resolution_ps, as_it_is=True)
        other = clock_quality(suspect.trace, edge, suspect.resolution_ps, as_it_is=True)
        faults = _silent(own, other, good, suspect) if own.ticks else []
        return ClockPair(signal, own, other, tuple(faults), None, (own.edges_ps, other.edges_ps), levels)
    other = clock_quality(suspect.trace, edge, suspect.resolution_ps, own.period_ps)
    ratio = other.period_ps / own.period_ps
    same_rate = other.ticks and abs(ratio - 1) <= _RATE_OFF
    instead = "" if same_rate and other.regular else _ticks_instead(own, good, suspect, edge)
    if instead:
        sides = own.edges_ps, active_edges_ps(suspect.trace, edge)
        return ClockPair(signal, own, other, (), None, sides, levels, ticks_instead=instead)
    shift = _shift(own, other, good, suspect) if same_rate else None
    faults = [*_silent(own, other, good, suspect), *_levels(own, other, good.events, suspect.events)]
    moved = None
    if same_rate:
        faults += [*_odd_edges(own, other), *_duty(own, other), *_unsteady(own, other)]
        moved = _moved(shift, own, other, tolerance_ps)
        faults += [moved] if moved is not None else []
    elif other.ticks:
        faults.append(_rate(own, other))
    by_ps = round(shift.by_ps) if moved is not None and shift is not None else 0
    order = ClockFaultKind.__args__  # type: ignore[attr-defined]
    faults.sort(key=lambda fault: order.index(fault.kind))
    return ClockPair(signal, own, other, tuple(faults), shift, (own.edges_ps, other.edges_ps + by_ps), levels, by_ps)


def _ticks_instead(clock: ClockQuality, good: ClockSide, suspect: ClockSide, edge: str) -> str:
    """A signal of the suspect that ticks as the good clock does, and does not on the good side; empty without one."""

    def alike(trace: DigitalTrace, resolution_ps: int) -> bool:
        own = clock_quality(trace, edge, resolution_ps)
        return own.regular and own.even >= _AS_EVEN and abs(own.period_ps / clock.period_ps - 1) <= _RATE_OFF

    enough = len(clock.edges_ps) // 20
    for name, trace in suspect.others.items():
        busy = len(trace.times_ps) > enough and name in good.others
        if busy and alike(trace, suspect.resolution_ps) and not alike(good.others[name], good.resolution_ps):
            return name
    return ""


def _none() -> Int64:
    return np.empty(0, np.int64)


def _silent(
    good: ClockQuality, suspect: ClockQuality, good_side: ClockSide, suspect_side: ClockSide
) -> list[ClockFault]:
    """A clock that never ticks, or that stops."""
    level = "high" if suspect.rests_high else "low"
    if not suspect.moves:
        said = f"It is {level} in the whole capture, while the good clock ticks {counted(len(good.edges_ps), 'time')}."
        return [ClockFault("dead", f"dead, {level}", (said,), _none())]
    last = suspect.stops_ps
    if last is None and not suspect.ticks and len(suspect.edges_ps):
        last = int(suspect.edges_ps[-1])
    if last is None or good.stops_ps is not None:
        return []
    rest = suspect_side.trace.stop_ps - last
    said = (
        f"After its last active edge it stays {level} for the {format_time(rest)} to the end of the capture; the good "
        f"clock {_longest_rest(good, good_side)}."
    )
    return [ClockFault("stops", "stops", (said,), np.array([last], np.int64))]


def _longest_rest(clock: ClockQuality, side: ClockSide) -> str:
    """How long a clock rests at most, its tail up to the end of the capture included."""
    longest = int(np.diff(clock.edges_ps, append=side.trace.stop_ps).max())
    if longest < _NO_REST * clock.period_ps + side.resolution_ps:
        return "never rests longer than a cycle"
    return f"rests for no longer than {format_time(longest)}"


def _rate(good: ClockQuality, suspect: ClockQuality) -> ClockFault:
    ratio = suspect.period_ps / good.period_ps
    parts = round(ratio)
    periods = (
        f"Its period is {format_time(round(suspect.period_ps))}, the good one's {format_time(round(good.period_ps))}."
    )
    if parts >= 2 and abs(ratio / parts - 1) <= _RATE_OFF / 2:
        return ClockFault("divided", f"divided by {parts}", (periods,), _none())
    return ClockFault("other rate", f"{ratio:.2f} times the period", (periods,), _none())


def _odd_edges(good: ClockQuality, suspect: ClockQuality) -> list[ClockFault]:
    """Edges too many, pulses too few, and pauses, where the good side shows them clearly less often."""
    edges = len(suspect.edges_ps)
    rows: list[tuple[ClockFaultKind, Int64, int, str]] = [
        ("missing pulses", suspect.missing_ps, len(good.missing_ps), "{} where the grid of its other edges goes on"),
        ("double edges", suspect.double_ps, len(good.double_ps), "{} within a quarter of a cycle of another one"),
        ("extra pulses", suspect.extra_ps, len(good.extra_ps), "{} between two edges that are a cycle apart"),
        ("pauses", suspect.pauses_ps[:, 0], len(good.pauses_ps), "{} of its edges, which then go on"),
    ]
    nouns = {"missing pulses": "pulse", "double edges": "active edge", "extra pulses": "active edge", "pauses": "pause"}
    out = []
    for kind, at, usual, words in rows:
        if not _more_often(len(at), usual, edges / max(1, len(good.edges_ps))):
            continue
        verb = "lack" if kind == "missing pulses" else "stand"
        if kind == "pauses":
            longest = int((suspect.pauses_ps[:, 1] - suspect.pauses_ps[:, 0]).max())
            said = f"It rests {counted(len(at), 'time')}, for up to {format_time(longest)}, and goes on"
        else:
            said = f"{counted(len(at), nouns[kind])} {verb}{'s' if len(at) == 1 else ''} " + words.format("").strip()
        said += f", beside {group_digits(edges)} real edges; the good clock shows {group_digits(usual)} of that."
        if kind in ("double edges", "extra pulses"):
            said += " They are not counted as cycles."
        out.append(ClockFault(kind, kind, (said,), at))
    if not out and not suspect.regular:
        own, usually = percent(suspect.even, digits=0), percent(good.even, digits=0)
        said = f"Only {own} of its cycles are of the usual duration; of the good clock's {usually} are."
        out.append(ClockFault("uneven period", "uneven period", (said,), _none()))
    return out


def _more_often(count: int, usual: int, ratio: float) -> bool:
    """Is that clearly more than the good side shows over ``ratio`` as many cycles?"""
    return count > _TIMES_AS_OFTEN * usual * max(1.0, ratio) + (_BESIDES if usual else 0)


def _duty(good: ClockQuality, suspect: ClockQuality) -> list[ClockFault]:
    if good.high_share is None or suspect.high_share is None:
        return []
    apart = abs(suspect.high_share - good.high_share) * good.period_ps
    if apart <= _DUTY_PS + _DUTY_SHARE * good.period_ps + good.doubt_ps + suspect.doubt_ps:
        return []
    said = (
        f"It is high for {percent(suspect.high_share)} of the cycle; the good clock is for {percent(good.high_share)}."
    )
    return [ClockFault("duty factor", f"duty factor {percent(suspect.high_share, digits=0)}", (said,), _none())]


def _unsteady(good: ClockQuality, suspect: ClockQuality) -> list[ClockFault]:
    """A period that goes up and down, from cycle to cycle or over many of them."""
    period = good.period_ps
    wanders = suspect.wander > _TIMES_AS_OFTEN * good.wander + _WANDER_SHARE
    jitters = suspect.jitter_ps > _TIMES_AS_OFTEN * good.jitter_ps + _JITTER_SHARE * period
    if not wanders and not jitters:
        return []
    said = []
    if wanders:
        said.append(
            f"Over some cycles its mean period goes up and down by {percent(suspect.wander, digits=2)}; "
            f"the good clock's by {percent(good.wander, digits=2)}, sampling taken off."
        )
    if jitters:
        own, usual = (format_time(round(q.jitter_ps), digits=2) for q in (suspect, good))
        said.append(f"From one cycle to the next its period strays by {own}; the good clock's by {usual}.")
    return [ClockFault("wandering period", "wandering period", tuple(said), _none())]


def _shift(
    good: ClockQuality, suspect: ClockQuality, good_side: ClockSide, suspect_side: ClockSide
) -> CommonShift | None:
    """What all other signals share in time against the clock."""
    found = [
        places({s: side.others[s] for s in good_side.others if s in side.others}, q.edges_ps, q.period_ps)
        for side, q in ((good_side, good), (suspect_side, suspect))
    ]
    return common_shift(found[0], found[1], good.period_ps, good.doubt_ps + suspect.doubt_ps)


def _moved(
    shift: CommonShift | None, good: ClockQuality, suspect: ClockQuality, tolerance_ps: int | None
) -> ClockFault | None:
    """The clock is late or early against all other signals."""
    if shift is None:
        return None
    limit = max(_SHIFT_PS, tolerance_ps or 0) + good.doubt_ps + suspect.doubt_ps
    if abs(shift.by_ps) <= limit:
        return None
    kind: ClockFaultKind = "early" if shift.by_ps > 0 else "late"
    by = format_time(abs(round(shift.by_ps)), digits=2)
    said = [
        f"{group_digits(shift.signals)} of {counted(shift.compared, 'other signal')} are {by} "
        f"{'late' if shift.by_ps > 0 else 'early'} after its active edge, all by the same, where more than "
        f"{format_time(round(limit), digits=2)} tells: so the clock is {kind}, or its way to the probe differs."
    ]
    if abs(abs(shift.by_ps) / good.period_ps - 0.5) < 0.06:
        said.append("That is half a cycle: it may be the inverted clock.")
    return ClockFault(kind, f"{kind} by {by}", tuple(said), _none())


def _levels(
    good: ClockQuality, suspect: ClockQuality, good_events: tuple[LevelEvent, ...], events: tuple[LevelEvent, ...]
) -> list[ClockFault]:
    """Volts outside the limits, by kind, that the good clock shows clearly less often."""
    ratio = max(1, len(suspect.edges_ps)) / max(1, len(good.edges_ps))
    out = []
    for kind, name in _LEVEL_KINDS.items():
        own = [e for e in events if e.kind == kind]
        usual = sum(e.kind == kind for e in good_events)
        if not own or not _more_often(len(own), usual, ratio):
            continue
        volts = float(np.median([e.volts for e in own]))
        said = f"{counted(len(own), 'place')} outside the limits ({kind}), at {volts:.2f} V in the middle"
        if kind == "slow transition":
            longest = max(e.stop_ps - e.start_ps for e in own)
            said = f"{counted(len(own), 'edge')} between the thresholds for up to {format_time(longest)}"
        elif kind == "runt":
            said = f"{counted(len(own), 'pulse')} turned back before the other level, most at {volts:.2f} V"
        said += f"; the good clock shows {group_digits(usual)}."
        out.append(ClockFault(name, name, (said,), np.array([e.start_ps for e in own], np.int64)))
    return out
