"""Is this capture fit to compare? What is in it, in words, the worst finding first."""

from __future__ import annotations

from tracecore.capture import Capture, DigitalTrace
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.measure.checkup.gaps import end_lines, gap_lines
from tracecore.measure.checkup.leads import still_lines, twin_lines
from tracecore.measure.checkup.line import WORST_FIRST, CheckLine, Checkup, Kind
from tracecore.measure.checkup.pace import pace_lines
from tracecore.measure.checkup.pulses import short_pulse_lines
from tracecore.measure.clock import clock_candidates
from tracecore.measure.families import family
from tracecore.measure.levels import digitise
from tracecore.own_names import EACH_ROW

__all__ = ["CheckLine", "Checkup", "Kind", "check"]


def check(capture: Capture, sheet: ProbeSheet, default_family: str = "74") -> Checkup:
    """Checks one capture by itself; signals are named by the sheet."""
    traces: dict[str, DigitalTrace] = {}
    for channel in capture.channels:
        probe = sheet.probe(channel)
        if channel in capture.digital:
            traces[probe.signal] = capture.digital[channel]
        else:
            traces[probe.signal] = digitise(capture.analog[channel], family(probe.family or default_family)).digital
    clocks = clock_candidates(traces, capture.resolution_ps)
    if capture.row_is_cycle:
        # what counts the rows is no guess
        clocks = tuple(sorted(clocks, key=lambda own: own.signal != EACH_ROW))
    lines = [
        *pace_lines(capture, traces, clocks),
        *still_lines(traces),
        *twin_lines(traces, capture.resolution_ps),
        *short_pulse_lines(capture, traces, clocks),
        *gap_lines(traces, clocks, capture.resolution_ps),
        *end_lines(capture),
        *(CheckLine("look", note) for note in capture.notes),
    ]
    return Checkup(tuple(sorted(lines, key=lambda line: WORST_FIRST.index(line.kind))), clocks)
