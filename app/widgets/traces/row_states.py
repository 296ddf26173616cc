"""What each row reads at a moment, on both sides. Nothing here imports Qt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.widgets.traces.trace_rows import TraceRow, WordRow
from app.widgets.traces.words import Base, word_pairs

if TYPE_CHECKING:
    from tracecore.capture import DigitalTrace
    from tracecore.comparison import Comparison

UNKNOWN, LEVELS = "–", ("0", "1", "?")


@dataclass(frozen=True, slots=True)
class RowState:
    """The good side's state and the suspect's, as they are written."""

    good: str
    suspect: str

    @property
    def differs(self) -> bool:
        """Are both known, and unlike?"""
        return UNKNOWN not in (self.good, self.suspect) and self.good != self.suspect


def level_at(trace: DigitalTrace | None, t_ps: int) -> str:
    """The level at a time: 0, 1, or a question mark where the capture does not know it; a dash outside the trace.

    ``t_ps`` is on the trace's own axis; a transition counts from its time on.
    """
    if trace is None or not len(trace.times_ps) or not trace.times_ps[0] <= t_ps < trace.stop_ps:
        return UNKNOWN
    return LEVELS[int(trace.levels[int(trace.times_ps.searchsorted(t_ps, side="right")) - 1])]


def row_state(row: TraceRow | WordRow, t_ps: int, cycle: int | None, comparison: Comparison, base: Base) -> RowState:
    """What a row reads at a time of the good side; a bus reads the word of the cycle that the time is in."""
    if isinstance(row, TraceRow):
        finding = row.finding
        return RowState(level_at(finding.good_trace, t_ps), level_at(finding.suspect_on_good, t_ps))
    if cycle is None:
        return RowState(UNKNOWN, UNKNOWN)
    good, suspect = word_pairs(row, comparison, cycle, cycle + 1, base)[0]
    return RowState(good or UNKNOWN, suspect or UNKNOWN)
