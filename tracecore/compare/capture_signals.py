"""A capture by signal instead of by channel: named by the probe sheet, volts read as logic."""

from __future__ import annotations

from dataclasses import dataclass

from tracecore.capture import Capture, DigitalTrace
from tracecore.circuit.net_families import receiver_family
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.errors import RequestError
from tracecore.measure.families import at_supply
from tracecore.measure.levels import LevelEvent, digitise


@dataclass(frozen=True, slots=True, eq=False)
class CaptureSignals:
    """One capture by signal instead of by channel: its traces, and what its volts show."""

    capture: Capture
    traces: dict[str, DigitalTrace]
    events: dict[str, tuple[LevelEvent, ...]]
    channel_of: dict[str, str]


def capture_signals(capture: Capture, sheet: ProbeSheet, default_family: str, supply_v: float = 5.0) -> CaptureSignals:
    """Names the channels by the sheet and reads volts as logic, by the family that the sheet gives a channel, at a
    supply of ``supply_v``."""
    traces: dict[str, DigitalTrace] = {}
    events: dict[str, tuple[LevelEvent, ...]] = {}
    channel_of: dict[str, str] = {}
    for channel in capture.channels:
        probe = sheet.probe(channel)
        if probe.signal in traces:
            raise RequestError(
                f"{capture.name}: channel {channel} and channel {channel_of[probe.signal]} would both be signal "
                f"{probe.signal}. Give one of them its own row on the probe sheet."
            )
        channel_of[probe.signal] = channel
        if channel in capture.analog:
            levels = digitise(capture.analog[channel], at_supply(receiver_family(probe, default_family), supply_v))
            traces[probe.signal] = levels.digital
            events[probe.signal] = levels.events
        else:
            traces[probe.signal] = capture.digital[channel]
            events[probe.signal] = ()
    return CaptureSignals(capture, traces, events, channel_of)
