"""Is this capture fit to compare? What is in it, in words, the worst finding first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tracecore.capture import Capture, DigitalTrace
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.measure.clock import ClockCandidate, clock_candidates
from tracecore.measure.families import family
from tracecore.measure.levels import digitise
from tracecore.quantities import format_rate, format_time, group_digits

Kind = Literal["fine", "look", "bad"]
_RANK = {"bad": 0, "look": 1, "fine": 2}


@dataclass(frozen=True, slots=True)
class CheckLine:
    """One sentence: fine, worth a look, or bad for comparing."""

    kind: Kind
    text: str


@dataclass(frozen=True, slots=True)
class Checkup:
    """``lines`` worst first; ``clocks`` the clock candidates, best first."""

    lines: tuple[CheckLine, ...]
    clocks: tuple[ClockCandidate, ...]

    @property
    def worst(self) -> CheckLine:
        """The line to show when there is room for one."""
        return self.lines[0]


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
    lines = [
        *_clock_lines(clocks),
        *_still(traces),
        *_alike(traces),
        *_spikes(traces, capture.resolution_ps),
        *(CheckLine("look", note) for note in capture.notes),
    ]
    return Checkup(tuple(sorted(lines, key=lambda line: _RANK[line.kind])), clocks)


def _clock_lines(clocks: tuple[ClockCandidate, ...]) -> list[CheckLine]:
    """Common practice: at least four samples a cycle for states, ten for timing."""
    if not clocks or clocks[0].regularity < 0.5:
        return [CheckLine("look", "No signal ticks evenly: name the clock yourself.")]
    clock = clocks[0]
    text = f"Clock {clock.signal} {format_rate(clock.rate_hz)}, {clock.samples_per_cycle:.3g} samples a cycle: "
    if clock.samples_per_cycle < 2:
        return [CheckLine("bad", text + "too slow to see every cycle; timing cannot be judged.")]
    if clock.samples_per_cycle < 4:
        return [CheckLine("look", text + "few for states; capture faster.")]
    # ten as printed: 9.99 is what two periods rounded to the picosecond leave of ten
    if clock.samples_per_cycle < 9.5:
        return [CheckLine("look", text + "fit for states, timing only coarsely.")]
    return [CheckLine("fine", text + "fit for states and timing.")]


def _still(traces: dict[str, DigitalTrace]) -> list[CheckLine]:
    still = [name for name, trace in traces.items() if len(trace.times_ps) == 1]
    if not still:
        return []
    return [CheckLine("look", f"Never move: {', '.join(still)}. Still, or not clipped on.")]


def _alike(traces: dict[str, DigitalTrace]) -> list[CheckLine]:
    """Channels with the very same transitions: bridged leads, or one net clipped twice."""
    groups: dict[tuple[int, int, int], list[str]] = {}
    for name, trace in traces.items():
        if len(trace.times_ps) >= 8:
            key = len(trace.times_ps), int(trace.times_ps[1:].sum() & 0x7FFFFFFFFFFFFFFF), int(trace.levels[0])
            groups.setdefault(key, []).append(name)
    lines = []
    for names in groups.values():
        same = [n for n in names if np.array_equal(traces[n].times_ps, traces[names[0]].times_ps)]
        if len(same) > 1:
            lines.append(
                CheckLine("look", f"Move together always: {', '.join(same)}. Bridged leads, or one net twice.")
            )
    return lines


def _spikes(traces: dict[str, DigitalTrace], resolution_ps: int) -> list[CheckLine]:
    """A large share of one-sample pulses points at a wrong threshold or a poor ground."""
    lines = []
    for name, trace in traces.items():
        if len(trace.times_ps) < 20:
            continue
        width = np.diff(trace.times_ps[1:])
        short = int((width <= 1.5 * resolution_ps).sum())
        # a signal whose usual pulse is one sample wide is sampled too slowly, which is said elsewhere
        if short > 0.1 * len(width) and float(np.median(width)) > 3 * resolution_ps:
            lines.append(
                CheckLine(
                    "look",
                    f"{name}: {group_digits(short)} of {group_digits(len(width))} pulses last one sample "
                    f"({format_time(resolution_ps)}): wrong threshold, or a poor ground lead.",
                )
            )
    return lines
