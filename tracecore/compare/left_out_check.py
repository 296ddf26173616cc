"""Does a condition leave out alike on both sides? A fault in the condition's own signals, or in what moves only in the
cycles that are left out, is seen in no cycle that is compared; only figures can tell of it.

Cycles that are left out come in stretches (refresh, waits), and at other places on either side, so they are counted and
not compared one by one: how many they are, how often a signal moves in them, and when in its cycle it does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tracecore.capture import UNKNOWN, DigitalTrace, Int64, UInt8
from tracecore.lineup.coverage import Span
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.runs import runs_table, values_of_runs
from tracecore.lineup.state_words import Bools
from tracecore.measure.clock import known_transitions
from tracecore.notices import Notice, notice
from tracecore.quantities import group_digits

ALIKE_SHARE, ALIKE_STRETCHES = 0.1, 2
"""Two sound machines may leave out a tenth more or fewer, or two stretches, whichever is more: a stretch at either end
may fall outside, and refresh runs on its own."""
_MOST_ASTRAY = 0.005
_FEWEST = 2

What = Literal["cycles", "moves", "phase", "counted"]


@dataclass(frozen=True, slots=True)
class LeftOutFigure:
    """What is unlike in the cycles that are left out: how many they are (``signal`` is empty then), how often a signal
    moves, or how many of its transitions come at another moment of their cycle. "counted": it moves nowhere else, and
    alike as far as figures tell. ``good`` and ``suspect`` are counts."""

    what: What
    good: int
    suspect: int
    signal: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class LeftOutSide:
    """One side, where the other goes on as well: ``left`` bool[N] marks what is left out of its cycles, ``edges_ps``
    int64[N + 1] bound them; ``span`` are the first (closed) and last (open) of them."""

    left: Bools
    edges_ps: Int64
    span: Span

    @property
    def count(self) -> int:
        """How many cycles of the span are left out."""
        return int(np.count_nonzero(self.left[slice(*self.span)]))

    @property
    def stretches(self) -> int:
        """In how many stretches they lie."""
        own = self.left[slice(*self.span)]
        return int(np.count_nonzero(own[1:] & ~own[:-1])) + int(own[:1].any())

    def moves(self, trace: DigitalTrace) -> tuple[Int64, UInt8]:
        """When in its cycle each transition within the span comes, picoseconds, and the level it leads to."""
        times, levels, cycle = self._transitions(trace)
        return times - self.edges_ps[cycle], levels

    def judged_moves(self, trace: DigitalTrace) -> int:
        """How many transitions lie in cycles that are kept, those not counted that undo what was left out before."""
        _, _, cycle = self._transitions(trace)
        return int(np.count_nonzero(~self.left[cycle] & ~self.left[np.maximum(cycle - 1, 0)]))

    def _transitions(self, trace: DigitalTrace) -> tuple[Int64, UInt8, Int64]:
        known = known_transitions(trace)
        first, last = self.edges_ps[list(self.span)]
        inside = slice(*known.times_ps[1:].searchsorted((first, last), "left") + 1)
        times = known.times_ps[inside]
        return times, known.levels[inside], self.edges_ps.searchsorted(times, "right") - 1


def left_out_figures(
    lineup: Lineup,
    left: tuple[Bools, Bools],
    names: Sequence[str],
    states: tuple[UInt8, UInt8],
    traces: tuple[Mapping[str, DigitalTrace], Mapping[str, DigitalTrace]],
    tolerance_ps: int,
) -> tuple[LeftOutFigure, ...]:
    """What is unlike, and of each signal that moves in the cycles left out alone that it does."""
    table = runs_table(lineup.runs)
    if not len(table):
        return ()
    # behind the last matched cycle too: a line that stands still from there on may leave out all that follows
    first, last = table[0, :2], table[-1, :2] + table[-1, 2]
    head, tail = int(first.min()), min(len(own) - int(stop) for own, stop in zip(left, last, strict=True))
    good, suspect = (
        LeftOutSide(left[i], edges, (int(first[i]) - head, int(last[i]) + tail))
        for i, edges in enumerate((lineup.good_edges_ps, lineup.suspect_edges_ps))
    )
    found = []
    lasts = (good.count + suspect.count) / max(1, good.stretches + suspect.stretches)
    # the spans differ by what is left out: all else is matched, or told as a slip
    if _apart(good.count, suspect.count, ALIKE_STRETCHES * lasts):
        found.append(LeftOutFigure("cycles", good.count, suspect.count))
    for i, signal in enumerate(names):
        shown = [values_of_runs(side[i], table[:, k], table[:, 2]) for k, side in enumerate(states)]
        if all(_one_level(own) for own in shown):
            own = _signal_figure(signal, good, suspect, (traces[0][signal], traces[1][signal]), tolerance_ps)
            found += [] if own is None else [own]
    return tuple(found)


def left_out_notices(found: Sequence[LeftOutFigure]) -> Iterator[Notice]:
    """One for each kind of figure, the signals in a row."""
    for own in found:
        counts = f"{group_digits(own.good)} on the known-good side, {group_digits(own.suspect)} on the suspect side"
        if own.what == "cycles":
            text = f"The condition leaves out unlike numbers of cycles: {counts}. A fault may be left out with them."
            yield notice("left_out_unlike", text)
        elif own.what == "counted":
            text = f"{own.signal} moves only in cycles that are left out, where its transitions are counted: {counts}."
            yield notice("left_out_signal", text, signals=(own.signal,))
        elif own.what == "moves":
            text = f"{own.signal} moves only in cycles that are left out, and not alike: {counts}."
            yield notice("left_out_unlike", text, signals=(own.signal,))
        else:
            text = (
                f"{own.signal} moves only in cycles that are left out, and {group_digits(own.suspect)} of its "
                "transitions come at another moment of the cycle than on the known-good side."
            )
            yield notice("left_out_unlike", text, signals=(own.signal,))


def _apart(good: int, suspect: int, least: float) -> bool:
    return abs(good - suspect) > max(least, ALIKE_SHARE * max(good, suspect))


def _one_level(states: UInt8) -> bool:
    known = states[states != UNKNOWN]
    return not len(known) or bool(known.min() == known.max())


def _signal_figure(
    signal: str,
    good: LeftOutSide,
    suspect: LeftOutSide,
    traces: tuple[DigitalTrace, DigitalTrace],
    tolerance_ps: int,
) -> LeftOutFigure | None:
    """How a signal that is still in all that is compared moves elsewhere; None where it does not."""
    own, other = good.moves(traces[0]), suspect.moves(traces[1])
    if max(len(own[0]), len(other[0])) < _FEWEST or good.judged_moves(traces[0]) >= _FEWEST:
        return None
    # a stretch has two ends
    if _apart(len(own[0]), len(other[0]), 2 * ALIKE_STRETCHES):
        return LeftOutFigure("moves", len(own[0]), len(other[0]), signal)
    cycle = int(np.median(np.diff(good.edges_ps)))
    astray = 0
    for level in (0, 1):
        here, there = own[0][own[1] == level], other[0][other[1] == level]
        if len(here) and len(there):
            middle = int(np.median(here))
            # a cycle has no end: what comes just before an edge is near what comes just behind it
            usual, seen = ((side - middle + cycle // 2) % cycle - cycle // 2 for side in (here, there))
            astray += int(np.count_nonzero((seen < usual.min() - tolerance_ps) | (seen > usual.max() + tolerance_ps)))
    if astray > max(1, _MOST_ASTRAY * len(other[0])):
        return LeftOutFigure("phase", 0, astray, signal)
    return LeftOutFigure("counted", len(own[0]), len(other[0]), signal)
