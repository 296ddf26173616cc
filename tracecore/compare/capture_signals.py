"""A capture by signal instead of by channel: named by the probe sheet, volts read as logic."""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass, field

import numpy as np

from tracecore.capture import Capture, DigitalTrace, Int64, UInt8
from tracecore.circuit.net_families import receiver_family
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.errors import RequestError
from tracecore.measure.clock import cycle_states
from tracecore.measure.families import Family, at_supply
from tracecore.measure.instrument import logic_trouble
from tracecore.measure.levels import LevelEvent, digitise


@dataclass(frozen=True, slots=True, eq=False)
class CaptureSignals:
    """One capture by signal instead of by channel: its traces, and what its volts show. ``receivers`` are the families
    by whose limits signals in volts were read."""

    capture: Capture
    traces: dict[str, DigitalTrace]
    events: dict[str, tuple[LevelEvent, ...]]
    channel_of: dict[str, str]
    receivers: Mapping[str, Family]
    _kept: list[tuple[tuple[str, ...], Int64, UInt8]] = field(default_factory=list, init=False, repr=False)

    def states(self, names: tuple[str, ...], edges_ps: Int64, *, keep: bool = False) -> UInt8:
        """What these signals are in each cycle that ``edges_ps`` int64[K + 1] count: uint8[len(names), K]. With
        ``keep`` they are there at once for who asks for the same again: all captures are laid against one reference."""
        for known, edges, rows in self._kept:
            if known == names and np.array_equal(edges, edges_ps):
                return rows
        rows = np.empty((len(names), max(0, len(edges_ps) - 1)), np.uint8)
        for row, signal in zip(rows, names, strict=True):
            row[:] = cycle_states(self.traces[signal], edges_ps, self.capture.resolution_ps)
        rows.flags.writeable = False
        if keep:
            self._kept[:] = [(names, edges_ps, rows)]
        return rows

    @property
    def in_volts(self) -> Set[str]:
        """The signals that were captured in volts."""
        return self.receivers.keys()

    def believed(self, signal: str) -> bool:
        """May its states be believed? Not where the instrument spoilt its volts."""
        if signal not in self.receivers:
            return True
        family = self.receivers[signal]
        return logic_trouble(self.capture.analog[self.channel_of[signal]].volts, (family.vil_v, family.vih_v)) is None


def capture_signals(capture: Capture, sheet: ProbeSheet, default_family: str, supply_v: float = 5.0) -> CaptureSignals:
    """Names the channels by the sheet and reads volts as logic, by the family that the sheet gives a channel, at a
    supply of ``supply_v``."""
    traces: dict[str, DigitalTrace] = {}
    events: dict[str, tuple[LevelEvent, ...]] = {}
    channel_of: dict[str, str] = {}
    receivers: dict[str, Family] = {}
    for channel in capture.channels:
        probe = sheet.probe(channel)
        if probe.signal in traces:
            raise RequestError(
                f"{capture.name}: channel {channel} and channel {channel_of[probe.signal]} would both be signal "
                f"{probe.signal}. Give one of them its own row on the probe sheet."
            )
        channel_of[probe.signal] = channel
        if channel in capture.analog:
            family = receivers[probe.signal] = at_supply(receiver_family(probe, default_family), supply_v)
            levels = digitise(capture.analog[channel], family)
            traces[probe.signal] = levels.digital
            events[probe.signal] = levels.events
        else:
            traces[probe.signal] = capture.digital[channel]
            events[probe.signal] = ()
    return CaptureSignals(capture, traces, events, channel_of, receivers)
