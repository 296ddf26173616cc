"""A part's memory followed through a capture: from unknown, over what was seen loaded or shown, edge by edge.

Sampling leaves doubt, and doubt makes a state unknown rather than guessed: an input that moves near an edge, a pulse
shorter than the sheet asks, pins that move in one sample. An unknown bit is learnt where its output stands still.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tracecore.capture import LOW, UNKNOWN, Int64, UInt8
from tracecore.circuit.parts.delays import PartTimes
from tracecore.circuit.parts.logic3 import Equation, tri
from tracecore.circuit.parts.pin_traces import NEVER, PinTraces, levels_in
from tracecore.circuit.parts.registers import State, Store, merge

NARROW_SAMPLES = 2
"""Where a clock shows pulses of fewer samples, others may have fallen between samples."""


@dataclass(frozen=True, slots=True, eq=False)
class StateRun:
    """What the outputs of one memory should show. ``times_ps`` int64[N] are when that may change, ``levels`` uint8[N]
    by output, 2 where it is not known. ``may_miss`` is true where edges may have fallen between samples."""

    times_ps: Int64
    levels: Mapping[str, UInt8]
    may_miss: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """Where a bit can be read: its output's trace name, whether that is inverted, and what enables it."""

    output: str
    inverted: bool
    enable: Equation | None


def state_run(
    store: Store, pins: PinTraces, times: PartTimes, shown: Mapping[str, Shown], *, relearn: bool = False
) -> StateRun:
    """Follows one memory. ``shown`` says where each bit may be read, for learning; bits without one are not learnt.

    With ``relearn`` each step starts from what the outputs show, so that each thing that goes wrong is wrong once.
    """
    needed = (*store.clocks, *store.steering)
    if not all(pins.known(pin) for pin in needed):
        start = np.array([pins.start_ps], np.int64)
        return StateRun(start, {bit: np.full(1, UNKNOWN, np.uint8) for bit in store.bits}, False)
    return _Run(store, pins, times, shown).run(relearn)


class _Run:
    """The arrays of one run, made at once, and the loop over its events."""

    def __init__(self, store: Store, pins: PinTraces, times: PartTimes, shown: Mapping[str, Shown]) -> None:
        self.store, self.pins, self.times = store, pins, times
        acting = tuple(dict.fromkeys((*store.clocks, *store.levels, *store.restless)))
        changes = {pin: pins.changes(pin) for pin in acting}
        for pin, level in store.clocks.items():
            if pin not in store.levels:
                times_ps = changes[pin]
                changes[pin] = times_ps[pins.levels(pin, times_ps) == level]
        start = np.array([pins.start_ps], np.int64)
        self.events = np.unique(np.concatenate([start, *changes.values()]))
        self.changed = {pin: np.isin(self.events, times_ps) for pin, times_ps in changes.items()}
        self.now = {pin: pins.levels(pin, self.events).tolist() for pin in store.pins}
        self.seen = self._seen(shown)
        self.narrow_ps = times.pulse_ps + pins.resolution_ps

    def run(self, relearn: bool) -> StateRun:
        store, events = self.store, self.events.tolist()
        at_edge = {pin: self._at_edges(pin).tolist() for pin in store.pins}
        narrow = {pin: self._narrow_edge(pin).tolist() for pin in store.clocks}
        brief = {pin: self._brief(pin).tolist() for pin in store.steering}
        recent = {pin: self._recent(pin).tolist() for pin in store.steering}
        changed = {pin: flags.tolist() for pin, flags in self.changed.items()}
        clocks, levels, always = list(store.clocks.items()), store.levels, bool(store.size)
        state, out, keep = store.unknown, [], []
        before: State = ()
        for i in range(len(events)):
            now = {pin: values[i] for pin, values in self.now.items()}
            edge = False
            for pin, level in clocks:
                if changed[pin][i] and now[pin] == level and i:
                    made = store.after_edge(state, pin, {name: values[i] for name, values in at_edge.items()})
                    state = merge(state, made) if narrow[pin][i] else made
                    edge = True
            if any(changed[pin][i] for pin in store.restless) and any(now[pin] == LOW for pin, _ in clocks):
                state = store.unknown
            if not edge or any(changed[pin][i] for pin in levels):
                state = self._acted(state, i, now, brief, recent, changed)
            show = store.shown(state, now)
            out.append(show)
            keep.append(always or show != before or UNKNOWN in show)
            before = show
            if relearn or UNKNOWN in show:
                state = store.learnt(state, now, tuple(values[i] for values in self.seen), relearn)
        kept = np.array(keep, bool)
        table = np.array(out, np.uint8)[kept]
        bits = {bit: np.ascontiguousarray(table[:, index]) for index, bit in enumerate(store.bits)}
        return StateRun(self.events[kept], bits, self._may_miss())

    def _acted(
        self,
        state: State,
        i: int,
        now: dict[str, int],
        brief: dict[str, list[bool]],
        recent: dict[str, list[bool]],
        changed: dict[str, list[bool]],
    ) -> State:
        """The state after pins that act at once; those that moved together, or just before, may have in any order."""
        store = self.store
        if not store.levels:
            return state
        moved = [pin for pin in store.steering if changed[pin][i] or recent[pin][i]]
        doubtful = [pin for pin in store.steering if brief[pin][i]]
        if len(moved) > 1 and i:
            state = store.after_level(state, {**now, **dict.fromkeys(moved, UNKNOWN)})
        return store.after_level(state, {**now, **dict.fromkeys(doubtful, UNKNOWN)} if doubtful else now)

    def _at_edges(self, pin: str) -> UInt8:
        """The level that an edge finds at a pin: what stood before it, not known where that is too near to moving."""
        step, times = self.pins.resolution_ps, self.pins.changes(pin)
        before = self.pins.levels(pin, np.maximum(self.events - 1, self.pins.start_ps))
        opens = times.searchsorted(self.events - step - self.times.setup_ps, side="right")
        closes = times.searchsorted(self.events + self.times.hold_ps + step, side="left")
        # a clock's own edge is no doubt of itself
        near = closes > opens
        out = before.copy()
        if not (len(self.store.clocks) == 1 and pin in self.store.clocks):
            out[near] = UNKNOWN
        return out

    def _narrow_edge(self, pin: str) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Does a pulse that a clock's edge begins or ends last too short to count on?"""
        times = self.pins.changes(pin)
        if not len(times):
            return np.zeros(len(self.events), bool)
        at = np.minimum(times.searchsorted(self.events, side="left"), len(times) - 1)
        after = np.append(times[1:], NEVER)[at] - self.events
        earlier = self.events - np.append(-NEVER, times[:-1])[at]
        # a clock that comes out of an unknown level may not have moved at all
        from_nowhere = self.pins.levels(pin, np.maximum(self.events - 1, self.pins.start_ps)) == UNKNOWN
        short = (after < self.narrow_ps) | (earlier < self.narrow_ps) | from_nowhere
        return np.asarray((times[at] == self.events) & short)

    def _brief(self, pin: str) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Is each event within a pulse too short to count on?"""
        times = self.pins.changes(pin)
        if not len(times):
            return np.zeros(len(self.events), bool)
        index = times.searchsorted(self.events, side="right") - 1
        ends = np.append(times[1:], NEVER)[np.maximum(index, 0)]
        return np.asarray((index >= 0) & (ends - times[np.maximum(index, 0)] < self.narrow_ps))

    def _recent(self, pin: str) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Did a pin move shortly before each event, so that the order on the board is not known?"""
        times, reach = self.pins.changes(pin), self.pins.resolution_ps + self.times.setup_ps
        index = times.searchsorted(self.events, side="left") - 1
        last = np.where(index >= 0, times[np.maximum(index, 0)] if len(times) else 0, -NEVER)
        return np.asarray(self.events - last < reach)

    def _seen(self, shown: Mapping[str, Shown]) -> list[list[int]]:
        """What each bit's output holds from settling to the next event; 2 where nothing can be read."""
        settle = self.times.settle_ps + self.pins.resolution_ps
        starts = self.events + settle
        stops = np.append(self.events[1:], self.pins.stop_ps)
        fit = stops - starts >= NARROW_SAMPLES * self.pins.resolution_ps
        out = []
        for bit in self.store.bits:
            levels = np.full(len(self.events), UNKNOWN, np.uint8)
            place = shown.get(bit)
            trace = self.pins.traces.get(place.output) if place is not None else None
            if place is not None and trace is not None and fit.any():
                held = levels_in(trace, starts[fit], stops[fit])
                if place.inverted:
                    held = np.where(held == UNKNOWN, held, 1 - held).astype(np.uint8)
                if place.enable is not None:
                    held[~self._enabled(place.enable, self.events[fit], stops[fit])] = UNKNOWN
                levels[fit] = held
            out.append(levels.tolist())
        return out

    def _enabled(self, enable: Equation, starts: Int64, stops: Int64) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
        """Is an output driven throughout each stretch?"""
        values = {name: tri(self.pins.levels(name, starts)) for name in enable.names}
        on = enable.value(values).high
        for name in enable.names:
            times = self.pins.changes(name)
            on = on & (times.searchsorted(starts, side="right") == times.searchsorted(stops, side="left"))
        return np.asarray(on)

    def _may_miss(self) -> bool:
        """Were there pulses so short that others may have fallen between two samples?"""
        least = NARROW_SAMPLES * self.pins.resolution_ps
        for pin in (*self.store.clocks, *self.store.steering):
            times = self.pins.changes(pin)
            if len(times) > 1 and int(np.diff(times).min()) < least:
                return True
        return False
