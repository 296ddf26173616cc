"""A chip on a drawn board: inputs that move at any picosecond, outputs that follow within the sheet's maximum, sampled.

Where a real chip may go either way, so does this one: an input that moves within setup and hold, and a pulse shorter
than the sheet asks. A line that nobody drives does what it likes.
"""

from __future__ import annotations

import random
from dataclasses import dataclass

import numpy as np

from tests.circuit.parts.reference import CLEARS, CLOCKS, COMBINATIONAL, MEMORIES, Memory, Pins
from tracecore.capture import DigitalTrace, digital_trace
from tracecore.circuit.parts.catalogue import Part
from tracecore.circuit.parts.delays import PartTimes
from tracecore.circuit.parts.outputs import input_names, output_values
from tracecore.circuit.parts.pin_traces import PinTraces

Timeline = dict[str, list[tuple[int, int]]]


@dataclass(frozen=True, slots=True)
class Fault:
    """``kind`` is "stuck", "open" (an input that reads high), "joined", "late" or "dead" (reads as ``level``)."""

    kind: str
    names: tuple[str, ...]
    level: int = 0


def drawn_chip(
    part: Part,
    times: PartTimes,
    seed: int,
    *,
    resolution_ps: int,
    changes: int = 400,
    pace_ps: int = 300_000,
    fault: Fault | None = None,
    floats: bool = True,
    hasty: float = 0.15,
) -> PinTraces:
    """The capture of one chip. ``pace_ps`` is about how far changes lie apart, but for a share of ``hasty`` ones;
    ``floats`` lets undriven lines move."""
    draw = random.Random(seed)
    values = output_values(part, part.number)
    inputs = [n for n in input_names(part, part.number) if n not in values or n in part.enables]
    inputs += [n for n in part.open_collector if n in input_names(part, part.number) and n not in inputs]
    stimulus = _stimulus(draw, inputs, changes, pace_ps, hasty)
    stop = max(t for moves in stimulus.values() for t, _ in moves) + 4 * pace_ps + 4 * resolution_ps
    lines = _followed(part, times, draw, stimulus, list(values), fault, floats)
    phase = draw.randrange(resolution_ps)
    return PinTraces(
        {name: _sampled(moves, resolution_ps, phase, stop) for name, moves in lines.items()},
        {}, 0, (stop - phase) // resolution_ps * resolution_ps, resolution_ps,
    )  # fmt: skip


def _stimulus(draw: random.Random, inputs: list[str], changes: int, pace_ps: int, hasty: float) -> Timeline:
    now = {name: int(name in CLEARS and name != "CLR") if name in CLEARS else draw.randrange(2) for name in inputs}
    if {"OC_n", "G_n", "CS_n"} & set(now):
        now |= {name: 0 for name in ("OC_n", "G_n", "CS_n") if name in now}
    out: Timeline = {name: [(0, level)] for name, level in now.items()}
    weights = [6.0 if n in CLOCKS else 0.4 if n in CLEARS else 1.0 for n in inputs]
    at = 0
    for _ in range(changes):
        # mostly quiet enough to judge, now and then far too fast
        at += round(pace_ps * (draw.uniform(0.6, 2.5) if draw.random() >= hasty else draw.uniform(0.01, 0.5)))
        name = draw.choices(inputs, weights)[0]
        # active clears are soon let go again
        if name not in CLEARS:
            active = [n for n in inputs if n in CLEARS and now[n] == (1 if n == "CLR" else 0)
                      and n not in ("OC_n", "G_n", "CS_n")]  # fmt: skip
            if active and draw.random() < 0.6:
                name = draw.choice(active)
        now[name] ^= 1
        out[name].append((at, now[name]))
    return out


def _followed(
    part: Part,
    times: PartTimes,
    draw: random.Random,
    stimulus: Timeline,
    outputs: list[str],
    fault: Fault | None,
    floats: bool,
) -> Timeline:
    moves = sorted((t, name, level) for name, line in stimulus.items() for t, level in line[1:])
    ins: Pins = {name: line[0][1] for name, line in stimulus.items()}
    memory = MEMORIES[part.number]() if part.number in MEMORIES else None
    lines: Timeline = {name: list(line) for name, line in stimulus.items() if name not in outputs}
    made: Timeline = {name: [] for name in outputs}
    delays = {name: draw.uniform(0.25, 0.98) for name in outputs}
    factor = 4.0 if fault is not None and fault.kind == "late" else 1.0
    dead = dict.fromkeys(fault.names, fault.level) if fault is not None and fault.kind in ("dead", "open") else {}
    if memory is not None and dead:
        # an input that reads as active from power-up has acted before the capture begins
        memory.change("", {**ins, **dead})
    shared = [n for n in outputs if n in stimulus]
    # what listens to a shared net does so behind whoever drives it
    delays |= dict.fromkeys(shared, 0.02) if part.open_collector else {}
    _show(part, memory, {**ins, **dead}, ins, made, -(10**9), draw, delays, times, fault, factor, floats, shared)
    for at, name, level in moves:
        before = ins[name]
        ins[name] = level
        if name not in dead:
            _take(part, memory, {**ins, **dead}, name, before, at, stimulus, times, draw, dead)
        _show(part, memory, {**ins, **dead}, ins, made, at, draw, delays, times, fault, factor, floats, shared)
    for name in outputs:
        line: list[tuple[int, int]] = []
        for at, level in sorted(made[name], key=lambda m: m[0]):
            line.append((max(at, 0), level))
        lines[name] = line
    return lines


def _take(
    part: Part,
    memory: Memory | None,
    ins: Pins,
    name: str,
    before: int,
    at: int,
    stimulus: Timeline,
    times: PartTimes,
    draw: random.Random,
    dead: Pins,
) -> None:
    """Lets the memory see a change; a doubtful one it takes or leaves."""
    if memory is None:
        return
    clockish = name in CLOCKS | CLEARS
    if clockish and _short(stimulus[name], at, times.pulse_ps) and draw.random() < 0.5:
        return
    seen = dict(ins)
    if clockish and not (part.number == "74373" and ins["C"]):
        for other, line in stimulus.items():
            near = any(at - times.setup_ps < t < at + times.hold_ps for t, _ in line if t != at or other != name)
            if other != name and near and other not in dead:
                seen[other] = draw.randrange(2)
    memory.change(name, seen)
    # what acts at once acts on what really stands there
    if seen != ins and part.number not in ("74373",):
        memory.change("", ins)


def _short(line: list[tuple[int, int]], at: int, pulse_ps: int) -> bool:
    times = [t for t, _ in line]
    index = times.index(at)
    after = times[index + 1] - at if index + 1 < len(times) else 10**12
    return after < pulse_ps or (index > 0 and at - times[index - 1] < pulse_ps)


def _show(
    part: Part,
    memory: Memory | None,
    ins: Pins,
    nets: Pins,
    made: Timeline,
    at: int,
    draw: random.Random,
    delays: dict[str, float],
    times: PartTimes,
    fault: Fault | None,
    factor: float,
    floats: bool,
    shared: list[str],
) -> None:
    shown = memory.outputs(ins) if memory is not None else COMBINATIONAL[part.number](ins)
    if fault is not None and fault.kind == "joined":
        low = min(shown.get(name, 1) for name in fault.names)
        shown |= dict.fromkeys(fault.names, low)
    for name, line in made.items():
        level = shown.get(name)
        if name in shared:
            # a net that others drive too: as they leave it, unless this chip pulls or drives
            level = nets[name] if level is None else level & nets[name] if name in part.open_collector else level
        if fault is not None and fault.kind == "stuck" and name in fault.names:
            level = fault.level
        if level is None:
            level = draw.randrange(2) if floats or not line else line[-1][1]
        if line and line[-1][1] == level:
            continue
        slow = factor if fault is not None and name in fault.names else 1.0
        share = min(0.98, delays[name] * draw.uniform(0.8, 1.2)) if slow == 1 else 0.98
        due = at + round(times.settle_ps * slow * share)
        while line and line[-1][0] >= due:
            line.pop()
        if not line or line[-1][1] != level:
            line.append((due, level))


def _sampled(moves: list[tuple[int, int]], resolution_ps: int, phase: int, stop: int) -> DigitalTrace:
    times = np.array([t for t, _ in moves], np.int64)
    levels = np.array([v for _, v in moves], np.uint8)
    samples = np.arange(phase, stop, resolution_ps, dtype=np.int64)
    taken = levels[np.maximum(times.searchsorted(samples, side="right") - 1, 0)]
    return digital_trace(samples - phase, taken, (stop - phase) // resolution_ps * resolution_ps)
