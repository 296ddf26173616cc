"""A clock that is wrong is the first likely cause, and what else is wrong may be its consequence.

One thing comes before it: a signal that was wrong clearly earlier than a clock which stops or pauses, since a machine
may halt its own clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tracecore.compare.clock_faults import ClockFault, ClockPair
from tracecore.compare.fault_kinds import FaultKind
from tracecore.compare.findings import Cause, SignalFinding
from tracecore.quantities import format_rate, format_time, group_digits

_HALTS = ("stops", "pauses")
_CLEARLY = 2  # cycles


def with_clock(causes: Sequence[Cause], clocks: ClockPair, finding: SignalFinding) -> tuple[Cause, ...]:
    """The causes with the clock's among them, ranked anew; the same where the clock is sound."""
    if not clocks.faults:
        return tuple(causes)
    own = _cause(clocks, finding)
    before = [c for c in causes if _halted_by(clocks, c, own)]
    behind = [c for c in causes if c not in before]
    told = f"The clock {clocks.signal} is wrong itself ({clocks.faults[0].name}): this may be a consequence."
    if before:
        own = replace(
            own, because=(*own.because, f"{before[0].signal} is wrong before it: it may have halted the clock.")
        )
    rows = [*before, own, *(replace(c, because=(*c.because, told)) for c in behind)]
    return tuple(replace(c, rank=i) for i, c in enumerate(rows, start=1))


def _halted_by(clocks: ClockPair, cause: Cause, own: Cause) -> bool:
    """Was the signal wrong clearly before a clock that does nothing worse than to stop or to pause?"""
    if any(fault.kind not in _HALTS for fault in clocks.faults):
        return False
    return (
        cause.since_cycle is not None and own.since_cycle is not None and cause.since_cycle < own.since_cycle - _CLEARLY
    )


def _cause(clocks: ClockPair, finding: SignalFinding) -> Cause:
    first, more = clocks.faults[0], clocks.faults[1:]
    because = [*first.because]
    for fault in more:
        because += [f"Besides, {fault.name}:", *fault.because]
    at = finding.first_divergence
    return Cause(
        1,
        clocks.signal,
        first.name,
        at.cycle if at is not None else None,
        at.good_ps if at is not None else None,
        _summary(first, finding),
        tuple(because),
        _readings(clocks),
        _probe_next(first, finding),
        fault_kind=FaultKind(first.kind),
    )


def _summary(fault: ClockFault, finding: SignalFinding) -> str:
    at = finding.first_divergence
    if not len(fault.at_ps):
        return "the clock itself · throughout"
    places = f"{group_digits(len(fault.at_ps))} place{'' if len(fault.at_ps) == 1 else 's'}"
    if fault.kind == "stops" and at is not None:
        return f"the clock itself · it stops after cycle {group_digits(at.cycle)}"
    since = f" · from cycle {group_digits(at.cycle)}" if at is not None else ""
    return f"the clock itself · {places}{since}"


def _readings(clocks: ClockPair) -> tuple[tuple[str, str], ...]:
    rows = []
    for name, side in (("Good", clocks.good), ("Suspect", clocks.suspect)):
        if side.ticks:
            high = f", high for {side.high_share:.1%}" if side.high_share is not None else ""
            rows.append((f"{name} clock", f"{format_rate(side.rate_hz)}{high}"))
            rows.append((f"{name} period", f"{format_time(round(side.period_ps))}, {side.even:.1%} of the cycles even"))
        else:
            rows.append((f"{name} clock", f"{group_digits(len(side.edges_ps))} active edges"))
    return tuple(rows)


def _probe_next(fault: ClockFault, finding: SignalFinding) -> str:
    driver = finding.driver or "The pin that drives the clock"
    here = finding.place or f"the pin of {finding.signal}"
    if fault.kind in ("late", "early"):
        return (
            f"{driver}: compare when the clock comes there and at {here}, on both units. Alike there: may be the "
            "way between them, or its load. Different there too: look ahead of it."
        )
    if fault.kind in ("stops", "pauses", "dead"):
        return (
            f"{driver}: does the clock tick there? If it does: may be a contact or a wire on the way to {here}. "
            "If not: look at the oscillator, and at what may gate or halt the clock."
        )
    return (
        f"{driver}, with a scope, on a scale of some cycles: compare it with {here}. Sound there: may be a contact, a "
        "wire or the load on the way. As here: look ahead of it, back to the oscillator."
    )
