"""One type of chip clipped on both boards, pin by pin: how each leg moves, and which outputs differ for alike inputs.

The captures need not line up: a leg is told by how often it moves and where it rests, an output by what it shows in an
input state that both captures went through. So it serves a chip whose table is wrong or whose clock was not clipped.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tracecore.capture import HIGH, UNKNOWN
from tracecore.circuit.parts.catalogue import Part
from tracecore.circuit.parts.obedience import Obedience
from tracecore.circuit.parts.pin_traces import PinTraces

LegVerdict = Literal[
    "still on suspect", "still on good", "rests otherwise", "moves less", "moves more", "alike", "not captured"
]
LEG_VERDICTS: tuple[LegVerdict, ...] = (
    "still on suspect", "still on good", "rests otherwise", "moves less", "moves more", "alike", "not captured",
)  # fmt: skip
"""Worst first."""
FEWEST_MOVES = 8
"""A leg that moves more rarely on the good side may stand still on the other by chance."""
OTHER_RATE = 4.0
"""So many times as often, or as seldom, is told; programs differ by less from start to start (common practice)."""


@dataclass(frozen=True, slots=True)
class LegPair:
    """One leg on both boards. ``..._moves`` are its transitions; ``..._high`` the share of time for which it is high,
    None where it was not captured or no level is known; ``..._ps`` how long the capture is."""

    leg: int
    name: str
    verdict: LegVerdict
    good_moves: int | None
    suspect_moves: int | None
    good_high: float | None
    suspect_high: float | None
    good_ps: int
    suspect_ps: int


@dataclass(frozen=True, slots=True)
class OtherOutput:
    """An output that shows another level on the suspect board in an input state that both boards went through."""

    leg: int
    name: str
    states: int
    of_states: int


def leg_pairs(part: Part, good: PinTraces, suspect: PinTraces) -> tuple[LegPair, ...]:
    """Every signal leg of a part on both boards, worst first, then by leg."""
    pairs = [_leg_pair(leg, name, good, suspect) for leg, name in part.signals.items()]
    return tuple(sorted(pairs, key=lambda own: (LEG_VERDICTS.index(own.verdict), own.leg)))


def other_outputs(good: Obedience, suspect: Obedience) -> tuple[OtherOutput, ...]:
    """Outputs of a part without memory that differ in alike input states, whatever the published table says."""
    if good.part is not suspect.part or good.part.kind == "sequential":
        return ()
    counts: dict[str, list[int]] = {}
    for one in good.groups:
        other = next((g for g in suspect.groups if (g.inputs, g.outputs) == (one.inputs, one.outputs)), None)
        shown = {} if other is None else {state.inputs: state.does for state in other.states}
        for state in one.states:
            if state.inputs not in shown or UNKNOWN in state.inputs:
                continue
            for name, here, there in zip(one.outputs, state.does, shown[state.inputs], strict=True):
                count = counts.setdefault(name, [0, 0])
                if UNKNOWN not in (here, there):
                    count[0] += here != there
                    count[1] += 1
    found = [OtherOutput(good.part.leg(name), name, wrong, seen) for name, (wrong, seen) in counts.items() if wrong]
    return tuple(sorted(found, key=lambda own: own.leg))


def _leg_pair(leg: int, name: str, good: PinTraces, suspect: PinTraces) -> LegPair:
    moves = [len(side.changes(name)) if name in side.traces else None for side in (good, suspect)]
    high = [_high(side, name) for side in (good, suspect)]
    spans = good.stop_ps - good.start_ps, suspect.stop_ps - suspect.start_ps
    verdict = _verdict(moves[0], moves[1], high[0], high[1], *spans)
    return LegPair(leg, name, verdict, moves[0], moves[1], high[0], high[1], *spans)


def _verdict(
    good: int | None, suspect: int | None, good_high: float | None, suspect_high: float | None, good_ps: int, ps: int
) -> LegVerdict:
    if good is None or suspect is None or not good_ps or not ps:
        return "not captured"
    expected = good * ps / good_ps
    if not suspect and expected >= FEWEST_MOVES:
        return "still on suspect"
    if not good and suspect >= FEWEST_MOVES:
        return "still on good"
    if not good and not suspect:
        return "alike" if good_high == suspect_high else "rests otherwise"
    if max(expected, suspect) < FEWEST_MOVES:
        return "alike"
    if suspect * OTHER_RATE < expected:
        return "moves less"
    return "moves more" if suspect > expected * OTHER_RATE else "alike"


def _high(side: PinTraces, name: str) -> float | None:
    """The share of known time at high."""
    trace = side.traces.get(name)
    if trace is None:
        return None
    spans = np.diff(np.append(trace.times_ps, max(side.stop_ps, int(trace.times_ps[-1]))))
    known = int(spans[trace.levels != UNKNOWN].sum())
    return int(spans[trace.levels == HIGH].sum()) / known if known else None
