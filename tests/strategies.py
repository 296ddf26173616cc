"""What hypothesis draws: traces and captures that hold every promise of their types."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from hypothesis import strategies as st

from tests.plant import Fault, Mode, Plant
from tracecore.capture import HIGH, LOW, UNKNOWN, Capture, DigitalTrace, digital_trace, sample_time_ps


@st.composite
def digital_traces(draw: st.DrawFn, *, most: int = 40, unknown: bool = True, start_ps: int = 0) -> DigitalTrace:
    """Up to ``most`` entries, some 1 to 500 ps apart; with ``unknown`` some levels are unknown."""
    steps = draw(st.lists(st.integers(1, 500), max_size=most - 1))
    kinds = (LOW, HIGH, UNKNOWN) if unknown else (LOW, HIGH)
    levels = draw(st.lists(st.sampled_from(kinds), min_size=len(steps) + 1, max_size=len(steps) + 1))
    times = start_ps + np.cumsum([0, *steps])
    stop = int(times[-1]) + draw(st.integers(0, 500))
    return digital_trace(times.astype(np.int64), np.array(levels, np.uint8), stop)


@st.composite
def captures(
    draw: st.DrawFn, *, most_samples: int = 200, channels: tuple[int, int] = (1, 6)
) -> tuple[Capture, np.ndarray, Fraction]:
    """A sampled capture, its samples uint8[channels, N], and its rate in hertz."""
    lines = draw(st.integers(*channels))
    count = draw(st.integers(2, most_samples))
    rate = draw(st.sampled_from([Fraction(24_000_000), Fraction(100_000_000), Fraction(1000), Fraction(7, 3)]))
    seed = draw(st.integers(0, 2**32 - 1))
    # how often a channel moves matters more than which samples do
    share = np.array(draw(st.lists(st.sampled_from([0, 0.02, 0.3, 1]), min_size=lines, max_size=lines)))
    moves = np.random.default_rng(seed).random((lines, count)) < share[:, None]
    samples = (np.cumsum(moves, axis=1) % 2).astype(np.uint8)
    times = sample_time_ps(np.arange(count + 1), rate)
    traces = {f"C{i}": digital_trace(times[:-1], row, int(times[-1])) for i, row in enumerate(samples)}
    return Capture("drawn", traces, {}, int(-(-(10**12) // rate)), "drawn"), samples, rate


plants = st.builds(
    Plant,
    seed=st.integers(1, 10_000),
    cycles=st.sampled_from([600, 900, 1500]),
    period_ps=st.sampled_from([300_000, 416_000, 1_000_000]),
    good_rate_hz=st.sampled_from([Fraction(50_000_000), Fraction(100_000_000)]),
    suspect_rate_hz=st.sampled_from([Fraction(50_000_000), Fraction(80_000_000), Fraction(200_000_000)]),
    offset_cycles=st.integers(-60, 60),
    drift_ppm=st.floats(-3000, 3000),
    jitter_ps=st.floats(0, 600),
)


def faults(mode: Mode, signals: tuple[str, ...]) -> st.SearchStrategy[Fault]:
    """A fault of one mode on one of the signals, from one of the first cycles on."""
    return st.builds(Fault, st.just(mode), st.sampled_from(signals), since=st.integers(0, 200))


@st.composite
def edited(draw: st.DrawFn, data: bytes, first: int, edits: int = 1) -> bytes:
    """``data`` with up to ``edits`` bytes at ``first`` or behind changed, taken out or put in, or the end cut off."""
    text = bytearray(data)
    for _ in range(draw(st.integers(1, edits))):
        if len(text) <= first:
            break
        at = draw(st.integers(first, len(text) - 1))
        stray = draw(st.sampled_from(b'01X27,; \n\r.-+e9"'))
        kind = draw(st.sampled_from(["change", "flip", "take out", "put in", "cut"]))
        if kind == "change":
            text[at] = stray
        elif kind == "flip":
            text[at] ^= 1 << draw(st.integers(0, 7))
        elif kind == "take out":
            del text[at]
        elif kind == "put in":
            text.insert(at, stray)
        else:
            del text[at:]
    return bytes(text)
