"""The trace figure of a first divergence as SVG: paired traces, drawn from the same findings as the window's.

The known-good trace is thin ink above, the suspect one thick vermilion below. Ties join twins, an open ring marks a
transition whose twin is missing, 45 degree hatching marks where levels differ, triangles mark volts outside the
family's limits. Nothing is told by colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

import numpy as np

from tracecore.capture import HIGH, LOW
from tracecore.compare.lineup import TimeMap
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from tracecore.capture import DigitalTrace
    from tracecore.compare.findings import SignalFinding
    from tracecore.comparison import Comparison

INK, MUTED, VERMILION, OCHRE, RULE, PAPER = "#1B2830", "#55636A", "#B24F00", "#8C6A00", "#DCE3D7", "#F4F6F1"
VERMILION_WORDS, OCHRE_WORDS = "#A54900", "#6B5200"

BEFORE, AFTER = 4, 8
"""Cycles shown before and after the first divergence."""
MOST_ROWS = 6
LEFT, RIGHT, WIDTH = 128, 12, 960
TOP, ROW, SWING = 52, 68, 16
GOOD_HIGH, SUSPECT_HIGH = 8, 34
"""Heights of the upper levels below the top of a row; the lower levels lie ``SWING`` further down."""
SLOPE = 2.0


@dataclass(frozen=True, slots=True)
class View:
    """The stretch that is drawn: good cycles ``first`` (closed) to ``stop`` (open), and their times."""

    first: int
    stop: int
    start_ps: int
    stop_ps: int

    def x(self, time_ps: int | float) -> float:
        """Where a good time lies across the figure."""
        share = (float(time_ps) - self.start_ps) / max(1, self.stop_ps - self.start_ps)
        return LEFT + share * (WIDTH - LEFT - RIGHT)

    def inside(self, times_ps: np.ndarray) -> np.ndarray:
        """Which of some good times are drawn."""
        return (times_ps >= self.start_ps) & (times_ps < self.stop_ps)


def figure_svg(comparison: Comparison, signal: str, *, name: str = "figure") -> str:
    """The figure around the first divergence of ``signal``; empty where there is none to draw.

    ``name`` must differ between the figures of one page: it makes the hatch pattern's id.
    """
    finding = comparison.signal(signal)
    if finding.first_divergence is None or not comparison.lineup:
        return ""
    view = _view(comparison, finding.first_divergence.cycle)
    if view is None:
        return ""
    rows = figure_rows(comparison, finding)
    height = TOP + ROW * len(rows) + 8
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" class="traces" '
        f'font-family="DejaVu Sans, Verdana, sans-serif">',
        f"<title>{escape(_title(finding, view))}</title>",
        f'<defs><pattern id="{name}-hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><line x1="0" y1="0" x2="0" y2="7" stroke="{VERMILION}" stroke-width="1.6"/>'
        "</pattern></defs>",
        f'<rect x="0" y="0" width="{WIDTH}" height="{height}" fill="{PAPER}"/>',
        *_grid(comparison, view, finding.first_divergence.cycle, height),
    ]
    for index, row in enumerate(rows):
        top = TOP + ROW * index
        if row is finding:
            parts.append(f'<rect x="0" y="{top}" width="{WIDTH}" height="{ROW - 2}" fill="#E6ECE2" opacity="0.75"/>')
        parts += _row(comparison, row, view, top, f"{name}-hatch")
    return "\n".join([*parts, "</svg>"])


def figure_rows(comparison: Comparison, finding: SignalFinding) -> tuple[SignalFinding, ...]:
    """The clock, the signal, and its close relatives: its bus, then what else diverges, then its slot."""
    clock = [s for s in comparison.signals if s.signal == comparison.lineup.clock]
    drawn = [s for s in comparison.signals if s.good_trace is not None and s.suspect_on_good is not None]

    def nearness(s: SignalFinding) -> tuple[int, int]:
        if finding.bus and s.bus == finding.bus:
            return 0, abs((s.bit or 0) - (finding.bit or 0))
        if s.verdict == "diverges":
            return 1, 0
        return (2, 0) if s.slot == finding.slot else (3, 0)

    relatives = sorted((s for s in drawn if s is not finding and s not in clock), key=nearness)
    chosen = [*clock, finding, *relatives][:MOST_ROWS]
    return tuple(s for s in comparison.signals if any(s is c for c in chosen))


def _view(comparison: Comparison, cycle: int) -> View | None:
    run = next((r for r in comparison.lineup.runs if r.good_start <= cycle < r.good_start + r.length), None)
    if run is None:
        return None
    first = max(run.good_start, cycle - BEFORE)
    stop = min(run.good_start + run.length, cycle + AFTER)
    edges = comparison.lineup.good_edges_ps
    return View(first, stop, int(edges[first]), int(edges[min(stop, len(edges) - 1)]))


def _title(finding: SignalFinding, view: View) -> str:
    return f"{finding.signal}, good cycles {view.first} to {view.stop - 1}: known-good above, suspect below"


def _grid(comparison: Comparison, view: View, marked: int, height: int) -> list[str]:
    """Cycle lines and numbers, and the marker: a leader line with the number in a ruled box."""
    edges, parts = comparison.lineup.good_edges_ps, []
    for cycle in range(view.first, view.stop):
        x = view.x(int(edges[cycle]))
        middle = (x + view.x(int(edges[min(cycle + 1, len(edges) - 1)]))) / 2
        parts.append(_line(x, TOP - 6, x, height - 4, RULE, 1))
        if cycle != marked:
            # long numbers would touch: the last three digits serve, the marker shows the whole number
            words = group_digits(cycle) if cycle < 100_000 else f"…{cycle % 1000:03d}"
            parts.append(_text(middle, TOP - 14, words, MUTED, 12, anchor="middle"))
    x = view.x(int(edges[marked]))
    words = group_digits(marked)
    width = 8 * len(words) + 14
    parts.append(_line(x, 24, x, height - 4, INK, 1))
    parts.append(f'<rect x="{x - width / 2:.1f}" y="4" width="{width}" height="20" fill="#FFFFFF" stroke="{INK}"/>')
    parts.append(_text(x, 18.5, words, INK, 13, anchor="middle", weight="bold"))
    parts.append(_text(8, 18.5, "good cycle", MUTED, 12))
    return parts


def _row(comparison: Comparison, s: SignalFinding, view: View, top: int, hatch: str) -> list[str]:
    over = ' text-decoration="overline"' if s.active == "low" else ""
    parts = [
        f'<text x="8" y="{top + 28}" font-size="15" font-weight="bold" fill="{INK}"{over}>{escape(s.signal)}</text>',
        _text(8, top + 46, s.place, MUTED, 12),
    ]
    for start, stop in s.difference_on_good_ps.tolist():
        if stop > view.start_ps and start < view.stop_ps:
            left, right = view.x(max(start, view.start_ps)), view.x(min(stop, view.stop_ps))
            parts.append(
                f'<rect x="{left:.1f}" y="{top + GOOD_HIGH}" width="{max(1.5, right - left):.1f}" '
                f'height="{SUSPECT_HIGH + SWING - GOOD_HIGH}" fill="url(#{hatch})" stroke="{VERMILION}" '
                'stroke-width="0.8"/>'
            )
    parts += _ties(s, view, top)
    if s.good_trace is not None:
        parts.append(_trace(s.good_trace, view, top + GOOD_HIGH, INK, 1.5))
    if s.suspect_on_good is not None:
        parts.append(_trace(s.suspect_on_good, view, top + SUSPECT_HIGH, VERMILION, 3))
    return [*parts, *_rings(s, view, top), *_triangles(comparison, s, view, top)]


def _trace(trace: DigitalTrace, view: View, high: float, colour: str, weight: float) -> str:
    """One trace as a path; an unknown level runs half way between low and high."""
    heights = {LOW: high + SWING, HIGH: high}
    within = np.flatnonzero((trace.times_ps > view.start_ps) & (trace.times_ps < view.stop_ps))
    before = max(0, int(trace.times_ps.searchsorted(view.start_ps, side="right")) - 1)
    y = heights.get(int(trace.levels[before]), high + SWING / 2)
    points = [(view.x(max(view.start_ps, trace.start_ps)), y)]
    for index in within.tolist():
        x = view.x(int(trace.times_ps[index]))
        after = heights.get(int(trace.levels[index]), high + SWING / 2)
        points += [(max(points[-1][0], x - SLOPE), y), (x + SLOPE, after)]
        y = after
    end = view.x(min(view.stop_ps, trace.stop_ps))
    points.append((max(points[-1][0], end), y))
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="{weight}" stroke-linejoin="round"/>'


def _ties(s: SignalFinding, view: View, top: int) -> list[str]:
    """Thin lines from each good transition to its twin: upright on time, slanted and heavier where moved."""
    upper, lower = top + GOOD_HIGH + SWING, top + SUSPECT_HIGH
    ties, parts = s.ties, []
    for good, suspect, colour, weight in (
        (ties.good_ps, ties.suspect_on_good_ps, MUTED, 0.8),
        (ties.moved_good_ps, ties.moved_suspect_on_good_ps, OCHRE, 1.6),
    ):
        shown = view.inside(good) & view.inside(suspect)
        for a, b in zip(good[shown].tolist(), suspect[shown].tolist(), strict=True):
            parts.append(_line(view.x(a), upper, view.x(b), lower, colour, weight))
    return parts


def _rings(s: SignalFinding, view: View, top: int) -> list[str]:
    """Open rings half way, at transitions whose twin is missing."""
    middle = top + (GOOD_HIGH + SWING + SUSPECT_HIGH) / 2
    missing, extra = s.ties.missing_ps, s.ties.extra_on_good_ps
    return [
        f'<circle cx="{view.x(at):.1f}" cy="{middle:.1f}" r="4.5" fill="#FFFFFF" stroke="{VERMILION}" '
        'stroke-width="1.8"/>'
        for at in [*missing[view.inside(missing)].tolist(), *extra[view.inside(extra)].tolist()]
    ]


def _triangles(comparison: Comparison, s: SignalFinding, view: View, top: int) -> list[str]:
    timemap, parts, told = TimeMap(comparison.lineup), [], set()
    for row in s.levels:
        at = row.start_ps
        if row.side == "suspect":
            at = int(timemap.to_good_ps(np.array([at], np.int64))[0])
        if not view.start_ps <= at < view.stop_ps:
            continue
        x, y = view.x(at), top + (GOOD_HIGH if row.side == "good" else SUSPECT_HIGH) + SWING
        parts.append(f'<path d="M{x - 6:.1f} {y:.1f}h12l-6 -10z" fill="{OCHRE}" stroke="#FFFFFF" stroke-width="0.8"/>')
        if (row.side, row.kind) not in told:
            told.add((row.side, row.kind))
            words = f"{row.kind} {row.volts:.2f} V"
            # below the trace, where they cover nothing, and inside the figure
            end = x + 7 * len(words) > WIDTH - RIGHT
            parts.append(_text(x, top + ROW - 5, words, OCHRE_WORDS, 12, anchor="end" if end else "start"))
    return parts


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, weight: float) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{weight}"/>'


def _text(
    x: float,
    y: float,
    words: str,
    colour: str,
    size: int,
    *,
    anchor: str = "start",
    weight: str = "normal",
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size}" font-weight="{weight}" text-anchor="{anchor}" '
        f'fill="{colour}">{escape(words)}</text>'
    )
