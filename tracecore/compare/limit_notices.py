"""What volts and limits say beside the findings: spoilt traces, margins that are short, limits that are missed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set

from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.compare.findings import SignalFinding
from tracecore.compare.level_comparison import LevelReport, short_margins
from tracecore.compare.timing_limits import LimitsKept, clock_limits, kept_of_pair, limits_of_sheet
from tracecore.lineup.lineup import Lineup
from tracecore.name_lists import few_names
from tracecore.notices import Notice, notice
from tracecore.quantities import format_time, format_volts, group_digits


def limit_notices(
    levels: LevelReport, findings: Sequence[SignalFinding], lineup: Lineup, sheet: ProbeSheet
) -> Iterator[Notice]:
    """Notices of the shown pair, by its own sheet. Only what the suspect shows and the good side does not counts."""
    yield from _of_spoilt(levels)
    yield from _of_shift(levels)
    yield from _of_margins(levels, {own.signal for own in findings if own.verdict == "diverges"})
    if not any(probe.into for probe in sheet.probes) or len(lineup.good_edges_ps) < 2:
        return
    needs = limits_of_sheet(sheet, lineup.edge)
    clock = clock_limits((p.into for p in sheet.probes if p.into), lineup.edge)
    if clock is not None:
        needs[lineup.clock] = clock
    for finding in findings:
        kept = finding.limits
        if kept is None and finding.signal in needs and finding.good_trace and finding.suspect_trace:
            kept = kept_of_pair(finding.good_trace, finding.suspect_trace, needs[finding.signal], lineup)
        # what is missed in a matched cycle is a finding already
        if kept is not None and (finding.limits is None or not len(kept.missed_cycles)):
            yield from _of_timing(finding, kept)


def _of_spoilt(levels: LevelReport) -> Iterator[Notice]:
    """Traces that the instrument spoilt in one way on one side are told at once."""
    alike: dict[tuple[str, str], list[tuple[str, str]]] = {}
    for row in levels.rows:
        for words, side in row.sides:
            if side.trouble is not None:
                alike.setdefault((words, side.trouble.kind), []).append((row.signal, side.trouble.sentence))
    for (words, _), own in alike.items():
        (first, sentence), *others = own
        names = sorted(name for name, _ in others)
        more = f" So it is with {few_names(names, 6)}." if names else ""
        yield notice("volts_spoilt", f"{first}, {words}: {sentence}{more}", signals=(first, *names))


def _of_shift(levels: LevelReport) -> Iterator[Notice]:
    """Low and high of several signals moved alike: one ground, not as many faults."""
    if levels.common_shift is not None:
        yield notice("levels_shifted", levels.common_shift.sentence, signals=levels.common_shift.signals)


def _of_margins(levels: LevelReport, wrong: Set[str]) -> Iterator[Notice]:
    """Margins that the suspect lacks and the good side has: of several signals in one sentence, by the least. Those
    that are ``wrong`` anyway have their finding."""
    for word in ("low", "high"):
        # rows come by their worst margin, but either word has an order of its own
        short = [own for own in short_margins(levels) if own.word == word and own.signal not in wrong]
        short.sort(key=lambda own: own.now_v)
        if not short:
            continue
        first, names = short[0], sorted(own.signal for own in short[1:])
        text = (
            f"{first.signal} has {format_volts(first.now_v)} of {word} margin on the suspect side, "
            f"{format_volts(first.before_v)} on the known-good one; {format_volts(first.promised_v)} are promised."
        )
        if names:
            text += f" {few_names(names, 6)} {'lacks' if len(names) == 1 else 'lack'} some of it too."
        yield notice("margin_short", text, signals=(first.signal, *names))


def _of_timing(finding: SignalFinding, kept: LimitsKept) -> Iterator[Notice]:
    """What of a part's limits the suspect misses and the known-good side does not."""
    for reading in kept.missed:
        where = "" if reading.good_cycle is None else f" at cycle {group_digits(reading.good_cycle)}"
        text = (
            f"{finding.signal} leaves {format_time(reading.smallest.value_ps, digits=3)} of {reading.what}{where} on "
            f"the suspect side; {kept.limits.whose} needs {format_time(reading.limit_ps, digits=3)}."
        )
        yield notice("limit_missed", text, signals=(finding.signal,))
