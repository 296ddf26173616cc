"""What volts and limits say beside the findings: spoilt traces, margins that are short, limits that are missed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.compare.findings import SignalFinding
from tracecore.compare.level_comparison import LevelRequest, SignalLevels, compare_levels
from tracecore.compare.timing_comparison import SignalTiming, compare_timing
from tracecore.lineup.lineup import Lineup
from tracecore.notices import Notice, notice
from tracecore.quantities import format_time, format_volts


def limit_notices(
    findings: Sequence[SignalFinding], lineup: Lineup, sheet: ProbeSheet, family: str
) -> Iterator[Notice]:
    """Notices of the shown pair, by its own sheet. Only what the suspect shows and the good side does not counts."""
    for row in compare_levels(findings, lineup, sheet, LevelRequest(family)).rows:
        yield from _of_levels(row)
    if any(probe.into for probe in sheet.probes) and len(lineup.good_edges_ps) > 1:
        for timed in compare_timing(findings, lineup, sheet).rows:
            yield from _of_timing(timed)


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


def _of_timing(row: SignalTiming) -> Iterator[Notice]:
    """Setup or hold that the suspect misses and the known-good side does not."""
    missed_by_good = {r.what for r in row.good_readings if r.verdict == "violates"}
    for reading in row.readings:
        if reading.verdict == "violates" and reading.what not in missed_by_good:
            where = "" if reading.good_cycle is None else f" at cycle {reading.good_cycle}"
            text = (
                f"{row.signal} leaves {format_time(reading.smallest.value_ps, digits=3)} of {reading.what}{where} on "
                f"the suspect side; {row.into} needs {format_time(reading.limit_ps, digits=3)}."
            )
            yield notice("limit_missed", text, signals=(row.signal,))
