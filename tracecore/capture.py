"""What an instrument saw: the values that every other part of the program starts from.

Times are int64 picoseconds. Arrays are made read-only here, so that no later step can change what
an earlier one measured.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from tracecore.own_names import CYCLE_ROWS
from tracecore.quantities import PS_PER_S
from tracecore.short_views import capture_html, capture_text

LOW, HIGH, UNKNOWN = 0, 1, 2
# so many stay in the cache from one step of the arithmetic to the next
_TIMES_AT_ONCE = 1 << 14
# twice its square fits into 63 bits
_LARGEST_DENOMINATOR = 2 * 10**9

Int64 = NDArray[np.int64]
UInt8 = NDArray[np.uint8]
Float32 = NDArray[np.float32]


def sample_time_ps(index: Int64, rate_hz: Fraction, start_ps: int = 0, *, out: Int64 | None = None) -> Int64:
    """Times of samples, rounded half up to whole picoseconds; the one place where an index becomes a time.

    ``index`` int64[N], not negative; result int64[N], written to ``out`` where given, which may be ``index`` itself.
    Exact without overflow up to 2**62 ps; of a period with a denominator above 2 * 10**9 the nearest fraction without
    one is taken, which is a picosecond at most in 10**9 samples.

    >>> sample_time_ps(np.array([0, 1, 2, 3]), Fraction(24_000_000)).tolist()
    [0, 41667, 83333, 125000]
    """
    period = PS_PER_S / rate_hz
    if period.denominator > _LARGEST_DENOMINATOR:
        period = period.limit_denominator(_LARGEST_DENOMINATOR)
    whole, rest = divmod(period.numerator, period.denominator)
    index = np.asarray(index, np.int64)
    # index * numerator would overflow after some millions of samples: split the period first
    times = np.empty(index.shape, np.int64) if out is None else out
    flat, parts = times.reshape(-1), index.reshape(-1)
    for at in range(0, len(flat), _TIMES_AT_ONCE):
        part, done = parts[at : at + _TIMES_AT_ONCE], flat[at : at + _TIMES_AT_ONCE]
        fine = _parts_of_periods(part, rest, period.denominator) if rest else 0
        np.multiply(part, np.int64(whole), out=done)
        done += fine
        done += start_ps
    return times


def _parts_of_periods(index: Int64, rest: int, denominator: int) -> Int64:
    """``index * rest / denominator``, rounded half up."""
    if int(index.max()) < 2**61 // (rest + denominator):
        return np.asarray((index * np.int64(2 * rest) + denominator) // np.int64(2 * denominator))
    # whole turns of the denominator are taken out of the index so that the product stays small
    turns = index // np.int64(denominator)
    left = index - turns * np.int64(denominator)
    return np.asarray(turns * np.int64(rest) + (left * np.int64(2 * rest) + denominator) // np.int64(2 * denominator))


def sorted_union(*parts: Int64) -> Int64:
    """All values of some sorted arrays once each, sorted.

    Sorting stably merges sorted runs, which beats hashing every value by far on long traces.

    >>> sorted_union(np.array([1, 4]), np.array([2, 4])).tolist()
    [1, 2, 4]
    """
    joined = np.concatenate(parts).astype(np.int64, copy=False)
    joined.sort(kind="stable")
    if not len(joined):
        return joined
    return np.asarray(joined[np.concatenate(([True], joined[1:] != joined[:-1]))])


@dataclass(frozen=True, slots=True, eq=False)
class DigitalTrace:
    """One signal as logic levels.

    ``times_ps`` int64[N], strictly increasing; the first entry is the start of the capture, each
    further one a transition. ``levels`` uint8[N]: 0 low, 1 high, 2 unknown; level i holds from
    ``times_ps[i]`` (closed) to the next entry (open), the last one to ``stop_ps``.
    Raises ValueError where the arrays break that promise.
    """

    times_ps: Int64
    levels: UInt8
    stop_ps: int

    def __post_init__(self) -> None:
        times, levels = self.times_ps, self.levels
        if times.dtype != np.int64 or levels.dtype != np.uint8:
            raise ValueError("times_ps must be int64 and levels uint8")
        if times.ndim != 1 or times.shape != levels.shape or len(times) == 0:
            raise ValueError("times_ps and levels must be one-dimensional, of one length, and not empty")
        if not bool((times[1:] > times[:-1]).all()):
            raise ValueError("times_ps must increase strictly")
        if not bool((levels[1:] != levels[:-1]).all()) or int(levels.max()) > UNKNOWN:
            raise ValueError("neighbouring levels must differ and be 0, 1 or 2")
        if self.stop_ps < int(times[-1]):
            raise ValueError("stop_ps must not lie before the last transition")
        times.flags.writeable = False
        levels.flags.writeable = False

    @property
    def start_ps(self) -> int:
        """Time of the first sample."""
        return int(self.times_ps[0])

    @property
    def transitions_ps(self) -> Int64:
        """Times of the transitions alone, without the start of the capture: int64[N-1]."""
        return self.times_ps[1:]

    def level_at(self, times_ps: Int64) -> UInt8:
        """Levels at the given times; unknown before the start and from ``stop_ps`` on.

        >>> trace = DigitalTrace(np.array([0, 10]), np.array([0, 1], np.uint8), 20)
        >>> trace.level_at(np.array([-1, 0, 9, 10, 20])).tolist()
        [2, 0, 0, 1, 2]
        """
        at = np.asarray(times_ps, np.int64)
        index = self.times_ps.searchsorted(at, side="right") - 1
        levels = self.levels[np.maximum(index, 0)].copy()
        levels[(index < 0) | (at >= self.stop_ps)] = UNKNOWN
        return levels


def digital_trace(times_ps: Int64, levels: UInt8, stop_ps: int) -> DigitalTrace:
    """A ``DigitalTrace`` from entries that may repeat a level: repeats are dropped.

    >>> digital_trace(np.array([0, 5, 9]), np.array([0, 0, 1], np.uint8), 10).times_ps.tolist()
    [0, 9]
    """
    levels = np.asarray(levels, np.uint8)
    keep = np.concatenate(([True], levels[1:] != levels[:-1]))
    return DigitalTrace(np.ascontiguousarray(times_ps, np.int64)[keep], levels[keep], int(stop_ps))


@dataclass(frozen=True, slots=True, eq=False)
class AnalogTrace:
    """One signal in volts: ``volts`` float32[N], N >= 1, sample i taken at ``times_ps([i])``.

    ``interval_ps`` is exact. Raises ValueError where a value is not a number.
    """

    start_ps: int
    interval_ps: Fraction
    volts: Float32

    def __post_init__(self) -> None:
        if self.volts.dtype != np.float32 or self.volts.ndim != 1 or len(self.volts) == 0:
            raise ValueError("volts must be float32, one-dimensional and not empty")
        if self.interval_ps <= 0:
            raise ValueError("interval_ps must be above zero")
        # one NaN or infinity shows in the extremes; no extra array is made
        if not (np.isfinite(self.volts.min()) and np.isfinite(self.volts.max())):
            raise ValueError("volts must all be finite numbers")
        self.volts.flags.writeable = False

    @property
    def stop_ps(self) -> int:
        """End of the last sample's interval."""
        return int(self.times_ps(np.array([len(self.volts)], np.int64))[0])

    def times_ps(self, index: Int64) -> Int64:
        """Times of the samples ``index``."""
        return sample_time_ps(index, PS_PER_S / self.interval_ps, self.start_ps)


@dataclass(frozen=True, slots=True, eq=False)
class Capture:
    """One file from a bench.

    ``digital`` and ``analog`` hold traces by channel name in the file's order; a name is in one of
    them only. ``resolution_ps`` is one sample period, rounded up to a whole picosecond. ``facts`` are the
    header's statements in words; ``notes`` what a person should know of the import (a last row left out). ``parts``
    are the paths of further files of the same run, joined ``joined_by`` their trigger or a signal; it is
    empty for a scope capture beside a logic one.
    """

    name: str
    digital: Mapping[str, DigitalTrace]
    analog: Mapping[str, AnalogTrace]
    resolution_ps: int
    reader: str
    path: str = ""
    sha256: str = ""
    facts: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    parts: tuple[str, ...] = ()
    joined_by: str = ""
    start_ps: int = field(init=False)
    stop_ps: int = field(init=False)

    def __post_init__(self) -> None:
        if not self.digital and not self.analog:
            raise ValueError("a capture needs at least one channel")
        if set(self.digital) & set(self.analog):
            raise ValueError("a channel is either logic or volts")
        if self.resolution_ps < 1:
            raise ValueError("resolution_ps must be at least 1")
        object.__setattr__(self, "digital", MappingProxyType(dict(self.digital)))
        object.__setattr__(self, "analog", MappingProxyType(dict(self.analog)))
        traces: list[DigitalTrace | AnalogTrace] = [*self.digital.values(), *self.analog.values()]
        object.__setattr__(self, "start_ps", min(t.start_ps for t in traces))
        object.__setattr__(self, "stop_ps", max(t.stop_ps for t in traces))

    @property
    def row_is_cycle(self) -> bool:
        """Did the board's own clock take the samples? Cycles are known then, and times are not."""
        return self.reader == CYCLE_ROWS

    def __repr__(self) -> str:
        return f"<{capture_text(self)}>"

    def _repr_html_(self) -> str:
        return capture_html(self)

    @property
    def channels(self) -> tuple[str, ...]:
        """Names of all channels, logic first."""
        return (*self.digital, *self.analog)
