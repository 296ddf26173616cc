"""Leads that show nothing, or twice the same."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from tracecore.capture import LOW, UNKNOWN, DigitalTrace, Int64
from tracecore.measure.checkup.line import CheckLine
from tracecore.measure.clock import known_transitions
from tracecore.name_lists import few_names
from tracecore.quantities import group_digits

_FEWEST = 8  # transitions without which being alike means nothing
_LOOK_AT = 4096
_UNKNOWN_SHARE = 0.1


def still_lines(traces: Mapping[str, DigitalTrace]) -> list[CheckLine]:
    """Channels that never move, and those that are neither low nor high for long."""
    known = {name: known_transitions(trace) for name, trace in traces.items()}
    never = [n for n, t in known.items() if len(t.times_ps) == 1 and int(t.levels[0]) == UNKNOWN]
    still = [n for n, t in known.items() if len(t.times_ps) == 1 and n not in never]
    lines = []
    if still and len(still) + len(never) == len(traces) > 1:
        lines.append(CheckLine("bad", "Nothing moves at all: is the instrument clipped on, and the machine running?"))
    elif still:
        listed = few_names(f"{n} ({'low' if int(known[n].levels[0]) == LOW else 'high'})" for n in still)
        lines.append(CheckLine("look", f"Never move: {listed}. Still, or not clipped on."))
    if never:
        text = f"Neither low nor high in the whole capture: {few_names(never)}. An open lead, or the wrong family?"
        lines.append(CheckLine("bad", text))
    doubtful = [
        (share, n) for n, t in traces.items() if n not in never and (share := _unknown_share(t)) > _UNKNOWN_SHARE
    ]
    if doubtful:
        doubtful.sort(reverse=True)
        listed = few_names(f"{n} for {share * 100:.0f} % of the time" for share, n in doubtful)
        lines.append(CheckLine("look", f"Neither low nor high: {listed}."))
    return lines


def _unknown_share(trace: DigitalTrace) -> float:
    if int(trace.levels.max()) < UNKNOWN or trace.stop_ps == trace.start_ps:
        return 0.0
    lasts = np.diff(np.append(trace.times_ps, trace.stop_ps))
    return float(lasts[trace.levels == UNKNOWN].sum() / (trace.stop_ps - trace.start_ps))


def twin_lines(traces: Mapping[str, DigitalTrace], resolution_ps: int) -> list[CheckLine]:
    """Channels that always move together, the same way or opposite ways.

    Two leads on one net may be read one sample apart now and then; 95 % must share the very sample.
    """
    groups: list[list[str]] = []
    moving = {n: known_transitions(t) for n, t in traces.items()}
    moving = {n: t for n, t in moving.items() if len(t.times_ps) > _FEWEST}
    for name, trace in moving.items():
        for group in groups:
            if _together(moving[group[0]].transitions_ps, trace.transitions_ps, resolution_ps):
                group.append(name)
                break
        else:
            groups.append([name])
    return [line for group in groups if len(group) > 1 for line in _group_lines(group, moving)]


def _together(a: Int64, b: Int64, resolution_ps: int) -> bool:
    if len(a) != len(b):
        return False
    for part in (slice(0, _LOOK_AT), slice(None)):
        # most pairs part within the first transitions
        apart = np.abs(a[part] - b[part])
        if int(apart.max()) > resolution_ps or float((apart == 0).mean()) < 0.95:
            return False
    return True


def _group_lines(group: list[str], traces: Mapping[str, DigitalTrace]) -> list[CheckLine]:
    first = traces[group[0]]
    count = f"{group_digits(len(first.transitions_ps))} transitions each, at the same times"
    same = [n for n in group if int(traces[n].levels[0]) == int(first.levels[0])]
    opposite = [n for n in group if n not in same]
    lines = []
    for alike in (same, opposite):
        if len(alike) > 1:
            text = f"Always move together: {few_names(alike)} ({count}). Bridged leads, or one net clipped twice?"
            lines.append(CheckLine("look", text))
    if opposite:
        text = (
            f"Always opposite: {same[0]} and {few_names(opposite)} ({count}). "
            "Both sides of one inverter, or a lead wrong?"
        )
        lines.append(CheckLine("look", text))
    return lines
