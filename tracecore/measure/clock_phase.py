"""When within the clock's cycle other signals move, and whether all of them do so earlier or later on another board.

Within a cycle a time is a place on a circle, so means are those of directions: N. I. Fisher, Statistical Analysis of
Circular Data, Cambridge 1993, section 2.3 (mean direction and resultant length). Cited from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import atan2, hypot

import numpy as np

from tracecore.capture import HIGH, DigitalTrace, Int64
from tracecore.measure.clock import known_transitions
from tracecore.sorted_times import count_until

FEWEST_SIGNALS = 3
"""Of fewer signals nothing tells whether they move or the clock does."""
_FEWEST = 12
_LOOKED_AT = 20_000
_GATHERED = 0.6  # resultant length, 0 to 1: under it a signal moves anywhere in the cycle
_SHARE = 0.8
_SPREAD_PS = 15_000  # what parts of two sound boards may differ by; common practice: a few gates' spread


@dataclass(frozen=True, slots=True)
class Place:
    """Where in the cycle one signal's rises or falls come: ``after_ps`` after the active edge on the mean, from 0 to
    a period, over ``count`` of them."""

    after_ps: float
    count: int


@dataclass(frozen=True, slots=True)
class CommonShift:
    """By how much ``signals`` of the ``compared`` ones come later after the active edge on the suspect than on the
    good side, all by the same: above zero they are late, and the clock is early."""

    by_ps: float
    signals: int
    compared: int


def places(traces: Mapping[str, DigitalTrace], edges_ps: Int64, period_ps: float) -> dict[tuple[str, bool], Place]:
    """Where in the cycle each signal moves, for falls and rises (False, True) by themselves. Signals that move anywhere
    in it, or hardly at all, are left out."""
    out: dict[tuple[str, bool], Place] = {}
    if len(edges_ps) < 2:
        return out
    for name, trace in traces.items():
        known = known_transitions(trace)
        # rises and falls take turns: no more than these are looked at
        first, levels = known.transitions_ps[: 2 * _LOOKED_AT], known.levels[1 : 2 * _LOOKED_AT + 1]
        for rising in (False, True):
            times = first[(levels == HIGH) == rising]
            at = count_until(edges_ps, times) - 1
            inside = (at >= 0) & (at < len(edges_ps) - 1)
            at, times = at[inside], times[inside]
            usual = edges_ps[at + 1] - edges_ps[at] < 1.5 * period_ps
            since = (times - edges_ps[at])[usual]
            if len(since) < _FEWEST:
                continue
            angle = since * (2 * np.pi / period_ps)
            east, north = float(np.cos(angle).mean()), float(np.sin(angle).mean())
            if hypot(east, north) >= _GATHERED:
                after = atan2(north, east) / (2 * np.pi) % 1 * period_ps
                out[name, rising] = Place(after, len(since))
    return out


def common_shift(
    good: Mapping[tuple[str, bool], Place], suspect: Mapping[tuple[str, bool], Place], period_ps: float, doubt_ps: float
) -> CommonShift | None:
    """The shift that at least four fifths of the signals share, to within a few gates' spread and what sampling leaves
    open (``doubt_ps``). None where fewer than three signals can be compared, or where they do not agree.

    >>> good = {(s, True): Place(10_000, 50) for s in "ABC"}
    >>> suspect = {(s, True): Place(95_000, 50) for s in "ABC"}
    >>> common_shift(good, suspect, 100_000, 0).by_ps
    -15000.0
    """
    both = [key for key in good if key in suspect]
    signals = {name for name, _ in both}
    if len(signals) < FEWEST_SIGNALS:
        return None
    later = np.array([suspect[key].after_ps - good[key].after_ps for key in both])
    apart = _round_the_cycle(later[:, None] - later[None, :], period_ps)
    near = np.abs(apart) <= _SPREAD_PS + doubt_ps
    centre = int(near.sum(1).argmax())
    fits = near[centre]
    sharing = signals - {key[0] for key, own in zip(both, fits, strict=True) if not own}
    if len(sharing) < max(FEWEST_SIGNALS, _SHARE * len(signals)):
        return None
    mean = later[centre] - float(apart[centre][fits].mean())
    return CommonShift(float(_round_the_cycle(np.array(mean), period_ps)), len(sharing), len(signals))


def _round_the_cycle(times_ps: np.ndarray, period_ps: float) -> np.ndarray:
    """Times as places on the cycle: from half a period before to half a period after."""
    return np.asarray((times_ps + period_ps / 2) % period_ps - period_ps / 2)
