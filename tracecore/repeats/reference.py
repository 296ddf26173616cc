"""The known-good side made ready: one capture that all others are compared with, and what the others teach.

The first known-good capture is that reference. Where it stands alone against all the others it may be no good one, and
another takes its place: what a suspect shows is then what the good ones say that agree with one another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tracecore.capture import Capture
from tracecore.compare.capture_signals import CaptureSignals
from tracecore.compare.counting import clock_on_one_side
from tracecore.compare.pair import LinedUp, line_up_pair
from tracecore.compare.request import CompareRequest, Progress
from tracecore.notices import Notice, notice
from tracecore.repeats.odd_captures import OddCapture, replaced_sentence, stand_in
from tracecore.repeats.other_captures import Reference, Varies, learnt


@dataclass(frozen=True, slots=True, eq=False)
class Ready:
    """A reference, the shown suspect lined up with it, and what the other good captures teach."""

    reference: Reference
    lined: LinedUp
    varies: Varies
    told: tuple[Notice, ...]


def made_ready(
    request: CompareRequest,
    goods: Sequence[CaptureSignals],
    suspect: CaptureSignals,
    clock: str,
    tell: Progress,
    known_odd: OddCapture | None = None,
) -> Ready:
    """All that is to be known before anything is compared; the first of ``goods`` is the reference."""
    lined = line_up_pair(goods[0], suspect, clock, request, request.offset)
    if why := clock_on_one_side(clock, goods[0], suspect):
        lined = lined.doubted(why)
    reference = Reference(request, goods[0], clock, lined.lineup.good_edges_ps)
    told: list[Notice] = []
    # what varies is learnt first: the other way round the shown pair would take its memory beside
    varies = learnt(reference, goods[1:], told, tell, known_odd) if lined.lineup else Varies()
    return Ready(reference, lined, varies, tuple(told))


def in_place_of_odd(
    ready: Ready, goods: Sequence[CaptureSignals], suspect: CaptureSignals, tell: Progress
) -> tuple[Ready, list[CaptureSignals]] | None:
    """The same with another known-good capture as the reference, where this one stands alone against all the others,
    and the captures in that order, the odd one last; None where it is sound, or where no other may take its place."""
    varies = ready.varies
    odd = varies.tolerance.odd if varies.tolerance is not None else ()
    number = stand_in(odd, len(varies.taught))
    if number is None:
        return None
    place, off = varies.taught[number]
    order = [goods[place], *(own for i, own in enumerate(goods) if i not in (0, place)), goods[0]]
    request = ready.reference.request
    request = replace(
        request,
        good=tuple(own.capture for own in order),
        offset=None if request.offset is None else request.offset - off,
    )
    known = next(own for own in odd if own.number == 0)
    other = made_ready(request, order, suspect, ready.reference.clock, tell, known)
    tolerance = other.varies.tolerance
    if not other.lined.lineup or tolerance is None or any(own.number == 0 for own in tolerance.odd):
        return None
    text = replaced_sentence(order[0].capture.name, known)
    told = (*other.told, notice("reference_replaced", text, signals=known.signals))
    return replace(other, told=told), order


def in_order_of(asked: Sequence[Capture], goods: Sequence[CaptureSignals]) -> tuple[Capture, ...]:
    """The captures ``asked`` for in the order of ``goods``; those whose bytes are there already stay behind."""
    first = [own.capture for own in goods]
    return (*first, *(c for c in asked if not any(c is own for own in first)))
