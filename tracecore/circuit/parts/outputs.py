"""Which outputs of a part hang together, and what each should show: groups that share inputs are judged as one."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

from tracecore.circuit.parts.catalogue import Part
from tracecore.circuit.parts.delays import PartTimes
from tracecore.circuit.parts.judging import Bit, JudgedGroup, Output, judge_group
from tracecore.circuit.parts.logic3 import Equation, equation
from tracecore.circuit.parts.one_shot import ONE_SHOTS, one_shot_run
from tracecore.circuit.parts.pin_traces import PinTraces
from tracecore.circuit.parts.registers import SHOWN_INVERTED, Store, stores_of
from tracecore.circuit.parts.state_run import Shown, state_run

STATE = "state_"
"""Before the name of an output: the bit of the memory that it shows."""


@dataclass(frozen=True, slots=True, eq=False)
class PartRun:
    """All groups of a part, judged; ``may_miss`` where pulses may have fallen between samples."""

    groups: tuple[JudgedGroup, ...]
    may_miss: bool


@lru_cache(maxsize=256)
def output_values(part: Part, number: str) -> Mapping[str, Equation]:
    """What each output shows: its own equation, or a bit of the memory."""
    stores = stores_of(number, part.number)
    bits = {bit for store in stores for bit in store.bits}
    bits |= {bit for shots in (ONE_SHOTS.get(part.number, ()),) for shot in shots for bit in shot.bits}
    values = {name: equation(f"{STATE}{name}") for name in bits}
    for name, bit in SHOWN_INVERTED.get(part.number, {}).items():
        values[name] = equation(f"~{STATE}{bit}")
    for name, found in part.equations.items():
        text = found.text
        for bit in sorted(bits & set(found.names), key=len, reverse=True):
            text = _renamed(text, bit)
        for other in part.equations:
            # an output inside another one is taken as computed, but for nets that others may drive too
            if other in found.names and other not in part.open_collector and other not in part.enables:
                text = text.replace(other, f"({part.equations[other].text})")
        values[name] = equation(text)
    return values


def input_names(part: Part, number: str) -> tuple[str, ...]:
    """The legs that something hangs on, in the package's order; legs that go both ways count."""
    values = output_values(part, number)
    used = {name for found in (*values.values(), *part.enables.values()) for name in found.names}
    used |= {pin for store in stores_of(number, part.number) for pin in (*store.pins, *store.restless)}
    used |= {pin for shot in ONE_SHOTS.get(part.number, ()) for pin in shot.pins}
    return tuple(name for name in part.signals.values() if name in used)


def judged_part(
    part: Part,
    number: str,
    pins: PinTraces,
    times: PartTimes,
    width_ps: float | None = None,
    together: tuple[str, ...] = (),
    *,
    relearn: bool = False,
) -> PartRun:
    """Judges every captured output. ``width_ps`` is what a one-shot's pulse should last, None where not given.

    With ``together`` only these outputs are judged, over the states of all that either hangs on. ``relearn`` as for
    ``state_run``.
    """
    values = output_values(part, number)
    bits: dict[str, Bit] = {}
    may_miss = False
    for store in stores_of(number, part.number):
        inverted = {bit: name for name, bit in SHOWN_INVERTED.get(part.number, {}).items()}
        shown = {}
        for bit in store.bits:
            enable = part.enables.get(bit)
            if bit in pins.traces:
                shown[bit] = Shown(bit, False, enable)
            elif inverted.get(bit) in pins.traces:
                shown[bit] = Shown(inverted[bit], True, enable)
        run = state_run(store, pins, times, shown, relearn=relearn)
        may_miss |= run.may_miss
        bits |= {f"{STATE}{bit}": Bit(run.times_ps, run.levels[bit]) for bit in store.bits}
    for shot in ONE_SHOTS.get(part.number, ()):
        shot_bits, missed = one_shot_run(shot, pins, times, width_ps)
        may_miss |= missed
        bits |= {f"{STATE}{bit}": found for bit, found in shot_bits.items()}
    outputs = [_output(part, name, values[name]) for name in together or values if name in pins.traces]
    groups = [tuple(outputs)] if together else _groups(outputs, stores_of(number, part.number))
    return PartRun(tuple(judge_group(group, pins, bits, times.settle_ps) for group in groups), may_miss)


def _output(part: Part, name: str, value: Equation) -> Output:
    return Output(name, part.leg(name), value, part.enables.get(name), name in part.open_collector)


def _groups(outputs: list[Output], stores: tuple[Store, ...]) -> list[tuple[Output, ...]]:
    """Outputs that share a leg or a memory, in the order of their legs."""
    memory = {f"{STATE}{bit}": f"memory {index}" for index, store in enumerate(stores) for bit in store.bits}
    groups: list[tuple[set[str], list[Output]]] = []
    for output in sorted(outputs, key=lambda o: o.leg):
        used = (*output.value.names, *(output.enable.names if output.enable else ()))
        names = {memory.get(name, name) for name in used}
        members = [output]
        for other in [g for g in groups if g[0] & names]:
            names |= other[0]
            members = other[1] + members
            groups.remove(other)
        groups.append((names, members))
    return [tuple(sorted(members, key=lambda o: o.leg)) for _, members in groups]


def _renamed(text: str, bit: str) -> str:
    return re.sub(rf"\b{bit}\b", f"{STATE}{bit}", text)
