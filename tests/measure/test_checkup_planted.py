"""The check-up of whole files against what their maker knows: clock, rate, dead channels, a pause, in every layout."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import numpy as np
import pytest

from demo_traces.instruments import Pin
from demo_traces.linnet import SIGNALS
from tests.measure.test_checkup import printed, screen_rows
from tests.plant import CLOCK, Plant, Side
from tracecore.measure.checkup import check
from tracecore.quantities import PS_PER_S
from tracecore.readers import read_capture

RATE_HZ = Fraction(100_000_000)
LAYOUTS = {
    "sampled rows": Side.as_sampled_rows,
    "change rows": Side.as_change_rows,
    "scope columns": Side.as_scope_columns,
}
_RATES = {"Hz": 1.0, "kHz": 1e3, "MHz": 1e6}
_TIMES_PS = {"ps": 1.0, "ns": 1e3, "µs": 1e6, "ms": 1e9}


def dead(side: Side, signals: dict[str, int]) -> Side:
    """Leads that hang on nothing and read one level."""
    still = {s: Pin(np.array([-(10**9)]), np.array([level], np.uint8)) for s, level in signals.items()}
    return replace(side, pins={**side.pins, **still})


def paused(side: Side, at_ps: int, for_ps: int) -> Side:
    """The machine holds for a while: all that would come after ``at_ps`` comes later."""
    later = {
        s: Pin(np.where(p.times_ps >= at_ps, p.times_ps + for_ps, p.times_ps), p.levels) for s, p in side.pins.items()
    }
    return replace(side, pins=later, stop_ps=side.stop_ps + for_ps)


def quantity(text: str, units: dict[str, float]) -> float:
    number, unit = text.replace("\u202f", "").split(" ")
    return float(number) * units[unit]


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("seed", range(4))
def test_what_is_claimed_of_a_file_is_what_was_planted(tmp_path: Path, layout: str, seed: int) -> None:
    draw = Random(seed)
    period_ps = draw.choice([300_000, 416_000, 1_000_000])
    plant = Plant(seed, cycles=300, period_ps=period_ps, good_rate_hz=RATE_HZ, drift_ppm=0, jitter_ps=300)
    gone = {s: draw.randint(0, 1) for s in draw.sample([s for s in SIGNALS if s != CLOCK], draw.randint(0, 3))}
    side = dead(plant.clean().good, gone)
    gap_ps, at_ps = draw.choice([0, 30, 90]) * period_ps, int(side.edges_ps[150]) - period_ps // 4
    side = paused(side, at_ps, gap_ps) if gap_ps else side
    path = tmp_path / "bench.csv"
    path.write_bytes(LAYOUTS[layout](side))
    sheet = plant.clean().sheet
    capture = read_capture(path)
    checkup = check(capture, sheet)
    text = printed(capture, checkup, sheet)
    assert screen_rows(text) <= 24
    assert f"{layout} · " in text
    # the clock, and its rate while it ticks: a pause makes no clock slower
    claim = re.search(rf"Clock {CLOCK} ([\d.\u202f]+ [kM]?Hz)", text)
    assert claim is not None, text
    assert quantity(claim[1], _RATES) == pytest.approx(PS_PER_S / period_ps, rel=0.001)
    # leads that hang on nothing, with the level they read
    for signal in SIGNALS:
        told = f"{signal} (low)" in text or f"{signal} (high)" in text
        assert told == (signal in gone), (signal, text)
    assert all(f"{s} ({'high' if level else 'low'})" in text for s, level in gone.items())
    # the pause, with its place and length
    pause = re.search(rf"Gap: {CLOCK} does not tick for (\S+ \S+) from (\S+ \S+) on; nothing else moves", text)
    assert (pause is not None) == bool(gap_ps), text
    if pause is not None:
        assert quantity(pause[1], _TIMES_PS) == pytest.approx(gap_ps + period_ps, abs=period_ps)
        assert quantity(pause[2], _TIMES_PS) == pytest.approx(at_ps, abs=1.5 * period_ps)
    # and nothing besides
    looked = [line for line in checkup.lines if line.kind != "fine"]
    assert len(looked) == bool(gone) + bool(gap_ps), text
