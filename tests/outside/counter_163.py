"""The counting sequence that a data sheet prints, as captures.

Source: Texas Instruments SDLS060, "SN54160 thru SN54163 ... synchronous 4-bit counters", typical clear, preset, count
and inhibit sequences of the binary counters: clear the outputs to zero; preset to binary twelve; count to thirteen,
fourteen, fifteen, zero, one and two; inhibit. The 163 clears on the clock edge. RCO is high while the count is
fifteen and ENT is high. Switching characteristics of the SN74163, 15 pF and 400 ohm: clock to Q at most 20 ns to a
rise and 23 ns to a fall, clock to RCO at most 35 ns either way; typical 13, 15 and 23 ns.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from tracecore.capture import Capture, DigitalTrace, digital_trace, sample_time_ps

PUBLISHED = (0, 12, 13, 14, 15, 0, 1, 2)
"""Outputs QD QC QB QA as a number: after the clear, after the preset, then six counts; inhibited, it stays at two."""

_INPUTS = (
    # clear, load, ENP, ENT: all active, apart from the first two, which are active low
    (0, 1, 1, 1),
    (1, 0, 1, 1),
    *[(1, 1, 1, 1)] * 6,
)
_INHIBIT = ((1, 1, 0, 1), (1, 1, 1, 0))
PRESET = 12
PERIOD_PS, RATE_HZ = 200_000, Fraction(100_000_000)
TYPICAL_PS = {"rise": 13_000, "fall": 15_000, "RCO": 23_000}
SLOWEST_PS = {"rise": 20_000, "fall": 23_000, "RCO": 35_000}
OUTPUTS = ("QA", "QB", "QC", "QD")


@dataclass(frozen=True, slots=True)
class Published:
    """``counts`` holds the printed count in each cycle; ``inhibited`` cycles follow each pass of the sequence."""

    counts: tuple[int, ...]
    rows: tuple[tuple[int, int, int, int], ...]


def published(passes: int) -> Published:
    """The sequence again and again, inhibited for longer or shorter in between so that no two passes are alike."""
    counts: list[int] = []
    rows: list[tuple[int, int, int, int]] = []
    for n in range(passes):
        inhibited = 2 + (n * n + 3 * n) % 11
        counts += [*PUBLISHED, *[PUBLISHED[-1]] * inhibited]
        rows += [*_INPUTS, *(_INHIBIT[(n + i) % 2] for i in range(inhibited))]
    return Published(tuple(counts), tuple(rows))


def counter_163(
    name: str,
    *,
    passes: int = 12,
    skip: int = 0,
    delays_ps: dict[str, int] = TYPICAL_PS,
    wrong: Callable[[str, np.ndarray], np.ndarray] = lambda signal, levels: levels,
) -> Capture:
    """A capture at 100 MHz of a 163 clocked at 5 MHz; ``skip`` cycles of the start are left out.

    Cycle k begins with a rising edge; the outputs show in cycle k what that edge made of them, the inputs change
    40 ns later for the edge after it. ``wrong`` may change the levels by cycle of a signal.
    """
    told = published(passes)
    counts, rows = np.array(told.counts), np.array(told.rows)
    following = np.vstack((rows[1:], rows[-1:]))
    levels = {n: following[:, i] for i, n in enumerate(("CLR", "LOAD", "ENP", "ENT"))}
    levels |= {n: np.full(len(counts), PRESET >> i & 1) for i, n in enumerate("ABCD")}
    levels |= {n: counts >> i & 1 for i, n in enumerate(OUTPUTS)}
    # ENT is taken as it stands when the outputs have settled, which is what the edge before had found
    levels["RCO"] = (counts == 15) & (rows[:, 3] == 1)
    edges = 90_000 + PERIOD_PS * np.arange(len(counts) + 1 - skip)
    stop = int(edges[-1]) + 60_000
    clock = np.stack((edges, edges + PERIOD_PS // 2), axis=1).ravel()
    traces = {"CLOCK": _sampled(clock, np.tile([1, 0], len(edges)), 0, stop)}
    for signal, row in levels.items():
        whole = np.asarray(wrong(signal, row.astype(np.uint8)))
        own, before = whole[skip:], int(whole[max(0, skip - 1)])
        delay = np.full(len(own), 40_000)
        if signal == "RCO":
            delay[:] = delays_ps["RCO"]
        elif signal in OUTPUTS:
            delay = np.where(own == 1, delays_ps["rise"], delays_ps["fall"])
        traces[signal] = _sampled(edges[:-1] + delay, own, before, stop)
    return Capture(name, traces, {}, 10_000, "built from the data sheet")


def _sampled(times_ps: np.ndarray, levels: np.ndarray, before: int, stop_ps: int) -> DigitalTrace:
    """Each change shows at the next sample."""
    index = -(-np.asarray(times_ps, np.int64) // 10_000)
    keep = index * 10_000 < stop_ps
    times = sample_time_ps(np.append(0, index[keep]), RATE_HZ)
    return digital_trace(times, np.append(before, levels[keep]).astype(np.uint8), stop_ps)
