"""Output by output: what should stand there, what does, and in which states that can be judged at all.

A state lasts from one change of an input to the next. It is judged from the settling time (the published maximum) plus
one sample on, if two samples are left of it. A departure counts as wrong only where it lasts: a pulse between two
samples can leave a mark at an output that is as long as the settling time, and that is no fault of the chip.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import HIGH, LOW, UNKNOWN, DigitalTrace, Int64, UInt8
from tracecore.circuit.parts.logic3 import Equation, Tri, tri
from tracecore.circuit.parts.pin_traces import PinTraces

FEWEST_ALIKE = 8
"""So many states must show the same departure before short ones count..."""
SHARE_ALIKE = 0.9
"""... and it must be this share of all states in which the output has to move there."""

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Output:
    """One output to judge. ``value`` may name legs, and bits of a memory; ``enable`` is None where it always drives.

    ``pulls_only`` marks an open collector: that it is low while it lets go proves nothing.
    """

    name: str
    leg: int
    value: Equation
    enable: Equation | None
    pulls_only: bool


@dataclass(frozen=True, slots=True, eq=False)
class Bit:
    """A bit of a memory as it should be: ``times_ps`` int64[N], ``levels`` uint8[N] from each time on."""

    times_ps: Int64
    levels: UInt8


@dataclass(frozen=True, slots=True, eq=False)
class Judged:
    """One output over N states. ``should`` and ``does`` uint8[N]; ``judged``, ``wrong`` and ``doubtful`` bool[N].

    ``does`` is the level where the settling time ends. ``doubtful`` are departures too short to count.
    ``let_go_low`` counts states in which an open collector lets go and the net is low all the same.
    """

    output: Output
    should: UInt8
    does: UInt8
    judged: Bools
    wrong: Bools
    doubtful: Bools
    let_go_low: int


@dataclass(frozen=True, slots=True, eq=False)
class JudgedGroup:
    """Outputs that hang on the same inputs. ``starts_ps`` int64[N] are where its states begin, ``stops_ps`` end.

    ``inputs`` are levels of its input legs by name, uint8[N].
    """

    starts_ps: Int64
    stops_ps: Int64
    inputs: Mapping[str, UInt8]
    outputs: tuple[Judged, ...]

    @property
    def judged(self) -> Bools:
        """States in which any output was judged."""
        return np.asarray(np.logical_or.reduce([o.judged for o in self.outputs]))

    @property
    def wrong(self) -> Bools:
        """States in which any output was wrong."""
        return np.asarray(np.logical_or.reduce([o.wrong for o in self.outputs]))


def judge_group(outputs: tuple[Output, ...], pins: PinTraces, bits: Mapping[str, Bit], settle_ps: int) -> JudgedGroup:
    """Judges outputs over the states of all inputs that they hang on. ``settle_ps`` excludes the sample."""
    names = dict.fromkeys(
        name for output in outputs for name in (*output.value.names, *(output.enable.names if output.enable else ()))
    )
    legs = [name for name in names if name not in bits]
    begin = np.array([pins.start_ps], np.int64)
    moves = [pins.changes(leg) for leg in legs] + [bits[name].times_ps for name in names if name in bits]
    starts = np.unique(np.concatenate([begin, *moves]))
    stops = np.append(starts[1:], pins.stop_ps)
    inputs = {leg: pins.levels(leg, starts) for leg in legs}
    values: dict[str, Tri] = {leg: tri(levels) for leg, levels in inputs.items()}
    for name in names:
        if name in bits:
            index = np.maximum(bits[name].times_ps.searchsorted(starts, side="right") - 1, 0)
            values[name] = tri(bits[name].levels[index])
    step = pins.resolution_ps
    opens = starts + settle_ps + step
    fit = stops - opens >= 2 * step
    judged = tuple(
        _judged(output, pins.traces[output.name], values, opens, stops, fit, settle_ps + 2 * step) for output in outputs
    )
    return JudgedGroup(starts, stops, inputs, judged)


def _judged(
    output: Output, trace: DigitalTrace, values: Mapping[str, Tri], opens: Int64, stops: Int64, fit: Bools, long_ps: int
) -> Judged:
    should = output.value.value(values).levels
    if output.enable is not None:
        should[~output.enable.value(values).high] = UNKNOWN
    asked = fit & (should != UNKNOWN)
    index = np.maximum(trace.times_ps.searchsorted(opens, side="right") - 1, 0)
    does = trace.levels[index].copy()
    apart_ps, unknown = _departures(trace, should, asked, opens, stops)
    let_go = 0
    if output.pulls_only:
        high = should == HIGH
        let_go = int((asked & high & (apart_ps > 0)).sum())
        asked = asked & ~high
        apart_ps[high] = 0
    off = asked & ~unknown & (apart_ps > 0)
    wrong = off & (apart_ps >= long_ps)
    wrong |= _alike(off, asked, should, does)
    judged = asked & ~unknown & (wrong | ~off)
    return Judged(output, should, does, judged, wrong, off & ~wrong, let_go)


def _departures(trace: DigitalTrace, should: UInt8, asked: Bools, opens: Int64, stops: Int64) -> tuple[Int64, Bools]:
    """How long at a time the trace departs in each window, at most; and where it is not known at all."""
    apart, unknown = np.zeros(len(should), np.int64), np.zeros(len(should), bool)
    which = np.flatnonzero(asked)
    if not len(which):
        return apart, unknown
    begin, end = opens[which], stops[which]
    first = np.maximum(trace.times_ps.searchsorted(begin, side="right") - 1, 0)
    last = np.maximum(trace.times_ps.searchsorted(end, side="left") - 1, 0)
    counts = last - first + 1
    heads = np.concatenate(([0], np.cumsum(counts)[:-1]))
    window = np.repeat(np.arange(len(which)), counts)
    pieces = np.arange(int(counts.sum())) - heads[window] + first[window]
    edges = np.append(trace.times_ps, trace.stop_ps)
    length = np.minimum(edges[pieces + 1], end[window]) - np.maximum(edges[pieces], begin[window])
    level = trace.levels[pieces]
    off = (level != should[which][window]) & (level != UNKNOWN)
    apart[which] = np.maximum.reduceat(np.where(off, length, 0), heads)
    unknown[which] = np.logical_or.reduceat(level == UNKNOWN, heads)
    return apart, unknown


def _alike(off: Bools, asked: Bools, should: UInt8, does: UInt8) -> Bools:
    """Short departures that are the rule: wherever the output has to move to a level, it does not, or not in time."""
    out = np.zeros(len(should), bool)
    before = np.concatenate(([UNKNOWN], should[:-1])).astype(np.uint8)
    for level in (LOW, HIGH):
        moves = asked & (should == level) & (before == 1 - level)
        late = moves & off & (does == 1 - level)
        if int(late.sum()) >= FEWEST_ALIKE and int(late.sum()) >= SHARE_ALIKE * int(moves.sum()):
            out |= late
    return out
