"""How long transitions take: from 10 to 90 % of the amplitude (IEEE Std 181, clause 3, from memory), and through the
undefined band. Reference level instants are found by straight lines between samples."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from tracecore.capture import Float32, Int64, UInt8
from tracecore.measure.state_levels import reference_level

_MOST = 20_000
"""So many transitions are timed in full, evenly taken; their median is not better with more."""
_FIRST_WINDOW, _LAST_WINDOW = 16, 1 << 14


@dataclass(frozen=True, slots=True, eq=False)
class TransitionTimes:
    """Durations of one direction's transitions. ``at`` int64[N] is the first sample past the far threshold,
    ``full_ps`` float64[N] the 10 to 90 % time (NaN where a side was never reached), ``band_ps`` float64[N] the time
    from one threshold to the other. ``total`` counts all transitions, of which N were timed."""

    rising: bool
    at: Int64
    full_ps: np.ndarray
    band_ps: np.ndarray
    total: int

    @property
    def median_ps(self) -> float | None:
        """Median 10 to 90 % time; None without a transition that was seen in full."""
        known = self.full_ps[~np.isnan(self.full_ps)]
        return float(np.median(known)) if len(known) else None


def transition_times(
    volts: Float32,
    start: Int64,
    stop: Int64,
    zone: UInt8,
    thresholds_v: tuple[float, float],
    levels_v: tuple[float, float],
    interval_ps: Fraction,
) -> tuple[TransitionTimes, TransitionTimes]:
    """Rising and falling transitions between stretches (``start``, ``stop``, ``zone`` of ``zone_changes``)."""
    sure = np.flatnonzero(zone != 1)
    before, after = sure[:-1], sure[1:]
    pairs = np.flatnonzero(zone[before] != zone[after]) if len(sure) > 1 else np.empty(0, np.int64)
    out = []
    for rising in (True, False):
        own = pairs[(zone[after[pairs]] == 2) == rising]
        total = len(own)
        if total > _MOST:
            own = own[np.linspace(0, total - 1, _MOST).astype(np.int64)]
        a, b = stop[before[own]] - 1, start[after[own]]
        first, last = start[before[own]], stop[after[own]] - 1
        out.append(_timed(volts, rising, a, b, first, last, thresholds_v, levels_v, float(interval_ps), total))
    return out[0], out[1]


def _timed(
    volts: Float32,
    rising: bool,
    a: Int64,
    b: Int64,
    first: Int64,
    last: Int64,
    thresholds_v: tuple[float, float],
    levels_v: tuple[float, float],
    interval: float,
    total: int,
) -> TransitionTimes:
    ten, ninety = reference_level(*levels_v, 10), reference_level(*levels_v, 90)
    near, far = (ten, ninety) if rising else (ninety, ten)
    into, out_of = thresholds_v if rising else thresholds_v[::-1]
    band = (_crossing(volts, b, out_of) - _crossing(volts, a + 1, into)) * interval
    leaves = _reached(volts, a, first, near, -1, below=rising)
    arrives = _reached(volts, b, last, far, +1, below=not rising)
    full = np.full(len(a), np.nan)
    known = np.flatnonzero((leaves >= 0) & (arrives >= 0))
    if len(known):
        begin = _crossing(volts, leaves[known] + 1, near)
        end = _crossing(volts, arrives[known], far)
        full[known] = (end - begin) * interval
    return TransitionTimes(rising, b, full, np.maximum(band, 0.0), total)


def _reached(volts: Float32, begin: Int64, bound: Int64, level: float, way: int, *, below: bool) -> Int64:
    """For each, the nearest sample from ``begin`` on, going ``way`` up to ``bound``, that lies at or beyond ``level``;
    -1 where none does."""
    found = np.full(len(begin), -1, np.int64)
    left, window = np.arange(len(begin)), _FIRST_WINDOW
    while len(left) and window <= _LAST_WINDOW:
        # few rows at once, so that a wide window of many transitions stays in memory
        again = []
        for part in np.array_split(left, max(1, len(left) * window >> 22)):
            steps = np.arange(window)
            index = begin[part, None] + way * steps
            inside = index <= bound[part, None] if way > 0 else index >= bound[part, None]
            seen = volts[np.clip(index, 0, len(volts) - 1)]
            hit = ((seen <= level) if below else (seen >= level)) & inside
            where = hit.argmax(axis=1)
            ok = hit[np.arange(len(part)), where]
            found[part[ok]] = begin[part[ok]] + way * where[ok]
            again.append(part[~ok & inside[:, -1]])
        left, window = np.concatenate(again), window * 8
    return found


def _crossing(volts: Float32, index: Int64, level: float) -> np.ndarray:
    """Where the line from sample ``index - 1`` to ``index`` crosses ``level``, in samples.

    >>> _crossing(np.array([1.0, 2.0], np.float32), np.array([1]), 1.5).tolist()
    [0.5]
    """
    index = np.clip(index, 1, len(volts) - 1)
    low, high = volts[index - 1].astype(np.float64), volts[index].astype(np.float64)
    gap = high - low
    share = np.divide(level - low, gap, out=np.ones_like(gap), where=gap != 0)
    return np.asarray(index - 1 + np.clip(share, 0.0, 1.0))
