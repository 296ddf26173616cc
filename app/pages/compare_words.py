"""What the Compare page says in words: its title, and the line at the bottom. Nothing here imports Qt."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tracecore.quantities import format_instant, group_digits

if TYPE_CHECKING:
    from app.widgets.traces.cursor_pair import Reading
    from tracecore.capture import Int64
    from tracecore.comparison import Comparison
    from tracecore.lineup.lineup import Lineup


def title_line(comparison: Comparison) -> str:
    """What was compared and how much differs, in one line."""
    if not comparison.lineup:
        return f"Not lined up: {comparison.lineup.reason}"
    cycles = sum(run.length for run in comparison.lineup.runs)
    differing = [s for s in comparison.signals if s.verdict == "diverges"]
    head = f"Whole capture: {group_digits(cycles)} cycles compared · "
    if not differing:
        return head + f"none diverges on {len(comparison.signals)} signals"
    which = union_of_cycles(comparison)
    return head + f"{group_digits(len(which))} diverge on {len(differing)} of {len(comparison.signals)} signals"


def union_of_cycles(comparison: Comparison) -> Int64:
    """Good cycles at which any signal diverges, increasing: int64[M]."""
    parts = [s.diverging_cycles for s in comparison.signals if len(s.diverging_cycles)]
    return np.unique(np.concatenate(parts)) if parts else np.empty(0, np.int64)


def cycle_times_ps(lineup: Lineup, cycle: int) -> tuple[int | None, int | None]:
    """Where a good cycle begins, on the good side's clock and on the suspect's; None where it is outside."""
    good = int(lineup.good_edges_ps[cycle]) if 0 <= cycle < len(lineup.good_edges_ps) else None
    for run in lineup.runs:
        if run.good_start <= cycle < run.good_start + run.length:
            return good, int(lineup.suspect_edges_ps[cycle - run.good_start + run.suspect_start])
    return good, None


def cycle_words(comparison: Comparison, cycle: int | None) -> str:
    """A good cycle and where it begins on both sides' clocks; empty where none is chosen."""
    if cycle is None:
        return ""
    good, suspect = cycle_times_ps(comparison.lineup, cycle)
    parts = [f"{format_instant(at)} {side}" for at, side in ((good, "good"), (suspect, "suspect")) if at is not None]
    return f"Cycle {group_digits(cycle)}" + (f" begins at {', '.join(parts)}" if parts else "")


def status_line(cycle: str, cursors: Sequence[str], read: Reading | None) -> str:
    """The chosen cycle and the cursors; with both of them what lies between comes first, for it is what was asked."""
    if read is not None:
        return "     ".join((f"B \u2212 A {read.wordings[0]}", *cursors))
    return "     ".join(part for part in (cycle, *cursors) if part)
