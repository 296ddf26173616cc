"""A signal that moves in the very sample of the clock's edge: which side of the edge it falls on cannot be told, but a
logic capture never shows it neither low nor high."""

from __future__ import annotations

import numpy as np

from tracecore.capture import Capture, digital_trace
from tracecore.compare.fault_kinds import FaultKind
from tracecore.comparison import CompareRequest, compare

SAMPLES, CYCLES, STEP_PS = 12, 60, 40_000
WRONG_FROM = 8
"""From here on the enable moves in each cycle, so that none of them is decided."""


def capture(enable: np.ndarray, name: str) -> Capture:
    """A clock, a counter's bits that move two samples behind its edge, and an enable that moves with it."""
    cycles = np.repeat(np.arange(CYCLES), SAMPLES)
    samples = {"CK": np.tile(np.arange(SAMPLES) < SAMPLES // 2, CYCLES), "EN": enable[cycles] == 1}
    for bit in range(5):
        samples[f"Q{bit}"] = np.roll((cycles >> bit) & 1, 2) == 1
    times = np.arange(len(cycles)) * STEP_PS
    digital = {key: digital_trace(times, row.astype(np.uint8), len(cycles) * STEP_PS) for key, row in samples.items()}
    return Capture(name, digital, {}, STEP_PS, "made for this test")


def test_a_logic_capture_never_shows_a_signal_neither_low_nor_high() -> None:
    at = np.arange(CYCLES)
    good = at // 10 % 2
    other = np.where(at < WRONG_FROM, good, at % 2)
    found = compare(CompareRequest((capture(good, "good"),), (capture(other, "other"),), clock="CK", offset=0))
    enable = next(signal for signal in found.signals if signal.signal == "EN")
    assert enable.verdict == "diverges"
    assert enable.fault_kind is not FaultKind.NEITHER_LOW_NOR_HIGH
