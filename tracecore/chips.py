"""The chips of a pin list on both sides of a comparison."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from tracecore.capture import Capture, DigitalTrace
from tracecore.circuit.parts.board_chips import BoardChip, board_chips, chip_on_board, chip_pins
from tracecore.circuit.parts.clip_pair import LegPair, OtherOutput, leg_pairs, other_outputs
from tracecore.circuit.parts.obedience import Obedience
from tracecore.circuit.pin_list import PinList
from tracecore.comparison import Comparison


@dataclass(frozen=True, slots=True)
class ChipOnBothSides:
    """One chip. ``good`` and ``suspect`` are None where no output was captured there.

    ``since_cycle`` is the cycle, counted on the suspect capture's own clock and carried over to good cycles by the
    line-up's first offset, in which the suspect's first wrong state begins. ``legs`` and ``others`` set both boards
    beside each other pin by pin; empty where a side lacks it.
    """

    chip: BoardChip
    good: Obedience | None
    suspect: Obedience | None
    since_cycle: int | None
    legs: tuple[LegPair, ...] = ()
    others: tuple[OtherOutput, ...] = ()


def chips_on_both_sides(
    comparison: Comparison, pins: PinList, tell: Callable[[float], None] = lambda share: None
) -> tuple[ChipOnBothSides, ...]:
    """Each chip with an output captured on either side, those that disobey on suspect alone first. ``tell`` hears
    which share is done, and may raise to stop."""
    sides = comparison.request.good[0], comparison.request.suspect[0]
    good = {s.signal: s.good_trace for s in comparison.signals if s.good_trace is not None}
    suspect = {s.signal: s.suspect_trace for s in comparison.signals if s.suspect_trace is not None}
    out = []
    chips = board_chips(pins)
    for done, chip in enumerate(chips):
        tell(done / len(chips))
        here = chip_on_board(chip, good, sides[0].resolution_ps)
        there = chip_on_board(chip, suspect, sides[1].resolution_ps)
        if here is not None or there is not None:
            since = None if there is None else _cycle(comparison, there.first_wrong_ps)
            out.append(ChipOnBothSides(chip, here, there, since, *_pin_by_pin(chip, good, suspect, here, there, sides)))
    return tuple(sorted(out, key=lambda c: _rank(c.good, c.suspect)))


def _pin_by_pin(
    chip: BoardChip,
    good: Mapping[str, DigitalTrace],
    suspect: Mapping[str, DigitalTrace],
    here: Obedience | None,
    there: Obedience | None,
    sides: tuple[Capture, Capture],
) -> tuple[tuple[LegPair, ...], tuple[OtherOutput, ...]]:
    if here is None or there is None:
        return (), ()
    pins = chip_pins(chip, good, sides[0].resolution_ps), chip_pins(chip, suspect, sides[1].resolution_ps)
    assert pins[0] is not None
    assert pins[1] is not None
    return leg_pairs(chip.part, pins[0], pins[1]), other_outputs(here, there)


def _rank(good: Obedience | None, suspect: Obedience | None) -> int:
    wrong = suspect is not None and suspect.verdict == "disobeys"
    both = wrong and good is not None and good.verdict == "disobeys"
    return 1 if both else 0 if wrong else 2


def _cycle(comparison: Comparison, time_ps: int | None) -> int | None:
    if time_ps is None or not comparison.lineup:
        return None
    cycle = int(comparison.lineup.suspect_edges_ps.searchsorted(time_ps, side="right")) - 1
    return max(0, cycle - comparison.lineup.offset_cycles)
