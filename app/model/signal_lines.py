"""All signals of a comparison as lines of a table: verdict, kind of fault, first cycle, share, skew, levels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from app.comparison_text import VERDICT_MARKS, skew_text
from tracecore.quantities import group_digits, percent

if TYPE_CHECKING:
    from tracecore.compare.findings import SignalFinding
    from tracecore.comparison import Comparison

Group = Literal["diverges", "agrees", "cannot tell"]
GROUPS: tuple[Group, ...] = ("diverges", "agrees", "cannot tell")
GROUP_OF: dict[str, Group] = {
    "diverges": "diverges",
    "agrees": "agrees",
    "undecided": "cannot tell",
    "missing": "cannot tell",
}
COLUMNS = ("Signal", "Verdict", "Fault", "First cycle", "Share", "Skew", "Levels")
NOTHING = "–"


@dataclass(frozen=True, slots=True)
class SignalLine:
    """``cells`` are the words of ``COLUMNS``, ``keys`` what each column is sorted by, worst first."""

    signal: str
    group: Group
    first: int | None
    cells: tuple[str, ...]
    keys: tuple[tuple[float, str], ...]


def signal_lines(comparison: Comparison | None) -> tuple[SignalLine, ...]:
    """A line for each signal, the likely causes first in their order, then by verdict."""
    if comparison is None:
        return ()
    ranks = {cause.signal: cause.rank for cause in reversed(comparison.causes) if not cause.capture}
    lines = [_line(finding) for finding in comparison.signals]
    last = len(ranks) + 1
    return tuple(sorted(lines, key=lambda line: (ranks.get(line.signal, last), GROUPS.index(line.group))))


def _line(finding: SignalFinding) -> SignalLine:
    first = finding.first_divergence.cycle if finding.first_divergence is not None else None
    share = len(finding.diverging_cycles) / finding.compared_cycles if finding.compared_cycles else None
    group = GROUP_OF[finding.verdict]
    fault = finding.fault_mode or NOTHING
    levels, breaches = _levels(finding)
    skew = finding.skew.median_ps if finding.skew is not None else None
    cells = (
        finding.signal,
        f"{VERDICT_MARKS[finding.verdict]} {finding.verdict}",
        fault,
        NOTHING if first is None else group_digits(first),
        NOTHING if not share else percent(share),
        skew_text(finding.skew) or NOTHING,
        levels,
    )
    keys = (
        (0.0, finding.signal),
        (float(GROUPS.index(group)), finding.verdict),
        (float(finding.fault_mode is None), fault),
        (float("inf") if first is None else float(first), ""),
        (-(share or 0.0), ""),
        (float("inf") if skew is None else -abs(float(skew)), ""),
        (-float(breaches), levels),
    )
    return SignalLine(finding.signal, group, first, cells, keys)


def _levels(finding: SignalFinding) -> tuple[str, int]:
    """What the suspect's volts come to, and how many times they break a limit."""
    if finding.suspect_volts is None:
        return "no volts", -1
    own = [row for row in finding.levels if row.side == "suspect"]
    if not own:
        return "within limits", 0
    kinds = {row.kind for row in own}
    worst = max(kinds, key=lambda kind: sum(row.kind == kind for row in own))
    more = f" and {len(kinds) - 1} more" if len(kinds) > 1 else ""
    return f"{group_digits(len(own))} × {worst}{more}", len(own)


def counts(lines: Sequence[SignalLine]) -> dict[Group, int]:
    """How many lines each group has; they add up to all."""
    return {group: sum(line.group == group for line in lines) for group in GROUPS}


def wanted(line: SignalLine, group: Group | None, text: str) -> bool:
    """Is the line of that group, and does it hold every word that was typed?"""
    words = text.lower().split()
    all_cells = " ".join(line.cells).lower()
    return (group is None or line.group == group) and all(word in all_cells for word in words)
