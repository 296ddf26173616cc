"""Timing of a pair as JSON and as rows of CSV."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from tracecore.csv_cells import Cell, csv_text

if TYPE_CHECKING:
    from tracecore.compare.timing_comparison import SignalTiming, TimingReport
    from tracecore.compare.timing_limits import LimitReading
    from tracecore.measure.clock_quality import ClockQuality
    from tracecore.measure.timing import TimingFigures

SCHEMA = "twinslot.timing/1"
_SIDE = ("least_ps", "median_ps", "p95_ps", "most_ps", "setup_ps", "hold_ps")
CSV_COLUMNS = (
    *("signal", "pin", "into", "verdict", "why", "difference_ps", "difference_reads_to_ps"),
    *(f"good_{name}" for name in _SIDE),
    *(f"suspect_{name}" for name in _SIDE),
)


def timing_dict(report: TimingReport) -> dict[str, Any]:
    """The report as plain values, in picoseconds."""
    return {
        "schema": SCHEMA,
        "clock": report.clock,
        "edge": report.edge,
        "period_ps": report.period_ps,
        "clocks": None
        if report.clocks is None
        else {"good": _clock(report.clocks.good), "suspect": _clock(report.clocks.suspect)},
        "drift_ppm": None if report.drift_ppm is None else round(report.drift_ppm, 3),
        "signals": [_row(row) for row in report.rows],
        "notes": list(report.notes),
    }


def timing_json(report: TimingReport) -> str:
    """The report as JSON text."""
    return json.dumps(timing_dict(report), indent=2, ensure_ascii=False) + "\n"


def timing_csv(report: TimingReport) -> str:
    """A row for each signal, the worst first."""
    return csv_text(CSV_COLUMNS, map(_cells, report.rows))


def _cells(row: SignalTiming) -> list[Cell]:
    plain = _row(row)
    sides = [None if side is None else side[name] for side in (plain["good"], plain["suspect"]) for name in _SIDE]
    return [*(plain[name] for name in CSV_COLUMNS[:7]), *sides]


def _row(row: SignalTiming) -> dict[str, Any]:
    return {
        "signal": row.signal,
        "pin": row.place,
        "into": row.into,
        "limits_source": None if row.limits is None else row.limits.source,
        "verdict": row.verdict,
        "why": row.why,
        "difference_ps": _whole(row.difference_ps),
        "difference_reads_to_ps": _whole(row.difference_reads_to_ps),
        "good": _side(row.good),
        "suspect": _side(row.suspect),
        "readings": [_reading(reading) for reading in row.readings],
    }


def _side(side: TimingFigures | None) -> dict[str, Any] | None:
    if side is None:
        return None
    return {
        "transitions": side.count,
        "least_ps": side.least_ps,
        "median_ps": _whole(side.median_ps),
        "p95_ps": side.p95_ps,
        "most_ps": side.most_ps,
        "setup_ps": None if side.setup is None else side.setup.value_ps,
        "hold_ps": None if side.hold is None else side.hold.value_ps,
        "shortest_high_ps": None if side.shortest_high is None else side.shortest_high.value_ps,
        "shortest_low_ps": None if side.shortest_low is None else side.shortest_low.value_ps,
        "reads_to_ps": side.resolution_ps,
        "locked": side.locked,
    }


def _clock(side: ClockQuality) -> dict[str, Any]:
    return {
        "period_ps": _whole(side.period_ps),
        "high_share": None if side.high_share is None else round(side.high_share, 6),
        "jitter_rms_ps": _whole(side.jitter_ps),
        "wander_share": round(side.wander, 6),
        "even_share": round(side.even, 6),
        "missing": len(side.missing_ps),
        "double": len(side.double_ps),
        "extra": len(side.extra_ps),
    }


def _reading(reading: LimitReading) -> dict[str, Any]:
    return {
        "what": reading.what,
        "smallest_ps": reading.smallest.value_ps,
        "limit_ps": reading.limit_ps,
        "verdict": reading.verdict,
        "good_cycle": reading.good_cycle,
        "suspect_cycle": reading.smallest.cycle,
        "breaking": reading.breaking,
        "cannot_be_judged": reading.unclear,
    }


def _whole(value: float | None) -> int | None:
    return None if value is None else round(value)
