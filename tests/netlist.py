"""Random synchronous netlists with one fault, as captures of a good and a suspect board, in shuffled signal order.

Times are those of an ideal analyser at 100 MS/s; the clock is 250 ns. Parts take 8 to 25 ns, 5 % spread between
boards, 1 ns of jitter. Gates make no short pulses; there are no three-state nets, and the wire list is complete.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tracecore.capture import Capture, DigitalTrace, digital_trace
from tracecore.circuit.wire_list import Wired, WireList

T_NS = 250.0
SAMPLE_PS = 10_000
CLOCK = "CLK"
KINDS = (
    "stuck low",
    "stuck high",
    "open input",
    "bridged",
    "slow rising",
    "dropped pulses",
    "one cycle late",
    "intermittent",
)
_GATES = ("and", "or", "xor", "nand", "nor", "not", "mux")


@dataclass(frozen=True, slots=True)
class Net:
    """One net: what drives it, from which nets (by index); ``delay_ns`` of the part."""

    kind: str
    inputs: tuple[int, ...]
    delay_ns: float


@dataclass(frozen=True, slots=True)
class Fault:
    """``net`` is the faulty net (for an open input, the output of the part); ``other`` the bridged net; ``pin`` the
    input that is open."""

    kind: str
    net: int
    other: int = -1
    pin: int = -1
    late_ns: float = 0.0

    @property
    def nets(self) -> set[int]:
        """The nets whose naming counts as right."""
        return {self.net, self.other} if self.kind == "bridged" else {self.net}


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A good and a suspect capture of one faulty board, its wire list, and the truth by name."""

    good: Capture
    suspect: Capture
    wires: WireList
    truth: frozenset[str]
    open_net: str


def make_netlist(rng: np.random.Generator, inputs: int = 6, registers: int = 12, gates: int = 20) -> list[Net]:
    """Primary inputs, then registers, then gates that read only nets before them."""
    first_gate = inputs + registers
    nets = [Net("input", (), float(rng.uniform(8, 25))) for _ in range(first_gate)]
    for i in range(first_gate, first_gate + gates):
        kind = str(rng.choice(_GATES, p=(0.17, 0.15, 0.2, 0.15, 0.1, 0.05, 0.18)))
        count = {"not": 1, "mux": 3}.get(kind, 2)
        weights = np.where(np.arange(i) >= first_gate, 1.5, 1.0)
        chosen = rng.choice(i, count, replace=False, p=weights / weights.sum())
        nets.append(Net(kind, tuple(int(x) for x in chosen), float(rng.uniform(8, 25))))
    used = {x for n in nets for x in n.inputs}
    free = [i for i in range(first_gate, len(nets)) if i not in used]
    rng.shuffle(free)
    for q, i in enumerate(range(inputs, first_gate)):
        source = free[q] if q < len(free) else int(rng.integers(first_gate, len(nets)))
        nets[i] = Net("register", (source,), nets[i].delay_ns)
    return nets


def _level(kind: str, x: list[int]) -> int:
    match kind:
        case "and":
            return x[0] & x[1]
        case "or":
            return x[0] | x[1]
        case "xor":
            return x[0] ^ x[1]
        case "nand":
            return 1 - (x[0] & x[1])
        case "nor":
            return 1 - (x[0] | x[1])
        case "not":
            return 1 - x[0]
        case _:
            return x[1] if x[0] else x[2]


def run(
    nets: list[Net], stimulus: np.ndarray, cycles: int, fault: Fault | None, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Levels uint8[cycles, nets] and the time in the cycle, in ns, of each transition (nan without one)."""
    n = len(nets)
    levels = np.zeros((cycles, n), np.uint8)
    times = np.full((cycles, n), np.nan)
    before, raw_before = [0] * n, [0] * n
    noise = rng.normal(0.0, 1.0, (cycles, n))
    chance = rng.random(cycles)
    for k in range(cycles):
        raw = [0] * n
        for turn in range(2 if fault is not None and fault.kind == "bridged" else 1):
            now, at = [0] * n, [0.0] * n
            wired = raw[:] if turn else None
            for i, net in enumerate(nets):
                level, start = _driven(nets, stimulus, k, i, now, at, before, fault)
                raw[i] = level
                if fault is not None and i in fault.nets:
                    level = _faulty(fault, i, level, before, raw_before, wired, float(chance[k]))
                moment = start + net.delay_ns + noise[k, i]
                if fault is not None and fault.kind == "slow rising" and i == fault.net and level > before[i]:
                    moment += fault.late_ns
                if level != before[i] and moment > T_NS - 2:
                    level = before[i]
                now[i] = level
                at[i] = moment if level != before[i] else 0.0
        for i in range(n):
            levels[k, i] = now[i]
            if now[i] != before[i]:
                times[k, i] = at[i]
        before, raw_before = now, raw
    return levels, times


def _driven(nets, stimulus, k, i, now, at, before, fault):  # type: ignore[no-untyped-def]
    """Level and start of its move of net ``i`` in cycle ``k``, an open input read as high."""
    net = nets[i]
    if net.kind == "input":
        return int(stimulus[k, i]), 0.0
    source = before if net.kind == "register" else now
    x = [source[j] for j in net.inputs]
    if fault is not None and fault.kind == "open input" and i == fault.net:
        x[fault.pin] = 1
    if net.kind == "register":
        return x[0], 0.0
    return _level(net.kind, x), max(at[j] for j in net.inputs)


def _faulty(fault, i, level, before, raw_before, wired, chance):  # type: ignore[no-untyped-def]
    match fault.kind:
        case "stuck low":
            return 0
        case "stuck high":
            return 1
        case "dropped pulses":
            return 0 if level and not before[i] and chance < 0.05 else level
        case "one cycle late":
            return raw_before[i]
        case "intermittent":
            return 1 if chance < 0.01 else level
        case "bridged" if wired is not None:
            return level & wired[fault.other if i == fault.net else fault.net]
    return level


def _cone(nets: list[Net], start: int) -> set[int]:
    """Nets that a net reaches through gates within the cycle."""
    reached = {start}
    for i, net in enumerate(nets):
        if net.kind not in ("input", "register") and reached & set(net.inputs):
            reached.add(i)
    return reached


def _fault(kind: str, nets: list[Net], alive: list[int], rng: np.random.Generator) -> Fault | None:
    net = int(rng.choice(alive))
    if kind == "open input":
        readers = [(i, n.inputs.index(net)) for i, n in enumerate(nets) if net in n.inputs]
        if not readers:
            return None
        part, pin = readers[int(rng.integers(len(readers)))]
        return Fault(kind, part, pin=pin)
    if kind == "bridged":
        others = [x for x in alive if x not in _cone(nets, net) and net not in _cone(nets, x)]
        return Fault(kind, net, int(rng.choice(others))) if others else None
    return Fault(kind, net, late_ns=float(rng.uniform(0.15, 0.5)) * T_NS if kind == "slow rising" else 0.0)


def make_case(kind: str, number: int, cycles: int = 600) -> Case | None:
    """One board with a fault; None where the draw gives no fault of this kind."""
    rng = np.random.default_rng([KINDS.index(kind), number])
    nets = make_netlist(rng)
    stimulus = rng.integers(0, 2, (cycles, len(nets)), np.uint8)
    for i in range(6):
        hold = int(rng.choice([1, 1, 2, 4, 8]))
        stimulus[:, i] = np.repeat(stimulus[:, i], hold)[:cycles]
    good = run(nets, stimulus, cycles, None, rng)
    moving = (good[0][1:] != good[0][:-1]).mean(axis=0)
    alive = [int(i) for i in np.flatnonzero(moving > 0.01)]
    fault = _fault(kind, nets, alive, rng) if len(alive) >= 10 else None
    if fault is None:
        return None
    board = [replace(n, delay_ns=n.delay_ns * float(rng.normal(1, 0.05))) for n in nets]
    suspect = run(board, stimulus, cycles, fault, rng)
    # neither the number in a name nor the place in the capture may tell how near a net is to a root
    names = [f"N{i:02d}" for i in rng.permutation(len(nets))]
    order = [int(i) for i in rng.permutation(len(nets))]
    wires = WireList(
        tuple(
            Wired(
                f"U{names[i]}",
                "register" if n.kind == "register" else "gate",
                names[i],
                tuple(names[j] for j in n.inputs),
            )
            for i, n in enumerate(nets)
            if n.inputs
        )
    )
    pin = names[nets[fault.net].inputs[fault.pin]] if kind == "open input" else ""
    return Case(
        _capture("good", names, order, good, rng),
        _capture("suspect", names, order, suspect, rng),
        wires,
        frozenset(names[i] for i in fault.nets),
        pin,
    )


def _capture(title, names, order, ran, rng) -> Capture:  # type: ignore[no-untyped-def]
    levels, times = ran
    cycles = len(levels)
    phase = int(rng.integers(SAMPLE_PS))
    lead = 2 * 250_000
    stop = lead + cycles * 250_000 + 250_000
    edges = lead + np.arange(cycles + 1) * 250_000
    clock_at = np.sort(np.concatenate((edges, edges + 125_000)))
    traces = {CLOCK: _sampled(clock_at, np.arange(len(clock_at)) % 2 == 0, 0, phase, stop)}
    for i in order:
        k = np.flatnonzero(~np.isnan(times[:, i]))
        at = lead + k * 250_000 + np.round(times[k, i] * 1000).astype(np.int64)
        traces[names[i]] = _sampled(at, levels[k, i], 0, phase, stop)
    return Capture(title, traces, {}, SAMPLE_PS, "built")


def _sampled(at_ps: np.ndarray, levels: np.ndarray, start: int, phase: int, stop: int) -> DigitalTrace:
    """A trace as the analyser tells it: a transition shows at the next sample."""
    seen = (-(-(at_ps - phase) // SAMPLE_PS)) * SAMPLE_PS
    times = np.concatenate(([0], seen)).astype(np.int64)
    all_levels = np.concatenate(([start], levels)).astype(np.uint8)
    last = np.concatenate((times[1:] > times[:-1], [True]))
    return digital_trace(times[last], all_levels[last], stop)
