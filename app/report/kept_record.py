"""The record of an older comparison, as a case keeps it: taken only where it has the shape that reports read.

A case may come from anybody, and its texts may hold anything. Fields beyond these are left alone.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from app.case.codec import encode
from app.report.record import SCHEMA, comparison_json

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.case.store import CaseStore
    from tracecore.comparison import Comparison


@dataclass(frozen=True, slots=True)
class Maybe:
    """A value that may be null; with ``lacking`` the field itself may be absent, as in a record of an older version."""

    shape: Any
    lacking: bool = False


_SLIP = {"kind": str, "good_cycle": int, "suspect_cycle": int, "inserted": int, "missing": int}
_LEFT_OUT = {"condition": Maybe(str), "good_cycles": int, "suspect_cycles": int}
_LINEUP = {
    "clock": str,
    "edge": str,
    "offset_cycles": Maybe(int),
    "confidence": float,
    "runner_up": Maybe({"offset_cycles": int, "agreement": float, "overlap_cycles": int}, lacking=True),
    "compared_cycles": int,
    "drift_ppm": Maybe(float),
    "slips": Maybe([_SLIP], lacking=True),
    "left_out": Maybe(_LEFT_OUT, lacking=True),
    "good_slips": Maybe([int], lacking=True),
}
_LEVEL = {
    "kind": str, "side": str, "start_ps": int, "stop_ps": int, "volts": float, "limit_v": float, "cycle": Maybe(int),
}  # fmt: skip
_SIGNAL = {
    "signal": str,
    "slot": str,
    "pin": str,
    "verdict": str,
    "fault_mode": Maybe(str),
    "first_divergence": Maybe({"cycle": int, "good_ps": int, "suspect_ps": int}),
    "diverging_cycles": int,
    "compared_cycles": int,
    "skew_ps": Maybe({"median": int, "p95": int, "max": int, "uncertainty": int}),
    "missing_transitions": int,
    "extra_transitions": int,
    "levels": [_LEVEL],
}
_REPEATS = {
    "captures": int,
    "diverging": int,
    "uncounted": int,
    "sentences": [str],
    "signals": [{"signal": str, "diverging": int, "captures": int, "low": float, "high": float, "first": float}],
}
_CHIP = {"name": str, "number": str, "fault": str, "legs": [int], "outputs": [str]}
_CAUSE = {
    "rank": int,
    "signal": str,
    "fault_mode": Maybe(str),
    "because": [str],
    "probe_next": str,
    "chip": Maybe(_CHIP, lacking=True),
}
_SHAPE = {
    "good": [str],
    "suspect": [str],
    "lineup": _LINEUP,
    "signals": [_SIGNAL],
    "causes": [_CAUSE],
    "captures": Maybe([{"name": str, "compared": bool, "diverges": [str]}], lacking=True),
    "repeats": Maybe(_REPEATS, lacking=True),
    "varies": Maybe([str], lacking=True),
    "warnings": [str],
}


def kept_record(text: str) -> dict[str, Any] | None:
    """The record that a text holds; None where it is none of this schema, or not of its shape."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return None
    sound = isinstance(found, dict) and found.get("schema") == SCHEMA and _fits(found, _SHAPE)
    return found if sound and found["good"] and found["suspect"] else None


def _fits(value: Any, shape: Any) -> bool:
    if isinstance(shape, Maybe):
        return value is None or _fits(value, shape.shape)
    if isinstance(shape, dict):
        return isinstance(value, dict) and all(_has(value, name, inner) for name, inner in shape.items())
    if isinstance(shape, list):
        return isinstance(value, list) and all(_fits(item, shape[0]) for item in value)
    if shape is float:
        return isinstance(value, (int, float)) and not isinstance(value, bool)
    return type(value) is shape


def _has(record: dict[str, Any], name: str, shape: Any) -> bool:
    if name not in record:
        return isinstance(shape, Maybe) and shape.lacking
    return _fits(record[name], shape)


def keep_record(store: CaseStore, case: OpenCase, comparison: Comparison | None) -> None:
    """Keeps what was compared in the case, where cases are searched for it; nothing where it cannot be written."""
    if comparison is not None and not store.read_only:
        store.save_comparison(encode(case.question), comparison_json(comparison))
