"""One chip as the Backplane page shows it: its legs, the answer in sentences, the input states seen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from app.report.chip_words import chip_words
from app.report.part_words import (
    answer,
    leg_side_words,
    leg_words,
    other_output_words,
    replacement_words,
    sentences,
    settling_words,
    what_it_does,
)
from tracecore.circuit.parts.board_chips import chip_pins
from tracecore.circuit.parts.clip_pair import LegPair
from tracecore.circuit.parts.donor import Donor
from tracecore.circuit.parts.obedience import Obedience, SeenGroup, SeenState
from tracecore.circuit.parts.replacements import replacements
from tracecore.lineup.runs import suspect_cycle_of

if TYPE_CHECKING:
    from tracecore.compare.chips import ChipOnBothSides
    from tracecore.comparison import Comparison

MOST_STATES = 200
MOST_TRACED = 3


@dataclass(frozen=True, slots=True)
class LegView:
    """One leg. Levels are 0, 1, or 2 where not known, at the cursor's cycle. ``words`` set it beside the good board's;
    ``good_words`` and ``suspect_words`` say how it moves there."""

    number: int
    name: str
    net: str
    good_level: int
    suspect_level: int
    disobeys: bool
    may_be_open: bool
    words: str = ""
    good_words: str = ""
    suspect_words: str = ""

    @property
    def active_low(self) -> bool:
        """Does the name say that it acts low?"""
        return self.name.endswith("_n")

    @property
    def plain_name(self) -> str:
        """The name without that sign; it is drawn as an overbar."""
        return self.name.removesuffix("_n")


@dataclass(frozen=True, slots=True)
class StateRow:
    """One input state that was seen: levels, what should be low and what is, and how often."""

    group: SeenGroup
    state: SeenState
    inputs: str
    should: str
    does: str
    times: int
    wrong: int


@dataclass(frozen=True, slots=True)
class ChipView:
    """All of the chip view."""

    name: str
    number: str
    part_title: str
    cycle: int
    legs: tuple[LegView, ...]
    does: str
    good: str
    suspect: str
    told: tuple[str, ...]
    states: tuple[StateRow, ...]
    inputs: tuple[str, ...]
    summary: str
    settling: str
    replacements: tuple[tuple[str, str], ...]

    @property
    def traced(self) -> tuple[str, ...]:
        """Nets whose traces say most: inputs that may be open, then disobeying outputs, those that differ now first."""
        open_first = [leg.net for leg in self.legs if leg.may_be_open and leg.net]
        disobey = sorted(
            (leg for leg in self.legs if leg.disobeys), key=lambda leg: leg.good_level == leg.suspect_level
        )
        wrong = [leg.net for leg in disobey if leg.net]
        return tuple(dict.fromkeys((*open_first, *wrong)))[:MOST_TRACED]


def chip_view(
    comparison: Comparison, found: ChipOnBothSides, cycle: int | None, donors: tuple[Donor, ...] = ()
) -> ChipView:
    """What the page shows of a chip, at a good cycle (None: where its first wrong state begins)."""
    chip, suspect = found.chip, found.suspect
    wrong = {c.leg for c in suspect.outputs if c.wrong} if suspect is not None else set()
    opened = {
        e.legs[0]
        for e in (suspect.explanations if suspect is not None else ())
        if e.kind == "dead input" and e.level == 1
    }
    at = cycle if cycle is not None else found.since_cycle or 0
    good_levels, suspect_levels = _levels(comparison, found, at)
    beside = {own.leg: own for own in found.legs}
    legs = tuple(
        LegView(
            number, name, chip.nets.get(number, ""), good_levels.get(name, 2), suspect_levels.get(name, 2),
            number in wrong, number in opened, *_beside(beside.get(number)),
        )
        for number, name in sorted(chip.part.pins.items())
    )  # fmt: skip
    whole = chip_words(found)
    may = replacements(chip.part, chip.number, donors)
    told = sentences(suspect) if suspect is not None else ()
    others = [other_output_words(own) for own in found.others]
    return ChipView(
        chip.name,
        chip.number,
        chip.part.title,
        at,
        legs,
        what_it_does(chip.part),
        answer(found.good) if found.good is not None else "No output of it was captured on the good side.",
        answer(suspect) if suspect is not None else "No output of it was captured on the suspect side.",
        (whole, *(s for s in told if s not in whole), *others),
        _states(suspect),
        _inputs(suspect),
        _summary(suspect),
        settling_words(suspect) if suspect is not None else "",
        tuple((r.number, replacement_words(chip.number, r)) for r in may),
    )


def _beside(own: LegPair | None) -> tuple[str, str, str]:
    """A leg's words beside the good board's, and how it moves on both."""
    if own is None:
        return "", "", ""
    return (
        leg_words(own),
        leg_side_words(own.good_moves, own.good_high),
        leg_side_words(own.suspect_moves, own.suspect_high),
    )


def _inputs(found: Obedience | None) -> tuple[str, ...]:
    """The inputs whose levels stand in each row, where all outputs hang on the same ones."""
    groups = {group.inputs for group in found.groups} if found is not None else set()
    return next(iter(groups)) if len(groups) == 1 else ()


def _levels(comparison: Comparison, found: ChipOnBothSides, at: int) -> tuple[dict[str, int], dict[str, int]]:
    """Levels at the legs in the middle of a good cycle, and at the suspect's matching one."""
    lineup = comparison.lineup
    out: list[dict[str, int]] = []
    there = suspect_cycle_of(lineup.runs, at) if lineup else -1
    for side, edges, index in (
        ("good_trace", lineup.good_edges_ps, at),
        ("suspect_trace", lineup.suspect_edges_ps, there),
    ):
        traces = {s.signal: t for s in comparison.signals if (t := getattr(s, side)) is not None}
        pins = chip_pins(found.chip, traces, 1)
        if pins is None or not 0 <= index < len(edges) - 1:
            out.append({})
            continue
        # where a register would read it: just before the next edge
        time = np.array([int(edges[index + 1]) - 1], np.int64)
        out.append({name: int(pins.levels(name, time)[0]) for name in found.chip.part.signals.values()})
    return out[0], out[1]


def _states(found: Obedience | None) -> tuple[StateRow, ...]:
    """Those that are wrong first, then the most frequent."""
    if found is None:
        return ()
    alone = bool(_inputs(found))
    rows = [_row(group, state, bare=alone) for group in found.groups for state in group.states]
    return tuple(sorted(rows, key=lambda r: (not r.wrong, -r.times))[:MOST_STATES])


def _row(group: SeenGroup, state: SeenState, *, bare: bool) -> StateRow:
    """``bare`` leaves the inputs' names to the heading."""
    levels = zip(group.inputs, state.inputs, strict=True)
    inputs = "  ".join(_bit(level) if bare else f"{name} {_bit(level)}" for name, level in levels)
    return StateRow(group, state, inputs, _low(group, state.should), _low(group, state.does), state.times, state.wrong)


def _low(group: SeenGroup, levels: tuple[int, ...]) -> str:
    """The outputs with their levels; of many only those that are low."""
    if len(group.outputs) <= 4:
        return " ".join(f"{name} {_bit(level)}" for name, level in zip(group.outputs, levels, strict=True))
    low = [name for name, level in zip(group.outputs, levels, strict=True) if level == 0]
    return f"{' '.join(low)} low" if low else "none low"


def _bit(level: int) -> str:
    return "?" if level > 1 else str(level)


def _summary(found: Obedience | None) -> str:
    if found is None:
        return ""
    seen = f"{found.seen} of {found.possible}" if found.possible is not None else f"{found.seen}"
    return f"Input states seen: {seen} · {found.judged} judged"
