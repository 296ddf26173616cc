"""What the invented bench does: levels by cycle become moving pins, and instruments write down what they see.

Times are picoseconds. Delays after the active edge are those of a few TTL gates and flip-flops in a row.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from demo_traces.linnet import SIGNALS

Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]
Float64 = NDArray[np.float64]

DELAYS_PS: dict[str, tuple[int, int]] = {
    "STB": (62_000, 48_000),
    "ACK": (112_000, 118_000),
    "READ": (54_000, 60_000),
    **{f"D0{i}": (88_000 + 3000 * i, 95_000 - 4000 * i) for i in range(4)},
    **{f"ADDR0{i}": (41_000 + 2000 * i, 47_000 + 1000 * i) for i in range(3)},
    **{f"SEQ{i}": (28_000 + 1500 * i, 33_000 + 500 * i) for i in range(3)},
    "RFSH": (58_000, 50_000),
    "WAIT": (70_000, 66_000),
}
"""Delay to a rise and to a fall after the active edge, by signal."""


@dataclass(frozen=True, slots=True, eq=False)
class Pin:
    """One pin: ``levels[i]`` holds from ``times_ps[i]`` on; the first entry is long before the capture."""

    times_ps: Int64
    levels: UInt8

    def at(self, times_ps: Int64) -> UInt8:
        """Levels at the given times."""
        return self.levels[np.maximum(self.times_ps.searchsorted(times_ps, "right") - 1, 0)]


def clock_edges_ps(first_ps: int, period_ps: float, cycles: int, jitter_ps: float, rng: np.random.Generator) -> Int64:
    """Rising edges, two before the one at ``first_ps`` and two behind the last cycle: int64[cycles + 5]."""
    even = first_ps + period_ps * np.arange(-2, cycles + 3)
    edges: Int64 = np.round(even + rng.normal(0, jitter_ps, len(even)).clip(-3 * jitter_ps, 3 * jitter_ps)).astype(
        np.int64
    )
    return edges


def clock_pin(edges_ps: Int64, period_ps: float) -> Pin:
    """High for the first half of each cycle."""
    times = np.stack((edges_ps, edges_ps + round(period_ps / 2)), axis=1).ravel()
    return Pin(times, np.tile(np.array([1, 0], np.uint8), len(edges_ps)))


def pin(levels: UInt8, edges_ps: Int64, delays_ps: tuple[int, int], jitter_ps: float, rng: np.random.Generator) -> Pin:
    """A pin that takes ``levels[k]`` (uint8[K]) a delay after ``edges_ps[k]``."""
    change = np.flatnonzero(levels[1:] != levels[:-1]) + 1
    delay = np.where(levels[change] == 1, *delays_ps)
    jitter = rng.normal(0, jitter_ps, len(change)).clip(-3 * jitter_ps, 3 * jitter_ps)
    times = edges_ps[change] + np.round(delay + jitter).astype(np.int64)
    return Pin(np.append(edges_ps[0] - 10**9, times), np.append(levels[:1], levels[change]))


def board_delays_ps(spread_ps: float, rng: np.random.Generator) -> dict[str, tuple[int, int]]:
    """One board's delays: every part differs a little from the next, by at most twice ``spread_ps``."""
    off = rng.normal(0, spread_ps, len(SIGNALS)).clip(-2 * spread_ps, 2 * spread_ps)
    return {
        s: (rise + round(by), fall + round(by))
        for (s, (rise, fall)), by in zip(DELAYS_PS.items(), off.tolist(), strict=True)
    }


def crate_pins(
    levels: Mapping[str, UInt8],
    edges_ps: Int64,
    period_ps: float,
    spread_ps: float,
    jitter_ps: float,
    rng: np.random.Generator,
    draws: Callable[[str], np.random.Generator] | None = None,
) -> dict[str, Pin]:
    """The pins of one crate by signal, the clock first; ``levels`` uint8[K] each, one for each of ``edges_ps``.

    ``draws`` gives a signal draws of its own, so that a fault on one pin moves no edge of another.
    """
    delays = board_delays_ps(spread_ps, rng)
    pins = {"MCLK": clock_pin(edges_ps, period_ps)}
    for signal, own in levels.items():
        pins[signal] = pin(own, edges_ps, delays[signal], jitter_ps, draws(signal) if draws else rng)
    return pins


def sample_times_ps(count: int, rate_hz: Fraction) -> Int64:
    """Instants of the samples 0..count-1."""
    period = Fraction(10**12) / rate_hz
    return np.arange(count, dtype=np.int64) * period.numerator // period.denominator


HIGH_V, LOW_V = 3.45, 0.18


def volts(driven: Pin, level_v: Mapping[int, float], times_ps: Int64, rise_ns: float = 7.0) -> Float64:
    """Volts of a TTL output at the given times: quick fall, slower rise, a little ringing after each.

    ``level_v`` gives the resting volts of the entries of ``driven`` that do not rest at ``HIGH_V`` or ``LOW_V``;
    ``rise_ns`` is the time constant of a rise. A slow one does not ring.
    """
    rest = np.where(driven.levels == 1, HIGH_V, LOW_V).astype(np.float64)
    for entry, value in level_v.items():
        rest[entry] = value
    index = driven.times_ps.searchsorted(times_ps, "right") - 1
    since_ns = (times_ps - driven.times_ps[index]) / 1000
    target, origin = rest[index], rest[np.maximum(index - 1, 0)]
    rising = target > origin
    settle = np.exp(-since_ns / np.where(rising, rise_ns, 3.5))
    swing = np.abs(target - origin) / (HIGH_V - LOW_V)
    ring = (
        np.where(rising, 0.22 if rise_ns < 20 else 0.0, -0.30)
        * swing
        * np.exp(-since_ns / 30)
        * np.sin(2 * np.pi * since_ns / 45)
    )
    return target + (origin - target) * settle + ring


def sampled_rows(names: Sequence[str], rows: UInt8, rate: str) -> bytes:
    """Sampled rows of levels uint8[N, channels]; ``rate`` in words, as ``24 MHz``."""
    cells = np.full((len(rows), 2 * rows.shape[1]), ord(","), np.uint8)
    cells[:, ::2] = rows + ord("0")
    cells[:, -1] = ord("\n")
    return f"# Sample rate: {rate}\n{','.join(names)}\n".encode() + cells.tobytes()


def sampled_pins(names: Sequence[str], pins: Sequence[Pin], stop_ps: int, rate_hz: Fraction) -> bytes:
    """What a sampling instrument writes of some pins until ``stop_ps``, as sampled rows."""
    at = sample_times_ps(int(stop_ps * rate_hz / 10**12), rate_hz)
    return sampled_rows(names, np.stack([p.at(at) for p in pins], axis=1), f"{float(rate_hz) / 1e6:g} MHz")


def change_rows(names: Sequence[str], pins: Sequence[Pin], stop_ps: int, step_ps: int) -> bytes:
    """A row for each instant, in whole nanoseconds, at which a pin changes; seen by an instrument that looks
    every ``step_ps``. The last row marks the end."""
    seen = [-(-p.times_ps // step_ps) * step_ps for p in pins]
    every = np.unique(np.concatenate([[0, stop_ps // step_ps * step_ps], *seen]))
    every = every[(every >= 0) & (every <= stop_ps)]
    columns = [Pin(t, p.levels).at(every) for t, p in zip(seen, pins, strict=True)]
    cells = np.stack([every // 1000, *columns], axis=1).tolist()
    rows = [",".join(map(str, row)) for row in cells]
    return "\n".join(["Time [ns]," + ",".join(names), *rows, ""]).encode()


def scope_columns(names: Sequence[str], columns: Sequence[Float64], interval_ns: int) -> bytes:
    """Volts to a hundredth, under a row of names and one of units; times in microseconds."""
    head = ["Time," + ",".join(names), "us," + ",".join(["Volt"] * len(names))]
    rows = [
        f"{i * interval_ns / 1000:.2f}," + ",".join(f"{v:.2f}" for v in cells)
        for i, cells in enumerate(zip(*(c.tolist() for c in columns), strict=True))
    ]
    return "\n".join([*head, *rows, ""]).replace("-0.00", "0.00").encode()
