"""Plants one fault on the clock of a sound machine's capture, as it is on the board, before any instrument looks.

Some faults are at the clock's pin alone, some take the whole machine with them: it wanders, waits or stops with its
clock. All of it is invented.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from demo_traces.instruments import Int64, Pin
from tests.plant import CLOCK, PAD, Side
from tracecore.capture import AnalogTrace, Capture, DigitalTrace

AT_THE_PIN = (
    "double edges",
    "missing pulses",
    "extra pulses",
    "duty factor",
    "late",
    "early",
    "divided",
    "dead",
    "pin stops",
    "pin pauses",
)
WITH_THE_MACHINE = ("wandering period", "stops", "pauses", "all dead")
IN_VOLTS = ("runts", "slow edges")


def with_clock_fault(side: Side, kind: str, seed: int) -> Side:
    """The side with one of ``AT_THE_PIN`` or ``WITH_THE_MACHINE``; how much of it, and where, is drawn."""
    rng = np.random.default_rng((991, seed))
    if kind in WITH_THE_MACHINE:
        return _machine(side, kind, rng)
    return replace(side, pins={**side.pins, CLOCK: _pin(side, kind, rng)})


def _pin(side: Side, kind: str, rng: np.random.Generator) -> Pin:
    old, edges = side.pins[CLOCK], side.edges_ps
    period, step = float(np.median(np.diff(edges))), 10**12 / float(side.rate_hz)
    cycles = len(edges)
    some = np.flatnonzero(rng.random(cycles) < rng.uniform(0.01, 0.2))
    some = some[(some > 2 * PAD) & (some < cycles - 2 * PAD)]
    some = some if len(some) else np.array([cycles // 2])
    if kind == "double edges":
        # as wide as a sample and more, so that the instrument can see it at all
        at = edges[some] + round(rng.uniform(0.3, 1.2) * step)
        return _notched(old, at, at + round(rng.uniform(1.0, 1.6) * step))
    if kind == "extra pulses":
        at = edges[some] + round(rng.uniform(0.66, 0.72) * period)
        return _notched(old, at, at + round(max(1.05 * step, 0.1 * period)))
    if kind == "missing pulses":
        keep = ~np.isin(np.arange(len(old.times_ps)) // 2, some)
        return Pin(old.times_ps[keep], old.levels[keep])
    if kind == "duty factor":
        share = float(rng.choice([rng.uniform(0.18, 0.28), rng.uniform(0.72, 0.82)]))
        times = old.times_ps.copy()
        times[1::2] = edges + round(share * period)
        return Pin(times, old.levels)
    if kind in ("late", "early"):
        by = round(rng.uniform(0.22, 0.42) * period)
        return Pin(old.times_ps + (by if kind == "late" else -by), old.levels)
    if kind == "divided":
        # a flip-flop that halves the rate
        return Pin(edges, (np.arange(len(edges)) % 2).astype(np.uint8))
    if kind == "dead":
        return Pin(edges[:1] - 10**9, np.array([rng.integers(0, 2)], np.uint8))
    at_cycle = int(rng.integers(cycles // 4, 3 * cycles // 4))
    gone = np.arange(len(old.times_ps)) // 2 >= at_cycle
    if kind == "pin pauses":
        gone &= np.arange(len(old.times_ps)) // 2 < at_cycle + int(rng.integers(12, 60))
    return Pin(old.times_ps[~gone], old.levels[~gone])


def _notched(pin: Pin, starts: Int64, stops: Int64) -> Pin:
    """The pin with the other level from each start to its stop."""
    held = pin.at(starts)
    times = np.concatenate((pin.times_ps, starts, stops))
    levels = np.concatenate((pin.levels, 1 - held, held)).astype(np.uint8)
    order = np.argsort(times, kind="stable")
    return Pin(times[order], levels[order])


def _machine(side: Side, kind: str, rng: np.random.Generator) -> Side:
    edges = side.edges_ps
    period = float(np.median(np.diff(edges)))
    if kind == "all dead":
        rest = {s: Pin(p.times_ps[:1], p.levels[:1]) for s, p in side.pins.items()}
        return replace(side, pins=rest)
    at = int(edges[int(rng.integers(len(edges) // 4, 3 * len(edges) // 4))]) + round(0.8 * period)
    if kind == "stops":
        return replace(side, pins={s: _until(p, at) for s, p in side.pins.items()})
    if kind == "pauses":
        gap = round(rng.uniform(12, 60) * period)
        return replace(
            side, pins={s: Pin(p.times_ps + gap * (p.times_ps > at), p.levels) for s, p in side.pins.items()}
        )
    turn, depth = rng.uniform(40, 400) * period, rng.uniform(0.01, 0.06)

    def warped(times: Int64) -> Int64:
        # the rate goes up and down by so much; times stay in order
        swing = depth * turn / (2 * np.pi)
        return np.asarray(times + np.round(swing * np.sin(2 * np.pi * times / turn)), np.int64)

    return replace(
        side, pins={s: Pin(warped(p.times_ps), p.levels) for s, p in side.pins.items()}, edges_ps=warped(edges)
    )


def _until(pin: Pin, at_ps: int) -> Pin:
    keep = pin.times_ps < at_ps
    keep[0] = True
    return Pin(pin.times_ps[keep], pin.levels[keep])


def clock_in_volts(side: Side, kind: str, seed: int) -> Capture:
    """Logic, and the clock beside it in volts: sound (an empty kind), or with one of ``IN_VOLTS``."""
    rng = np.random.default_rng((992, seed))
    weak: dict[int, float] = {}
    pin = side.pins[CLOCK]
    if kind == "runts":
        high = np.flatnonzero((pin.levels == 1) & (rng.random(len(pin.levels)) < rng.uniform(0.02, 0.2)))
        weak = dict.fromkeys(high[high > 2 * PAD].tolist(), float(rng.uniform(1.2, 1.7)))
    clock = replace(side, pins={CLOCK: pin}, weak_v={CLOCK: weak} if weak else {}).capture_in_volts().analog[CLOCK]
    if kind == "slow edges":
        clock = _slowed(clock, float(rng.uniform(90, 140)))
    logic: dict[str, DigitalTrace] = {s: t for s, t in side.capture().digital.items() if s != CLOCK}
    step = -(-(10**12) * side.rate_hz.denominator // side.rate_hz.numerator)
    return Capture(side.name, logic, {CLOCK: clock}, int(step), "built")


def _slowed(trace: AnalogTrace, tau_ns: float) -> AnalogTrace:
    """Behind a resistor and a capacitor of this time constant."""
    from scipy.signal import lfilter

    share = float(1 - np.exp(-float(trace.interval_ps) / 1000 / tau_ns))
    slow = lfilter([share], [1, share - 1], trace.volts.astype(np.float64))
    return AnalogTrace(trace.start_ps, trace.interval_ps, slow.astype(np.float32))


__all__ = ["AT_THE_PIN", "IN_VOLTS", "WITH_THE_MACHINE", "clock_in_volts", "with_clock_fault"]
