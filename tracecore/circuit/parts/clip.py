"""A capture from a test clip: which channel is on which leg, and the levels there."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

import numpy as np

from tracecore.capture import UNKNOWN, Capture, DigitalTrace, digital_trace
from tracecore.circuit.parts.catalogue import Part, family_of
from tracecore.circuit.parts.pin_traces import PinTraces, begun
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.errors import RequestError
from tracecore.measure.families import family
from tracecore.measure.levels import SLOWEST_TRANSITION_PS, digitise

_LEG = re.compile(r"(?:pin|leg|p)?[ _.-]?0*(\d{1,2})", re.IGNORECASE)
"""A channel named by the leg's number: ``7``, ``pin 7``, ``P07``."""


def legs_of(capture: Capture, part: Part, said: Mapping[str, int], sheet: ProbeSheet) -> dict[int, str]:
    """The channel on each leg: as ``said``, else as the sheet's column pin has it, else by the channel's name.

    Raises RequestError where a channel is not in the capture, a leg is none of the part, or two are on one leg.
    """
    legs: dict[int, str] = {}
    for channel, leg in _named(capture, said, sheet):
        if channel not in capture.channels:
            few = ", ".join(capture.channels[:6])
            raise RequestError(f"{capture.name} has no channel {channel!r}. Take one of its own, such as {few}.")
        if leg not in part.pins:
            raise RequestError(
                f"{part.number} has legs 1 to {len(part.pins)}, no leg {leg}. Correct channel {channel}."
            )
        if leg in legs and legs[leg] != channel:
            raise RequestError(f"Channels {legs[leg]} and {channel} are both on leg {leg}. Name one with --pins.")
        legs[leg] = channel
    if not legs:
        first = capture.channels[0]
        raise RequestError(
            f"No channel of {capture.name} is named as a leg. Say which is which, such as --pins {first}=1."
        )
    return legs


def clip_pins(capture: Capture, part: Part, number: str, legs: Mapping[int, str], tied: Mapping[int, int]) -> PinTraces:
    """The levels at the legs. Volts are read by the limits of the number's family; ``tied`` legs stand still.

    An undefined level that is soon left again on the other side is a transition; one that lasts is not known.
    """
    traces: dict[str, DigitalTrace] = {}
    for leg, channel in legs.items():
        name = part.signals.get(leg)
        if name is None:
            continue
        if channel in capture.analog:
            limits = family(family_of(number) or "74")
            traces[name] = _bridged(digitise(capture.analog[channel], limits).digital)
        else:
            traces[name] = capture.digital[channel]
    return traces_on(traces, {part.pins[leg]: level for leg, level in tied.items()}, capture.resolution_ps)


def traces_on(traces: Mapping[str, DigitalTrace], tied: Mapping[str, int], resolution_ps: int) -> PinTraces:
    """Legs by name with the stretch that all of them were captured in."""
    start = max((trace.start_ps for trace in traces.values()), default=0)
    stop = min((trace.stop_ps for trace in traces.values()), default=0)
    cut = {name: begun(trace, start) for name, trace in traces.items()}
    return PinTraces(cut, dict(tied), start, max(stop, start), resolution_ps)


def _bridged(trace: DigitalTrace) -> DigitalTrace:
    """Short undefined stretches go over to the level that follows them."""
    if int(trace.levels.max()) < UNKNOWN:
        return trace
    ends = np.append(trace.times_ps[1:], trace.stop_ps)
    brief = (trace.levels == UNKNOWN) & (ends - trace.times_ps <= SLOWEST_TRANSITION_PS)
    brief[0] = False
    keep = ~brief
    return digital_trace(trace.times_ps[keep], trace.levels[keep], trace.stop_ps)


def _named(capture: Capture, said: Mapping[str, int], sheet: ProbeSheet) -> Iterable[tuple[str, int]]:
    yield from said.items()
    for channel in capture.channels:
        if channel in said:
            continue
        text = sheet.probe(channel).pin if sheet.named(channel) else channel
        match = _LEG.fullmatch(text.strip())
        if match and (sheet.named(channel) or not said):
            yield channel, int(match[1])
