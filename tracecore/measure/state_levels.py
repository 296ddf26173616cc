"""Where a waveform rests: the two state levels of IEEE Std 181 (clause 3, from memory), by a histogram of its samples.

A histogram of a million samples says as much as one of a hundred million, so long captures are thinned by a stride that
shares no factor with usual periods. Rare levels are not its matter: those are found stretch by stretch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tracecore.capture import Float32, Int64

_SAMPLES = 1 << 19
_BINS = 256


@dataclass(frozen=True, slots=True, eq=False)
class StateLevels:
    """``low_v`` is s1, ``high_v`` s2, None where there is no such state.

    ``counts`` int64[B] over ``edges_v`` float64[B + 1] is the histogram. ``step_v`` is the
    smallest step between two readings: the instrument's quantisation. ``mean_v`` is the mean of the whole.
    """

    low_v: float | None
    high_v: float | None
    counts: Int64
    edges_v: np.ndarray
    step_v: float
    mean_v: float

    @property
    def amplitude_v(self) -> float:
        """s2 - s1; 0 where one of them was never seen."""
        return 0.0 if self.low_v is None or self.high_v is None else self.high_v - self.low_v


def thinned(volts: Float32) -> Float32:
    """At most some half a million samples, evenly taken."""
    stride = -(-len(volts) // _SAMPLES)
    if stride > 1:
        stride = next(s for s in range(stride, stride + 60) if s % 2 and s % 3 and s % 5 and s % 7)
    return np.ascontiguousarray(volts[::stride])


def reference_level(low_v: float, high_v: float, percent: float) -> float:
    """The percent reference level, s1 + A * p / 100.

    >>> round(reference_level(0.2, 3.4, 10), 2)
    0.52
    """
    return low_v + (high_v - low_v) * percent / 100


def state_levels(volts: Float32, vil_v: float, vih_v: float) -> StateLevels:
    """The state levels of ``volts`` float32[N]: the mode of the samples that are low, and of those that are high; where
    none is, of those that are nearer to that level than to the other.

    A state that holds less than one sample in two hundred is none: transitions and ringing pass through there too.
    """
    part = thinned(volts)
    lowest, highest = float(part.min()), float(part.max())
    # a bin is no wider than 10 mV where the range allows it, so that two near levels stay two
    bins = int(np.clip((highest - lowest) / 0.01, 32, 1024)) if highest > lowest else 1
    span = (lowest, highest) if highest > lowest else (lowest - 0.005, highest + 0.005)
    counts, edges = np.histogram(part, bins=bins, range=span)
    middle = np.float32((vil_v + vih_v) / 2)
    low = _mode(part[part <= np.float32(vil_v)], len(part))
    high = _mode(part[part >= np.float32(vih_v)], len(part))
    if low is None and high is None:
        low = _mode(part[part < middle], len(part))
        high = _mode(part[part >= middle], len(part))
    elif low is None:
        low = _mode(part[part < middle], len(part))
    elif high is None:
        high = _mode(part[part >= middle], len(part))
    return StateLevels(
        low,
        high,
        counts.astype(np.int64),
        edges,
        quantisation_step(part),
        float(part.mean(dtype=np.float64)),
    )


def _mode(part: Float32, whole: int) -> float | None:
    """The mode, refined to the mean of the samples near it."""
    if len(part) < max(2, whole / 200):
        return None
    lowest, highest = float(part.min()), float(part.max())
    if highest - lowest < 1e-6:
        return lowest
    bins = int(np.clip((highest - lowest) / 0.02, 8, _BINS))
    counts, edges = np.histogram(part, bins=bins, range=(lowest, highest))
    top = int(counts.argmax())
    width = edges[1] - edges[0]
    near = part[(part >= edges[top] - width) & (part <= edges[top + 1] + width)]
    return float(near.mean(dtype=np.float64))


def quantisation_step(volts: Float32) -> float:
    """The smallest step between two readings in volts; 0 where there is but one reading.

    >>> round(quantisation_step(np.array([0.0, 0.04, 0.08, 0.2], np.float32)), 3)
    0.04
    """
    some = np.unique(volts[: 1 << 16])
    gaps = np.diff(some.astype(np.float64))
    # float32 keeps seven digits: what is smaller than that is rounding, not a step
    gaps = gaps[gaps > 1e-6 * max(1.0, float(np.abs(some).max(initial=0.0)))]
    return float(gaps.min(initial=np.inf)) if len(gaps) else 0.0
