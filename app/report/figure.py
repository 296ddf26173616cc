"""The trace figure: paired traces around a cycle, painted on any surface from the findings that the window shows.

The known-good trace is thin ink above, the suspect one thick vermilion below. Ties join twins, an open ring marks a
transition whose twin is missing, 45 degree hatching marks where levels differ, triangles mark volts outside the
family's limits. Nothing is told by colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from app.report.surface import SvgSurface, fitted
from tracecore.capture import HIGH, LOW
from tracecore.lineup.lineup import TimeMap
from tracecore.quantities import format_volts, group_digits

if TYPE_CHECKING:
    from app.report.palette import Colour
    from app.report.surface import Surface
    from tracecore.capture import DigitalTrace
    from tracecore.compare.findings import SignalFinding
    from tracecore.comparison import Comparison

BEFORE, AFTER = 4, 8
"""Cycles shown before and after the marked one."""
MOST_ROWS = 6
SLOPE = 2.0
LINE_AND_LETTERS = 11.5
"""From the middle of the suspect's line to the base of words below it: half the line, and letters of 12 units."""


@dataclass(frozen=True, slots=True)
class FigureStyle:
    """Sizes in layout units. ``good_high`` and ``suspect_high`` are the upper levels of both traces below the top of
    a row; the lower levels lie ``swing`` further down. ``letters`` writes N and S beside the traces, ``numbers`` the
    cycles above them."""

    width: float = 960
    left: float = 128
    right: float = 12
    top: float = 52
    row: float = 68
    swing: float = 16
    good_high: float = 8
    suspect_high: float = 34
    grid_weight: float = 1.0
    letters: bool = False
    numbers: bool = True

    def height(self, rows: int) -> float:
        """How high a figure of so many rows is.

        >>> FigureStyle().height(2)
        196
        """
        return self.top + self.row * rows + 8


WIDE = FigureStyle()
"""For a page or the window."""
REPORT = FigureStyle(row=50, top=46, swing=12, good_high=6, suspect_high=26)
"""For a report: lower rows, so that the first cause fits on its first page."""
CARD = FigureStyle(486, 112, 8, 30, 47, 12, 6, 26, grid_weight=0.3, letters=True, numbers=False)
"""For a small figure in black: lower rows, N and S, the marked cycle alone."""


@dataclass(frozen=True, slots=True)
class View:
    """The stretch that is drawn: good cycles ``first`` (closed) to ``stop`` (open), their times, and where they lie."""

    first: int
    stop: int
    start_ps: int
    stop_ps: int
    left: float
    width: float

    def x(self, time_ps: int | float) -> float:
        """Where a good time lies across the figure."""
        share = (float(time_ps) - self.start_ps) / max(1, self.stop_ps - self.start_ps)
        return self.left + share * self.width

    def inside(self, times_ps: np.ndarray) -> np.ndarray:
        """Which of some good times are drawn."""
        return (times_ps >= self.start_ps) & (times_ps < self.stop_ps)

    def told_apart(self, times_ps: np.ndarray) -> np.ndarray:
        """Indices of the increasing times, all inside, that a reader could tell apart: of those that fall on one
        layout unit the first two and the last, so that no pulse is lost and a busy signal stays drawable."""
        if not len(times_ps):
            return np.empty(0, np.int64)
        share = (times_ps - self.start_ps) / max(1, self.stop_ps - self.start_ps)
        first = np.concatenate(([True], np.diff((share * self.width).astype(np.int64)) != 0))
        second, last = np.concatenate(([False], first[:-1])), np.concatenate((first[1:], [True]))
        return np.flatnonzero(first | second | last)


@dataclass(frozen=True, slots=True, eq=False)
class FigurePlan:
    """What a figure will show, and how high it will be."""

    comparison: Comparison
    finding: SignalFinding
    rows: tuple[SignalFinding, ...]
    marked: int
    view: View
    style: FigureStyle

    @property
    def height(self) -> float:
        """In layout units."""
        return self.style.height(len(self.rows))

    def as_wide(self, width: float) -> FigurePlan:
        """The same figure laid out over another width."""
        style = replace(self.style, width=width)
        return replace(self, style=style, view=replace(self.view, width=width - style.left - style.right))

    @property
    def title(self) -> str:
        """What it shows, in words."""
        name = self.finding.signal
        first, last = (group_digits(cycle) for cycle in (self.view.first, self.view.stop - 1))
        return f"{name}, good cycles {first} to {last}: known-good above, suspect below"


def plan_figure(
    comparison: Comparison,
    signal: str,
    *,
    cycle: int | None = None,
    rows: Sequence[str] | None = None,
    most: int = MOST_ROWS,
    style: FigureStyle = WIDE,
) -> FigurePlan | None:
    """What the figure of ``signal`` around good cycle ``cycle`` (None: its first divergence) shows.

    ``rows`` names the signals to draw (None chooses the clock and close relatives, ``most`` in all). None where there
    is nothing to draw: a signal that is not there or agrees, no line-up, or a cycle outside it.
    """
    finding = next((s for s in comparison.signals if s.signal == signal), None)
    if finding is None or not comparison.lineup:
        return None
    if cycle is None:
        if finding.first_divergence is None:
            return None
        cycle = finding.first_divergence.cycle
    view = _view(comparison, cycle, style)
    if view is None:
        return None
    chosen = (
        figure_rows(comparison, finding, most)
        if rows is None
        else tuple(s for s in comparison.signals if s.signal in set(rows))
    )
    return FigurePlan(comparison, finding, chosen, cycle, view, style)


def paint_figure(
    surface: Surface,
    comparison: Comparison,
    signal: str,
    *,
    cycle: int | None = None,
    rows: Sequence[str] | None = None,
    style: FigureStyle = WIDE,
) -> FigurePlan | None:
    """Plans and paints in one, as wide as the surface is. Returns what was painted, or None where nothing was."""
    style = replace(style, width=surface.width)
    plan = plan_figure(comparison, signal, cycle=cycle, rows=rows, style=style)
    if plan is not None:
        paint_plan(surface, plan)
    return plan


def figure_svg(
    comparison: Comparison,
    signal: str,
    *,
    name: str = "figure",
    cycle: int | None = None,
    rows: Sequence[str] | None = None,
) -> str:
    """The figure as SVG; empty where there is none to draw.

    ``name`` must differ between the figures of one page: it makes the hatch pattern's id.
    """
    plan = plan_figure(comparison, signal, cycle=cycle, rows=rows)
    if plan is None:
        return ""
    surface = SvgSurface(plan.style.width, name=name)
    paint_plan(surface, plan)
    return surface.svg(plan.height, plan.title)


def figure_rows(comparison: Comparison, finding: SignalFinding, most: int = MOST_ROWS) -> tuple[SignalFinding, ...]:
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
    chosen = [*clock, finding, *relatives][:most]
    return tuple(s for s in comparison.signals if any(s is c for c in chosen))


def paint_plan(surface: Surface, plan: FigurePlan) -> None:
    """Paints a planned figure."""
    style = plan.style
    surface.rect(0, 0, style.width, plan.height, "paper", None, 0)
    if len(plan.rows) > 1 and not style.letters:
        # behind all else, so that the cycle lines run through the chosen row too
        for index, row in enumerate(plan.rows):
            if row is plan.finding:
                surface.rect(0, style.top + style.row * index, style.width, style.row - 2, "tint", None, 0)
    _paint_grid(surface, plan)
    for index, row in enumerate(plan.rows):
        _paint_row(surface, plan, row, style.top + style.row * index)
    _paint_marker(surface, plan)


def paint_pair(surface: Surface, plan: FigurePlan) -> None:
    """Both traces of the figure's own signal, without name, grid or marker: for a card that says these in words."""
    _paint_both(surface, plan, plan.finding, plan.style.top)


def _view(comparison: Comparison, cycle: int, style: FigureStyle) -> View | None:
    run = next((r for r in comparison.lineup.runs if r.good_start <= cycle < r.good_start + r.length), None)
    if run is None:
        return None
    first = max(run.good_start, cycle - BEFORE)
    stop = min(run.good_start + run.length, cycle + AFTER)
    edges = comparison.lineup.good_edges_ps
    times = int(edges[first]), int(edges[min(stop, len(edges) - 1)])
    return View(first, stop, *times, style.left, style.width - style.left - style.right)


def _paint_grid(surface: Surface, plan: FigurePlan) -> None:
    """Cycle lines and their numbers."""
    view, style, edges = plan.view, plan.style, plan.comparison.lineup.good_edges_ps
    wide = view.width / max(1, view.stop - view.first)
    full = surface.text_width(group_digits(view.stop), 12, bold=False) < wide - 6
    # in a narrow figure not every cycle has room for its number
    every = 1 if full else math.ceil((surface.text_width("…000", 12, bold=False) + 4) / wide)
    for cycle in range(view.first, view.stop):
        x = view.x(int(edges[cycle]))
        surface.line(x, style.top - 6, x, plan.height - 4, "rule", style.grid_weight, dashed=False)
        if style.numbers and cycle != plan.marked and (cycle - plan.marked) % every == 0:
            middle = (x + view.x(int(edges[min(cycle + 1, len(edges) - 1)]))) / 2
            # long numbers would touch: the last digits serve, the marker shows the whole number
            words = group_digits(cycle) if full else f"…{cycle % 1000:03d}"
            surface.text(middle, style.top - 14, words, "muted", 12, anchor="middle", bold=False, overline=False)


def _paint_marker(surface: Surface, plan: FigurePlan) -> None:
    """A leader line with the marked cycle's number in a ruled box, which stays inside the figure."""
    style, x = plan.style, plan.view.x(int(plan.comparison.lineup.good_edges_ps[plan.marked]))
    words = group_digits(plan.marked) if style.numbers else f"cycle {group_digits(plan.marked)}"
    width = surface.text_width(words, 13, bold=True) + 14
    left = min(max(2.0, x - width / 2), style.width - width - 2)
    surface.line(x, 24, x, plan.height - 4, "ink", 1, dashed=False)
    surface.rect(left, 4, width, 20, "panel", "ink", 1)
    surface.text(left + width / 2, 18.5, words, "ink", 13, anchor="middle", bold=True, overline=False)
    if style.numbers:
        surface.text(8, 18.5, "good cycle", "muted", 12, anchor="start", bold=False, overline=False)


def _paint_row(surface: Surface, plan: FigurePlan, s: SignalFinding, top: float) -> None:
    _paint_name(surface, plan.style, s, top)
    _paint_both(surface, plan, s, top)


def _paint_both(surface: Surface, plan: FigurePlan, s: SignalFinding, top: float) -> None:
    style, view = plan.style, plan.view
    for start, stop in s.difference_on_good_ps.tolist():
        if stop > view.start_ps and start < view.stop_ps:
            left, right = view.x(max(start, view.start_ps)), view.x(min(stop, view.stop_ps))
            height = style.suspect_high + style.swing - style.good_high
            surface.hatch(left, top + style.good_high, max(1.5, right - left), height, "suspect")
    _paint_ties(surface, plan, s, top)
    if s.good_trace is not None:
        _paint_trace(surface, plan, s.good_trace, top + style.good_high, "ink", 1.5)
    if s.suspect_on_good is not None:
        _paint_trace(surface, plan, s.suspect_on_good, top + style.suspect_high, "suspect", 3)
    _paint_rings(surface, plan, s, top)
    _paint_triangles(surface, plan, s, top)


def _paint_name(surface: Surface, style: FigureStyle, s: SignalFinding, top: float) -> None:
    room = style.left - 16 - (18 if style.letters else 0)
    first, second = (0.41 * style.row, 0.68 * style.row) if style.letters else (28, 46)
    name = fitted(surface, s.signal, room, 15, bold=True)
    surface.text(8, top + first, name, "ink", 15, anchor="start", bold=True, overline=s.active == "low")
    place = fitted(surface, s.place, room, 12, bold=False)
    surface.text(8, top + second, place, "muted", 12, anchor="start", bold=False, overline=False)
    if style.letters:
        for letter, high, bold in (("N", style.good_high, False), ("S", style.suspect_high, True)):
            base = top + high + style.swing
            surface.text(style.left - 10, base, letter, "ink", 12, anchor="end", bold=bold, overline=False)


def _paint_trace(
    surface: Surface, plan: FigurePlan, trace: DigitalTrace, high: float, colour: Colour, weight: float
) -> None:
    """One trace as a path; an unknown level runs half way between low and high."""
    view, swing = plan.view, plan.style.swing
    heights = {LOW: high + swing, HIGH: high}
    within = np.flatnonzero((trace.times_ps > view.start_ps) & (trace.times_ps < view.stop_ps))
    within = within[view.told_apart(trace.times_ps[within])]
    before = max(0, int(trace.times_ps.searchsorted(view.start_ps, side="right")) - 1)
    y = heights.get(int(trace.levels[before]), high + swing / 2)
    points = [(view.x(max(view.start_ps, trace.start_ps)), y)]
    for index in within.tolist():
        x = view.x(int(trace.times_ps[index]))
        after = heights.get(int(trace.levels[index]), high + swing / 2)
        points += [(max(points[-1][0], x - SLOPE), y), (x + SLOPE, after)]
        y = after
    points.append((max(points[-1][0], view.x(min(view.stop_ps, trace.stop_ps))), y))
    surface.polyline(points, colour, weight)


def _paint_ties(surface: Surface, plan: FigurePlan, s: SignalFinding, top: float) -> None:
    """Thin lines from each good transition to its twin: upright on time, slanted and heavier where moved."""
    view, style, ties = plan.view, plan.style, s.ties
    upper, lower = top + style.good_high + style.swing, top + style.suspect_high
    pairs: tuple[tuple[np.ndarray, np.ndarray, Colour, float], ...] = (
        (ties.good_ps, ties.suspect_on_good_ps, "muted", 0.8),
        (ties.moved_good_ps, ties.moved_suspect_on_good_ps, "warning", 1.6),
    )
    for good, suspect, colour, weight in pairs:
        shown = np.flatnonzero(view.inside(good) & view.inside(suspect))
        shown = shown[view.told_apart(good[shown])]
        for a, b in zip(good[shown].tolist(), suspect[shown].tolist(), strict=True):
            surface.line(view.x(a), upper, view.x(b), lower, colour, weight, dashed=False)


def _paint_rings(surface: Surface, plan: FigurePlan, s: SignalFinding, top: float) -> None:
    """Open rings half way, at transitions whose twin is missing."""
    view, style = plan.view, plan.style
    middle = top + (style.good_high + style.swing + style.suspect_high) / 2
    missing, extra = s.ties.missing_ps, s.ties.extra_on_good_ps
    for times in (missing[view.inside(missing)], extra[view.inside(extra)]):
        for at in times[view.told_apart(times)].tolist():
            surface.circle(view.x(at), middle, 4.5 if style.numbers else 3.5, "panel", "suspect", 1.8)


def _paint_triangles(surface: Surface, plan: FigurePlan, s: SignalFinding, top: float) -> None:
    """A triangle at each violation of a level, and the volts of the first of each kind in words."""
    view, style = plan.view, plan.style
    timemap, told, taken = TimeMap(plan.comparison.lineup), set(), -1.0
    for row in s.levels:
        at = row.start_ps
        if row.side == "suspect":
            at = int(timemap.to_good_ps(np.array([at], np.int64))[0])
        if not view.start_ps <= at < view.stop_ps:
            continue
        x, y = view.x(at), top + (style.good_high if row.side == "good" else style.suspect_high) + style.swing
        surface.polygon([(x - 6, y), (x + 6, y), (x, y - 10)], "warning", "panel", 0.8)
        if (row.side, row.kind) in told or not style.numbers:
            continue
        words = f"{row.kind} {format_volts(row.volts)}"
        width = surface.text_width(words, 12, bold=False)
        # below the trace, where they cover nothing, and inside the figure
        left = min(x, style.width - style.right - width)
        if left > taken:
            told.add((row.side, row.kind))
            taken = left + width + 8
            base = top + max(style.row - 5, style.suspect_high + style.swing + LINE_AND_LETTERS)
            surface.text(left, base, words, "warning_text", 12, anchor="start", bold=False, overline=False)
