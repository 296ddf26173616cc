"""A capture by signal instead of by channel: named by the probe sheet, volts read as logic."""

from __future__ import annotations

from collections.abc import Mapping, Set
from dataclasses import dataclass

from tracecore.capture import Capture, DigitalTrace
from tracecore.circuit.net_families import receiver_family
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.errors import RequestError
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
