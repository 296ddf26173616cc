"""A seeded builder: captures of a good and a suspect machine, with exactly one planted fault, and the truth about it.

The machine is the invented one of the demo; what is varied here is the bench (rates, offset, drift, jitter, spread of
the parts) and the fault. Without a fault the two captures differ in nothing but the bench.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal

import numpy as np

from demo_traces.instruments import (
    Int64,
    Pin,
    UInt8,
    change_rows,
    clock_edges_ps,
    crate_pins,
    sample_times_ps,
    sampled_pins,
    scope_columns,
    volts,
)
from demo_traces.linnet import ACTIVE_LOW, SIGNALS, machine_words
from tracecore.capture import AnalogTrace, Capture, DigitalTrace, digital_trace, sample_time_ps
from tracecore.circuit.probe_sheet import Probe, ProbeSheet

Mode = Literal[
    "stuck low",
    "stuck high",
    "inverted",
    "follows",
    "one cycle late",
    "intermittent",
    "late",
    "early",
    "missing pulses",
    "extra pulses",
    "weak low",
    "weak high",
    "open",
]
IN_STATES: tuple[Mode, ...] = ("stuck low", "stuck high", "inverted", "follows", "one cycle late", "intermittent")
IN_VOLTS: tuple[Mode, ...] = ("weak low", "weak high", "open")
CLOCK = "MCLK"
PAD = 2  # cycles of levels before cycle 0 and behind the last


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with ``signal`` from good cycle ``since`` on; ``share`` of the chances it has are taken.

    ``by_ps`` is how late or early it comes (above zero), or the duration of an extra pulse; ``other`` whom it
    follows; ``rest_v`` where a weak or open line rests.
    """

    mode: Mode
    signal: str
    since: int = 0
    by_ps: int = 150_000
    share: float = 1.0
    other: str = ""
    rest_v: float = 1.1


@dataclass(frozen=True, slots=True, eq=False)
class Truth:
    """What was planted. ``cycles`` int64[N] are the good cycles at which the signal is wrong, increasing;
    ``offset_cycles`` is suspect cycle minus good cycle."""

    fault: Fault | None
    cycles: Int64
    offset_cycles: int

    @property
    def first_cycle(self) -> int:
        """The first good cycle at which the signal is wrong."""
        return int(self.cycles[0])


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """One crate under one instrument: its pins by signal, the clock first, until ``stop_ps``."""

    name: str
    pins: Mapping[str, Pin]
    edges_ps: Int64
    stop_ps: int
    rate_hz: Fraction
    weak_v: Mapping[str, Mapping[int, float]] = field(default_factory=dict)
    seed: int = 0

    @property
    def samples(self) -> int:
        """How many samples the instrument takes."""
        return int(self.stop_ps * self.rate_hz / 10**12)

    def capture(self) -> Capture:
        """Logic as a sampling instrument sees it."""
        step = -(-(10**12) * self.rate_hz.denominator // self.rate_hz.numerator)
        traces = {s: self._sampled(p) for s, p in self.pins.items()}
        return Capture(self.name, traces, {}, int(step), "built")

    def _sampled(self, seen: Pin) -> DigitalTrace:
        period = Fraction(10**12) / self.rate_hz
        index = -(-seen.times_ps * period.denominator // period.numerator)
        # a change is seen at the next sample; of several before one sample the last one is
        last = np.append(index[1:] != index[:-1], True)
        index, levels = index[last], seen.levels[last]
        start = max(0, int(index.searchsorted(0, "right")) - 1)
        inside = slice(start, int(index.searchsorted(self.samples, "left")))
        index, levels = np.maximum(index[inside], 0), levels[inside]
        stop = int(sample_time_ps(np.array([self.samples]), self.rate_hz)[0])
        return digital_trace(sample_time_ps(index, self.rate_hz), levels, stop)

    def capture_in_volts(self) -> Capture:
        """Volts as a scope of the same rate sees them, with 20 mV of noise."""
        rng = np.random.default_rng(self.seed)
        at = sample_times_ps(self.samples, self.rate_hz)
        period = Fraction(10**12) / self.rate_hz
        traces = {}
        for signal, seen in self.pins.items():
            level_v = volts(seen, self.weak_v.get(signal, {}), at) + rng.normal(0, 0.02, len(at))
            traces[signal] = AnalogTrace(0, period, level_v.astype(np.float32))
        return Capture(self.name, {}, traces, -(-period.numerator // period.denominator), "built")

    def as_sampled_rows(self) -> bytes:
        """The capture as a file of sampled rows."""
        return sampled_pins(tuple(self.pins), tuple(self.pins.values()), self.stop_ps, self.rate_hz)

    def as_change_rows(self) -> bytes:
        """As a file of change rows; the sample period must be a whole number of nanoseconds."""
        step = Fraction(10**12) / self.rate_hz
        assert step.denominator == 1
        assert step % 1000 == 0
        return change_rows(tuple(self.pins), tuple(self.pins.values()), self.samples * int(step), int(step))

    def as_scope_columns(self) -> bytes:
        """As a file of volts; the sample period must be a multiple of 10 ns."""
        interval = Fraction(10**9) / self.rate_hz
        assert interval.denominator == 1
        assert interval % 10 == 0
        capture = self.capture_in_volts()
        return scope_columns(
            tuple(capture.analog), [t.volts.astype(np.float64) for t in capture.analog.values()], int(interval)
        )


@dataclass(frozen=True, slots=True, eq=False)
class Pair:
    """A good and a suspect side, the sheet that serves both, and the truth."""

    good: Side
    suspect: Side
    sheet: ProbeSheet
    truth: Truth


@dataclass(frozen=True, slots=True)
class Plant:
    """The bench. ``offset_cycles`` above zero: the suspect's capture begins so much earlier in the program.

    ``drift_ppm`` is how much longer the suspect's clock cycle is; ``jitter_ps`` and ``spread_ps`` are standard
    deviations, of every edge and of the parts of both boards, cut off at three and at two of them.
    """

    seed: int = 1
    cycles: int = 1200
    period_ps: int = 416_000
    good_rate_hz: Fraction = Fraction(24_000_000)
    suspect_rate_hz: Fraction = Fraction(24_000_000)
    offset_cycles: int = 7
    drift_ppm: float = 0.0
    jitter_ps: float = 400.0
    spread_ps: float = 1200.0
    signals: tuple[str, ...] = SIGNALS

    def clean(self) -> Pair:
        """Two sound machines."""
        return self._pair(None, self._levels(0), self._levels(-self.offset_cycles), np.empty(0, np.int64))

    def faulty(self, fault: Fault, *, propagate: bool = False) -> Pair:
        """One sound and one faulty machine.

        With ``propagate`` the operand board takes the wrong bit in, and other signals may go wrong later; that is for
        faults ``IN_STATES`` of D00..D03, but not for those that need the past. Without it ``fault.signal`` alone is
        wrong.
        """
        clean = self._levels(-self.offset_cycles)
        row = SIGNALS.index(fault.signal)
        receiver = self._receiver(fault, row) if propagate else None
        levels = self._levels(-self.offset_cycles, receiver)
        if fault.mode in IN_STATES:
            levels[row] = self._wrong_states(fault, levels)
        elif fault.mode == "missing pulses":
            levels[row] = self._without_pulses(fault, levels[row])
        cycles = np.flatnonzero(levels[row] != clean[row]) - PAD - self.offset_cycles
        return self._pair(fault, self._levels(0), levels, self._inside(cycles))

    def again(
        self,
        run: int,
        *,
        offset_cycles: int = 0,
        fault: Fault | None = None,
        vary: Callable[[UInt8, Int64, np.random.Generator], UInt8] | None = None,
    ) -> Side:
        """One more capture of the same program, with a phase, jitter and spread of its own.

        ``fault`` is one ``IN_STATES``, on its signal alone. ``vary`` is handed levels uint8[signals, N], the good cycle
        of each column, and draws that belong to the run; what it gives back is what the pins do.
        """
        bench = replace(self, offset_cycles=offset_cycles)
        rng = np.random.default_rng((self.seed, run))
        levels = bench._levels(-offset_cycles)
        if fault is not None:
            assert fault.mode in IN_STATES
            levels[SIGNALS.index(fault.signal)] = bench._wrong_states(fault, levels)
        if vary is not None:
            levels = vary(levels, np.arange(levels.shape[1]) - PAD - offset_cycles, rng)
        seed, phase = int(rng.integers(1 << 30)), float(rng.uniform(0.1, 0.4))
        return bench._side(f"run {run}", levels, seed, phase, 0.0, self.suspect_rate_hz)

    def _levels(self, first_cycle: int, receiver: Callable[[int, int], int] | None = None) -> UInt8:
        return machine_words(self.seed, first_cycle - PAD, self.cycles + 2 * PAD, receiver=receiver)

    def _inside(self, cycles: Int64) -> Int64:
        """Only the cycles that both captures hold."""
        low, high = max(0, -self.offset_cycles), min(self.cycles, self.cycles - self.offset_cycles)
        return cycles[(cycles >= low) & (cycles < high)]

    def _chosen(self, fault: Fault, cycle: int | Int64) -> np.ndarray:
        """Is the fault there in this cycle? The same answer for the same cycle, always."""
        at = np.asarray(cycle, np.int64)
        # 2**32 and 2**16 over the golden ratio scatter neighbours (D. Knuth, The Art of Computer Programming, volume 3,
        # section 6.4; from memory)
        draw = (at * 2654435761 + self.seed * 40503) % 100_003 / 100_003
        return (at >= fault.since) & (draw < fault.share)

    def _receiver(self, fault: Fault, row: int) -> Callable[[int, int], int]:
        bit = row - SIGNALS.index("D00")
        assert 0 <= bit < 4, "only what the operand board receives can propagate"
        assert fault.mode in ("stuck low", "stuck high", "inverted", "intermittent")

        def takes_in(cycle: int, bits: int) -> int:
            if not self._chosen(fault, cycle):
                return bits
            mask = 1 << bit
            return {"stuck low": bits & ~mask, "stuck high": bits | mask}.get(fault.mode, bits ^ mask)

        return takes_in

    def _wrong_states(self, fault: Fault, levels: UInt8) -> UInt8:
        own = levels[SIGNALS.index(fault.signal)]
        wrong = {
            "stuck low": np.zeros_like(own),
            "stuck high": np.ones_like(own),
            "one cycle late": np.append(own[:1], own[:-1]),
            "follows": levels[SIGNALS.index(fault.other)] if fault.other else own,
        }.get(fault.mode, own ^ 1)
        at = np.arange(len(own)) - PAD - self.offset_cycles
        return np.where(self._chosen(fault, at), wrong, own).astype(np.uint8)

    def _without_pulses(self, fault: Fault, own: UInt8) -> UInt8:
        """Pulses of the active level, of at most three cycles, go missing whole."""
        active = 0 if fault.signal in ACTIVE_LOW else 1
        out = own.copy()
        change = np.flatnonzero(own[1:] != own[:-1]) + 1
        for start, stop in zip(change[:-1].tolist(), change[1:].tolist(), strict=True):
            cycle = start - PAD - self.offset_cycles
            if own[start] == active and stop - start <= 3 and self._chosen(fault, cycle):
                out[start:stop] = 1 - active
        return out

    def _pair(self, fault: Fault | None, good: UInt8, suspect: UInt8, cycles: Int64) -> Pair:
        sides = [
            self._side("good", good, self.seed * 2 + 1, 0.31, 0.0, self.good_rate_hz),
            self._side("suspect", suspect, self.seed * 2 + 2, 0.17, self.drift_ppm, self.suspect_rate_hz),
        ]
        if fault is not None and fault.mode not in (*IN_STATES, "missing pulses"):
            sides[1], cycles = self._at_the_pin(fault, sides[1])
        rows = [Probe(s, s, "7", f"B{i + 1:02d}") for i, s in enumerate((CLOCK, *self.signals))]
        return Pair(sides[0], sides[1], ProbeSheet(tuple(rows)), Truth(fault, cycles, self.offset_cycles))

    def _side(self, name: str, levels: UInt8, seed: int, phase: float, drift_ppm: float, rate: Fraction) -> Side:
        rng = np.random.default_rng(seed)
        period = self.period_ps * (1 + drift_ppm / 1e6)
        edges = clock_edges_ps(round(phase * period), period, self.cycles, self.jitter_ps, rng)
        own = {s: levels[SIGNALS.index(s)] for s in self.signals}
        pins = crate_pins(
            own,
            edges,
            period,
            self.spread_ps,
            self.jitter_ps,
            rng,
            lambda signal: np.random.default_rng((seed, SIGNALS.index(signal))),
        )
        return Side(name, pins, edges, int(edges[PAD + self.cycles] + 0.3 * period), rate, seed=seed)

    def _at_the_pin(self, fault: Fault, side: Side) -> tuple[Side, Int64]:
        """Faults that change when, or at what volts, a pin moves."""
        old = side.pins[fault.signal]
        cycle = side.edges_ps.searchsorted(old.times_ps, "right") - 1 - PAD - self.offset_cycles
        weak_v: dict[int, float] = {}
        if fault.mode in ("late", "early"):
            chosen = self._chosen(fault, cycle)
            chosen[0] = False
            by = fault.by_ps if fault.mode == "late" else -fault.by_ps
            new = Pin(old.times_ps + by * chosen, old.levels)
            cycle = side.edges_ps.searchsorted(np.minimum(new.times_ps, old.times_ps), "right") - 1
            wrong = cycle[chosen] - PAD - self.offset_cycles
        elif fault.mode == "extra pulses":
            new, wrong = self._with_pulses(fault, side, old)
        elif fault.mode == "open":
            new, weak_v, wrong = self._floating(fault, side, old)
        else:
            low = fault.mode == "weak low"
            chosen = (old.levels == (0 if low else 1)) & self._chosen(fault, cycle)
            weak_v = dict.fromkeys(np.flatnonzero(chosen).tolist(), fault.rest_v)
            new, wrong = old, cycle[chosen]
        pins = {**side.pins, fault.signal: new}
        held = {fault.signal: weak_v} if weak_v else {}
        changed = Side(side.name, pins, side.edges_ps, side.stop_ps, side.rate_hz, held, side.seed)
        return changed, self._inside(np.unique(wrong))

    def _with_pulses(self, fault: Fault, side: Side, old: Pin) -> tuple[Pin, Int64]:
        """A pulse of ``by_ps`` in the second half of cycles in which the signal has long been still."""
        start = side.edges_ps + self.period_ps // 2
        at = np.arange(len(start)) - PAD - self.offset_cycles
        near = old.times_ps.searchsorted(start - self.period_ps // 4) != old.times_ps.searchsorted(
            start + self.period_ps
        )
        chosen = np.flatnonzero(self._chosen(fault, at) & ~near)
        held = old.at(start[chosen])
        times = np.concatenate((old.times_ps, start[chosen], start[chosen] + fault.by_ps))
        levels = np.concatenate((old.levels, 1 - held, held)).astype(np.uint8)
        order = np.argsort(times, kind="stable")
        return Pin(times[order], levels[order]), at[chosen]

    def _floating(self, fault: Fault, side: Side, old: Pin) -> tuple[Pin, dict[int, float], Int64]:
        """From cycle ``since`` on nothing drives the pin: it rests at ``rest_v``, which inputs take for high."""
        off = int(side.edges_ps[max(0, fault.since + self.offset_cycles + PAD)])
        keep = old.times_ps < off
        times, levels = np.append(old.times_ps[keep], off), np.append(old.levels[keep], 1).astype(np.uint8)
        return Pin(times, levels), {len(times) - 1: fault.rest_v}, np.arange(fault.since, self.cycles)
