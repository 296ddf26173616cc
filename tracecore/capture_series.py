"""Many suspect captures against some known-good ones, one at a time: what each of them says.

The first known-good capture is the reference. The others teach what varies on a sound board, and are let go;
each suspect capture is read, compared and let go before the next is asked for, so that hours of them fit into the
memory of two.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from tracecore.capture import Capture, Int64
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.compare.capture_signals import CaptureSignals, capture_signals
from tracecore.compare.clock_faults import ClockPair
from tracecore.compare.counting import chosen_clock
from tracecore.compare.envelope import Shift
from tracecore.compare.pair import LinedUp, PairFindings, clocks_of, line_up_pair, tolerated_ps
from tracecore.compare.request import CompareRequest
from tracecore.comparison import Comparison, judge
from tracecore.errors import RequestError
from tracecore.measure.clock_quality import real_edges_ps
from tracecore.measure.cycle_count import ANY_TRANSITION, counting_edges_ps, counting_signals, quiet_ps
from tracecore.name_lists import few_names
from tracecore.notices import Notice, notice
from tracecore.repeats.departures import Departures
from tracecore.repeats.learned_variation import LearnedVariation
from tracecore.repeats.learning import learner_for, less_what_varies, teach
from tracecore.repeats.odd_captures import OddCapture, believed, replaced_sentence, stand_in
from tracecore.repeats.other_captures import Reference as OneReference
from tracecore.repeats.other_captures import Varies, counted, needs_whole_answer
from tracecore.repeats.outcome import outcome_of, outcome_without_lineup
from tracecore.repeats.table import CaptureOutcome
from tracecore.settings import CompareSettings, Edge


@dataclass(frozen=True, slots=True, eq=False)
class SeriesRequest(CompareSettings):
    """What suspect captures are compared against, and how.

    Every capture is lined up by itself: an offset set by hand would hold for one of them only, and is not used.
    """

    good: tuple[Capture, ...]
    sheet: ProbeSheet = field(default_factory=ProbeSheet)


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """The known-good side of a series, made ready once. ``notices`` say which good captures teach nothing;
    ``good_slips`` are how many slips each of the others shows against the first."""

    request: SeriesRequest
    board: CaptureSignals
    clock: str
    edges_ps: Int64
    tolerance: LearnedVariation
    notices: tuple[Notice, ...]
    good_slips: tuple[int, ...] = ()
    differ: tuple[Mapping[str, float], ...] = ()
    """The signals that each good capture besides the reference differs on, with the share of cycles."""

    @property
    def varies(self) -> Varies:
        """What varies among the good captures, as a comparison of one pair takes it."""
        learnt = self.tolerance if len(self.request.good) > 1 else None
        return Varies(learnt, self.differ, self.good_slips)


@dataclass(frozen=True, slots=True, eq=False)
class CaptureReading:
    """One suspect capture: its outcome, what is reported of each signal, and shifts in time that are systematic."""

    outcome: CaptureOutcome
    reported: dict[str, Departures]
    shifts: dict[str, tuple[Shift, ...]]


def outcomes(request: SeriesRequest, suspects: Iterable[Capture]) -> Iterator[CaptureOutcome]:
    """The outcome of each suspect capture in turn, as soon as it is there.

    ``suspects`` may be a generator that reads a file when it is asked for the next capture; no capture is kept.
    Raises RequestError as ``reference`` does. What is wrong with a suspect capture is in its outcome.
    """
    against = reference(request)
    for capture in suspects:
        yield read_against(against, capture).outcome


def reference(request: SeriesRequest) -> Reference:
    """Reads the good captures one after the other and learns what varies among them.

    Raises RequestError where there is none, or where the first of them has no clock to count cycles by.
    """
    if not request.good:
        raise RequestError("A series needs at least one known-good capture to compare with. Add one.")
    own = capture_signals(request.good[0], request.sheet, request.family, request.supply_v)
    clock = chosen_clock(request.clock, request.edge, own)
    edges = _edges_ps(own, clock, request.edge)
    signals = [s for s in own.traces if s not in (counting_signals(clock, own.traces) or ())]
    if len(edges) < 2 or not signals:
        raise RequestError(
            f"{own.capture.name}: {clock} makes {max(0, len(edges) - 1)} whole cycles and {len(signals)} other signals "
            "are there; a comparison needs some of both. Choose another clock or another known-good capture."
        )
    # a tolerance that no capture can be judged by is refused at once, and not at each of them
    tolerated_ps(request, clock, edges, 2 * own.capture.resolution_ps)
    against, taught = _learnt(request, own, clock, edges, request.good[1:])
    number = stand_in(against.tolerance.odd, len(taught) + 1)
    if number is None:
        return against
    first = taught[number - 1]
    other = capture_signals(first, request.sheet, request.family, request.supply_v)
    known = next(odd for odd in against.tolerance.odd if odd.number == 0)
    others = [*(c for c in request.good[1:] if c is not first), request.good[0]]
    instead, _ = _learnt(request, other, clock, _edges_ps(other, clock, request.edge), others, known)
    if any(odd.number == 0 for odd in instead.tolerance.odd):
        return against
    told = notice("reference_replaced", replaced_sentence(first.name, known), signals=known.signals)
    return replace(instead, notices=(*instead.notices, told))


def _learnt(
    request: SeriesRequest,
    own: CaptureSignals,
    clock: str,
    edges: Int64,
    others: Sequence[Capture],
    known_odd: OddCapture | None = None,
) -> tuple[Reference, tuple[Capture, ...]]:
    """The reference ``own`` with what the others teach, and those that taught. One that is ``known_odd`` is the last of
    them."""
    learner = learner_for(own, clock, edges)
    before = Reference(request, own, clock, edges, learner.tolerance(), ())
    notices, slips, taught = [], [], []
    differ: list[tuple[int, Mapping[str, float]]] = []
    for capture in others:
        lined, why_not = _lined_up(before, capture_signals(capture, request.sheet, request.family, request.supply_v))
        if lined is None or lined.lineup.status == "ambiguous":
            reason = why_not if lined is None else lined.lineup.reason
            text = f"{capture.name} teaches nothing of what varies among good captures: {reason}"
            notices.append(notice("teaches_nothing", text))
            continue
        wrong = teach(learner, lined, capture.name)
        taught.append(capture)
        differ.append((len(taught), wrong))
        slips.append(len(lined.lineup.slips))
    if known_odd is not None:
        known_odd = replace(known_odd, number=len(taught)) if taught and taught[-1] is others[-1] else None
    tolerance = learner.tolerance(known_odd)
    told = (*notices, *tolerance.notices)
    differs = believed(differ, tolerance.odd)
    return Reference(request, own, clock, edges, tolerance, told, tuple(slips), differs), tuple(taught)


def read_against(against: Reference, capture: Capture) -> CaptureReading:
    """One suspect capture against the reference, less what varies among the good ones."""
    try:
        other = capture_signals(capture, against.request.sheet, against.request.family, against.request.supply_v)
    except RequestError as error:
        return CaptureReading(CaptureOutcome(capture.name, reason=str(error)), {}, {})
    lined, why_not = _lined_up(against, other)
    if lined is None:
        wrong = outcome_without_lineup(against.board, other, _clocks(against, other))
        return CaptureReading(wrong or CaptureOutcome(capture.name, reason=why_not), {}, {})
    reported: dict[str, Departures] = {}
    less = less_what_varies(lined.whole(), against.tolerance, reported)
    outcome = outcome_of(less, capture.name, against.good_slips)
    if needs_whole_answer(outcome, less, against.board.in_volts | other.in_volts, against.varies):
        outcome = counted(outcome, _judged(against, other, less, outcome).outcome)
    return CaptureReading(outcome, reported, dict(less.shifts))


def _judged(against: Reference, other: CaptureSignals, pair: PairFindings, outcome: CaptureOutcome) -> Comparison:
    """The whole answer that a comparison of the pair by itself gives."""
    one = OneReference(_asked(against, other), against.board, against.clock, against.edges_ps)
    return judge(one, other, pair, [outcome], against.varies, against.notices)


def _lined_up(against: Reference, other: CaptureSignals) -> tuple[LinedUp | None, str]:
    """Both boards lined up, or why they are not."""
    clock = against.clock
    counting = counting_signals(clock, other.traces)
    if counting is None:
        return None, f"It has {few_names(other.traces)}, but not the clock {clock}."
    if not any(s in against.board.traces for s in other.traces if s not in counting):
        return None, f"It has {few_names(other.traces)}: no signal of {against.board.capture.name} but the clock."
    request = against.request
    lined = line_up_pair(against.board, other, clock, _asked(against, other), None)
    if not lined.lineup:
        return None, lined.lineup.reason
    if len(request.good) > 1 and not np.array_equal(lined.lineup.good_edges_ps, against.edges_ps):
        return None, "Without a clock its signals make other cycles than those of the first known-good capture."
    return lined, ""


def _asked(against: Reference, other: CaptureSignals) -> CompareRequest:
    """What a comparison of the two by themselves would be asked for."""
    request = against.request
    settings = replace(request.settings, clock=against.clock, offset=None)
    return CompareRequest((against.board.capture,), (other.capture,), request.sheet, **settings.named)


def _clocks(against: Reference, other: CaptureSignals) -> ClockPair | None:
    """Both clocks compared, which needs no line-up; None where none counts that both have."""
    return clocks_of(against.board, other, against.clock, _asked(against, other))


def _edges_ps(own: CaptureSignals, clock: str, edge: Edge) -> Int64:
    """The edges that count the reference's cycles, int64[K + 1]."""
    if clock in own.traces:
        return real_edges_ps(own.traces[clock], edge, own.capture.resolution_ps)
    quiet = quiet_ps(own.traces, own.capture.resolution_ps) if clock == ANY_TRANSITION else 0
    return counting_edges_ps(clock, own.traces, edge, quiet)
