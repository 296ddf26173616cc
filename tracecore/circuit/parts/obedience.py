"""Does a chip obey its own inputs? The entry: a part, the levels at its legs, and an answer as values."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from tracecore.capture import HIGH, LOW
from tracecore.circuit.parts.catalogue import Part, all_parts, exact_number, family_of
from tracecore.circuit.parts.delays import PartTimes, part_times
from tracecore.circuit.parts.explanations import Explanation, explanations, unshown_inputs
from tracecore.circuit.parts.judging import Judged, JudgedGroup
from tracecore.circuit.parts.outputs import PartRun, input_names, judged_part
from tracecore.circuit.parts.pin_traces import PinTraces

FEWEST_JUDGED = 4
"""An output that was judged in fewer states has shown too little to be said to obey."""
FEWEST_WRONG = 3
"""A memory that goes wrong less often may have seen an edge that fell between two samples."""
Verdict = Literal["obeys", "disobeys", "cannot be told"]
Doubt = Literal[
    "low while let go", "output not judged", "too short to count", "pulses may be missed", "output not captured"
]


@dataclass(frozen=True, slots=True)
class OutputCheck:
    """One output in numbers of states. ``wrong_high`` counts states in which it is high and should be low.

    ``first_wrong_ps`` is where the first wrong state begins. ``let_go_low`` counts states in which an open collector
    lets go and the net is low: something else may pull it. ``stuck`` is the level that it never leaves in all judged
    states, None where it moves.
    """

    name: str
    leg: int
    judged: int
    wrong: int
    should_high: int
    should_low: int
    wrong_high: int
    wrong_low: int
    doubtful: int
    let_go_low: int
    first_wrong_ps: int | None
    stuck: int | None


@dataclass(frozen=True, slots=True)
class SeenState:
    """One combination of input levels: what each captured output should be and how often it was something else."""

    inputs: tuple[int, ...]
    should: tuple[int, ...]
    does: tuple[int, ...]
    times: int
    wrong: int
    first_ps: int


@dataclass(frozen=True, slots=True)
class SeenGroup:
    """The input states of outputs that hang together, by leg names; those of a memory have no ``possible``."""

    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    states: tuple[SeenState, ...]
    possible: int | None


@dataclass(frozen=True, slots=True)
class Obedience:
    """The answer. ``judged`` and ``wrong`` count states, ``seen`` of ``possible`` input states were seen.

    ``possible`` is None for a part with a memory. ``explanations`` each make all of it right; several mean that the
    capture cannot tell between them. ``not_captured`` are legs by name of which nothing is known.
    ``unshown`` are inputs of a chip that obeys which nothing shows to be read at all: no judged state hangs on them.
    """

    part: Part
    number: str
    verdict: Verdict
    doubts: tuple[Doubt, ...]
    judged: int
    wrong: int
    doubtful: int
    seen: int
    possible: int | None
    outputs: tuple[OutputCheck, ...]
    groups: tuple[SeenGroup, ...]
    explanations: tuple[Explanation, ...]
    not_captured: tuple[str, ...]
    times: PartTimes
    resolution_ps: int
    first_wrong_ps: int | None
    unshown: tuple[str, ...] = ()


def check_part(
    part: Part, number: str, pins: PinTraces, *, width_ps: float | None = None, explain: bool = True
) -> Obedience:
    """Judges a chip. ``number`` is one of the part's numbers, for its speed; ``width_ps`` what a one-shot should last.

    It obeys only where every captured output was judged in some states, no state is wrong, none departs in a way
    too short to count, and no open collector is low while it should let go.
    """
    number = exact_number(number, part)
    times = part_times(number, part)
    run = judged_part(part, number, pins, times, width_ps)
    verdict, doubts = verdict_of(run)
    if verdict == "disobeys" and part.kind == "sequential" and _seldom(part, number, pins, times, width_ps):
        verdict, doubts = "cannot be told", ("pulses may be missed",)
    inputs = input_names(part, number)
    found = _explained(part, number, pins, times, run, width_ps) if explain and verdict == "disobeys" else ()
    checks = tuple(sorted((_check(j, g) for g in run.groups for j in g.outputs), key=lambda c: c.leg))
    memory = part.kind == "sequential"
    groups = tuple(_seen(group, inputs, memory) for group in run.groups)
    return Obedience(
        part,
        number,
        verdict,
        doubts,
        sum(int(g.judged.sum()) for g in run.groups),
        sum(int(g.wrong.sum()) for g in run.groups),
        sum(int(j.doubtful.sum()) for g in run.groups for j in g.outputs),
        sum(len(g.states) for g in groups),
        None if memory else sum(g.possible or 0 for g in groups),
        checks,
        groups,
        found,
        tuple(name for name in part.signals.values() if not pins.known(name)),
        times,
        pins.resolution_ps,
        min((c.first_wrong_ps for c in checks if c.first_wrong_ps is not None), default=None),
        unshown_inputs(part, number, pins, times, width_ps) if explain and verdict == "obeys" else (),
    )


def _explained(
    part: Part, number: str, pins: PinTraces, times: PartTimes, run: PartRun, width_ps: float | None
) -> tuple[Explanation, ...]:
    """What makes all of it right; where nothing does, what makes it right from the first wrong state on."""
    others = _others(part, number)
    found = explanations(part, number, pins, times, run, others, width_ps)
    since = min(int(g.starts_ps[np.flatnonzero(g.wrong)[0]]) for g in run.groups if g.wrong.any())
    if found or since <= pins.start_ps:
        return found
    later = pins.since(since)
    again = judged_part(part, number, later, times, width_ps)
    if verdict_of(again)[0] != "disobeys":
        return ()
    return tuple(replace(e, since_ps=since) for e in explanations(part, number, later, times, again, (), width_ps))


def _seldom(part: Part, number: str, pins: PinTraces, times: PartTimes, width_ps: float | None) -> bool:
    """Does a memory go wrong so seldom that a pulse between two samples may explain each time?"""
    run = judged_part(part, number, pins, times, width_ps, relearn=True)
    return len({at for group in run.groups for at in group.starts_ps[group.wrong].tolist()}) < FEWEST_WRONG


def verdict_of(run: PartRun) -> tuple[Verdict, tuple[Doubt, ...]]:
    """The verdict, and why it cannot be told where it cannot."""
    judged = [j for group in run.groups for j in group.outputs]
    if not judged:
        return "cannot be told", ("output not captured",)
    wrong = any(bool(j.wrong.any()) for j in judged)
    if wrong and not run.may_miss:
        return "disobeys", ()
    doubts: list[Doubt] = []
    if wrong:
        doubts.append("pulses may be missed")
    if any(bool(j.doubtful.any()) for j in judged):
        doubts.append("too short to count")
    if any(j.let_go_low for j in judged):
        doubts.append("low while let go")
    if any(int(j.judged.sum()) + j.let_go_low < FEWEST_JUDGED for j in judged):
        doubts.append("output not judged")
    return ("cannot be told", tuple(doubts)) if doubts else ("obeys", ())


def _others(part: Part, number: str) -> tuple[tuple[Part, str], ...]:
    """Parts that could sit on the same supply legs, with a number of the same family where there is one."""
    family = family_of(number)
    out = []
    for other in all_parts():
        if other is not part and len(other.pins) == len(part.pins) and (other.vcc, other.gnd) == (part.vcc, part.gnd):
            out.append((other, next((n for n in other.numbers if family_of(n) == family), other.number)))
    return tuple(out)


def _check(judged: Judged, group: JudgedGroup) -> OutputCheck:
    should, does, wrong = judged.should, judged.does, judged.wrong
    first = np.flatnonzero(wrong)
    held = np.unique(does[judged.judged])
    return OutputCheck(
        judged.output.name,
        judged.output.leg,
        int(judged.judged.sum()),
        int(wrong.sum()),
        int((judged.judged & (should == HIGH)).sum()),
        int((judged.judged & (should == LOW)).sum()),
        int((wrong & (should == LOW)).sum()),
        int((wrong & (should == HIGH)).sum()),
        int(judged.doubtful.sum()),
        judged.let_go_low,
        int(group.starts_ps[first[0]]) if len(first) else None,
        int(held[0]) if len(held) == 1 else None,
    )


def _seen(group: JudgedGroup, order: tuple[str, ...], memory: bool) -> SeenGroup:
    """The input states of one group, each with how often it was judged and how often wrong."""
    names = tuple(name for name in order if name in group.inputs)
    outputs = tuple(j.output.name for j in group.outputs)
    judged = group.judged
    possible = None if memory else 1 << len(names)
    if not names or not judged.any():
        return SeenGroup(names, outputs, (), possible)
    rows = np.flatnonzero(judged)
    table = np.stack([group.inputs[name][rows] for name in names], axis=1)
    states, first, inverse, counts = np.unique(
        table, axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    wrong = np.bincount(inverse.reshape(-1), weights=group.wrong[rows], minlength=len(states)).astype(int)
    # of a state that is wrong somewhere the first wrong case is shown
    shown = first.copy()
    bad = np.flatnonzero(group.wrong[rows])
    for index in reversed(bad.tolist()):
        shown[inverse.reshape(-1)[index]] = index
    out = []
    for k in range(len(states)):
        at = rows[shown[k]]
        out.append(
            SeenState(
                tuple(int(v) for v in states[k]),
                tuple(int(j.should[at]) for j in group.outputs),
                tuple(int(j.does[at]) for j in group.outputs),
                int(counts[k]),
                int(wrong[k]),
                int(group.starts_ps[at]),
            )
        )
    return SeenGroup(names, outputs, tuple(out), possible)
