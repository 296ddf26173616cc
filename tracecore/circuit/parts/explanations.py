"""Which one thing would make all of it right: each is tried, and only what leaves no wrong state counts.

Several may fit; then the capture cannot tell between them, and all are given. TTL that is joined goes low where either
side is low; an open TTL input reads high (both common practice).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import numpy as np

from tracecore.capture import HIGH, LOW, UNKNOWN, DigitalTrace
from tracecore.circuit.parts.catalogue import Part
from tracecore.circuit.parts.delays import PartTimes, part_times
from tracecore.circuit.parts.judging import Judged
from tracecore.circuit.parts.outputs import PartRun, input_names, judged_part
from tracecore.circuit.parts.pin_traces import PinTraces

Kind = Literal["stuck output", "dead input", "joined outputs", "late output", "swapped leads", "other part"]
LATE_FACTORS = (1.5, 2, 3, 5, 8)
"""So many times the settling time is tried for a late output."""
_TRIED_STATES = 4000
"""Changes of the legs in the first part of a capture, on which each idea is tried before the whole."""
_LEAST_SHARE = 0.5
"""An idea counts only where it judges at least this share of the outputs that were judged without it."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """One thing that makes every judged state right.

    ``legs`` are those concerned. ``level`` is what an output is stuck at or an input reads as. ``late_ps`` is by when
    a late output has settled. ``number`` is the other part. ``rotated`` marks a clip put on the wrong way round.
    ``since_ps`` is there where it holds only from the first wrong state on, and the chip obeyed before.
    """

    kind: Kind
    legs: tuple[int, ...] = ()
    names: tuple[str, ...] = ()
    level: int | None = None
    late_ps: int | None = None
    number: str = ""
    rotated: bool = False
    since_ps: int | None = None


def explanations(
    part: Part,
    number: str,
    pins: PinTraces,
    times: PartTimes,
    run: PartRun,
    others: tuple[tuple[Part, str], ...],
    width_ps: float | None,
) -> tuple[Explanation, ...]:
    """What makes all of it right; the plain ideas first, and wrong leads or another part only where none fits."""
    trial = _Trial(part, number, pins, times, width_ps, _outputs_judged(run))
    found = [*trial.stuck_outputs(run), *trial.dead_inputs(run), *trial.joined_outputs(run), *trial.late_outputs(run)]
    if found:
        return tuple(found)
    return (*trial.swapped_leads(), *trial.other_parts(others))


def unshown_inputs(
    part: Part, number: str, pins: PinTraces, times: PartTimes, width_ps: float | None
) -> tuple[str, ...]:
    """Inputs of an obeying chip that nothing shows to be read: none would be wrong if they stood still inside.

    Less is asked here than of an explanation: where edges may have been missed, or nothing is judged any more, nothing
    speaks against a dead input either.
    """
    trial = _Trial(part, number, pins, times, width_ps, 0)
    return tuple(name for name in trial.inputs if any(trial.may_stand_still(name, level) for level in (HIGH, LOW)))


class _Trial:
    """Tries ideas on the first part of a capture, and what holds there on the whole."""

    def __init__(
        self, part: Part, number: str, pins: PinTraces, times: PartTimes, width_ps: float | None, outputs: int
    ) -> None:
        self.part, self.number, self.pins, self.times = part, number, pins, times
        self.width_ps, self.outputs = width_ps, outputs
        self.first = _first_part(pins)
        self.inputs = tuple(name for name in input_names(part, number) if name in pins.traces)

    def right(self, pins: PinTraces, first: PinTraces, times: PartTimes | None = None) -> bool:
        """Is every judged state right with these levels, on the first part and then on the whole?"""
        return all(self._right(traces, times or self.times) for traces in dict.fromkeys((first, pins)))

    def _right(self, pins: PinTraces, times: PartTimes) -> bool:
        return _is_right(judged_part(self.part, self.number, pins, times, self.width_ps))

    def may_stand_still(self, name: str, level: int) -> bool:
        """Is nothing wrong where an input is read as standing still, on the first part and then on the whole?"""
        tied = dict.fromkeys((self.first.with_tied(name, level), self.pins.with_tied(name, level)))
        return all(
            _nothing_wrong(judged_part(self.part, self.number, traces, self.times, self.width_ps)) for traces in tied
        )

    def stuck_outputs(self, run: PartRun) -> Iterator[Explanation]:
        """An output that keeps one level in every judged state, while all others obey without it."""
        for judged in (j for g in run.groups for j in g.outputs if j.wrong.any()):
            name, held = judged.output.name, np.unique(judged.does[judged.judged | judged.doubtful])
            if len(held) != 1 or int(held[0]) == UNKNOWN or self._moves(name, int(held[0])):
                continue
            # nothing is learnt from an output that may be stuck
            if _nothing_wrong(judged_part(self.part, self.number, self.pins.without(name), self.times, self.width_ps)):
                yield Explanation("stuck output", (judged.output.leg,), (name,), level=int(held[0]))

    def _moves(self, name: str, held: int) -> bool:
        """Does an output that nobody else drives leave this level for two samples or more? Then it is not stuck."""
        driven_alone = name not in self.part.open_collector and name not in self.part.enables
        return driven_alone and self._leaves(name, held)

    def _leaves(self, name: str, held: int) -> bool:
        """Does a leg stand at the other level for two samples or more?"""
        trace = self.pins.traces[name]
        lasts = np.diff(np.append(trace.times_ps, max(self.pins.stop_ps, int(trace.times_ps[-1]))))
        other = (trace.levels != held) & (trace.levels != UNKNOWN)
        return bool((other & (lasts >= 2 * self.pins.resolution_ps)).any())

    def _accounts_for(self, run: PartRun, pins: PinTraces) -> bool:
        """Is each output that was wrong judged under this idea, or still throughout? A part whose clock is held has no
        state that could be judged; then its outputs must not move at all."""
        trial = judged_part(self.part, self.number, pins, self.times, self.width_ps)
        judged = {j.output.name for g in trial.groups for j in g.outputs if j.judged.any()}
        wrong = {j.output.name for g in run.groups for j in g.outputs if j.wrong.any()}
        return not any(self._leaves(name, LOW) and self._leaves(name, HIGH) for name in wrong - judged)

    def dead_inputs(self, run: PartRun) -> Iterator[Explanation]:
        """An input that is read as standing still, whatever its net does."""
        for name in self.inputs:
            for level in (HIGH, LOW):
                tied = self.pins.with_tied(name, level)
                if self.right(tied, self.first.with_tied(name, level)) and self._accounts_for(run, tied):
                    yield Explanation("dead input", (self.part.leg(name),), (name,), level=level)

    def joined_outputs(self, run: PartRun) -> Iterator[Explanation]:
        """Two outputs that show one level, low where either should be low, while all others obey."""
        judged = [j for g in run.groups for j in g.outputs]
        off = {j.output.name for j in judged if j.wrong.any() or j.doubtful.any()}
        for one, other in combinations([j.output for j in judged], 2):
            names = (one.name, other.name)
            if not off or not off <= set(names):
                continue
            both = judged_part(self.part, self.number, self.pins, self.times, self.width_ps, names).groups[0].outputs
            if _joined(*both):
                pair = sorted((one, other), key=lambda o: o.leg)
                yield Explanation("joined outputs", tuple(o.leg for o in pair), tuple(o.name for o in pair))

    def late_outputs(self, run: PartRun) -> Iterator[Explanation]:
        """Outputs that come right when they are given longer than the sheet's maximum."""
        wrong = sorted(
            (j.output for g in run.groups for j in g.outputs if j.wrong.any()), key=lambda output: output.leg
        )
        for factor in LATE_FACTORS:
            longer = replace(self.times, settle_ps=round(factor * self.times.settle_ps))
            late = judged_part(self.part, self.number, self.pins, longer, self.width_ps)
            enough = all(_moving_judged(late, output.name) for output in wrong)
            if enough and _is_right(late):
                yield Explanation(
                    "late output", tuple(o.leg for o in wrong), tuple(o.name for o in wrong), late_ps=longer.settle_ps
                )
                return

    def swapped_leads(self) -> Iterator[Explanation]:
        """Two leads exchanged, or the clip on the wrong way round or a leg aside."""
        captured = [name for name in self.part.signals.values() if name in self.pins.traces]
        for moved in self._clip_placed_wrong():
            if self._fits(moved):
                yield Explanation("swapped leads", names=tuple(captured), rotated=True)
                return
        found = [pair for pair in combinations(captured, 2) if self._fits({pair[0]: pair[1], pair[1]: pair[0]})]
        for one, other in found:
            legs = sorted((self.part.leg(one), self.part.leg(other)))
            yield Explanation("swapped leads", tuple(legs), tuple(self.part.pins[leg] for leg in legs))

    def other_parts(self, others: tuple[tuple[Part, str], ...]) -> Iterator[Explanation]:
        """Parts with the same supply legs that every judged state fits."""
        for other, number in others:
            renamed = {
                other.pins[leg]: name
                for leg, name in self.part.signals.items()
                if other.pins[leg] not in ("NC", "VCC", "GND")
            }
            trial = _Trial(
                other, number, _named(self.pins, renamed), part_times(number, other), self.width_ps, self.outputs
            )
            if trial.right(trial.pins, trial.first) and trial.judges_enough():
                yield Explanation("other part", number=number)

    def judges_enough(self) -> bool:
        """Does the idea judge about as many outputs, at both levels, as were judged without it?"""
        run = judged_part(self.part, self.number, self.pins, self.times, self.width_ps)
        return _outputs_judged(run) >= max(1, _LEAST_SHARE * self.outputs)

    def _fits(self, moved: dict[str, str]) -> bool:
        first, whole = self.first.exchanged(moved), self.pins.exchanged(moved)
        if not self.right(whole, first):
            return False
        run = judged_part(self.part, self.number, whole, self.times, self.width_ps)
        return _outputs_judged(run) >= max(1, self.outputs)

    def _clip_placed_wrong(self) -> Iterator[dict[str, str]]:
        count = len(self.part.pins)
        for moved in (
            {leg: (leg - 1 + count // 2) % count + 1 for leg in self.part.pins},
            {leg: leg + 1 for leg in range(1, count)},
            {leg: leg - 1 for leg in range(2, count + 1)},
        ):
            yield {
                self.part.pins[to]: self.part.pins[of]
                for to, of in moved.items()
                if self.part.pins[to] in self.part.signals.values()
            }


def _named(pins: PinTraces, names: dict[str, str]) -> PinTraces:
    """The same traces under other names; ``names`` gives each new name the old one."""
    traces: dict[str, DigitalTrace] = {new: pins.traces[old] for new, old in names.items() if old in pins.traces}
    tied = {new: pins.tied[old] for new, old in names.items() if old in pins.tied}
    return replace(pins, traces=traces, tied=tied)


def _is_right(run: PartRun) -> bool:
    judged = [j for g in run.groups for j in g.outputs]
    return (
        not run.may_miss
        and any(j.judged.any() for j in judged)
        and not any(j.wrong.any() or j.doubtful.any() for j in judged)
    )


def _nothing_wrong(run: PartRun) -> bool:
    """Is there no wrong state and no doubtful one? Nothing need be judged."""
    return not any(j.wrong.any() or j.doubtful.any() for g in run.groups for j in g.outputs)


def _joined(one: Judged, other: Judged) -> bool:
    """Do both show the same, low where either should be low, in every state that both are asked in?"""
    both = (one.judged | one.doubtful) & (other.judged | other.doubtful)
    if not both.any() or not (one.should[both] != other.should[both]).any():
        return False
    low = np.minimum(one.should[both], other.should[both])
    return bool((one.does[both] == low).all() and (other.does[both] == low).all())


def _outputs_judged(run: PartRun) -> int:
    """Outputs that were judged at both levels."""
    return sum(
        bool((j.judged & (j.should == HIGH)).any() and (j.judged & (j.should == LOW)).any())
        for g in run.groups
        for j in g.outputs
    )


def _moving_judged(run: PartRun, name: str) -> bool:
    """Was an output judged right at both levels? Else nothing shows that it ever arrives."""
    for group in run.groups:
        for judged in group.outputs:
            if judged.output.name == name:
                good = judged.judged & ~judged.wrong
                return bool((good & (judged.should == HIGH)).any() and (good & (judged.should == LOW)).any())
    return False


def _first_part(pins: PinTraces) -> PinTraces:
    """So much of a capture that about ``_TRIED_STATES`` changes are in it."""
    total = sum(len(trace.transitions_ps) for trace in pins.traces.values())
    if total <= 2 * _TRIED_STATES:
        return pins
    share = _TRIED_STATES / total
    return pins.until(pins.start_ps + round(share * (pins.stop_ps - pins.start_ps)))
