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
from tracecore.measure.families import OPEN_INPUT_V, Family

EventKind = Literal[
    "weak low",
    "weak high",
    "runt",
    "undefined",
    "slow transition",
    "steady mid-level",
    "ringing",
    "below ground",
    "above maximum",
]

SLOWEST_TRANSITION_PS = 60_000
"""A transition that takes longer is reported. Common practice: plain TTL inputs want edges far faster."""

RUNT_DEPTH_V = 0.15
"""How far past the threshold a runt must go; less is taken for noise. Common practice."""

_CHUNK = 1 << 18
_MID = 1
_LASTING = 4  # a stay over so great a part of the capture is no pulse that went wrong


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
    """A trace in volts, read as logic. ``low_v`` and ``high_v`` are where it rests (None: never seen there).

    ``start`` int64[S] and ``zone`` uint8[S] are the stretches of ``zone_changes``.
    """

    digital: DigitalTrace
    events: tuple[LevelEvent, ...]
    low_v: float | None
    high_v: float | None
    start: Int64
    zone: UInt8


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


def slowest_transition_ps(receiver: Family) -> int:
    """The longest way through the undefined band that an input takes.

    Inputs with hysteresis take any but are told from 1 us for each volt on (DM8838 data sheet, for the bus);
    74HC and 74HCT print 500 ns (from memory); for others no figure was found, and 60 ns are common practice.
    """
    if receiver.hysteresis:
        return round(1_000_000 * (receiver.vih_v - receiver.vil_v))
    printed = receiver.figure("TT", "max")
    return SLOWEST_TRANSITION_PS if printed is None else round(printed.value * 1000)


def digitise(trace: AnalogTrace, family: Family) -> Levels:
    """Reads volts as logic by the limits of ``family``, that of the input."""
    start, zone = zone_changes(trace.volts, family.vil_v, family.vih_v)
    stop = np.append(start[1:], len(trace.volts))
    # at least three sample intervals: a slow instrument makes every edge look as slow as its sampling
    longest = max(slowest_transition_ps(family), int(3 * trace.interval_ps))
    # whole samples on both sides: the parts of a long fraction times a million samples leave int64
    long = stop - start > int(longest / trace.interval_ps)
    events = _events(trace, family, start, stop, zone, long)
    digital = _digital(trace, start, zone, long)
    low, high = (_rest(trace.volts, start, stop, zone, wanted) for wanted in (0, 2))
    return Levels(digital, events, low, high, start, zone)


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
    """Long stays one by one; of the short ones, which are many, only runts, all at once."""
    found: list[tuple[int, EventKind, float, float]] = []
    middle = (family.vil_v + family.vih_v) / 2
    for visit in np.flatnonzero((zone == _MID) & long).tolist():
        before = int(zone[visit - 1]) if visit else None
        after = int(zone[visit + 1]) if visit + 1 < len(zone) else None
        a, b = int(start[visit]), int(stop[visit])
        kind, volts = _long_visit(trace.volts[a:b], before, after, middle)
        stays = (before is None or after is None) and (b - a) * _LASTING >= len(trace.volts)
        if kind != "slow transition" and stays and _may_be_open(volts, family):
            kind = "steady mid-level"
        aims_high = before == LOW if kind == "slow transition" and before is not None else kind == "weak high"
        limit = family.vih_v if aims_high else family.vil_v
        if kind in ("undefined", "steady mid-level"):
            limit = family.vil_v if volts < middle else family.vih_v
        found.append((visit, kind, volts, limit))
    inner = np.flatnonzero((zone == _MID) & ~long)
    inner = inner[(inner > 0) & (inner < len(zone) - 1)]
    runts = inner[zone[inner - 1] == zone[inner + 1]]
    if len(runts):
        from_low = zone[runts - 1] == LOW
        turns = extremes(trace.volts, start[runts], stop[runts], from_low)
        depth = np.where(from_low, turns - family.vil_v, family.vih_v - turns)
        for k in np.flatnonzero(depth >= RUNT_DEPTH_V).tolist():
            found.append((int(runts[k]), "runt", float(turns[k]), family.vih_v if from_low[k] else family.vil_v))
    found.sort()
    visits = np.array([row[0] for row in found], np.int64)
    begins, ends = trace.times_ps(start[visits]), trace.times_ps(stop[visits])
    return tuple(
        LevelEvent(kind, a, b, round(volts, 3), limit)
        for (_, kind, volts, limit), a, b in zip(found, begins.tolist(), ends.tolist(), strict=True)
    )


def _may_be_open(volts: float, family: Family) -> bool:
    """Is it where an open input may rest? Inputs with hysteresis are told by their own thresholds."""
    return OPEN_INPUT_V[0] <= volts <= OPEN_INPUT_V[1] and not family.hysteresis


def extremes(volts: Float32, start: Int64, stop: Int64, upward: np.ndarray) -> np.ndarray:
    """The highest (``upward``) or lowest value in each stretch from ``start`` up to ``stop``, all at once: float64[N].

    >>> extremes(np.array([0, 3, 1, 2], np.float32), np.array([0, 2]), np.array([2, 4]), np.array([True, False]))
    array([3., 1.])
    """
    if not len(start):
        return np.empty(0)
    lengths = stop - start
    offsets = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    part = volts[np.arange(int(lengths.sum())) + np.repeat(start - offsets, lengths)]
    highest, lowest = np.maximum.reduceat(part, offsets), np.minimum.reduceat(part, offsets)
    return np.where(upward, highest, lowest).astype(np.float64)


def _long_visit(part: Float32, before: int | None, after: int | None, middle: float) -> tuple[EventKind, float]:
    """Names a long stay in the undefined band by where it rests and where it came from."""
    low, rest, high = _quantiles(np.sort(part))
    if high - low > 0.35:
        return ("slow transition", rest) if before != after else ("undefined", rest)
    if before == after and before is not None:
        # it left a level for the other one and never arrived there
        return ("weak low" if before == 2 else "weak high"), rest
    return ("weak low" if rest < middle else "weak high"), rest


def _quantiles(ordered: Float32) -> tuple[float, float, float]:
    """15, 50 and 85 % of sorted samples, by straight lines between them; ten times as quick as asking numpy."""
    out = []
    for share in (0.15, 0.5, 0.85):
        at = share * (len(ordered) - 1)
        k = int(at)
        low, high = float(ordered[k]), float(ordered[min(k + 1, len(ordered) - 1)])
        out.append(low + (at - k) * (high - low))
    return out[0], out[1], out[2]


def _rest(volts: Float32, start: Int64, stop: Int64, zone: UInt8, wanted: int) -> float | None:
    """Median volts in the middle of the stretches of one zone; ringing at their ends does not count."""
    picked = np.flatnonzero(zone == wanted)
    if not len(picked):
        return None
    centre = (start[picked] + stop[picked]) // 2
    return float(np.median(volts[centre]))
