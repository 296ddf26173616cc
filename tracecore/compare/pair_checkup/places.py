"""How the leads lie side by side, and what they are called on a bench."""

from __future__ import annotations

import re
from collections.abc import Mapping

from tracecore.compare.pair_checkup.line import Request


def lead_of(request: Request, signal: str) -> str:
    """The channel of the suspect capture that the sheet gives the signal."""
    held = set(request.suspect[0].channels)
    return next((p.channel for p in request.sheet.probes if p.signal == signal and p.channel in held), signal)


def lead_words(request: Request, signal: str) -> str:
    """The lead with its signal where the two are called differently: "5 (D02)"."""
    lead = lead_of(request, signal)
    return lead if lead == signal else f"{lead} ({signal})"


def lead_orders(request: Request) -> tuple[Mapping[str, int], ...]:
    """Signal to place: along the channels of the suspect capture, and along the pins where all are known."""
    signals = [request.sheet.probe(c).signal for c in request.suspect[0].channels]
    along_channels = {s: i for i, s in enumerate(signals)}
    pins = {p.signal: (p.slot, p.pin) for p in request.sheet.probes if p.pin}
    if not all(s in pins for s in signals):
        return (along_channels,)
    sorted_pins = sorted(signals, key=lambda s: [_natural(part) for part in pins[s]])
    return along_channels, {s: i for i, s in enumerate(sorted_pins)}


def _natural(text: str) -> list[tuple[bool, int, str]]:
    """Digits by their value, so that B2 comes before B10."""
    return [(d.isdecimal(), int(d) if d.isdecimal() else 0, d) for d in re.findall(r"\d+|\D+", text)]
