"""Pulses as short as the instrument can see: a sign of a wrong threshold or a poor ground lead."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tracecore.capture import Capture, DigitalTrace
from tracecore.measure.checkup.line import CheckLine
from tracecore.measure.checkup.pace import keeps_changes
from tracecore.measure.clock import ClockCandidate
from tracecore.quantities import format_time, group_digits

_FEWEST, _SHARE = 5, 0.05
_WIDE_SAMPLES = 6.0
_SHOWN = 3


def short_pulse_lines(
    capture: Capture, traces: Mapping[str, DigitalTrace], clocks: tuple[ClockCandidate, ...]
) -> list[CheckLine]:
    """One sentence on the signals of which more than one pulse in twenty lasts one sample, the worst first.

    Nothing is said where a cycle has fewer than four samples: such pulses are then the signal itself.
    """
    if clocks and clocks[0].regularity >= 0.5 and clocks[0].samples_per_cycle < 4:
        return []
    step = capture.resolution_ps
    found = []
    for name, trace in traces.items():
        short, pulses = short_pulses(trace, step)
        if short >= _FEWEST and short > _SHARE * pulses:
            found.append((short / pulses, name, short, pulses))
    if not found:
        return []
    found.sort(reverse=True)
    listed = [f"{group_digits(short)} of {group_digits(pulses)} on {name}" for _, name, short, pulses in found]
    more = f" (and on {len(listed) - _SHOWN} more)" if len(listed) > _SHOWN else ""
    how = f"no longer than {format_time(step)}" if keeps_changes(capture) else f"one sample ({format_time(step)})"
    text = (
        f"Pulses that last {how}: {', '.join(listed[:_SHOWN])}{more}. "
        "A wrong threshold, a poor ground lead, or real glitches."
    )
    return [CheckLine("look", text)]


def short_pulses(trace: DigitalTrace, resolution_ps: int) -> tuple[int, int]:
    """How many pulses last one sample, and of how many; (0, 0) where the signal is as fast as the samples.

    >>> edges = np.array([0, 100, 110, 200, 210, 300, 310, 400])
    >>> short_pulses(DigitalTrace(edges, np.arange(8).astype(np.uint8) % 2, 500), 10)
    (3, 6)
    """
    width = np.diff(trace.times_ps[1:])
    if not len(width):
        return 0, 0
    short = width <= 1.5 * resolution_ps
    # a signal without longer pulses besides is sampled too slowly, which is said elsewhere
    if short.all() or float(np.median(width[~short])) < _WIDE_SAMPLES * resolution_ps:
        return 0, 0
    return int(short.sum()), len(width)
