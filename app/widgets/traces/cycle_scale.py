"""The numbers along the top of the traces: which cycles are named, and where. Nothing here imports Qt."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.widgets.traces.trace_rows import View
from tracecore.capture import Int64
from tracecore.quantities import format_time, group_digits

ROOM_FOR_GRID = 14
"""Pixels a cycle must be wide for a line at each."""
FULL_EVERY = 5


@dataclass(frozen=True, slots=True)
class Label:
    """``x`` is the middle of the number where it stands over its own column, else the tick at which it begins.

    ``cycle`` is None for a time."""

    x: float
    text: str
    centred: bool
    cycle: int | None = None


def nice_stride(least: float) -> int:
    """The smallest of 1, 2, 5, 10, 20, 50 ... that is not below ``least``.

    >>> [nice_stride(n) for n in (0.2, 3, 11)]
    [1, 5, 20]
    """
    step = 1
    while True:
        for factor in (1, 2, 5):
            if step * factor >= least:
                return step * factor
        step *= 10


def visible_cycles(view: View, edges_ps: Int64) -> tuple[int, int]:
    """Cycles that touch the view: first (closed), last (open)."""
    first = int(edges_ps.searchsorted(view.t0_ps, side="right")) - 1
    stop = int(edges_ps.searchsorted(view.stop_ps))
    return max(first, 0), max(0, min(stop, len(edges_ps) - 1))


def grid_columns(view: View, edges_ps: Int64) -> np.ndarray:
    """Pixel columns of the active edges, where cycles are wide enough; else none."""
    inside = edges_ps[view.visible(edges_ps)]
    if not len(inside) or view.width < ROOM_FOR_GRID * len(inside):
        return np.empty(0, np.int64)
    return np.asarray((inside - view.t0_ps) // view.ps_per_px)


def cycle_labels(view: View, edges_ps: Int64, digit_px: float) -> tuple[list[Label], list[float]]:
    """Numbers and ticks. Each cycle is named where there is room: in full at each fifth, by its last digit between."""
    first, stop = visible_cycles(view, edges_ps)
    if stop <= first:
        return [], []
    widest = len(group_digits(stop)) * digit_px + 16
    span_px = (float(edges_ps[stop]) - float(edges_ps[first])) / view.ps_per_px
    cycle_px = span_px / (stop - first)
    # half a full number, a gap of one digit, and half the digit of the next cycle
    if cycle_px >= (len(group_digits(stop)) + 3) / 2 * digit_px:
        return _each_cycle(view, edges_ps, first, stop, cycle_px >= 2.2 * widest), []
    stride = nice_stride(widest / cycle_px)
    labels, ticks = [], []
    for cycle in range(-(-first // stride) * stride, stop, stride):
        x = view.x_of(int(edges_ps[cycle]))
        if x >= 0:
            labels.append(Label(x, group_digits(cycle), False, cycle))
            ticks.append(x)
    return labels, ticks


def _each_cycle(view: View, edges_ps: Int64, first: int, stop: int, all_full: bool) -> list[Label]:
    labels = []
    named = False
    for cycle in range(first, stop):
        left, right = view.x_of(int(edges_ps[cycle])), view.x_of(int(edges_ps[cycle + 1]))
        middle = (left + right) / 2
        if right - left > view.width / 2:
            # a cycle that is wider than the view keeps its number over what is seen of it
            middle = (max(left, 0.0) + min(right, float(view.width))) / 2
        if not 0 <= middle <= view.width:
            continue
        near_full = not named and FULL_EVERY - cycle % FULL_EVERY > 1
        full = all_full or cycle % FULL_EVERY == 0 or near_full
        named = True
        labels.append(Label(middle, group_digits(cycle) if full else str(cycle % 10), True, cycle))
    return labels


def time_labels(view: View, digit_px: float) -> tuple[list[Label], list[float]]:
    """Times instead of cycles, for captures that are not lined up."""
    step = nice_stride(12 * digit_px * view.ps_per_px)
    at = range(-(-view.t0_ps // step) * step, view.stop_ps, step)
    labels = [Label(view.x_of(t), format_time(t, digits=6), False) for t in at]
    return labels, [label.x for label in labels]
