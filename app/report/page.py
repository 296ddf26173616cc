"""The report as one HTML page that needs nothing besides itself, to read on a screen or to print."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.messages import (
    VERDICT_MARKS,
    capture_line,
    lineup_sentence,
    outcome_sentence,
    pin_text,
    skew_text,
)
from app.report.cautions import CAUTIONS, DEFER
from app.report.figure import figure_svg
from tracecore.quantities import format_time, format_volts, group_digits

if TYPE_CHECKING:
    from tracecore.compare.findings import Cause
    from tracecore.comparison import Comparison

MOST_LEVEL_ROWS = 40
"""Level violations shown for each signal; all of them stand in the JSON."""


@dataclass(frozen=True, slots=True)
class CauseSection:
    """A likely cause with its figure (SVG text, empty where there is none) and what a reader of it hears."""

    cause: Cause
    place: str
    active: str
    figure: str


@dataclass(frozen=True, slots=True)
class LevelRow:
    """One level violation in words."""

    signal: str
    kind: str
    side: str
    at: str
    lasting: str
    volts: str
    limit: str
    cycle: str


def report_html(comparison: Comparison, *, printed: str = "") -> str:
    """The whole page. ``printed`` is a date to show at its foot, or empty."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    environment = Environment(
        loader=PackageLoader("app.report", ""),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters.update(time=_time, count=group_digits, skew=skew_text, pin=pin_text, markup=Markup)
    levels, left_out = _level_rows(comparison)
    diverging = sum(s.verdict == "diverges" for s in comparison.signals)
    return environment.get_template("report.html").render(
        comparison=comparison,
        lineup=comparison.lineup,
        outcome=outcome_sentence(diverging, len(comparison.signals), bool(comparison.lineup)),
        lineup_sentence=lineup_sentence(comparison.lineup),
        marks=VERDICT_MARKS,
        captures=[
            (side, capture, capture_line(capture))
            for side, captures in (("Known-good", comparison.request.good), ("Suspect", comparison.request.suspect))
            for capture in captures
        ],
        limits=_limits(comparison),
        causes=_causes(comparison),
        levels=levels,
        levels_left_out=left_out,
        not_compared=not_compared(comparison),
        cautions=CAUTIONS,
        defer=DEFER,
        printed=printed,
    )


def not_compared(comparison: Comparison) -> tuple[tuple[str, str], ...]:
    """Signals that were not compared, each with why."""
    out = []
    for s in comparison.signals:
        if s.verdict == "missing":
            side = "known-good" if s.good_trace is None else "suspect"
            out.append((s.signal, f"the {side} capture does not have it"))
        elif s.verdict == "undecided" and not comparison.lineup:
            out.append((s.signal, "the two sides could not be lined up"))
        elif s.verdict == "undecided":
            out.append((s.signal, "no state could be read outside the guard band of the active edge"))
        elif s.undecided_cycles:
            out.append(
                (s.signal, f"{group_digits(s.undecided_cycles)} cycles: it moves within the guard band of the edge")
            )
    return tuple(out)


def _time(time_ps: int) -> str:
    return format_time(time_ps, digits=7)


def _causes(comparison: Comparison) -> list[CauseSection]:
    sections = []
    for cause in comparison.causes:
        s = comparison.signal(cause.signal)
        figure = figure_svg(comparison, cause.signal, name=f"cause-{cause.rank}")
        sections.append(CauseSection(cause, s.place, s.active, figure))
    return sections


def _limits(comparison: Comparison) -> list[str]:
    """The thresholds that volts were read by, each with its source."""
    from tracecore.measure.families import family

    volts = [s for s in comparison.signals if s.good_volts is not None or s.suspect_volts is not None]
    names = dict.fromkeys(family(s.family or comparison.request.family).name for s in volts)
    lines = []
    for name in names:
        kind = family(name)
        note = "" if kind.status == "seen" else " (figures from memory: check them)"
        lines.append(
            f"Family {name}: low up to {format_volts(kind.vil_v)}, high from {format_volts(kind.vih_v)}; "
            f"source {kind.source}{note}"
        )
    return lines


def _level_rows(comparison: Comparison) -> tuple[list[LevelRow], int]:
    rows, left_out = [], 0
    for s in comparison.signals:
        # the suspect's come first: they are what the table is read for
        ordered = sorted(s.levels, key=lambda v: (v.side == "good", v.start_ps))
        left_out += max(0, len(ordered) - MOST_LEVEL_ROWS)
        for v in ordered[:MOST_LEVEL_ROWS]:
            rows.append(
                LevelRow(
                    s.signal,
                    v.kind,
                    v.side,
                    _time(v.start_ps),
                    format_time(v.stop_ps - v.start_ps),
                    format_volts(v.volts),
                    format_volts(v.limit_v),
                    "–" if v.cycle is None else group_digits(v.cycle),
                )
            )
    return rows, left_out
