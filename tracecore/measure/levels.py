"""Volts to logic states through two thresholds, and what breaks them.

Below VIL is low, from VIH on high; between them a level is undefined. Only the changes of zone are kept, so
that everything after the one pass over the samples works on a short list:

- a visit to the undefined band that leaves on the other side is a transition, a slow one where it lasts;
- one that leaves on the side it came from is a runt, if it goes deep enough not to be noise at the threshold;
- one that lasts, and rests, is a weak level: the line stood where no input is promised to read it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tracecore.capture import LOW, UNKNOWN, AnalogTrace, DigitalTrace, Float32, Int64, UInt8, digital_trace
from tracecore.measure.families import Family

EventKind = Literal["weak low", "weak high", "runt", "undefined", "slow transition"]

SLOWEST_TRANSITION_PS = 60_000
"""A transition that takes longer is reported. Common practice: plain TTL inputs want edges far faster."""

RUNT_DEPTH_V = 0.15
"""How far past the threshold a runt must go; less is taken for noise. Common practice."""

_CHUNK = 1 << 18
_MID = 1


@dataclass(frozen=True, slots=True)
class LevelEvent:
    """A stretch outside the limits, on the capture's own clock. ``volts`` is where it rests or turns back."""

    kind: EventKind
    start_ps: int
    stop_ps: int
    volts: float
    limit_v: float


@dataclass(frozen=True, slots=True, eq=False)
class Levels:
    """A trace in volts, read as logic. ``low_v`` and ``high_v`` are where it rests (None: never seen there)."""

    digital: DigitalTrace
    events: tuple[LevelEvent, ...]
    low_v: float | None
    high_v: float | None


def zone_changes(volts: Float32, vil_v: float, vih_v: float) -> tuple[Int64, UInt8]:
    """Start sample (int64[N], the first is 0) and zone (0 low, 1 undefined, 2 high) of every stretch.

    >>> zone_changes(np.array([0.2, 1.0, 3.0], np.float32), 0.8, 2.0)[1].tolist()
    [0, 1, 2]
    """
    # thresholds as float32: 0.8 as float64 is another number than the sample 0.8 of the instrument
    vil, vih = np.float32(vil_v), np.float32(vih_v)
    starts: list[Int64] = []
    zones: list[UInt8] = []
    last = 255
    for at in range(0, len(volts), _CHUNK):
        part = volts[at : at + _CHUNK]
        zone = np.empty(len(part) + 1, np.uint8)
        zone[0] = last
        np.add((part > vil).view(np.uint8), (part >= vih).view(np.uint8), out=zone[1:])
        change = np.flatnonzero(zone[1:] != zone[:-1])
        starts.append((change + at).astype(np.int64))
        zones.append(zone[1:][change])
        last = int(zone[-1])
    return np.concatenate(starts), np.concatenate(zones)


def digitise(trace: AnalogTrace, family: Family, *, slowest_transition_ps: int = SLOWEST_TRANSITION_PS) -> Levels:
    """Reads volts as logic by the limits of ``family``."""
    start, zone = zone_changes(trace.volts, family.vil_v, family.vih_v)
    stop = np.append(start[1:], len(trace.volts))
    # at least three sample intervals: a slow instrument makes every edge look as slow as its sampling
    longest = max(slowest_transition_ps, int(3 * trace.interval_ps))
    long = (stop - start) * trace.interval_ps.numerator > longest * trace.interval_ps.denominator
    events = _events(trace, family, start, stop, zone, long)
    digital = _digital(trace, start, zone, long)
    return Levels(digital, events, _rest(trace.volts, start, stop, zone, 0), _rest(trace.volts, start, stop, zone, 2))


def _digital(trace: AnalogTrace, start: Int64, zone: UInt8, long: np.ndarray) -> DigitalTrace:
    """A short visit to the band keeps the level it came from, a long one is unknown."""
    level = np.where(zone == _MID, UNKNOWN, zone >> 1).astype(np.uint8)
    # consecutive stretches never share a zone, so the one before a band visit is never one itself
    short = np.flatnonzero((zone == _MID) & ~long)
    short = short[short > 0]
    level[short] = level[short - 1]
    return digital_trace(trace.times_ps(start), level, trace.stop_ps)


def _events(
    trace: AnalogTrace, family: Family, start: Int64, stop: Int64, zone: UInt8, long: np.ndarray
) -> tuple[LevelEvent, ...]:
    found: list[LevelEvent] = []
    middle = (family.vil_v + family.vih_v) / 2
    for visit in np.flatnonzero(zone == _MID).tolist():
        a, b = int(start[visit]), int(stop[visit])
        before = int(zone[visit - 1]) if visit else None
        after = int(zone[visit + 1]) if visit + 1 < len(zone) else None
        part = trace.volts[a:b]
        if long[visit]:
            kind, volts = _long_visit(part, before, after, middle)
        elif before is not None and before == after:
            volts = float(part.max() if before == LOW else part.min())
            depth = volts - family.vil_v if before == LOW else family.vih_v - volts
            if depth < RUNT_DEPTH_V:
                continue
            kind = "runt"
        else:
            continue
        aims_high = before == LOW if kind in ("runt", "slow transition") and before is not None else kind == "weak high"
        limit = family.vih_v if aims_high else family.vil_v
        if kind == "undefined":
            limit = family.vil_v if volts < middle else family.vih_v
        times = trace.times_ps(np.array([a, b], np.int64))
        found.append(LevelEvent(kind, int(times[0]), int(times[1]), round(volts, 3), limit))
    return tuple(found)


def _long_visit(part: Float32, before: int | None, after: int | None, middle: float) -> tuple[EventKind, float]:
    """Names a long stay in the undefined band by where it rests and where it came from."""
    low, rest, high = (float(v) for v in np.percentile(part, (15, 50, 85)))
    if high - low > 0.35:
        return ("slow transition", rest) if before != after else ("undefined", rest)
    if before == after and before is not None:
        # it left a level for the other one and never arrived there
        return ("weak low" if before == 2 else "weak high"), rest
    return ("weak low" if rest < middle else "weak high"), rest


def _rest(volts: Float32, start: Int64, stop: Int64, zone: UInt8, wanted: int) -> float | None:
    """Median volts in the middle of the stretches of one zone; ringing at their ends does not count."""
    picked = np.flatnonzero(zone == wanted)
    if not len(picked):
        return None
    centre = (start[picked] + stop[picked]) // 2
    return float(np.median(volts[centre]))


def level_names(level: int) -> str:
    """The word for a logic level.

    >>> level_names(LOW), level_names(HIGH)
    ('low', 'high')
    """
    return ("low", "high", "unknown")[level]
