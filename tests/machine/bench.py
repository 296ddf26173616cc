"""Draws: two boards under two instruments with clocks of their own, sampled at 11 to 23 samples a cycle.

Cycle 0 of a capture is the one that begins at its first active edge. ``offset_cycles`` is suspect minus good.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

import numpy as np

from demo_traces.instruments import Pin, clock_edges_ps, clock_pin
from tests.machine.board import AT, NETS, Board, Setting
from tests.machine.faults import KINDS, PAIRED, Fault
from tests.machine.program import random_program
from tests.plant import Side
from tracecore.capture import Capture

CLOCK = "CLK"
PERIOD_PS = 250_000
LEAD = 200
Start = Literal["reset", "same event", "running"]


@dataclass(frozen=True, slots=True, eq=False)
class MachinePair:
    """Two captures of the invented machine and the truth about them.

    ``shows`` is how many cycles behind the reset the two differ first on any captured net, None where they never do;
    ``inserted`` how many further wait cycles the suspect takes, each of which moves the offset by one;
    ``offset_cycles`` the offset where the two begin, None where no offset is right.
    ``levels`` uint8[S, N] and uint8[S, M] are the states in each cycle of both captures, of the nets ``names``.
    """

    good: Capture
    suspect: Capture
    offset_cycles: int | None
    fault: Fault | None
    shows: int | None
    start: Start
    inserted: int
    names: tuple[str, ...]
    levels: tuple[np.ndarray, np.ndarray]
    clock: str = CLOCK

    @property
    def net(self) -> str:
        """The faulty net; empty without a fault."""
        return "" if self.fault is None else self.fault.net

    def right(self, offset: int) -> bool:
        """Is an offset one at which the two run in step somewhere?"""
        return self.offset_cycles is not None and 0 <= offset - self.offset_cycles <= self.inserted


def draw(
    seed: int,
    kind: str,
    *,
    start: Start | None = None,
    cycles: int | None = None,
    waits: bool | None = None,
    power_up_alike: bool | None = None,
    since: int | None = None,
) -> MachinePair | None:
    """One fault of ``kind`` (of ``KINDS``) on the suspect board; None where the two then show no difference.

    What is not given is drawn: both captures begin in the reset (``reset``, at moments of their own, most often), at
    the same moment of it (``same event``), or anywhere behind it (``running``); ``since`` is at which cycle behind the
    reset the fault begins.
    """
    rng = random.Random(f"{seed} {kind}")
    program = random_program(rng)
    chosen_since = since if since is not None else (rng.randint(1, 500) if rng.random() < 0.3 else -(10**9))
    net = rng.choice([n for n in NETS if n != "RESET"])
    others = [n for n in NETS if n not in (net, "RESET") and (n[:3] == net[:3] or rng.random() < 0.1)]
    fault = Fault(kind, net, chosen_since, rng.choice(others) if kind in PAIRED else "", rng.uniform(0.15, 0.45))
    pair = _pair(rng, seed, program, program, fault, start, cycles, waits, power_up_alike)
    return pair if pair.shows is not None or kind == "late" else None


def draw_any(seed: int, **how: object) -> MachinePair | None:
    """A draw whose kind the seed chooses: ``KINDS`` in turn."""
    return draw(seed, KINDS[seed // 2 % len(KINDS)], **how)  # type: ignore[arg-type]


def draw_clean(
    seed: int,
    *,
    start: Start | None = None,
    cycles: int | None = None,
    waits: bool = False,
    power_up_alike: bool = True,
) -> MachinePair:
    """Two sound boards that came up alike, or with other contents of registers and store."""
    rng = random.Random(f"{seed} clean")
    program = random_program(rng)
    return _pair(rng, seed, program, program, None, start, cycles, waits, power_up_alike=power_up_alike)


def draw_unrelated(seed: int, *, start: Start | None = None, cycles: int | None = None) -> MachinePair:
    """Two sound boards that run different programs: but for the reset no offset is right."""
    rng = random.Random(f"{seed} unrelated")
    pair = _pair(rng, seed, random_program(rng), random_program(rng), None, start, cycles, False, None)
    return _without_offset(pair)


def draw_loop(seed: int, *, cycles: int | None = None) -> MachinePair:
    """Two sound boards caught in a tight loop: the offset is known up to its period alone."""
    rng = random.Random(f"{seed} loop")
    program = random_program(rng, tight=True)
    return _pair(rng, seed, program, program, None, "running", cycles, False, power_up_alike=True)


def draw_in_reset(seed: int, cycles: int | None = None) -> MachinePair:
    """The suspect never leaves the reset: no offset is right."""
    rng = random.Random(f"{seed} in reset")
    program = random_program(rng)
    pair = _pair(rng, seed, program, program, Fault("stuck low", "RESET"), "reset", cycles, False, True)
    return _without_offset(pair)


def _without_offset(pair: MachinePair) -> MachinePair:
    return replace(pair, offset_cycles=None)


def _pair(
    rng: random.Random,
    seed: int,
    good_program: bytes,
    suspect_program: bytes,
    fault: Fault | None,
    start: Start | None,
    cycles: int | None,
    waits: bool | None,
    power_up_alike: bool | None,
) -> MachinePair:
    start = start or rng.choices(("reset", "same event", "running"), (0.6, 0.15, 0.25))[0]
    count = cycles or rng.choice((700, 1200, 2000))
    lengths = [int(count * rng.uniform(0.7, 1.0)) for _ in range(2)]
    slipping = waits if waits is not None else rng.random() < 0.1
    alike = power_up_alike if power_up_alike is not None else rng.random() < 0.7
    if start == "running":
        begins = [LEAD + rng.randint(20, 600) for _ in range(2)]
    else:
        begins = [LEAD - rng.randint(5, 150) for _ in range(2)]
        begins[1] = begins[0] if start == "same event" else begins[1]
    total = max(begins) + max(lengths) + 5
    boards = [
        Board(good_program, Setting(LEAD, 2 * seed), None, seed),
        Board(suspect_program, Setting(LEAD, 2 * seed + (not alike), seed if slipping else None), fault, seed),
    ]
    levels = [b.run(total) for b in boards]
    names = _captured(rng)
    columns = [AT[n] for n in names]
    low, stop = max(begins), min(b + n for b, n in zip(begins, lengths, strict=True))
    differ = np.flatnonzero((levels[0][low:stop, columns] != levels[1][low:stop, columns]).any(1))
    shows = int(differ[0]) + low - LEAD if len(differ) else None
    captures, seen = [], []
    for side in range(2):
        late = fault if side and fault is not None and fault.kind == "late" else None
        captures.append(
            _capture(("good", "suspect")[side], rng, levels[side], begins[side], lengths[side], names, late)
        )
        seen.append(np.ascontiguousarray(levels[side][begins[side] : begins[side] + lengths[side], columns].T))
    inserted = sum(k < begins[1] + lengths[1] for k in boards[1].waited)
    return MachinePair(
        captures[0],
        captures[1],
        begins[0] - begins[1],
        fault,
        shows,
        start,
        inserted,
        names,
        (seen[0], seen[1]),
    )


def _captured(rng: random.Random) -> tuple[str, ...]:
    """The nets that clips sit on: 12, 20, 32 or all of them, RESET in most."""
    count = rng.choice((12, 20, 32, len(NETS)))
    chosen = set(rng.sample([n for n in NETS if n != "RESET"], min(count, len(NETS) - 1)))
    if rng.random() < 0.7:
        chosen.add("RESET")
    return tuple(n for n in NETS if n in chosen)


def _capture(
    name: str,
    rng: random.Random,
    levels: np.ndarray,
    begin: int,
    count: int,
    names: tuple[str, ...],
    late: Fault | None,
) -> Capture:
    """One board's wires as one instrument samples them: a phase, a rate and delays of its own."""
    noise = np.random.default_rng(rng.randrange(1 << 30))
    drift = 1 + rng.uniform(-1e-4, 1e-4)
    first = round(rng.uniform(0.55, 0.95) * PERIOD_PS)
    edges = clock_edges_ps(first, PERIOD_PS * drift, count, 300, noise)
    rows = levels[begin - 2 : begin + count + 3]
    pins = {CLOCK: clock_pin(edges, PERIOD_PS * drift)}
    for net in names:
        own = rows[:, AT[net]]
        change = np.flatnonzero(own[1:] != own[:-1]) + 1
        delay = 12_000 + 1_400 * (AT[net] % 29) + noise.normal(0, 1200) + noise.normal(0, 400, len(change))
        if late is not None and net == late.net:
            delay = delay + late.late * PERIOD_PS
        times = edges[change] + np.round(delay).astype(np.int64)
        pins[net] = Pin(np.append(edges[0] - 10**9, times), np.append(own[:1], own[change]))
    rate = Fraction(round(rng.uniform(11, 23) * 10**12 / PERIOD_PS))
    return Side(name, pins, edges, int(edges[2 + count] + 0.3 * PERIOD_PS), rate).capture()
