"""A one-shot: that a trigger makes a pulse, that nothing else does, and how long it lasts where R and C are given.

How long it lasts without them nobody knows; then only its beginning, and that none comes by itself, is judged.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tracecore.capture import HIGH, LOW, UNKNOWN
from tracecore.circuit.parts.delays import PartTimes
from tracecore.circuit.parts.judging import Bit
from tracecore.circuit.parts.pin_traces import PinTraces

WIDTH_TOLERANCE = 0.25
"""Timing capacitors and the part itself: so far off a pulse is no fault (common practice)."""


@dataclass(frozen=True, slots=True)
class OneShot:
    """Half a 74123 by the names of its legs."""

    a: str
    b: str
    clear: str
    q: str
    q_n: str

    @property
    def pins(self) -> tuple[str, ...]:
        """Its inputs."""
        return (self.a, self.b, self.clear)

    @property
    def bits(self) -> tuple[str, ...]:
        """Its outputs."""
        return (self.q, self.q_n)


ONE_SHOTS: Mapping[str, tuple[OneShot, ...]] = {
    "74123": tuple(OneShot(f"A{n}_n", f"B{n}", f"CLR{n}_n", f"Q{n}", f"Q{n}_n") for n in "12")
}


def pulse_ps(r_ohm: float, c_farad: float) -> float:
    """The published width of a 74123's pulse: 0.28 R C (1 + 0.7/R), R in kohm, C in pF, result in ns; C above 1000 pF.

    Source: TTL Data Book, 74123, second-hand (V-LIB in sources.csv).

    >>> round(pulse_ps(10e3, 10e-9) / 1e6, 2)
    29.96
    """
    kilohm, picofarad = r_ohm / 1e3, c_farad * 1e12
    return 0.28 * kilohm * picofarad * (1 + 0.7 / kilohm) * 1e3


def one_shot_run(
    shot: OneShot, pins: PinTraces, times: PartTimes, width_ps: float | None
) -> tuple[dict[str, Bit], bool]:
    """What both outputs should show from each trigger on, and whether triggers may have been missed."""
    start = np.array([pins.start_ps], np.int64)
    unknown = np.full(1, UNKNOWN, np.uint8)
    if not all(pins.known(pin) for pin in shot.pins):
        return {bit: Bit(start, unknown) for bit in shot.bits}, False
    moves, levels = _moves(shot, pins, times, width_ps)
    inverted = np.where(levels == UNKNOWN, levels, 1 - levels).astype(np.uint8)
    least = 2 * pins.resolution_ps
    missed = any(len(c) > 1 and int(np.diff(c).min()) < least for c in map(pins.changes, shot.pins))
    return {shot.q: Bit(moves, levels), shot.q_n: Bit(moves, inverted)}, missed


def _moves(shot: OneShot, pins: PinTraces, times: PartTimes, width_ps: float | None) -> tuple[np.ndarray, np.ndarray]:
    """Times and levels of Q as it should be."""
    events = np.unique(np.concatenate([np.array([pins.start_ps]), *(pins.changes(pin) for pin in shot.pins)]))
    now = [pins.levels(pin, events).tolist() for pin in shot.pins]
    out: list[tuple[int, int]] = [(pins.start_ps, UNKNOWN)]
    ends = _falls(shot, pins)
    begun: int | None = None
    for i, at in enumerate(events.tolist()):
        a, b, clear = (levels[i] for levels in now)
        close = bool(i) and any(
            at - e < times.pulse_ps + pins.resolution_ps for e in events[max(0, i - 1) : i].tolist()
        )
        if clear == LOW:
            out.append((at, LOW))
            begun = None
            continue
        fired = bool(i) and a == LOW and b == HIGH and clear == HIGH and (
            now[0][i - 1] != LOW or now[1][i - 1] != HIGH or now[2][i - 1] != HIGH
        )  # fmt: skip
        if fired and not close and UNKNOWN not in (now[0][i - 1], now[1][i - 1], now[2][i - 1]):
            begun = at
            _pulse(out, at, width_ps, times, pins)
        elif fired or UNKNOWN in (a, b, clear):
            out.append((at, UNKNOWN))
            begun = None
        following = int(events[i + 1]) if i + 1 < len(events) else pins.stop_ps
        # a pulse that has been seen to end is over until the next trigger
        end = ends[ends.searchsorted(at, side="right") :][:1]
        if len(end) and int(end[0]) < following and not (begun == at and width_ps is not None):
            out.append((int(end[0]), LOW))
    table: dict[int, int] = {}
    for at, level in sorted(out, key=lambda entry: entry[0]):
        table[at] = level
    return np.array(list(table), np.int64), np.array(list(table.values()), np.uint8)


def _pulse(out: list[tuple[int, int]], at: int, width_ps: float | None, times: PartTimes, pins: PinTraces) -> None:
    """High from the trigger on; until when is known only from R and C."""
    while out and out[-1][0] > at:
        # a trigger inside the pulse starts it anew
        out.pop()
    out.append((at, HIGH))
    if width_ps is None:
        out.append((at + times.settle_ps + 5 * pins.resolution_ps, UNKNOWN))
        return
    out.append((at + round(width_ps * (1 - WIDTH_TOLERANCE)), UNKNOWN))
    out.append((at + round(width_ps * (1 + WIDTH_TOLERANCE)) + times.settle_ps, LOW))


def _falls(shot: OneShot, pins: PinTraces) -> np.ndarray:
    """When Q was seen to fall."""
    for name, level in ((shot.q, LOW), (shot.q_n, HIGH)):
        if name in pins.traces:
            times = pins.changes(name)
            return np.asarray(times[pins.levels(name, times) == level])
    return np.empty(0, np.int64)
