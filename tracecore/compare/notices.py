"""What a person must know before a comparison is believed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tracecore.compare.capture_signals import CaptureSignals, few_names
from tracecore.compare.findings import SignalFinding
from tracecore.compare.pair import PairFindings
from tracecore.compare.request import CompareRequest
from tracecore.lineup.condition import in_words, parse
from tracecore.lineup.lineup import Lineup, slip_words
from tracecore.measure.clock import clock_candidates
from tracecore.measure.cycle_count import ANY_TRANSITION
from tracecore.quantities import format_time

_MOST_SHIFTS = 4


def warnings_told(
    request: CompareRequest,
    good: CaptureSignals,
    suspect: CaptureSignals,
    clock: str,
    shown: PairFindings,
    findings: list[SignalFinding],
) -> list[str]:
    """Sentences, one a matter."""
    out = [f"{b.capture.name}: {note}" for b in (good, suspect) for note in b.capture.notes]
    if request.clock is None and clock == ANY_TRANSITION:
        out.append("No signal ticks or strobes: a cycle is what lies between two bursts of transitions.")
    elif request.clock is None and (rough := _roughness(good, clock)) is not None:
        out.append(
            f"No signal ticks evenly; {clock} counts the cycles, which is even in {rough:.0%} of them. If another "
            "signal strobes what is compared, name it as the clock."
        )
    if shown.lineup.status not in ("unique", "by hand"):
        out.append(f"Line-up {shown.lineup.status}: {shown.lineup.reason}")
    for side, edges in ((good, shown.lineup.good_edges_ps), (suspect, shown.lineup.suspect_edges_ps)):
        if len(edges) < 2:
            out.append(f"{side.capture.name}: {clock} never toggles there; that may be the fault itself.")
            continue
        samples = float(np.median(np.diff(edges))) / side.capture.resolution_ps
        if samples < 4:
            out.append(
                f"{side.capture.name}: {samples:.1f} samples a cycle of {clock}; at least 4 are wanted for states, "
                "10 for timing. Capture faster."
            )
    if any(shown.lineup.left_out):
        out.append(_left_out_words(request, shown.lineup))
    if shown.lineup.slips and shown.lineup.status == "unique":
        out.append(slip_words(shown.lineup.slips))
    out += shifts_told([f.signal for f in findings if f.verdict == "agrees"], shown)
    lacking = [f.signal for f in findings if f.verdict == "missing"]
    if lacking:
        out.append(f"Only one side has {few_names(lacking)}: not compared.")
    drift = shown.lineup.drift_ppm
    if drift is not None and abs(drift) > 20_000:
        out.append(
            f"The suspect's cycle is {drift / 1e4:+.1f} % longer than the good one's, "
            f"{format_time(shown.lineup.cycle_ps)}: more than crystals differ by."
        )
    return out


def shifts_told(agreeing: Sequence[str], shown: PairFindings) -> list[str]:
    """Signals that agree, and yet are steadily late or early by more than known-good captures are; the furthest."""
    off = [(s, shift) for s in agreeing if (shift := shown.steadily_off(s)) is not None]
    off.sort(key=lambda own: -abs(own[1].by_ps))
    if not off:
        return []
    more = f", and {len(off) - _MOST_SHIFTS} more" if len(off) > _MOST_SHIFTS else ""
    words = ", ".join(f"{signal} {shift.words}" for signal, shift in off[:_MOST_SHIFTS])
    return [f"Within tolerance but steadily off: {words}{more}. Another sound board's parts may do that too."]


def _roughness(good: CaptureSignals, clock: str) -> float | None:
    """How even a clock is that is no even one, 0 to 1; None for an even one."""
    if clock not in good.traces:
        return None
    found = clock_candidates({clock: good.traces[clock]}, good.capture.resolution_ps)
    return found[0].regularity if found and found[0].regularity < 0.5 else None


def _left_out_words(request: CompareRequest, lineup: Lineup) -> str:
    """How much the condition takes out."""
    counts = []
    for number, edges, side in zip(
        lineup.left_out, (lineup.good_edges_ps, lineup.suspect_edges_ps), ("good", "suspect"), strict=True
    ):
        counts.append(f"{number} of {max(0, len(edges) - 1)} {side} cycles")
    return f"Left out where {in_words(parse(request.qualifier or ''))}: {' and '.join(counts)}."
