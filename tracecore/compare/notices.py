"""The notices of one compared pair: what is to be known of its files, clock, line-up, coverage and signals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.compare.capture_signals import CaptureSignals
from tracecore.compare.findings import FEWEST_DECIDED, FEWEST_MOVES, SignalFinding
from tracecore.compare.left_out_check import left_out_notices
from tracecore.compare.pair import PairFindings
from tracecore.compare.pair_checkup import PairLine
from tracecore.compare.request import CompareRequest
from tracecore.compare.short_pulses import short_pulse_notices
from tracecore.lineup.condition import in_words, parse
from tracecore.lineup.lineup import Lineup, slip_words
from tracecore.measure.checkup.pace import FEWEST_SAMPLES
from tracecore.measure.clock import clock_candidates
from tracecore.measure.cycle_count import ANY_TRANSITION
from tracecore.name_lists import few_names
from tracecore.notices import Notice, notice
from tracecore.quantities import format_time, group_digits, percent

_MOST_SHIFTS = 4
CERTAIN_LINEUPS = ("unique", "by hand")


def pair_notices(
    request: CompareRequest,
    good: CaptureSignals,
    suspect: CaptureSignals,
    clock: str,
    shown: PairFindings,
    findings: Sequence[SignalFinding],
) -> Iterator[Notice]:
    """What is known of the shown pair before its leads are looked at."""
    yield from (notice("file_note", f"{b.capture.name}: {note}") for b in (good, suspect) for note in b.capture.notes)
    if good.capture.row_is_cycle:
        lasts = format_time(shown.lineup.cycle_ps)
        text = (
            "Each row is taken for one cycle of the board's clock, as was said. "
            f"Times count rows, {lasts} each; no delay is judged."
        )
        yield notice("row_is_cycle", text)
    yield from _sheet_notices(request.sheet, good, suspect)
    yield from _clock_notices(request, good, suspect, clock, shown.lineup)
    yield from _lineup_notices(request, shown.lineup)
    yield from left_out_notices(shown.left_figures)
    yield from _signal_notices(request, shown, findings)
    if shown.pairing is not None:
        yield from short_pulse_notices(shown.found, shown.limits, shown.pairing.starts_ps, good.traces)


def _sheet_notices(sheet: ProbeSheet, good: CaptureSignals, suspect: CaptureSignals) -> Iterator[Notice]:
    """Rows of the sheet whose channel is in neither capture."""
    held = {*good.capture.channels, *suspect.capture.channels}
    if unused := [probe for probe in sheet.probes if probe.channel not in held]:
        names = [p.channel if p.channel == p.signal else f"{p.channel} ({p.signal})" for p in unused]
        text = f"The sheet names channels that neither capture has: {few_names(names)}."
        yield notice("sheet_row_unused", text, signals=tuple(p.signal for p in unused))


def _clock_notices(
    request: CompareRequest, good: CaptureSignals, suspect: CaptureSignals, clock: str, lineup: Lineup
) -> Iterator[Notice]:
    if request.clock is None and clock == ANY_TRANSITION:
        yield notice(
            "bursts_count", "No signal ticks or strobes: a cycle is what lies between two bursts of transitions."
        )
    elif request.clock is None and (rough := _roughness(good, clock)) is not None:
        even = percent(rough, digits=0)
        text = f"No signal ticks evenly; {clock} counts the cycles, which is even in {even} of them."
        yield notice("rough_clock", text, signals=(clock,))
    for side, edges in ((good, lineup.good_edges_ps), (suspect, lineup.suspect_edges_ps)):
        if len(edges) < 2:
            text = f"{side.capture.name}: {clock} never toggles there; that may be the fault itself."
            yield notice("no_clock", text, signals=(clock,))
            continue
        samples = float(np.median(np.diff(edges))) / side.capture.resolution_ps
        if samples < FEWEST_SAMPLES:
            few = f"{side.capture.name}: {samples:.1f} samples a cycle of {clock}."
            text = f"{few} A state that lasts for one cycle may be missed."
            yield notice("missed_states", text)
        elif samples < 4:
            text = (
                f"{side.capture.name}: {samples:.1f} samples a cycle of {clock}; at least 4 are wanted for states, "
                "10 for timing."
            )
            yield notice("slow_sampling", text)
    drift = lineup.drift_ppm
    if drift is not None and abs(drift) > 20_000:
        text = (
            f"The suspect's cycle is {drift / 1e4:+.1f} % longer than the good one's, "
            f"{format_time(lineup.cycle_ps)}: more than crystals differ by."
        )
        yield notice("clock_rates_differ", text)


def _lineup_notices(request: CompareRequest, lineup: Lineup) -> Iterator[Notice]:
    if not lineup:
        yield notice("no_lineup", f"No line-up: {lineup.reason}")
    elif lineup.status not in CERTAIN_LINEUPS:
        yield notice("doubtful_lineup", f"Line-up {lineup.status}: {lineup.reason}")
    if any(lineup.left_out):
        yield notice("left_out", _left_out_words(request, lineup))
    if lineup.slips and lineup.status in CERTAIN_LINEUPS:
        yield notice("slips", slip_words(lineup.slips))
    # those that tell come first
    unseen = sorted(lineup.unseen, key=lambda u: not u.tells)
    if unseen and lineup.status in CERTAIN_LINEUPS:
        shows = ", ".join(f"{u.signal} is {'high' if u.state else 'low'}" for u in unseen[:_MOST_SHIFTS])
        text = (
            f"In cycles that only the suspect has {shows}, first in its cycle {group_digits(unseen[0].first_cycle)}; "
            "the good side never shows that."
        )
        yield notice("never_seen", text, signals=tuple(u.signal for u in unseen))


def _signal_notices(
    request: CompareRequest, shown: PairFindings, findings: Sequence[SignalFinding]
) -> Iterator[Notice]:
    yield from shifts_told([f.signal for f in findings if f.verdict == "agrees"], shown)
    yield from _one_sided(request.sheet, findings)
    if not shown.lineup:
        return
    clock = shown.lineup.clock.split("+")
    undecided = [f for f in findings if f.verdict == "undecided" and f.signal not in clock]
    if still := [f.signal for f in undecided if f.is_too_still]:
        text = (
            f"Too still to judge: {few_names(still)}. Decided in under {FEWEST_DECIDED} cycles, or moving less than "
            "twice in them."
        )
        yield notice("too_still", text, signals=tuple(still))
    blind = [f.signal for f in undecided if f.signal not in shown.noisy and not f.is_too_still]
    if blind:
        text = f"Undecided throughout: {few_names(blind)}. It moves, but no state of it could be compared."
        yield notice("undecided", text, signals=tuple(blind))


_LACKING_SHARE = 0.1


def _one_sided(sheet: ProbeSheet, findings: Sequence[SignalFinding]) -> Iterator[Notice]:
    """Signals that one side alone has. One that moves may hold the fault: it casts doubt where the sheet names it, and
    where such signals are a tenth of all that move."""
    lacking = [f for f in findings if f.verdict == "missing"]
    named = {probe.signal for probe in sheet.probes}
    moving = [f for f in lacking if _moves(f)]
    many = len(moving) > _LACKING_SHARE * sum(_moves(f) for f in findings)
    grave = [f.signal for f in moving if many or f.signal in named]
    if grave:
        text = f"Only one side has {few_names(grave)}, which move{'s' if len(grave) == 1 else ''} there: a fault may be"
        yield notice("lacks_signals", f"{text} on {'it' if len(grave) == 1 else 'them'}.", signals=tuple(grave))
    if rest := [f.signal for f in lacking if f.signal not in grave]:
        yield notice("one_side_only", f"Only one side has {few_names(rest)}: not compared.", signals=tuple(rest))


def _moves(finding: SignalFinding) -> bool:
    traces = finding.good_trace, finding.suspect_trace
    return any(own is not None and len(own.transitions_ps) >= FEWEST_MOVES for own in traces)


def shifts_told(agreeing: Sequence[str], shown: PairFindings) -> list[Notice]:
    """Signals that agree, and yet are steadily late or early by more than known-good captures are; the furthest."""
    off = [(s, shift) for s in agreeing if (shift := shown.steadily_off(s)) is not None]
    off.sort(key=lambda own: -abs(own[1].by_ps))
    if not off:
        return []
    more = f", and {len(off) - _MOST_SHIFTS} more" if len(off) > _MOST_SHIFTS else ""
    words = ", ".join(f"{signal} {shift.words}" for signal, shift in off[:_MOST_SHIFTS])
    text = f"Within tolerance but steadily off: {words}{more}. Another sound board's parts may do that too."
    return [notice("steadily_off", text, signals=tuple(s for s, _ in off))]


_LEAD_CODES = {
    "swapped": "swapped_leads",
    "ring": "leads_in_a_ring",
    "one off": "leads_one_off",
    "inverted": "inverted_leads",
    "clock": "clock_lead",
    "program": "other_program",
    "skew": "coarse_timing",
}


def lead_notices(lines: Sequence[PairLine]) -> Iterator[Notice]:
    """What the check-up of the pair says, less what is fine."""
    for line in lines:
        if line.kind != "fine":
            yield notice(_LEAD_CODES[line.topic], line.text, line.do, line.signals)


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
