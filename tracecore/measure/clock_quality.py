"""A clock measured in its own right, before it counts anything.

The active edges are laid on an even grid of the usual period. An edge between two that fit the grid is not real: close
to one of them it makes a double edge, else an extra pulse. Where the grid goes on and edges lack, pulses are missing;
where the clock rests longer than eight cycles it pauses, and where it rests to the end of the capture it stops.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import HIGH, DigitalTrace, Int64
from tracecore.measure.clock import PAUSE_CYCLES, active_edges_ps, known_transitions

FEWEST_EDGES = 8
STOP_CYCLES = 20
"""A clock that does not tick for longer before the capture ends has stopped."""
_NEAR = 0.25  # of a period: what comes closer to a real edge is that edge seen twice
_SHORT = 0.75  # of a period: a shorter cycle is looked at
_FITS = 0.2  # of a period: so far off the grid a cycle may be, besides a sample period
_EVEN = 0.8  # share of cycles that fit the grid, from which on what does not is an exception
_ROUNDS = 16
_LOOKED_AT = 200_000
_BLOCKS = (8, 32, 128)
_PLACES, _RATIOS = 4096, 33
_STRAYS_MORE = 0.05  # of a sample period: what the clock's own jitter adds


def _none() -> Int64:
    return np.empty(0, np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class ClockQuality:
    """One clock. Times are on the capture's own axis.

    ``edges_ps`` int64[N] are the active edges that are real, ``double_ps`` and ``extra_ps`` those that are not;
    ``missing_ps`` where a pulse should have been, ``pauses_ps`` int64[P, 2] where it rests longer than eight cycles
    and goes on, ``stops_ps`` where it ticks for the last time, None where it goes on to the end. ``period_ps`` is the
    usual period (0 under two edges), ``even`` the share of cycles that fit it; ``jitter_ps`` the standard deviation
    of the period beyond what sampling makes; ``wander`` how far the mean over some cycles goes from its low to its
    high, as a share of the period, beyond what sampling makes. ``high_share`` is the share of the period for which it
    is high, None where that is not known. ``doubt_ps`` is how far sampling that keeps step with the clock can put all
    its edges off: a whole sample period where it does, next to nothing where the samples fall everywhere.
    """

    edges_ps: Int64
    double_ps: Int64
    extra_ps: Int64
    missing_ps: Int64
    pauses_ps: Int64
    stops_ps: int | None
    period_ps: float
    even: float
    jitter_ps: float
    wander: float
    high_share: float | None
    doubt_ps: float
    moves: int
    rests_high: bool

    @property
    def ticks(self) -> bool:
        """Are there enough edges to speak of a period?"""
        return len(self.edges_ps) >= FEWEST_EDGES

    @property
    def regular(self) -> bool:
        """Is it even enough for an odd edge to be an exception?"""
        return self.ticks and self.even >= _EVEN

    @property
    def rate_hz(self) -> float:
        """Edges in a second while it ticks; 0 where it does not."""
        return 1e12 / self.period_ps if self.period_ps else 0.0


def clock_quality(
    trace: DigitalTrace, edge: str, resolution_ps: int, usual_ps: float | None = None, *, as_it_is: bool = False
) -> ClockQuality:
    """Measures the clock ``trace`` by its ``rising`` or ``falling`` edges, sampled every ``resolution_ps``.

    ``usual_ps`` is a period that it may have besides its own median, as another machine's clock has: where every cycle
    has a double edge the median is none. ``as_it_is`` takes every edge for real.
    """
    raw = active_edges_ps(trace, edge)
    known = known_transitions(trace)
    period = _usual(np.diff(raw[:_LOOKED_AT]), resolution_ps)
    kept = raw if as_it_is or period <= 0 else _real_edges(raw, period, resolution_ps)
    if usual_ps and period > 0 and not as_it_is and abs(usual_ps / period - 1) > 0.05:
        other = _real_edges(raw, usual_ps, resolution_ps)
        if _evenness(other, usual_ps, resolution_ps) > max(_EVEN, _evenness(kept, period, resolution_ps) + 0.2):
            kept, period = other, usual_ps
    if len(kept) < len(raw):
        period = _usual(np.diff(kept[:_LOOKED_AT]), resolution_ps)
    dropped = np.setdiff1d(raw, kept, assume_unique=True) if len(kept) < len(raw) else _none()
    near = _distance(dropped, kept) < _NEAR * period
    gaps = _gaps(kept, period, resolution_ps, trace)
    normal = _normal(np.diff(kept), period, resolution_ps)
    jitter, wander = _unsteady(np.diff(kept), normal, resolution_ps)
    return ClockQuality(
        kept,
        dropped[near],
        dropped[~near],
        *gaps,
        period,
        float(normal.mean()) if len(normal) else 0.0,
        jitter,
        wander,
        _high_share(known, kept, normal, edge),
        _locked(kept, period, resolution_ps) * resolution_ps,
        len(known.times_ps) - 1,
        bool(known.levels[-1] == HIGH),
    )


def real_edges_ps(trace: DigitalTrace, edge: str, resolution_ps: int) -> Int64:
    """The active edges that count cycles, int64[N]: the real ones of a clock that is even, else all."""
    own = clock_quality(trace, edge, resolution_ps)
    return own.edges_ps if own.regular else active_edges_ps(trace, edge)


def _usual(cycles: Int64, resolution_ps: int) -> float:
    """The median cycle, and finer than sampling shows it: the mean of those that are a sample more or less, where times
    that were rounded when they were written put them a little further off."""
    if not len(cycles):
        return 0.0
    middle = float(np.median(cycles))
    near = cycles[np.abs(cycles - middle) <= 1.5 * resolution_ps]
    return float(near.mean()) if len(near) else middle


def _normal(cycles: Int64, period: float, resolution_ps: int) -> NDArray[np.bool_]:
    """Which cycles are of the usual duration, as near as a fifth of it and a sample period: bool[N]."""
    return np.asarray(np.abs(cycles - period) <= _FITS * period + resolution_ps)


def _evenness(edges: Int64, period: float, resolution_ps: int) -> float:
    return float(_normal(np.diff(edges), period, resolution_ps).mean()) if len(edges) > 1 else 0.0


def _real_edges(edges: Int64, period: float, resolution_ps: int) -> Int64:
    """The edges without those that stand between two that are a whole number of periods apart: int64[M].

    Of two edges too close together that one is left out without which its neighbours fit the grid better.
    """
    slack = _FITS * period + resolution_ps
    for _ in range(_ROUNDS):
        if len(edges) < 3:
            return edges
        cycles = np.diff(edges)
        short = np.flatnonzero(cycles < _SHORT * period - min(resolution_ps, 0.2 * period))
        if not len(short):
            return edges
        off = _misfits(cycles, short, period)
        drop = np.where(off[0] <= off[1], short + 1, short)
        # the next round sees what neighbours of a dropped edge make then
        good = np.minimum(*off) <= slack
        drop = np.unique(drop[good])
        drop = drop[np.append(True, np.diff(drop) > 1)[: len(drop)]]
        if not len(drop):
            return edges
        edges = np.delete(edges, drop)
    return edges


def _misfits(cycles: Int64, short: Int64, period: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far the cycles on both sides are off the grid without the later edge of a short one, and without the earlier
    one. At the ends of the row the side that is not there tells nothing."""
    unknown = float(np.iinfo(np.int64).max // 4)
    own = cycles[short]
    before = np.where(short > 0, cycles[np.maximum(short - 1, 0)], -1)
    after = np.where(short + 1 < len(cycles), cycles[np.minimum(short + 1, len(cycles) - 1)], -1)
    lone_before = np.where(before >= 0, _off_grid(before, period), 0)
    lone_after = np.where(after >= 0, _off_grid(after, period), 0)
    later = np.where(after >= 0, (_off_grid(own + after, period) + lone_before) / 2, unknown)
    earlier = np.where(before >= 0, (_off_grid(own + before, period) + lone_after) / 2, unknown)
    return np.asarray(later), np.asarray(earlier)


def _off_grid(spans: Int64, period: float) -> NDArray[np.float64]:
    """How far each span is from the next whole number of periods, one at least."""
    number = np.maximum(np.rint(spans / period), 1)
    return np.asarray(np.abs(spans - number * period))


def _distance(times: Int64, edges: Int64) -> Int64:
    """How far each time is from the nearest edge."""
    if not len(times) or not len(edges):
        return np.full(len(times), np.iinfo(np.int64).max)
    after = np.minimum(edges.searchsorted(times), len(edges) - 1)
    before = np.maximum(after - 1, 0)
    return np.asarray(np.minimum(np.abs(edges[after] - times), np.abs(edges[before] - times)))


def _gaps(edges: Int64, period: float, resolution_ps: int, trace: DigitalTrace) -> tuple[Int64, Int64, int | None]:
    """Where pulses are missing, pauses from and to, and the last edge where the clock stops."""
    if len(edges) < 2:
        return _none(), np.empty((0, 2), np.int64), None
    cycles = np.diff(edges)
    long = np.flatnonzero(cycles > 1.5 * period + min(resolution_ps, 0.3 * period))
    number = np.rint(cycles[long] / period).astype(np.int64)
    lack = long[(number <= PAUSE_CYCLES) & (np.abs(cycles[long] - number * period) <= _FITS * period + resolution_ps)]
    count = np.rint(cycles[lack] / period).astype(np.int64) - 1
    which = np.repeat(np.arange(len(lack)), count)
    nth = np.arange(len(which)) - np.repeat(np.cumsum(count) - count, count) + 1
    missing = edges[lack][which] + np.rint(nth * period).astype(np.int64)
    rest = np.setdiff1d(long, lack, assume_unique=True)
    pauses = np.stack((edges[rest], edges[rest + 1]), axis=1)
    tail = trace.stop_ps - int(edges[-1])
    longest = float(cycles.max())
    stops = int(edges[-1]) if tail > max(STOP_CYCLES * period, 3 * longest) else None
    return missing, pauses, stops


def _unsteady(cycles: Int64, normal: NDArray[np.bool_], resolution_ps: int) -> tuple[float, float]:
    """Jitter in picoseconds and wander as a share, both beyond what sampling makes."""
    cycles, normal = cycles[:_LOOKED_AT], normal[:_LOOKED_AT]
    own = cycles[normal].astype(np.float64)
    if len(own) < FEWEST_EDGES:
        return 0.0, 0.0
    mean = float(own.mean())
    part = mean / resolution_ps % 1
    # a period of n and a part of sample periods is seen as n or n + 1 of them; each edge rounds by itself
    sampled = max(part * (1 - part), 0.25 * min(1.0, 4 / len(own))) * resolution_ps**2
    jitter = float(np.sqrt(max(0.0, float(own.var()) - sampled)))
    wander = 0.0
    for size in _BLOCKS:
        count = len(cycles) // size
        whole = normal[: count * size].reshape(count, size).all(1)
        means = cycles[: count * size].reshape(count, size).mean(1)[whole]
        if len(means) >= 4:
            low, high = np.quantile(means, (0.02, 0.98))
            wander = max(wander, (float(high - low) - 2 * resolution_ps / size) / mean)
    return jitter, wander


def _high_share(known: DigitalTrace, edges: Int64, normal: NDArray[np.bool_], edge: str) -> float | None:
    """Mean share of the period for which it is high, over cycles with one pulse each."""
    back = known.transitions_ps[(known.levels[1:] == HIGH) == (edge == "falling")]
    edges, normal = edges[: _LOOKED_AT + 1], normal[:_LOOKED_AT]
    if len(edges) < FEWEST_EDGES:
        return None
    at = back.searchsorted(edges)
    one = normal & (np.diff(at) == 1)
    if int(one.sum()) < FEWEST_EDGES:
        return None
    active = float((back[at[:-1][one]] - edges[:-1][one]).mean()) / float(np.diff(edges)[one].mean())
    return active if edge == "rising" else 1 - active


def _locked(edges: Int64, period: float, resolution_ps: int) -> float:
    """How unevenly the samples fall within the clock's cycle: the largest gap between the places at which edges fall
    between two samples, as a share of the sample period. 1 where sampling keeps step with the clock.

    A few edges tell the ratio of both rates to about one sample over all of them, and sampling that nearly keeps step
    looks as if it drifted. So of all ratios that the edges allow, each read within one sample, the worst one counts.
    """
    if len(edges) < FEWEST_EDGES or period <= 0:
        return 1.0
    edges = edges[:_PLACES]
    number = np.concatenate(([0], np.cumsum(np.rint(np.diff(edges) / period))))
    at = (edges - edges[0]) / resolution_ps
    slopes = float(np.polyfit(number, at, 1)[0]) + np.linspace(-1, 1, _RATIOS) / max(1.0, number[-1])
    strays = [float(np.ptp(at - number * slope)) for slope in slopes]
    allowed = slopes[np.array(strays) <= max(1.0, min(strays)) + _STRAYS_MORE]
    return max(_largest_gap(number * slope % 1) for slope in allowed)


def _largest_gap(places: NDArray[np.float64]) -> float:
    """Between neighbours of some places on a circle of 1."""
    place = np.sort(places)
    return float(max(np.diff(place).max(), 1 - place[-1] + place[0]))
