"""Pairs of sound boards, each captured by its own instrument: nothing in them may be accused.

A random synchronous machine of registers and gates that make short pulses, since the inputs of a gate move at different
times. The other board's parts differ by a little. Each side is sampled evenly at its own rate, with a phase of its own
against the clock. Machines, delays and rates are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from tracecore.capture import Capture, DigitalTrace, digital_trace

CLOCK = "CLK"
SPREAD_PS = 5_000
"""The most by which a way to a net takes longer on one board than on the other."""
_DEEPEST = 6

Moves = list[tuple[float, int]]
"""Transitions of a net: time in ps, and the level each leads to."""

Rates = Literal["unlike", "alike", "round"]


@dataclass(frozen=True, slots=True)
class Node:
    """A net: ``kind`` of part, the two nets it is made from, and how long the part takes."""

    kind: str
    inputs: tuple[int, ...]
    delay_ps: float


@dataclass(frozen=True, slots=True, eq=False)
class SoundPair:
    """Two captures of sound boards; ``samples`` in a cycle on either side."""

    good: Capture
    suspect: Capture
    samples: tuple[float, float]


def sound_pair(
    seed: int,
    few: float = 3,
    many: float = 200,
    cycles: int = 300,
    *,
    rates: Rates = "unlike",
    wrong: Callable[[dict[str, Moves], float], dict[str, Moves]] | None = None,
) -> SoundPair:
    """One pair with ``few`` to ``many`` samples a cycle on either side; in one of four the good side's sampling keeps
    step with the machine's clock, in half of these the suspect's as well.

    ``rates`` "alike" gives both instruments one sample rate, "round" one of a whole number of samples in a nominal
    cycle, from which the machine's crystals stray by up to 100 ppm. ``wrong`` makes the suspect no sound board: from
    its nets and the period of its clock in ps, what the pins do.
    """
    rng = np.random.default_rng([77, seed])
    period = float(rng.choice([200_000, 250_000, 400_000, 500_000, 1_000_000]))
    nodes = _machine(rng, period)
    script = _script(rng, nodes, cycles)
    apart = rng.uniform(-1, 1, len(nodes)) * SPREAD_PS / (_DEEPEST + 1)
    captures, samples, near = [], [], rng.uniform(0, 6_000, len(_BY_CLOCK))
    samples_wanted = 0.0
    for name, off, locked in (("good", 0 * apart, seed % 4 == 0), ("suspect", apart, seed % 8 == 0)):
        share = float(np.exp(rng.uniform(np.log(few), np.log(many))))
        if rates != "unlike":
            share, locked = (samples_wanted or share), False
            share = max(few, round(share)) if rates == "round" else share
            samples_wanted = share
        share = max(few, round(share)) if locked else share
        own_period = period if locked else period * (1 + float(rng.uniform(-1, 1)) * 1e-4)
        sample = own_period / share if locked else float(round(period / share))
        delays = [node.delay_ps + by for node, by in zip(nodes, off.tolist(), strict=True)]
        moves = _run(nodes, delays, script, own_period, rng)
        nets = {f"N{i:02d}": own for i, own in enumerate(moves)}
        nets |= _by_clock(moves, near + off[: len(near)], own_period, cycles)
        if wrong is not None and name == "suspect":
            nets = wrong(nets, own_period)
        captures.append(captured(name, nets, sample, own_period, cycles, float(rng.uniform(0, sample))))
        samples.append(own_period / sample)
    return SoundPair(captures[0], captures[1], (samples[0], samples[1]))


def _machine(
    rng: np.random.Generator, period: float, inputs: int = 4, registers: int = 8, gates: int = 12
) -> list[Node]:
    """Every way through the gates fits in three quarters of a cycle."""
    first_gate, most = inputs + registers, min(25_000.0, 0.75 * period / (_DEEPEST + 1))
    nodes = [Node("input", (), float(rng.uniform(most / 3, most))) for _ in range(first_gate)]
    depth = [1] * first_gate
    for i in range(first_gate, first_gate + gates):
        near = [k for k in range(i) if depth[k] < _DEEPEST]
        chosen = tuple(int(x) for x in rng.choice(near, 2, replace=False))
        nodes.append(Node(str(rng.choice(["and", "or", "xor"])), chosen, float(rng.uniform(most / 3, most))))
        depth.append(1 + max(depth[k] for k in chosen))
    for i in range(inputs, first_gate):
        # a register that reads an input beside a gate keeps moving
        source = int(rng.integers(first_gate, len(nodes))), int(rng.integers(0, inputs))
        nodes[i] = Node("register", source, nodes[i].delay_ps)
    return nodes


def _script(rng: np.random.Generator, nodes: list[Node], cycles: int) -> np.ndarray:
    """Levels of the inputs, uint8[cycles, inputs]; some hold for several cycles."""
    script = rng.integers(0, 2, (cycles, sum(node.kind == "input" for node in nodes)), np.uint8)
    for column in script.T:
        column[:] = np.repeat(column, int(rng.choice([1, 2, 4, 8])))[:cycles]
    return script


def _run(
    nodes: list[Node], delays: list[float], script: np.ndarray, period: float, rng: np.random.Generator
) -> list[Moves]:
    """Each net's transitions, an active edge at every whole period."""
    moves: list[Moves] = [[] for _ in nodes]
    level = [0] * len(nodes)
    jitter = rng.normal(0, 300, len(script)).tolist()
    for k, row in enumerate(script.tolist()):
        before, rows = level[:], []
        for i, node in enumerate(nodes):
            if node.kind == "input":
                to = row[i]
            elif node.kind == "register":
                to = before[node.inputs[0]] ^ before[node.inputs[1]]
            if node.kind in ("input", "register"):
                rows.append([(delays[i], to)] if to != before[i] else [])
            else:
                rows.append(_through(node, delays[i], [rows[j] for j in node.inputs], before, before[i]))
            if rows[i]:
                level[i] = rows[i][-1][1]
                moves[i] += [(k * period + at + jitter[k], to) for at, to in rows[i]]
    return moves


_BY_CLOCK = ("CLKBUF", "STROBE", "HALF")


def _by_clock(moves: list[Moves], delays: np.ndarray, period: float, cycles: int) -> dict[str, Moves]:
    """A copy of the clock, a strobe in every other phase of it, and a signal that moves with the inactive edge: nets
    whose transitions fall next to the clock's own."""
    buffered, strobe, half = delays.tolist()
    low = {int(at // period): level for at, level in moves[0]}
    out: dict[str, Moves] = {name: [] for name in _BY_CLOCK}
    held = 0
    for k in range(cycles):
        held = low.get(k, held)
        out["CLKBUF"] += [(k * period + buffered, 1), ((k + 0.5) * period + buffered, 0)]
        if held:
            out["STROBE"] += [((k + 0.5) * period + strobe, 1), ((k + 1) * period + strobe, 0)]
        if k in low:
            out["HALF"].append(((k + 0.5) * period + half, held))
    return out


def _through(node: Node, delay: float, rows: list[Moves], before: list[int], own: int) -> Moves:
    """A gate's transitions; a pulse shorter than a quarter of what the gate takes does not get through."""
    now = [before[j] for j in node.inputs]
    out: Moves = []
    for at, pin, to in sorted((at, pin, to) for pin, row in enumerate(rows) for at, to in row):
        now[pin] = to
        a, b = now
        level = a & b if node.kind == "and" else a | b if node.kind == "or" else a ^ b
        if level == (out[-1][1] if out else own):
            continue
        if out and at + delay - out[-1][0] < delay / 4:
            out.pop()
        else:
            out.append((at + delay, level))
    return out


def captured(name: str, nets: dict[str, Moves], sample: float, period: float, cycles: int, phase: float) -> Capture:
    """What an instrument shows of nets and of a clock of ``period``, sampled every ``sample`` ps from ``phase`` on."""
    lead = 2.3 * period
    count = int((lead + cycles * period) / sample)
    edges = np.arange(cycles) * period
    clock = np.sort(np.concatenate((edges, edges + period / 2)))
    sides = {CLOCK: list(zip(clock.tolist(), [1, 0] * cycles, strict=True))}
    sides |= nets
    traces = {net: _sampled(own, lead + phase, sample, count) for net, own in sides.items()}
    return Capture(name, traces, {}, int(np.ceil(sample)), "built")


def _sampled(moves: Moves, shift: float, sample: float, count: int) -> DigitalTrace:
    """What an instrument tells that looks every ``sample`` ps: a transition shows at the next sample."""
    at = np.array([0.0, *(time for time, _ in moves)])
    seen = np.ceil((at[1:] + shift) / sample).astype(np.int64)
    index = np.concatenate(([0], seen))
    levels = np.array([0, *(level for _, level in moves)], np.uint8)
    last = np.append(index[1:] > index[:-1], True) & (index < count)
    return digital_trace(np.floor(index[last] * sample).astype(np.int64), levels[last], int(count * sample))
