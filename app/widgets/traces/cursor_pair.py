"""Two cursors on the traces: where they stand, what lies between them, and how well that reads. No Qt here."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, log10
from typing import TYPE_CHECKING, Literal

from app.widgets.traces.trace_rows import TraceRow
from tracecore.quantities import format_rate, format_time, group_digits

if TYPE_CHECKING:
    from app.widgets.traces.time_axis import TimeAxis
    from tracecore.comparison import Comparison
    from tracecore.pixel_columns import TraceColumns

Side = Literal["good", "suspect"]
NAMES = ("A", "B")


@dataclass(frozen=True, slots=True)
class Cursor:
    """A time on the good side's clock; ``side`` and ``signal`` tell on whose transition it stands, None on nobody's."""

    at_ps: int
    side: Side | None = None
    signal: str | None = None


@dataclass(frozen=True, slots=True)
class CursorPair:
    """Cursors A and B, None where not placed; ``active`` (0 or 1) is the one that keys move."""

    a: Cursor | None = None
    b: Cursor | None = None
    active: int = 0

    @property
    def both(self) -> tuple[Cursor | None, Cursor | None]:
        """A, then B."""
        return self.a, self.b

    @property
    def times_ps(self) -> tuple[int | None, int | None]:
        """Times of A and B."""
        return tuple(c.at_ps if c is not None else None for c in self.both)  # type: ignore[return-value]

    def placed(self, which: int, cursor: Cursor | None) -> CursorPair:
        """The pair with A (0) or B (1) elsewhere, or taken away; the one that was placed becomes the active one."""
        left = replace(self, a=cursor) if which == 0 else replace(self, b=cursor)
        if cursor is not None:
            return replace(left, active=which)
        return replace(left, active=1 - which if left.both[1 - which] is not None else 0)

    def nearest(self, at_ps: int, reach_ps: float) -> int | None:
        """Which cursor stands within ``reach_ps`` of a time; the nearer one of two."""
        near = [(abs(c.at_ps - at_ps), i) for i, c in enumerate(self.both) if c is not None]
        found = min(near, default=(0, None))
        return found[1] if found[0] <= reach_ps else None


def snapped(row: TraceRow | None, at_ps: int, reach_ps: float) -> Cursor:
    """A cursor on the nearest transition of either side within ``reach_ps``, so that no steady hand is needed."""
    best = min(_around(row, at_ps), key=lambda c: abs(c.at_ps - at_ps), default=None)
    return best if best is not None and abs(best.at_ps - at_ps) <= reach_ps else Cursor(at_ps)


def _sides(row: TraceRow) -> tuple[tuple[Side, TraceColumns | None], ...]:
    return ("good", row.good), ("suspect", row.suspect)


def _around(row: TraceRow | None, at_ps: int) -> list[Cursor]:
    """The transitions before and after a time, good first."""
    found: list[Cursor] = []
    if row is None:
        return found
    for side, trace in _sides(row):
        if trace is not None:
            times = trace.transitions_ps
            i = int(times.searchsorted(at_ps))
            found += [Cursor(t, side, row.finding.signal) for t in times[max(0, i - 1) : i + 1].tolist()]
    return found


def next_transition(row: TraceRow, at_ps: int, forward: bool) -> Cursor | None:
    """The first transition of either side after a time, or the last one before it; None where there is no more."""
    found: list[Cursor] = []
    for side, trace in _sides(row):
        if trace is None:
            continue
        times = trace.transitions_ps
        i = int(times.searchsorted(at_ps, side="right")) if forward else int(times.searchsorted(at_ps)) - 1
        if 0 <= i < len(times):
            found.append(Cursor(int(times[i]), side, row.finding.signal))
    if not found:
        return None
    return min(found, key=lambda c: c.at_ps) if forward else max(found, key=lambda c: c.at_ps)


@dataclass(frozen=True, slots=True)
class Periods:
    """One sample period of each side, in picoseconds."""

    good_ps: int = 1
    suspect_ps: int = 1

    @classmethod
    def of(cls, comparison: Comparison | None) -> Periods:
        """Those of the shown pair."""
        if comparison is None:
            return cls()
        sides = (comparison.request.good, comparison.request.suspect)
        return cls(*(side[0].resolution_ps if side else 1 for side in sides))

    def own(self, cursor: Cursor) -> int:
        """How well one reading is known: to one sample period of its side."""
        return self.suspect_ps if cursor.side == "suspect" else self.good_ps


@dataclass(frozen=True, slots=True)
class Reading:
    """What lies between A and B: ``apart_ps`` is B minus A, ``reads_to_ps`` how well it is known, plus or minus."""

    apart_ps: int
    reads_to_ps: int
    cycles: float | None = None

    @property
    def frequency(self) -> str:
        """The frequency of which this is one period, with its spread; empty where it could be anything."""
        apart = abs(self.apart_ps)
        if apart <= self.reads_to_ps:
            return ""
        rate = 10**12 / apart
        return f"{format_rate(rate)} ±{format_rate(rate * self.reads_to_ps / apart, digits=2)}"

    @property
    def cycle_words(self) -> str:
        """Cycles to a hundredth; empty outside the active edges."""
        if self.cycles is None:
            return ""
        whole = round(self.cycles)
        if abs(self.cycles - whole) < 0.005:
            return f"{group_digits(whole)} cycle{'' if abs(whole) == 1 else 's'}"
        return f"{self.cycles:.2f} cycles".replace("-", "\u2212")

    @property
    def wordings(self) -> tuple[str, ...]:
        """Time, cycles, frequency and resolution, the full wording first, then shorter ones for a narrow place."""
        time = format_time(self.apart_ps, sign=True, digits=digits_for(self.apart_ps, self.reads_to_ps))
        reads_to = f"accurate to ±{format_time(self.reads_to_ps, digits=3)}"
        choices = ((time, self.cycle_words, self.frequency, reads_to), (time, self.cycle_words, reads_to))
        said = [" · ".join(part for part in parts if part) for parts in choices]
        return (*said, f"{time} ±{format_time(self.reads_to_ps, digits=3)}")


def reading(pair: CursorPair, axis: TimeAxis, periods: Periods) -> Reading | None:
    """What lies between the cursors; None until both are placed, or where they stand on each other.

    Two transitions of one capture read to one of its sample periods, those of two captures to the sum of both.
    """
    a, b = pair.both
    if a is None or b is None or a.at_ps == b.at_ps:
        return None
    sides = {c.side for c in (a, b)} - {None}
    reads_to = sum(periods.own(c) for c in (a, b)) if len(sides) == 2 else max(periods.own(c) for c in (a, b))
    places = [axis.cycle_place(c.at_ps) for c in (a, b)]
    cycles = places[1] - places[0] if places[0] is not None and places[1] is not None else None
    return Reading(b.at_ps - a.at_ps, reads_to, cycles)


def digits_for(time_ps: int, reads_to_ps: int) -> int:
    """Digits that a time needs so that its last one is no coarser than it reads to, and hardly finer.

    >>> digits_for(417_830_000, 41_667)
    5
    """
    if not time_ps or reads_to_ps <= 0:
        return 4
    return min(15, max(4, ceil(log10(abs(time_ps) / reads_to_ps))))


def cursor_words(which: int, cursor: Cursor, axis: TimeAxis, periods: Periods, *, time: bool = True) -> str:
    """``A 1 004 · 417.83 µs``: the cycle where there is one, and the time to what it reads to."""
    cycle = axis.cycle_at(cursor.at_ps)
    parts = [NAMES[which] if cycle is None else f"{NAMES[which]} {group_digits(cycle)}"]
    if time:
        parts.append(format_time(cursor.at_ps, digits=digits_for(cursor.at_ps, periods.own(cursor))))
    return " · ".join(parts)
