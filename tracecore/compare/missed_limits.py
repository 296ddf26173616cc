"""Words for a signal that misses what the part which takes it in needs: a fault mode of its own, or said of another."""

from __future__ import annotations

from dataclasses import replace

from tracecore.compare.fault_kinds import FaultKind
from tracecore.compare.fault_mode import FaultMode, counted
from tracecore.compare.timing_limits import LimitReading, LimitsKept
from tracecore.quantities import format_time, group_digits

_KINDS = {
    "setup": FaultKind.SETUP_MISSED,
    "hold": FaultKind.HOLD_MISSED,
    "high pulse": FaultKind.SHORT_PULSE,
    "low pulse": FaultKind.SHORT_PULSE,
}


def missed_mode(kept: LimitsKept | None) -> FaultMode | None:
    """The fault mode of a signal in which nothing else is wrong; None where it misses nothing."""
    missed = () if kept is None else kept.missed
    if kept is None or not missed:
        return None
    worst = max(missed, key=lambda r: r.limit_ps - r.smallest.value_ps)
    kind = _KINDS[worst.what]
    amount = format_time(
        worst.smallest.value_ps if kind is FaultKind.SHORT_PULSE else worst.limit_ps - worst.smallest.value_ps, digits=3
    )
    name = f"{kind}, {amount}" if kind is FaultKind.SHORT_PULSE else f"{kind} by {amount}"
    return FaultMode(name, kind, tuple(missed_sentence(kept, r) for r in missed))


def with_missed(mode: FaultMode, kept: LimitsKept | None) -> FaultMode:
    """Another fault mode, which says of the limits that it misses too: a likely reason for what goes wrong behind."""
    missed = () if kept is None else kept.missed
    if kept is None or not missed:
        return mode
    return replace(mode, because=(*mode.because, *(missed_sentence(kept, r) for r in missed)))


def missed_sentence(kept: LimitsKept, reading: LimitReading) -> str:
    """How often which limit is missed, and by how much at worst."""
    usual = next((r.smallest.value_ps for r in kept.good if r.what == reading.what), None)
    good = "" if usual is None else f"; the known-good side leaves {format_time(usual, digits=3)} or more"
    at = "" if reading.good_cycle is None else f" at cycle {group_digits(reading.good_cycle)}"
    verb = "misses" if reading.breaking == 1 else "miss"
    what = {"high pulse": "high pulse duration", "low pulse": "low pulse duration"}.get(reading.what, reading.what)
    needed = format_time(reading.limit_ps, digits=3)
    return (
        f"{counted(reading.breaking, 'transition')} {verb} the {what} of {needed} that {kept.limits.whose} needs: "
        f"{format_time(reading.smallest.value_ps, digits=3)}{at}, "
        f"±{format_time(reading.resolution_ps, digits=3)}{good}."
    )
