"""Is this pair fit to be compared? Leads swapped, inverted or one place off, another program, too slow for skew.

It comes after the line-up, works on what the comparison holds, and never changes it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tracecore.capture import DigitalTrace, Int64
from tracecore.compare.pair_checkup.any_leads import most_cycles, offset_of_any_leads
from tracecore.compare.pair_checkup.leads import Leads, agrees_somewhere, read_leads, standing
from tracecore.compare.pair_checkup.line import WORST_FIRST, Compared, PairLine
from tracecore.compare.pair_checkup.places import lead_orders
from tracecore.compare.pair_checkup.readings import FEWER_CYCLES, MOST_CYCLES, Readings, TwoSides
from tracecore.compare.pair_checkup.sentences import (
    clock_inverted_line,
    fine_line,
    lead_lines,
    no_clock_line,
    program_line,
)
from tracecore.compare.pair_checkup.skew import clock_is_inverted, skew_lines
from tracecore.lineup.lineup import MatchedRun
from tracecore.measure.clock import ClockCandidate, active_edges_ps, clock_candidates
from tracecore.quantities import format_rate

__all__ = ["PairLine", "check_pair"]

_TRUSTED = 0.6
"""The names fit where so many of the moving signals agree; below it other explanations are tried."""

_FEWEST_CYCLES, _FEWEST_SIGNALS = 64, 4
_EVEN, _SAME_RATE, _CLOCKS_TRIED = 0.9, 0.1, 3
_ENTRIES = 1 << 17


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """One way to look at the pair: what the leads then read, what they then are, how much then agrees."""

    readings: Readings
    leads: Leads
    standing: float


def check_pair(compared: Compared) -> tuple[PairLine, ...]:
    """What is to be known of the shown pair before its differences are believed, the worst first.

    Empty where there is nothing to judge by. Only some ten thousand cycles are looked at. A lead that is off may be
    the good side's as well, which no pair can tell; the sentences say so.
    """
    traces = _both_sides(compared)
    steps = compared.request.good[0].resolution_ps, compared.request.suspect[0].resolution_ps
    lines = [*skew_lines(compared.lineup, *steps), *_lead_lines(compared, traces, steps)]
    return tuple(sorted(lines, key=lambda line: WORST_FIRST.index(line.kind)))


def _both_sides(compared: Compared) -> dict[str, tuple[DigitalTrace, DigitalTrace]]:
    return {
        f.signal: (f.good_trace, f.suspect_trace)
        for f in compared.signals
        if f.good_trace is not None and f.suspect_trace is not None
    }


def _lead_lines(
    compared: Compared, traces: Mapping[str, tuple[DigitalTrace, DigitalTrace]], steps: tuple[int, int]
) -> list[PairLine]:
    lineup, request = compared.lineup, compared.request
    if lineup.clock not in traces or len(lineup.good_edges_ps) <= _FEWEST_CYCLES:
        return []
    good_clock, clocks = _clocks(lineup.clock, traces, steps)
    named = _by_name(compared, traces, steps)
    # where another lead ticks in the clock's place, a fit by name is chance
    if named.standing >= _TRUSTED and (not clocks or lineup.clock in clocks):
        lines = lead_lines(request, named.readings, named.leads)
        if clock_is_inverted(compared):
            lines.append(clock_inverted_line(compared))
        return lines or [fine_line(named.readings)]
    if good_clock is not None and not clocks:
        return [no_clock_line(compared, format_rate(good_clock.rate_hz))]
    for clock in clocks or (lineup.clock,):
        view = _without_names(compared, traces, steps, clock)
        if view is not None and view.standing >= _TRUSTED:
            # an offset by hand that is wrong needs no explanation by leads
            return lead_lines(request, view.readings, view.leads)
    moving = int(named.readings.live_throughout().sum())
    if moving < _FEWEST_SIGNALS or named.standing > 1 / 3 or agrees_somewhere(named.readings):
        return []
    return [program_line(named.readings)]


def _by_name(
    compared: Compared, traces: Mapping[str, tuple[DigitalTrace, DigitalTrace]], steps: tuple[int, int]
) -> _View:
    """As the line-up pairs the cycles; where there is none, from the start of both captures."""
    lineup = compared.lineup
    names = [s for s in traces if s != lineup.clock]
    shortest = min(len(lineup.good_edges_ps), len(lineup.suspect_edges_ps)) - 1
    runs: Sequence[MatchedRun] = lineup.runs or (MatchedRun(0, 0, max(0, shortest)),)
    sides = _two_sides(names, traces, steps)
    most = MOST_CYCLES if lineup.runs else FEWER_CYCLES
    orders = lead_orders(compared.request)
    views = []
    for way in (runs, _straight(compared)):
        if way:
            readings = sides.read(lineup.good_edges_ps, lineup.suspect_edges_ps, way, most)
            leads = read_leads(readings, orders)
            views.append(_View(readings, leads, standing(readings, leads)))
    straight = views[-1]
    if len(views) > 1 and straight.standing >= _TRUSTED and 2 * lineup.matched_cycles < len(straight.readings.cycles):
        # what little was matched agrees since it was chosen to
        return straight
    return max(views, key=lambda view: view.standing)


def _straight(compared: Compared) -> tuple[MatchedRun, ...]:
    """All cycles at the one offset, where slips were followed: of few signals, crossed leads can look like slips."""
    lineup = compared.lineup
    if not lineup.slips or any(lineup.left_out):
        return ()
    at, good, suspect = lineup.offset_cycles, len(lineup.good_edges_ps) - 1, len(lineup.suspect_edges_ps) - 1
    low, high = max(0, -at), min(good, suspect - at)
    return (MatchedRun(low, low + at, high - low),) if high - low >= _FEWEST_CYCLES else ()


def _two_sides(
    names: Sequence[str], traces: Mapping[str, tuple[DigitalTrace, DigitalTrace]], steps: tuple[int, int]
) -> TwoSides:
    return TwoSides({s: traces[s][0] for s in names}, {s: traces[s][1] for s in names}, *steps)


def _clocks(
    clock: str, traces: Mapping[str, tuple[DigitalTrace, DigitalTrace]], steps: tuple[int, int]
) -> tuple[ClockCandidate | None, tuple[str, ...]]:
    """The good side's clock if it ticks evenly, and the leads of the suspect that tick like it, its own first."""
    good = next(iter(clock_candidates({clock: _start_of(traces[clock][0])}, steps[0])), None)
    if good is None or good.regularity < _EVEN:
        return None, ()
    for names in ((clock,), tuple(traces)):
        found = clock_candidates({s: _start_of(traces[s][1]) for s in names}, steps[1])
        like = [c.signal for c in found if c.regularity >= _EVEN and abs(c.rate_hz / good.rate_hz - 1) <= _SAME_RATE]
        if like:
            return good, tuple(like[:_CLOCKS_TRIED])
    return good, ()


def _start_of(trace: DigitalTrace) -> DigitalTrace:
    """Enough of a trace to see whether it ticks."""
    if len(trace.times_ps) <= _ENTRIES:
        return trace
    return DigitalTrace(trace.times_ps[:_ENTRIES], trace.levels[:_ENTRIES], trace.stop_ps)


def _without_names(
    compared: Compared, traces: Mapping[str, tuple[DigitalTrace, DigitalTrace]], steps: tuple[int, int], clock: str
) -> _View | None:
    """With the suspect's lead ``clock`` for its clock, and every other lead for any signal."""
    lineup = compared.lineup
    swapped = clock != lineup.clock
    names = [s for s in traces if swapped or s != lineup.clock]
    edges = lineup.good_edges_ps, active_edges_ps(traces[clock][1], lineup.edge)
    sides = _two_sides(names, traces, steps)
    at = _offset(sides, *edges)
    if at is None:
        return None
    low, high = max(0, -at), min(len(edges[0]) - 1, len(edges[1]) - 1 - at)
    readings = sides.read(*edges, (MatchedRun(low, low + at, high - low),), FEWER_CYCLES)
    leads = read_leads(readings, lead_orders(compared.request), {clock: lineup.clock} if swapped else None)
    return _View(readings, leads, standing(readings, leads))


def _offset(sides: TwoSides, good_edges_ps: Int64, suspect_edges_ps: Int64) -> int | None:
    most = most_cycles(len(sides.signals))
    good, suspect = good_edges_ps[: most + 1], suspect_edges_ps[: most + 1]
    states = sides.states(good, suspect)
    return offset_of_any_leads(*states)
