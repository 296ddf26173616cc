"""What a pin list may learn: nets from ohm readings of the good side, and which pin of a net may drive it.

Nothing is asserted. Rows that are learnt say so in their note and have no direction; a driver is suggested with its
counts, for a threshold, a long lead or a slow edge may make another pin seem first.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from tracecore.capture import DigitalTrace, Int64
from tracecore.circuit.continuity.nets import nets_of
from tracecore.circuit.continuity.readings import ContinuityList
from tracecore.circuit.net_path import net_at
from tracecore.circuit.pin_list import PinList, Pinned
from tracecore.circuit.probe_sheet import ProbeSheet

NOTE = "learnt from readings"
FEWEST_FIRST = 10
"""A pin that is first more rarely is not suggested."""
_LATER_SHARE = 0.02
"""So small a share of transitions in which it comes later is let off, as samples fall."""


@dataclass(frozen=True, slots=True)
class LearntPins:
    """``rows`` are pins that the list lacks. ``clashes`` are nets that the list or the sheet has apart and the
    readings join."""

    rows: tuple[Pinned, ...]
    clashes: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class DriverHint:
    """``pin`` moves first: before every other captured pin of the net in ``first`` of ``transitions``, after one of
    them in ``later``."""

    net: str
    pin: str
    others: tuple[str, ...]
    first: int
    later: int
    transitions: int


def learnt_pins(readings: ContinuityList, pins: PinList, sheet: ProbeSheet | None = None) -> LearntPins:
    """Pins that the good side's readings put on a net; a net that nobody named is called by its first pin.

    >>> from tracecore.circuit.continuity.readings import parse_continuity
    >>> from tracecore.circuit.pin_list import parse_pin_list
    >>> text = "from,to,ohms,side\\n6-B22,7-B04,0.2,good\\n"
    >>> pins = parse_pin_list("net,slot,pin\\nD03,7,B04\\n")
    >>> [(row.net, row.place) for row in learnt_pins(parse_continuity(text), pins).rows]
    [('D03', '6-B22')]
    """
    nets = nets_of(readings, "good")
    named = sheet or ProbeSheet()
    rows: list[Pinned] = []
    clashes: list[tuple[str, ...]] = []
    for net in nets.nets():
        if len(net) < 2:
            continue
        known = tuple(dict.fromkeys(name for point in net if (name := net_at(pins, named, point))))
        if len(known) > 1:
            clashes.append(known)
            continue
        name = known[0] if known else f"NET-{net[0]}"
        for point in net:
            slot, _, pin = point.rpartition("-")
            if not pins.net_at(point):
                rows.append(Pinned(name, slot, pin, note=NOTE))
    return LearntPins(tuple(rows), tuple(clashes))


def driver_hints(traces: Mapping[str, Mapping[str, DigitalTrace]]) -> tuple[DriverHint, ...]:
    """Which pin may drive each net. ``traces`` gives the levels at the captured pins of each net, all of one capture.

    A transition of one pin belongs to the one of the other pin in the same direction that is nearest, if that is nearer
    than any other transition of either pin.
    """
    out = []
    for net, by_pin in traces.items():
        hint = _hint(net, by_pin)
        if hint is not None:
            out.append(hint)
    return tuple(out)


def _hint(net: str, by_pin: Mapping[str, DigitalTrace]) -> DriverHint | None:
    leads: dict[tuple[str, str], Int64] = {}
    for one, other in combinations(by_pin, 2):
        lead = _leads(by_pin[one], by_pin[other])
        leads[one, other], leads[other, one] = lead, -lead
    for pin in by_pin:
        mine = {other: leads[pin, other] for other in by_pin if other != pin}
        counts = [(int((lead > 0).sum()), int((lead < 0).sum()), len(lead)) for lead in mine.values()]
        if counts and all(ahead >= FEWEST_FIRST and later <= _LATER_SHARE * ahead for ahead, later, _ in counts):
            first, later, count = min(counts)
            return DriverHint(net, pin, tuple(mine), first, later, count)
    return None


def _leads(one: DigitalTrace, other: DigitalTrace) -> Int64:
    """By how much ``one`` moves before ``other``, for each pair of transitions that belong together, in ps."""
    out = []
    for level in (0, 1):
        a, b = (trace.times_ps[1:][trace.levels[1:] == level] for trace in (one, other))
        if not len(a) or not len(b):
            continue
        near = _nearest(a, b)
        # only where each is the other's nearest
        both = _nearest(b, a)[near] == np.arange(len(a))
        out.append((b[near] - a)[both])
    return np.concatenate(out) if out else np.empty(0, np.int64)


def _nearest(a: Int64, b: Int64) -> Int64:
    """For each of ``a`` the index of the nearest of ``b``; both increase."""
    after = np.clip(b.searchsorted(a), 1, len(b) - 1) if len(b) > 1 else np.zeros(len(a), np.int64)
    if len(b) == 1:
        return after
    return np.where(a - b[after - 1] <= b[after] - a, after - 1, after)
