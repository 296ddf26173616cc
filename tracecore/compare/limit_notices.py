"""What volts and limits say beside the findings: spoilt traces, margins that are short, limits that are missed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.compare.findings import SignalFinding
from tracecore.compare.level_comparison import LevelReport, SignalLevels
from tracecore.compare.timing_limits import LimitsKept, clock_limits, kept_of_pair, limits_of_sheet
from tracecore.lineup.lineup import Lineup
from tracecore.notices import Notice, notice
from tracecore.quantities import format_time, format_volts, group_digits


def limit_notices(
    levels: LevelReport, findings: Sequence[SignalFinding], lineup: Lineup, sheet: ProbeSheet
) -> Iterator[Notice]:
    """Notices of the shown pair, by its own sheet. Only what the suspect shows and the good side does not counts."""
    for row in levels.rows:
        yield from _of_levels(row)
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


def _of_levels(row: SignalLevels) -> Iterator[Notice]:
    for words, side in (("known-good", row.good), ("suspect", row.suspect)):
        if side is not None and side.trouble is not None:
            text = f"{row.signal}, {words}: {side.trouble.sentence}"
            yield notice("volts_spoilt", text, signals=(row.signal,))
    good, suspect = row.good, row.suspect
    if good is None or suspect is None or good.trouble or suspect.trouble:
        return
    for word, before, now, promised in (
        ("low", good.low_margin_v, suspect.low_margin_v, suspect.promised_low_v),
        ("high", good.high_margin_v, suspect.high_margin_v, suspect.promised_high_v),
    ):
        if before is None or now is None:
            continue
        reads_to = good.reads_to_v + suspect.reads_to_v
        if now + suspect.reads_to_v < promised <= before and before - now > reads_to:
            text = (
                f"{row.signal} has {format_volts(now)} of {word} margin on the suspect side, {format_volts(before)} on "
                f"the known-good one; {format_volts(promised)} are promised."
            )
            yield notice("margin_short", text, signals=(row.signal,))


def _of_timing(finding: SignalFinding, kept: LimitsKept) -> Iterator[Notice]:
    """What of a part's limits the suspect misses and the known-good side does not."""
    for reading in kept.missed:
        where = "" if reading.good_cycle is None else f" at cycle {group_digits(reading.good_cycle)}"
        text = (
            f"{finding.signal} leaves {format_time(reading.smallest.value_ps, digits=3)} of {reading.what}{where} on "
            f"the suspect side; {kept.limits.whose} needs {format_time(reading.limit_ps, digits=3)}."
        )
        yield notice("limit_missed", text, signals=(finding.signal,))
