"""Both clocks as a record of the JSON: their figures, what is odd in them, and what is wrong with the suspect's."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from tracecore.compare.fault_kinds import kind_named

if TYPE_CHECKING:
    from tracecore.compare.clock_faults import ClockFault, ClockPair
    from tracecore.measure.clock_quality import ClockQuality

MOST_PLACES = 100


def clocks_record(pair: ClockPair | None) -> dict[str, Any] | None:
    """The record, as ``record.py`` describes it; None where no single signal counts the cycles."""
    if pair is None:
        return None
    return {
        "signal": pair.signal,
        "good": _side(pair.good),
        "suspect": _side(pair.suspect),
        "faults": [_fault(fault) for fault in pair.faults],
        "moved_ps": int(pair.moved_ps),
        "ticks_instead": pair.ticks_instead or None,
    }


def _side(own: ClockQuality) -> dict[str, Any]:
    return {
        "edges": len(own.edges_ps),
        "period_ps": round(own.period_ps),
        "even": round(float(own.even), 6),
        "jitter_ps": round(own.jitter_ps),
        "wander": round(float(own.wander), 6),
        "high_share": None if own.high_share is None else round(float(own.high_share), 6),
        "double_edges": len(own.double_ps),
        "extra_pulses": len(own.extra_ps),
        "missing_pulses": len(own.missing_ps),
        "pauses": len(own.pauses_ps),
        "stops_ps": None if own.stops_ps is None else int(own.stops_ps),
    }


def _fault(fault: ClockFault) -> dict[str, Any]:
    kind = kind_named(fault.kind)
    return {
        "fault_mode": fault.name,
        "fault_kind": None if kind is None else kind.word,
        "because": list(fault.because),
        "places": len(fault.at_ps),
        "at_ps": [int(at) for at in fault.at_ps[:MOST_PLACES]],
    }
