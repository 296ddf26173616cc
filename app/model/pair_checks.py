"""The second wave of check-ups: what the line-up tells of each suspect capture's leads. Nothing here knows Qt."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from collections.abc import Callable

    import numpy as np

    from app.case.record import OpenCase
    from app.case.values import HeldCapture
    from app.model.session import Session
    from tracecore.capture import Capture, DigitalTrace, Int64
    from tracecore.compare.pair_checkup import PairLine
    from tracecore.comparison import Comparison

CYCLES_DRAWN = 14
CYCLES_COMPARED = 1 << 15
"""So many good cycles of a capture that is not shown are compared to judge its leads."""
_LOOKED_AT = 4096
Wave = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class CrossedLeads:
    """The evidence of two swapped leads: a level (0, 1, 2) a cycle of two good signals and of the leads named so.

    The waves are empty where the cycles do not line up.
    """

    signals: tuple[str, str]
    leads: tuple[str, str]
    good: tuple[Wave, Wave] = ((), ())
    suspect: tuple[Wave, Wave] = ((), ())


@dataclass(frozen=True, slots=True)
class PairCheck:
    """What is said of one suspect capture beside the shown known-good one, worst first; the picture of each swap."""

    lines: tuple[PairLine, ...] = ()
    crossed: tuple[CrossedLeads, ...] = ()

    def picture(self, line: PairLine) -> CrossedLeads | None:
        """The picture that belongs to a line."""
        return next((c for c in self.crossed if c.leads == line.swap), None)


PairKey = tuple[object, ...]


def pair_key(case: OpenCase, suspect: HeldCapture) -> PairKey | None:
    """What decides the check-up of this capture beside the shown good one; None where there is no good one."""
    good = case.good.shown_capture
    if good is None:
        return None
    sides = ((good.key, good.shown_as), (suspect.key, suspect.shown_as))
    return (*sides, case.sheet.probes, case.settings)


def next_unchecked(session: Session) -> int | None:
    """The place, the shown one being 0, of the suspect capture to check next."""
    for place, held in enumerate(session.case.suspect.shown_first):
        if pair_key(session.case, held) not in session.pairs and session.shelf.loaded(held) is not None:
            return place
    return None


def check_one(comparison: Comparison, place: int, tell: Callable[[float, str], None]) -> PairCheck:
    """Checks the shown pair (place 0) on its comparison, another suspect capture on one that is made for it alone.

    Of long captures the first part is compared for that: leads sit wrong from the start. Where it does not line up,
    the whole is.
    """
    from tracecore.compare.pair_checkup import check_pair
    from tracecore.comparison import compare

    request = comparison.request
    tell(0.0, f"looking at the leads of {request.suspect[place].name}")
    part = ""
    if place:
        pair = request.good[0], request.suspect[place]
        first = _first_part(comparison, *pair)
        found = compare(replace(request, good=first[:1], suspect=first[1:]), tell) if first else None
        if found is not None and found.lineup:
            comparison, part = found, f" Looked at: the first {group_digits(CYCLES_COMPARED)} cycles."
        else:
            comparison = compare(replace(request, good=pair[:1], suspect=pair[1:]), tell)
    lines = comparison.pair_lines
    if lines is None:
        lines = check_pair(comparison)
    crossed = tuple(crossed_leads(comparison, line) for line in lines if line.swap is not None)
    if part:
        lines = tuple(replace(line, text=line.text + part) if line.topic == "leads" else line for line in lines)
    return PairCheck(lines, crossed)


def _first_part(comparison: Comparison, good: Capture, suspect: Capture) -> tuple[Capture, Capture] | None:
    """Both captures as far as the first cycles go; None where they are not much longer, or cannot be told."""
    edges = comparison.lineup.good_edges_ps
    if len(edges) <= 2 * CYCLES_COMPARED or comparison.request.offset is not None:
        return None
    length_ps = int(edges[CYCLES_COMPARED]) - good.start_ps
    return shortened(good, length_ps), shortened(suspect, length_ps + length_ps // 8)


def shortened(capture: Capture, length_ps: int) -> Capture:
    """The first ``length_ps`` of a capture; the whole where it is no longer."""
    from tracecore.capture import AnalogTrace, DigitalTrace

    stop = capture.start_ps + length_ps
    if stop >= capture.stop_ps:
        return capture
    digital = {}
    for name, trace in capture.digital.items():
        count = max(1, int(trace.times_ps.searchsorted(stop)))
        end = max(int(trace.times_ps[count - 1]), min(trace.stop_ps, stop))
        digital[name] = DigitalTrace(trace.times_ps[:count], trace.levels[:count], end)
    analog = {
        name: AnalogTrace(
            trace.start_ps, trace.interval_ps, trace.volts[: max(1, int((stop - trace.start_ps) / trace.interval_ps))]
        )
        for name, trace in capture.analog.items()
    }
    return replace(capture, digital=digital, analog=analog)


def crossed_leads(comparison: Comparison, line: PairLine) -> CrossedLeads:
    """The stretch of the line-up in which the two good signals differ most, on both sides."""
    assert line.swap is not None
    a, b = line.signals[:2]
    bare = CrossedLeads((a, b), line.swap)
    runs, edges = comparison.lineup.runs, comparison.lineup.good_edges_ps
    traces = [(comparison.signal(s).good_trace, comparison.signal(s).suspect_trace) for s in (a, b)]
    if not runs or any(trace is None for pair in traces for trace in pair):
        return bare
    run = max(runs, key=lambda r: r.length)
    length = min(run.length, _LOOKED_AT)
    good = [_states(pair[0], edges, run.good_start, length) for pair in traces]
    import numpy as np

    apart = np.concatenate(([0], np.cumsum(good[0] != good[1])))
    last = max(1, len(apart) - CYCLES_DRAWN)
    first = int(np.argmax(apart[CYCLES_DRAWN : CYCLES_DRAWN + last] - apart[:last])) if length > CYCLES_DRAWN else 0
    suspect = [
        _states(pair[1], comparison.lineup.suspect_edges_ps, run.suspect_start + first, CYCLES_DRAWN) for pair in traces
    ]
    return replace(
        bare,
        good=(_wave(good[0][first : first + CYCLES_DRAWN]), _wave(good[1][first : first + CYCLES_DRAWN])),
        suspect=(_wave(suspect[0]), _wave(suspect[1])),
    )


def _states(trace: DigitalTrace | None, edges_ps: Int64, first: int, count: int) -> np.ndarray:
    """Levels just before the edge that ends each cycle, where a signal has settled."""
    assert trace is not None
    ends = edges_ps[first + 1 : first + 1 + count]
    return trace.level_at(ends - 1)


def _wave(levels: np.ndarray) -> Wave:
    return tuple(int(level) for level in levels)
