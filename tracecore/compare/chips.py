"""The chips of a pin list on both sides of a comparison."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from tracecore.capture import DigitalTrace
from tracecore.circuit.parts.board_chips import BoardChip, board_chips, chip_pins
from tracecore.circuit.parts.clip_pair import LegPair, OtherOutput, leg_pairs, other_outputs
from tracecore.circuit.parts.obedience import Obedience, check_part
from tracecore.circuit.parts.pin_traces import PinTraces
from tracecore.circuit.pin_list import PinList
from tracecore.compare.findings import SignalFinding
from tracecore.compare.request import CompareRequest
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.runs import good_cycle_of

MOST_JUDGED = 20_000
"""Transitions at a chip's legs that are judged beside the first divergence of its outputs. A memory is followed step by
step, once for each fault that is tried, and takes a second for so many."""


@dataclass(frozen=True, slots=True)
class ChipOnBothSides:
    """One chip. ``good`` and ``suspect`` are None where no output was captured there.

    ``since_cycle`` is the good cycle, by the suspect capture's own clock, in which the suspect's first wrong state
    begins. ``legs`` and ``others`` set both boards
    beside each other pin by pin; empty where a side lacks it. ``part_alone`` says that only a part of a long capture
    was judged.
    """

    chip: BoardChip
    good: Obedience | None
    suspect: Obedience | None
    since_cycle: int | None
    legs: tuple[LegPair, ...] = ()
    others: tuple[OtherOutput, ...] = ()
    part_alone: bool = False


class Compared(Protocol):
    """What of a comparison the chips are judged by."""

    @property
    def request(self) -> CompareRequest: ...
    @property
    def lineup(self) -> Lineup: ...
    @property
    def signals(self) -> tuple[SignalFinding, ...]: ...


def chips_on_both_sides(
    comparison: Compared, pins: PinList, tell: Callable[[float], None] = lambda share: None
) -> tuple[ChipOnBothSides, ...]:
    """Each chip with an output captured on either side, those that disobey on suspect alone first. ``tell`` hears
    which share is done, and may raise to stop."""
    resolutions = comparison.request.good[0].resolution_ps, comparison.request.suspect[0].resolution_ps
    out = []
    chips = board_chips(pins)
    for done, chip in enumerate(chips):
        tell(done / len(chips))
        found = _judged(chip, comparison.signals, comparison.lineup, resolutions)
        out += [found] if found is not None else []
    return tuple(sorted(out, key=lambda c: _rank(c.good, c.suspect)))


def disobeying_chips(
    signals: Sequence[SignalFinding], lineup: Lineup, resolutions_ps: tuple[int, int], pins: PinList
) -> tuple[ChipOnBothSides, ...]:
    """The chips that obey on good and disobey on suspect at an output that diverges, the earliest first.

    Of long captures ``MOST_JUDGED`` transitions beside the first divergence are judged.
    """
    diverging = {s.signal: s for s in signals if s.verdict == "diverges"}
    out = []
    for chip in board_chips(pins):
        firsts = [
            at for net in chip.nets.values() if net in diverging and (at := diverging[net].first_divergence) is not None
        ]
        if not firsts:
            continue
        at = min(firsts, key=lambda own: own.good_ps)
        found = _judged(chip, signals, lineup, resolutions_ps, (at.good_ps, at.suspect_ps))
        if found is None or _rank(found.good, found.suspect) != 0 or not _obeys(found.good):
            continue
        if any(net in diverging for net in wrong_outputs(found).values()):
            out.append(found)
    return tuple(sorted(out, key=lambda c: c.since_cycle if c.since_cycle is not None else 1 << 60))


def wrong_outputs(found: ChipOnBothSides) -> dict[int, str]:
    """The nets of the outputs that are wrong on suspect, by their legs."""
    checks = found.suspect.outputs if found.suspect is not None else ()
    return {c.leg: found.chip.nets[c.leg] for c in checks if c.wrong and c.leg in found.chip.nets}


def _judged(
    chip: BoardChip,
    signals: Sequence[SignalFinding],
    lineup: Lineup,
    resolutions_ps: tuple[int, int],
    near_ps: tuple[int, int] | None = None,
) -> ChipOnBothSides | None:
    """The chip by the traces of both sides, the whole of them or the part ``near_ps``; None where no output of it was
    captured."""
    traces: tuple[Mapping[str, DigitalTrace], Mapping[str, DigitalTrace]] = (
        {s.signal: s.good_trace for s in signals if s.good_trace is not None},
        {s.signal: s.suspect_trace for s in signals if s.suspect_trace is not None},
    )
    legs = [chip_pins(chip, own, resolution) for own, resolution in zip(traces, resolutions_ps, strict=True)]
    part_alone = False
    if near_ps is not None:
        whole, legs = legs, [own and _beside(own, at) for own, at in zip(legs, near_ps, strict=True)]
        part_alone = any(own is not all_of_it for own, all_of_it in zip(legs, whole, strict=True))
    here, there = (None if own is None else check_part(chip.part, chip.number, own) for own in legs)
    if here is None and there is None:
        return None
    since = None if there is None else _cycle(lineup, there.first_wrong_ps)
    if here is None or there is None or legs[0] is None or legs[1] is None:
        return ChipOnBothSides(chip, here, there, since)
    pairs, others = leg_pairs(chip.part, legs[0], legs[1]), other_outputs(here, there)
    return ChipOnBothSides(chip, here, there, since, pairs, others, part_alone)


def _beside(pins: PinTraces, at_ps: int) -> PinTraces:
    """So much beside an instant that about ``MOST_JUDGED`` transitions are in it, a quarter of it before."""
    total = sum(len(trace.transitions_ps) for trace in pins.traces.values())
    if total <= MOST_JUDGED:
        return pins
    length = (pins.stop_ps - pins.start_ps) * MOST_JUDGED // total
    start = min(max(pins.start_ps, at_ps - length // 4), pins.stop_ps - length)
    return pins.since(start).until(start + length)


def _obeys(found: Obedience | None) -> bool:
    return found is not None and found.verdict == "obeys"


def _rank(good: Obedience | None, suspect: Obedience | None) -> int:
    wrong = suspect is not None and suspect.verdict == "disobeys"
    both = wrong and good is not None and good.verdict == "disobeys"
    return 1 if both else 0 if wrong else 2


def _cycle(lineup: Lineup, time_ps: int | None) -> int | None:
    if time_ps is None or not lineup:
        return None
    return good_cycle_of(lineup.runs, int(lineup.suspect_edges_ps.searchsorted(time_ps, side="right")) - 1)
