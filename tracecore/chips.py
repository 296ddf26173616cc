"""The chips of a pin list on both sides of a comparison."""

from __future__ import annotations

from dataclasses import dataclass

from tracecore.circuit.parts.board_chips import BoardChip, board_chips, chip_on_board
from tracecore.circuit.parts.obedience import Obedience
from tracecore.circuit.pin_list import PinList
from tracecore.comparison import Comparison


@dataclass(frozen=True, slots=True)
class ChipOnBothSides:
    """One chip. ``good`` and ``suspect`` are None where no output was captured there.

    ``since_cycle`` is the cycle, counted on the suspect capture's own clock and carried over to good cycles by the
    line-up's first offset, in which the suspect's first wrong state begins.
    """

    chip: BoardChip
    good: Obedience | None
    suspect: Obedience | None
    since_cycle: int | None


def chips_on_both_sides(comparison: Comparison, pins: PinList) -> tuple[ChipOnBothSides, ...]:
    """Each chip with an output captured on either side, those that disobey on suspect alone first."""
    sides = comparison.request.good[0], comparison.request.suspect[0]
    good = {s.signal: s.good_trace for s in comparison.signals if s.good_trace is not None}
    suspect = {s.signal: s.suspect_trace for s in comparison.signals if s.suspect_trace is not None}
    out = []
    for chip in board_chips(pins):
        here = chip_on_board(chip, good, sides[0].resolution_ps)
        there = chip_on_board(chip, suspect, sides[1].resolution_ps)
        if here is not None or there is not None:
            since = None if there is None else _cycle(comparison, there.first_wrong_ps)
            out.append(ChipOnBothSides(chip, here, there, since))
    return tuple(sorted(out, key=lambda c: _rank(c.good, c.suspect)))


def _rank(good: Obedience | None, suspect: Obedience | None) -> int:
    wrong = suspect is not None and suspect.verdict == "disobeys"
    both = wrong and good is not None and good.verdict == "disobeys"
    return 1 if both else 0 if wrong else 2


def _cycle(comparison: Comparison, time_ps: int | None) -> int | None:
    if time_ps is None or not comparison.lineup:
        return None
    cycle = int(comparison.lineup.suspect_edges_ps.searchsorted(time_ps, side="right")) - 1
    return max(0, cycle - comparison.lineup.offset_cycles)
