"""One signal's volts measured against the output that drives it and the input that reads it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Literal

import numpy as np

from tracecore.capture import AnalogTrace, Float32, Int64, UInt8
from tracecore.measure.families import Family, at_supply, noise_margin, supply_trouble
from tracecore.measure.instrument import Trouble, instrument_trouble, signal_transition_ps
from tracecore.measure.levels import EventKind, LevelEvent, Levels, digitise, extremes
from tracecore.measure.state_levels import StateLevels, state_levels
from tracecore.measure.transition_times import TransitionTimes, transition_times

LevelVerdict = Literal["within", "marginal", "violates", "cannot be judged"]
BELOW_GROUND_V = -0.5
"""Common practice; input clamps begin to carry near -0.7 V."""
RINGS_WITHIN_PS = 100_000
"""A return into the undefined band so soon after a transition is its ringing. Common practice."""
_CHUNK = 1 << 16
_CENTRAL = np.arange(-4, 5)


@dataclass(frozen=True, slots=True)
class LevelSettings:
    """What levels are judged by, besides the families. ``bandwidth_hz`` is the instrument's, None where not known."""

    supply_v: float = 5.0
    bandwidth_hz: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class LevelFigures:
    """What one side's volts show of one signal.

    ``low_v`` and ``high_v`` are the worst levels at which it rests, None where it never does; the margins are what they
    leave to the input's limits, ``promised_..`` what the output's promise leaves. ``reads_to_v`` and ``reads_to_ps``
    are what one level and one duration read to. ``trouble`` says why nothing is judged.
    """

    driver: Family
    receiver: Family
    states: StateLevels
    low_v: float | None
    high_v: float | None
    low_margin_v: float | None
    high_margin_v: float | None
    promised_low_v: float
    promised_high_v: float
    reads_to_v: float
    reads_to_ps: int
    undefined_share: float
    rising: TransitionTimes
    falling: TransitionTimes
    instrument_ps: float
    events: tuple[LevelEvent, ...]
    trouble: Trouble | None
    interval_ps: Fraction

    @property
    def verdict(self) -> LevelVerdict:
        """The worst of both margins, and of what was found besides."""
        if self.trouble is not None:
            return "cannot be judged"
        if any(e.kind in BREAKS for e in self.events):
            return "violates"
        sides = (
            margin_verdict(self.low_margin_v, self.promised_low_v, self.reads_to_v),
            margin_verdict(self.high_margin_v, self.promised_high_v, self.reads_to_v),
        )
        return next(v for v in WORST_FIRST if v in sides)

    @property
    def worst_margin_v(self) -> float | None:
        """The smaller of the two margins; None where none was seen."""
        return min((m for m in (self.low_margin_v, self.high_margin_v) if m is not None), default=None)

    def count(self, kind: str) -> int:
        """How many findings of a kind there are."""
        return sum(e.kind == kind for e in self.events)

    def signal_transition_ps(self, rising: bool) -> float | None:
        """The signal's own 10 to 90 % time, the instrument's taken out; None where the instrument is too slow."""
        median = (self.rising if rising else self.falling).median_ps
        return None if median is None else signal_transition_ps(median, self.instrument_ps)


BREAKS: tuple[EventKind, ...] = ("weak low", "weak high", "runt", "undefined", "slow transition", "steady mid-level")
"""Findings that an input may read either way."""
WORST_FIRST: tuple[LevelVerdict, ...] = ("violates", "cannot be judged", "marginal", "within")


def margin_verdict(margin_v: float | None, promised_v: float, reads_to_v: float) -> LevelVerdict:
    """The verdict on one margin: never finer than what it reads to.

    >>> margin_verdict(0.55, 0.4, 0.02), margin_verdict(0.22, 0.4, 0.02), margin_verdict(0.01, 0.4, 0.02)
    ('within', 'marginal', 'cannot be judged')
    """
    if margin_v is None or abs(margin_v) <= reads_to_v:
        return "cannot be judged"
    if margin_v < 0:
        return "violates"
    return "marginal" if margin_v + reads_to_v < promised_v else "within"


def level_figures(
    trace: AnalogTrace, driver: Family, receiver: Family, settings: LevelSettings | None = None
) -> LevelFigures:
    """Measures ``trace`` between an output of ``driver`` and an input of ``receiver``."""
    settings = settings or LevelSettings()
    driver, receiver = at_supply(driver, settings.supply_v), at_supply(receiver, settings.supply_v)
    read = digitise(trace, receiver)
    start, zone = read.start, read.zone
    stop = np.append(start[1:], len(trace.volts))
    states = state_levels(trace.volts, receiver.vil_v, receiver.vih_v)
    share = np.bincount(zone, weights=stop - start, minlength=3) / len(trace.volts)
    rising, falling = _transitions(trace, start, stop, zone, receiver, states)
    rests = tuple(_rests(trace.volts, start, stop, zone, wanted) for wanted in (0, 2))
    noise = tuple(_noise(own) for own in rests)
    trouble = instrument_trouble(trace.volts, states, (noise[0], noise[1]), (receiver.vil_v, receiver.vih_v))
    sentence = supply_trouble(receiver, settings.supply_v) or supply_trouble(driver, settings.supply_v)
    if trouble is None and sentence:
        trouble = Trouble("supply", sentence)
    events = () if trouble is not None else _all_events(trace, read, receiver, stop, states)
    low, high = _worst(rests[0], events, "weak low"), _worst(rests[1], events, "weak high")
    promised_low, promised_high = noise_margin(driver, receiver)
    # an output without a high of its own promises none: what its pull-up makes is judged against the input alone
    return LevelFigures(
        driver,
        receiver,
        states,
        low,
        high,
        None if low is None else receiver.vil_v - low,
        None if high is None else high - receiver.vih_v,
        promised_low,
        promised_high,
        max(states.step_v, 0.001),
        int(-(-trace.interval_ps // 1)),
        float(share[1]),
        rising,
        falling,
        _instrument_ps(trace.interval_ps, settings.bandwidth_hz),
        events,
        trouble,
        trace.interval_ps,
    )


def _instrument_ps(interval_ps: Fraction, bandwidth_hz: float | None) -> float:
    """The shortest 10 to 90 % time that can be told: by the bandwidth, and by two samples a transition."""
    sampling = 2 * float(interval_ps)
    return sampling if bandwidth_hz is None else max(sampling, 0.35e12 / bandwidth_hz)


def _transitions(
    trace: AnalogTrace, start: Int64, stop: Int64, zone: UInt8, receiver: Family, states: StateLevels
) -> tuple[TransitionTimes, TransitionTimes]:
    low = states.low_v if states.low_v is not None else receiver.vil_v
    high = states.high_v if states.high_v is not None else receiver.vih_v
    return transition_times(
        trace.volts, start, stop, zone, (receiver.vil_v, receiver.vih_v), (low, high), trace.interval_ps
    )


def _rests(volts: Float32, start: Int64, stop: Int64, zone: UInt8, wanted: int) -> Float32:
    """Nine samples from the middle of each stretch of one zone, float32[stretches, 9]: ringing at its ends is not among
    them. Stretches under nine samples do not rest."""
    own = np.flatnonzero((zone == wanted) & (stop - start >= len(_CENTRAL)))
    centre = (start[own] + stop[own]) // 2
    return np.asarray(volts[centre[:, None] + _CENTRAL])


def _noise(rests: Float32) -> float:
    """The standard deviation in quiet stretches: where ringing reaches the middle of some, a fifth of them decides."""
    return float(np.quantile(rests.std(axis=1), 0.2, method="lower")) if len(rests) else 0.0


def _worst(rests: Float32, events: tuple[LevelEvent, ...], weak: EventKind) -> float | None:
    """The highest low or the lowest high at which the line rests, weak ones among them; what is neither is no good as
    either."""
    found = [float(e.volts) for e in events if e.kind in (weak, "steady mid-level")]
    if len(rests):
        medians = np.median(rests, axis=1)
        found.append(float(medians.max() if weak == "weak low" else medians.min()))
    if not found:
        return None
    return max(found) if weak == "weak low" else min(found)


def _all_events(
    trace: AnalogTrace, read: Levels, receiver: Family, stop: Int64, states: StateLevels
) -> tuple[LevelEvent, ...]:
    named = [_renamed(event, read, trace) for event in read.events]
    return tuple(sorted([*named, *_beyond(trace, receiver)], key=lambda e: e.start_ps))


def _renamed(event: LevelEvent, read: Levels, trace: AnalogTrace) -> LevelEvent:
    """A runt at the heels of a transition is ringing."""
    if event.kind == "runt":
        k = int(read.start.searchsorted(round(Fraction(event.start_ps - trace.start_ps) / trace.interval_ps)))
        came = trace.times_ps(read.start[max(k - 1, 0) : max(k, 1)])
        if k >= 2 and event.start_ps - int(came[0]) <= RINGS_WITHIN_PS:
            return replace(event, kind="ringing")
    return event


def _beyond(trace: AnalogTrace, receiver: Family) -> list[LevelEvent]:
    """Stretches below ground or above what an input takes; only chunks that leave the range are looked at."""
    lower, upper = np.float32(BELOW_GROUND_V), np.float32(receiver.vi_abs_v)
    out: list[LevelEvent] = []
    for below, limit in ((True, lower), (False, upper)):
        flags: list[Int64] = []
        for at in range(0, len(trace.volts), _CHUNK):
            part = trace.volts[at : at + _CHUNK]
            if (part.min() < lower) if below else (part.max() > upper):
                flags.append(np.flatnonzero(part < lower if below else part > upper) + at)
        if not flags:
            continue
        index = np.concatenate(flags)
        cut = np.flatnonzero(np.diff(index) > 1)
        start = index[np.concatenate(([0], cut + 1))]
        stop = index[np.concatenate((cut, [len(index) - 1]))] + 1
        turns = extremes(trace.volts, start, stop, np.full(len(start), not below))
        kind: EventKind = "below ground" if below else "above maximum"
        rows = zip(trace.times_ps(start).tolist(), trace.times_ps(stop).tolist(), turns.tolist(), strict=True)
        out += [LevelEvent(kind, a, b, round(volts, 3), float(limit)) for a, b, volts in rows]
    return out


def overshoot_percent(peak_v: float, level_v: float, amplitude_v: float) -> float:
    """How far a peak goes past the state it ends in, in per cent of the amplitude (IEEE Std 181, from memory).

    >>> round(overshoot_percent(3.72, 3.4, 3.2), 6)
    10.0
    """
    return (peak_v - level_v) / amplitude_v * 100
