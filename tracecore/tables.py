"""The findings of a comparison as pandas tables; what each column holds is written down here, once.

Missing figures are ``<NA>`` in whole numbers (``Int64``) and None in text. Times are whole picoseconds on the named
side's own clock; a cycle counts the good capture's active edges from 0. pandas is imported when a table is asked for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from tracecore.capture import Int64
from tracecore.lineup.runs import runs_table

if TYPE_CHECKING:
    import pandas as pd

    from tracecore.compare.findings import SignalFinding
    from tracecore.comparison import Comparison

SIGNAL_COLUMNS: Mapping[str, str] = {
    "signal": "name on the probe sheet, or the channel's",
    "slot": "slot of the pin, empty where not on the sheet",
    "pin": "pin in that slot",
    "verdict": "agrees, diverges, undecided or missing",
    "fault_kind": "fixed word for the fault, such as stuck_low; None where it agrees",
    "fault_mode": "the fault in words, with its figures",
    "first_cycle": "good cycle at which it diverges first",
    "first_good_ps": "time of that on the good side",
    "first_suspect_ps": "time of that on the suspect side",
    "diverging_cycles": "how many cycles diverge",
    "compared_cycles": "how many cycles were compared",
    "skew_ps": "median of suspect delay minus good delay; positive is late",
    "skew_uncertainty_ps": "what one pair of transitions reads to, either way",
    "missing_transitions": "good transitions without a partner",
    "extra_transitions": "suspect transitions without a partner",
    "level_violations": "stretches of volts outside the family's limits",
}
CAUSE_COLUMNS: Mapping[str, str] = {
    "rank": "1 is best supported",
    "signal": "the signal that shows it",
    "fault_kind": "fixed word for the fault, or None",
    "fault_mode": "the fault in words",
    "since_cycle": "good cycle from which on it shows",
    "chip": "the chip that the fault lies in and what may be wrong there, empty where none is known",
    "summary": "one sentence",
    "because": "the evidence, its sentences joined",
    "probe_next": "where to put the probe next",
}
DIVERGENCE_COLUMNS: Mapping[str, str] = {
    "signal": "the signal that diverges",
    "slot": "slot of its pin, empty where not on the sheet",
    "pin": "pin in that slot",
    "fault_mode": "the fault in words, with its figures",
    "first_cycle": "first good cycle of the stretch",
    "last_cycle": "its last good cycle, which is part of it",
    "cycles": "how many cycles it lasts",
    "good_ps": "active edge that begins it, on the good side",
    "suspect_ps": "the same on the suspect side",
    "good_low_margin_v": "low noise margin of the signal on the good side, None where not in volts or not judged",
    "suspect_low_margin_v": "the same on the suspect side",
    "good_high_margin_v": "high noise margin on the good side",
    "suspect_high_margin_v": "the same on the suspect side",
    "good_setup_ps": "smallest setup on the good side, where the part is named that takes the signal in",
    "suspect_setup_ps": "the same on the suspect side",
    "good_hold_ps": "smallest hold on the good side",
    "suspect_hold_ps": "the same on the suspect side",
    "setup_needed_ps": "setup that the part needs",
    "hold_needed_ps": "hold that it needs",
}
"""From ``good_low_margin_v`` on the figures are of the signal over the whole capture, the same in all its rows."""
LEVEL_COLUMNS: Mapping[str, str] = {
    "signal": "the signal",
    "side": "good or suspect",
    "kind": "weak low, weak high, runt, undefined or slow transition",
    "start_ps": "where it begins, on that side's clock",
    "stop_ps": "where it ends",
    "cycle": "the good cycle, <NA> outside the line-up",
    "volts": "level at which it rests or turns back",
    "limit_v": "the limit that it breaks",
}
CAPTURE_COLUMNS: Mapping[str, str] = {
    "capture": "name of the suspect capture, the shown one first",
    "counts": "was it compared?",
    "reason": "why it was not, empty where it was",
    "cycles": "how many cycles were compared",
    "diverges": "signals that diverge in it, sorted, joined by commas",
    "first": "the signal that diverges first, or None",
    "first_cycle": "the good cycle of that",
}


def signal_table(comparison: Comparison) -> pd.DataFrame:
    """One row for each signal, the clock first, then in the sheet's order; columns ``SIGNAL_COLUMNS``."""
    rows: list[tuple[Any, ...]] = []
    for s in comparison.signals:
        first, skew = s.first_divergence, s.skew
        rows.append(
            (
                s.signal, s.slot, s.pin, s.verdict, s.fault_kind and s.fault_kind.word, s.fault_mode,
                first and first.cycle, first and first.good_ps, first and first.suspect_ps,
                len(s.diverging_cycles), s.compared_cycles, skew and skew.median_ps, skew and skew.uncertainty_ps,
                s.missing_transitions, s.extra_transitions, len(s.levels),
            )
        )  # fmt: skip
    whole = [
        name for name in SIGNAL_COLUMNS if name.endswith(("_cycle", "_cycles", "_ps", "transitions", "violations"))
    ]
    return _table(SIGNAL_COLUMNS, rows, whole)


def cause_table(comparison: Comparison) -> pd.DataFrame:
    """One row for each likely cause, best supported first; columns ``CAUSE_COLUMNS``."""
    rows = [
        (
            c.rank, c.signal, c.fault_kind and c.fault_kind.word, c.fault_mode, c.since_cycle,
            c.chip.heading if c.chip is not None else "", c.summary,
            " ".join(c.because), c.probe_next,
        )
        for c in comparison.causes
    ]  # fmt: skip
    return _table(CAUSE_COLUMNS, rows, ["rank", "since_cycle"])


def divergence_table(comparison: Comparison) -> pd.DataFrame:
    """One row for each stretch of cycles at which a signal diverges; columns ``DIVERGENCE_COLUMNS``."""
    whole = [name for name in DIVERGENCE_COLUMNS if name.endswith(("cycle", "cycles", "_ps"))]
    return _table(DIVERGENCE_COLUMNS, list(divergence_rows(comparison)), whole)


def divergence_rows(comparison: Comparison) -> Iterator[tuple[Any, ...]]:
    """The same rows one by one, without pandas; times are None for a cycle that has no partner."""
    lineup = comparison.lineup
    runs = runs_table(lineup.runs)
    for s in comparison.signals:
        measured = (*_margins(comparison, s.signal), *_setup_and_hold(s))
        for first, last in stretches(s.diverging_cycles):
            times: tuple[int | None, int | None] = (None, None)
            at = int(runs[:, 0].searchsorted(first, side="right")) - 1
            if at >= 0 and first < runs[at, 0] + runs[at, 2]:
                partner = first - int(runs[at, 0]) + int(runs[at, 1])
                times = int(lineup.good_edges_ps[first]), int(lineup.suspect_edges_ps[partner])
            yield s.signal, s.slot, s.pin, s.fault_mode, first, last, last - first + 1, *times, *measured


def _margins(comparison: Comparison, signal: str) -> Iterator[float | None]:
    """Low margin good and suspect, then high."""
    rows = comparison.levels.rows if comparison.levels is not None else ()
    row = next((r for r in rows if r.signal == signal), None)
    for name in ("low_margin_v", "high_margin_v"):
        for side in (None, None) if row is None else (row.good, row.suspect):
            margin = None if side is None or side.trouble else getattr(side, name)
            yield None if margin is None else round(margin, 4)


def _setup_and_hold(finding: SignalFinding) -> Iterator[int | None]:
    """Smallest setup good and suspect, then hold, then what is needed of both."""
    kept = finding.limits
    for what in ("setup", "hold"):
        for side in ((), ()) if kept is None else (kept.good, kept.suspect):
            yield next((r.smallest.value_ps for r in side if r.what == what), None)
    yield None if kept is None else kept.limits.setup_ps
    yield None if kept is None else kept.limits.hold_ps


def level_table(comparison: Comparison) -> pd.DataFrame:
    """One row for each stretch of volts outside the limits, in time's order by signal; columns ``LEVEL_COLUMNS``."""
    rows = [
        (s.signal, v.side, v.kind, v.start_ps, v.stop_ps, v.cycle, v.volts, v.limit_v)
        for s in comparison.signals
        for v in s.levels
    ]
    return _table(LEVEL_COLUMNS, rows, ["start_ps", "stop_ps", "cycle"])


def capture_table(comparison: Comparison) -> pd.DataFrame:
    """One row for each suspect capture; columns ``CAPTURE_COLUMNS``."""
    rows = [
        (c.name, c.counts, c.reason, c.cycles, ",".join(sorted(c.diverges)), c.first, c.first_cycle)
        for c in comparison.captures
    ]
    return _table(CAPTURE_COLUMNS, rows, ["cycles", "first_cycle"])


def stretches(cycles: Int64) -> Iterator[tuple[int, int]]:
    """Increasing int64[N] cycle numbers as stretches of consecutive ones, first and last included.

    >>> list(stretches(np.array([3, 4, 9])))
    [(3, 4), (9, 9)]
    """
    if len(cycles):
        for part in np.split(cycles, np.flatnonzero(np.diff(cycles) > 1) + 1):
            yield int(part[0]), int(part[-1])


def _table(columns: Mapping[str, str], rows: Sequence[tuple[Any, ...]], whole: Sequence[str]) -> pd.DataFrame:
    import pandas as pd

    kinds = {"counts": "bool", "volts": "float64", "limit_v": "float64"}
    kinds |= {name: "float64" for name in columns if name.endswith("_margin_v")} | dict.fromkeys(whole, "Int64")
    made = {
        name: pd.Series([row[i] for row in rows], dtype=kinds.get(name, "object")) for i, name in enumerate(columns)
    }
    return pd.DataFrame(made)
