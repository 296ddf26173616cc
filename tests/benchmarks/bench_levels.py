"""1e8 samples through zones, levels and findings, against the mere reading of the memory."""

from __future__ import annotations

import time
from fractions import Fraction

import numpy as np

from tracecore.capture import AnalogTrace
from tracecore.measure.families import family
from tracecore.measure.level_figures import level_figures
from tracecore.measure.levels import digitise, zone_changes

SAMPLES = 100_000_000


def made() -> np.ndarray:
    """A square wave of 100 000 transitions with noise, 1 000 runts, 2 000 slow rises and 200 dips below ground."""
    chance = np.random.default_rng(0)
    volts = np.empty(SAMPLES, np.float32)
    for at in range(0, SAMPLES, 10_000_000):
        t = np.arange(at, at + 10_000_000)
        period, phase = t // 2000, t % 2000
        low = phase < 1000
        aim, was = np.where(low, 0.1, 3.2), np.where(low, 3.2, 0.1)
        aim = np.where((period % 50 == 33) & ~low, 1.44, aim)
        was = np.where((period % 50 == 34) & low, 1.44, was)
        length = np.where(period % 50 == 7, 100, 8)
        wave = was + (aim - was) * np.minimum((phase % 1000) / length, 1.0)
        wave[t % 500_000 == 600] = -0.8
        volts[at : at + len(t)] = wave.astype(np.float32) + 0.01 * chance.standard_normal(len(t), dtype=np.float32)
    return volts


def timed(words: str, work: object) -> None:
    took = []
    for _ in range(3):
        begin = time.perf_counter()
        work()  # type: ignore[operator]
        took.append(time.perf_counter() - begin)
    print(f"{words:44s} {1e3 * min(took):8.1f} ms   {4 * SAMPLES / min(took) / 1e9:6.2f} GB/s", flush=True)


def main() -> None:
    """Prints the best of three."""
    volts, ttl = made(), family("74")
    trace = AnalogTrace(0, Fraction(1000), volts)
    timed("reading the memory (max)", volts.max)
    timed("zones", lambda: zone_changes(volts, 0.8, 2.0))
    timed("zones and findings", lambda: digitise(trace, ttl))
    timed("all figures of a signal", lambda: level_figures(trace, ttl, ttl))
    found = level_figures(trace, ttl, ttl)
    print({kind: found.count(kind) for kind in dict.fromkeys(e.kind for e in found.events)})


if __name__ == "__main__":
    main()
