"""Levels of a pair as JSON and as rows of CSV."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from app.report.cautions import AT_THE_PINS
from tracecore.csv_cells import csv_text

if TYPE_CHECKING:
    from tracecore.compare.level_comparison import LevelReport
    from tracecore.compare.signal_levels import Difference, SignalLevels
    from tracecore.measure.level_figures import LevelFigures

SCHEMA = "twinslot.levels/1"
CSV_COLUMNS = ("signal", "pin", "side", "kind", "good_cycle", "volts", "limit_v", "start_ps", "stop_ps")


def levels_dict(report: LevelReport) -> dict[str, Any]:
    """The report as plain values; volts and picoseconds."""
    return {
        "schema": SCHEMA,
        "signals": [_row(row) for row in report.rows],
        "without_volts": list(report.without),
        "notes": list(report.notes),
    }


def levels_json(report: LevelReport) -> str:
    """The report as JSON text."""
    return json.dumps(levels_dict(report), indent=2, ensure_ascii=False) + "\n"


def levels_csv(report: LevelReport) -> str:
    """A row for each violation of either side, good first."""
    rows = (
        (row.signal, row.place, v.side, v.kind, v.cycle, v.volts, v.limit_v, v.start_ps, v.stop_ps)
        for row in report.rows
        for v in row.violations
    )
    return csv_text(CSV_COLUMNS, rows)


def _row(row: SignalLevels) -> dict[str, Any]:
    finding = row.finding
    return {
        "signal": row.signal,
        "pin": row.place,
        "verdict": row.verdict,
        "good": _side(row.good),
        "suspect": _side(row.suspect),
        "low_shift_v": _difference(row.low_shift),
        "high_shift_v": _difference(row.high_shift),
        "rise_ratio": _difference(row.rise_ratio),
        "condition": row.condition or None,
        "finding": None
        if finding is None
        else {
            "title": finding.title,
            "text": finding.text,
            "probe_next": finding.probe,
            "caution": AT_THE_PINS,
            "readings": [list(pair) for pair in finding.readings],
            "since_cycle": finding.since_cycle,
        },
        "violations": len(row.violations),
    }


def _side(side: LevelFigures | None) -> dict[str, Any] | None:
    if side is None:
        return None
    return {
        "driver": side.driver.name,
        "receiver": side.receiver.name,
        "limits_source": side.receiver.source,
        "limits_status": side.receiver.status,
        "low_v": _rounded(side.low_v),
        "high_v": _rounded(side.high_v),
        "low_margin_v": _rounded(side.low_margin_v),
        "high_margin_v": _rounded(side.high_margin_v),
        "reads_to_v": _rounded(side.reads_to_v),
        "undefined_share": round(side.undefined_share, 6),
        "rise_ps": _whole(side.rising.median_ps),
        "fall_ps": _whole(side.falling.median_ps),
        "reads_to_ps": side.reads_to_ps,
        "trouble": None if side.trouble is None else side.trouble.sentence,
        "counts": {kind: side.count(kind) for kind in dict.fromkeys(e.kind for e in side.events)},
    }


def _difference(value: Difference | None) -> dict[str, float] | None:
    return None if value is None else {"value": round(value.value, 4), "reads_to": round(value.reads_to, 4)}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _whole(value: float | None) -> int | None:
    return None if value is None else round(value)
