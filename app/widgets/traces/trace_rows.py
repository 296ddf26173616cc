"""What the paired traces draw, made ready once for each comparison. Nothing here imports Qt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from app.widgets.traces.limit_tags import LimitTags, limit_tags
from tracecore.capture import DigitalTrace, Int64
from tracecore.compare.findings import LevelViolation, SignalFinding
from tracecore.lineup.lineup import TimeMap
from tracecore.pixel_columns import SpanColumns, TraceColumns, column_edges_ps

if TYPE_CHECKING:
    from tracecore.comparison import Comparison


@dataclass(frozen=True, slots=True)
class View:
    """The visible time: ``t0_ps`` at the left edge of pixel 0, whole picoseconds a pixel, ``width`` pixels."""

    t0_ps: int = 0
    ps_per_px: int = 1
    width: int = 1

    @property
    def stop_ps(self) -> int:
        """Time at the right edge."""
        return self.t0_ps + self.ps_per_px * self.width

    def edges_ps(self) -> Int64:
        """The edges of all pixel columns: int64[width + 1]."""
        return column_edges_ps(self.t0_ps, self.ps_per_px, self.width)

    def x(self, times_ps: Int64) -> np.ndarray:
        """Pixels of times, held a little outside the view where they are far away: float64[N]."""
        return np.clip((times_ps - self.t0_ps) / self.ps_per_px, -20.0, self.width + 20.0)

    def x_of(self, time_ps: int) -> float:
        """Pixel of one time, not held."""
        return (time_ps - self.t0_ps) / self.ps_per_px

    def time_at(self, x: float) -> int:
        """Time of a pixel."""
        return self.t0_ps + round(x * self.ps_per_px)

    def visible(self, times_ps: Int64) -> slice:
        """The sorted times that lie in the view."""
        if not len(times_ps):
            return slice(0, 0)
        first, stop = times_ps.searchsorted(np.array((self.t0_ps, self.stop_ps), np.int64)).tolist()
        return slice(first, stop)

    def moved(self, t0_ps: int) -> View:
        """The same view from another time on."""
        return replace(self, t0_ps=t0_ps)


@dataclass(frozen=True, slots=True, eq=False)
class TraceRow:
    """One signal: both traces on the good time axis and where they differ; ``levels_ps`` are its violations there, in
    order; ``limits`` where it leaves its receiving part too little time."""

    finding: SignalFinding
    good: TraceColumns | None
    suspect: TraceColumns | None
    differing: SpanColumns
    suspect_words: str
    levels_ps: Int64
    levels: tuple[LevelViolation, ...]
    limits: LimitTags


@dataclass(frozen=True, slots=True, eq=False)
class WordRow:
    """One bus, ``bits`` from the least significant on; None where a bit was not captured."""

    bus: str
    name: str
    bits: tuple[SignalFinding | None, ...]

    @property
    def short_name(self) -> str:
        """The name for a narrow place: what both ends begin with is said once.

        >>> WordRow("A", "ADDR02–ADDR00", ()).short_name
        'ADDR02–00'
        """
        high, low = self.name.rsplit("–", 1)
        shared = high.rstrip("0123456789")
        return f"{high}–{low.removeprefix(shared)}"


def trace_rows(comparison: Comparison) -> tuple[TraceRow, ...]:
    """A row for each signal, in the comparison's order."""
    # the map copies the edges: it is made only where volts or limits need it
    if any(f.limits is not None or any(v.side == "suspect" for v in f.levels) for f in comparison.signals):
        to_good: Callable[[Int64], Int64] = TimeMap(comparison.lineup).to_good_ps
    else:
        to_good = _as_it_is
    return tuple(_trace_row(finding, to_good) for finding in comparison.signals)


def _as_it_is(times_ps: Int64) -> Int64:
    return times_ps


def _trace_row(finding: SignalFinding, to_good: Callable[[Int64], Int64]) -> TraceRow:
    on_good = finding.suspect_on_good
    words = "not captured" if finding.suspect_trace is None else "not lined up"
    rows = sorted(finding.levels, key=lambda v: v.start_ps)
    at: list[tuple[int, LevelViolation]] = []
    for side in ("good", "suspect"):
        own = [v for v in rows if v.side == side]
        times = np.array([v.start_ps for v in own], np.int64)
        carried = times if side == "good" else to_good(times)
        at += list(zip(carried.tolist(), own, strict=True))
    at.sort(key=lambda pair: pair[0])
    return TraceRow(
        finding,
        _columns(finding.good_trace),
        _columns(on_good),
        SpanColumns(finding.difference_on_good_ps),
        words,
        np.array([t for t, _ in at], np.int64),
        tuple(v for _, v in at),
        limit_tags(finding, to_good),
    )


def _columns(trace: DigitalTrace | None) -> TraceColumns | None:
    return TraceColumns(trace.times_ps, trace.levels, trace.stop_ps) if trace is not None else None


def word_rows(comparison: Comparison) -> tuple[WordRow, ...]:
    """A row for each bus of two bits and more, in the order in which their signals come."""
    buses: dict[str, dict[int, SignalFinding]] = {}
    for finding in comparison.signals:
        if finding.bus and finding.bit is not None:
            buses.setdefault(finding.bus, {})[finding.bit] = finding
    rows = []
    for bus, by_bit in buses.items():
        if len(by_bit) < 2:
            continue
        low, high = min(by_bit), max(by_bit)
        bits = tuple(by_bit.get(bit) for bit in range(low, high + 1))
        rows.append(WordRow(bus, f"{by_bit[high].signal}–{by_bit[low].signal}", bits))
    return tuple(rows)
