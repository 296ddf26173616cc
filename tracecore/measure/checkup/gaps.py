"""Where the capture pauses, ticks unevenly, or stops before its end."""

from __future__ import annotations

import re
from collections.abc import Mapping
from fractions import Fraction

import numpy as np

from tracecore.capture import Capture, DigitalTrace
from tracecore.measure.checkup.line import CheckLine
from tracecore.measure.clock import PAUSE_CYCLES, ClockCandidate, active_edges_ps
from tracecore.name_lists import few_names
from tracecore.quantities import format_time, group_digits

_RARE = 0.05
_QUIET = 0.25


def gap_lines(
    traces: Mapping[str, DigitalTrace], clocks: tuple[ClockCandidate, ...], resolution_ps: int
) -> list[CheckLine]:
    """Stretches without a tick of the clock, and cycles off the usual length; without a clock, long silences."""
    if not clocks or clocks[0].regularity < 0.5:
        return _silences(traces)
    clock = clocks[0].signal
    edges = active_edges_ps(traces[clock], "rising")
    periods = np.diff(edges)
    middle = float(np.median(periods))
    gaps = np.flatnonzero(periods > PAUSE_CYCLES * middle)
    lines = []
    if len(gaps):
        longest = int(gaps[np.argmax(periods[gaps])])
        window = int(edges[longest] + middle), int(edges[longest + 1] - middle)
        moving = [n for n, t in traces.items() if n != clock and _moves_within(t, window)]
        meanwhile = f"{few_names(moving, 3)} move meanwhile" if moving else "nothing else moves meanwhile"
        text = (
            f"{_counted(len(gaps), 'gap')}: {clock} does not tick for {format_time(int(periods[longest]))} from "
            f"{format_time(int(edges[longest]))} on; {meanwhile}."
        )
        lines.append(CheckLine("look", text))
    # one sample either way is what sampling does to a period
    off = periods[(np.abs(periods - middle) > 0.05 * middle + resolution_ps) & (periods <= PAUSE_CYCLES * middle)]
    if len(off):
        lines.append(_uneven_line(clock, off, len(periods), middle))
    return lines


def _uneven_line(clock: str, off: np.ndarray[tuple[int], np.dtype[np.int64]], total: int, middle: float) -> CheckLine:
    text = (
        f"{clock}: {group_digits(len(off))} of {group_digits(total)} cycles are not {format_time(round(middle))} long "
        f"({format_time(int(off.min()))} to {format_time(int(off.max()))})"
    )
    if len(off) > _RARE * total:
        return CheckLine("fine", f"{text}: a clock that is stretched or gated.")
    return CheckLine("look", f"{text}: samples lost, a spike on the lead, or a stretched clock.")


def _silences(traces: Mapping[str, DigitalTrace]) -> list[CheckLine]:
    """Without a clock only a silence of a quarter of the capture is worth a word."""
    start, stop = min(t.start_ps for t in traces.values()), max(t.stop_ps for t in traces.values())
    every = np.sort(np.concatenate([[start, stop], *(t.transitions_ps for t in traces.values())]), kind="stable")
    if len(every) < 22:
        return []
    quiet = np.diff(every)
    at = int(quiet.argmax())
    if quiet[at] < _QUIET * (stop - start):
        return []
    text = f"Gap: nothing moves from {format_time(int(every[at]))} to {format_time(int(every[at + 1]))}"
    return [CheckLine("look", f"{text}, {100 * quiet[at] / (stop - start):.0f} % of the capture.")]


def _moves_within(trace: DigitalTrace, window: tuple[int, int]) -> bool:
    a, b = trace.transitions_ps.searchsorted(window)
    return bool(b > a)


def _counted(count: int, noun: str) -> str:
    return noun.capitalize() if count == 1 else f"{group_digits(count)} {noun}s, the longest"


def end_lines(capture: Capture) -> list[CheckLine]:
    """Channels that end before the others, and fewer samples than the file says that it holds."""
    stops = {c: t.stop_ps for c, t in capture.digital.items()} | {c: t.stop_ps for c, t in capture.analog.items()}
    early = [c for c, stop in stops.items() if stop < capture.stop_ps - capture.resolution_ps]
    lines = []
    if early:
        text = f"End cut short on {few_names(early)}: the others go on to {format_time(capture.stop_ps)}."
        lines.append(CheckLine("look", text))
    stated, held = stated_samples(capture.facts), _held_samples(capture.facts)
    if stated is not None and held is not None and held < stated[0]:
        text = f"The file says {group_digits(stated[1])} samples and holds {group_digits(held)}: its end is cut short."
        lines.append(CheckLine("look", text))
    return lines


_COUNT = re.compile(
    r"(?:sample count|record length)\s*[:,]?\s*(\d+)(?:\.(\d+))?(?:e([+-]?\d{1,2}))?(?![\d.])\s*([kMG]?)", re.IGNORECASE
)
_SCALE = {"": 1, "k": 10**3, "M": 10**6, "G": 10**9}


def stated_samples(facts: tuple[tuple[str, str], ...]) -> tuple[int, int] | None:
    """The least number of samples that the heading's count stands for, and the count itself; None without one.

    >>> stated_samples((("comment", "Sample count: 2.896 M Samples"),))
    (2895500, 2896000)
    >>> stated_samples((("record length", "2.500000e+03"),))
    (2500, 2500)
    """
    for key, value in facts:
        match = _COUNT.match(f"{key}: {value}") or _COUNT.match(value)
        if match is not None:
            decimals = match[2] or ""
            scale = _SCALE[match[4].replace("K", "k").replace("m", "M").replace("g", "G")] * 10 ** max(
                0, int(match[3] or 0)
            )
            unit = max(1, scale // 10 ** len(decimals))
            count = int(Fraction(f"{match[1]}.{decimals or 0}") * scale)
            # a count printed in thousands or millions is rounded
            return count - (unit // 2 if scale > 1 else 0), count
    return None


def _held_samples(facts: tuple[tuple[str, str], ...]) -> int | None:
    for key, value in facts:
        if key == "samples" and value.isdecimal():
            return int(value)
    return None
