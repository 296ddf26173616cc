"""Likely causes where no cycle is matched: what is known without a line-up, what may hold the board first."""

from __future__ import annotations

from collections.abc import Mapping

from tracecore.compare.fault_kinds import FaultKind
from tracecore.compare.findings import Cause, SignalFinding
from tracecore.compare.unaligned import Unaligned


def unaligned_causes(found: Mapping[str, Unaligned], findings: Mapping[str, SignalFinding]) -> tuple[Cause, ...]:
    """One cause a signal, in the order of ``found``; nothing tells which of the dead ones was first, and that is
    said."""
    dead = [s for s, own in found.items() if not own.held]
    out = []
    for rank, (signal, own) in enumerate(found.items(), start=1):
        because = list(own.because)
        if not own.held and len(dead) > 1:
            because.append("Without a line-up nothing tells which of the signals that stand still was the first.")
        finding = findings[signal]
        here = finding.place or f"the pin of {signal}"
        out.append(
            Cause(
                rank,
                signal,
                own.kind,
                None,
                None,
                "may hold the board" if own.held else "without a line-up",
                tuple(because),
                (),
                _probe_next(own, finding.driver, here),
                fault_kind=FaultKind(own.kind),
            )
        )
    return tuple(out)


def _probe_next(own: Unaligned, driver: str, here: str) -> str:
    where = driver or "the pin that drives this net"
    if own.held:
        return f"{here}: look what drives it, and whether it is released at all after power comes up."
    return f"First the clip at {here}. If it sits well: supply, clock and reset of the board; then {where}."
