"""Files that are parts of one run, on one time: an instrument that writes a file a channel, or two instruments at
once."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace

import numpy as np

from tracecore.capture import AnalogTrace, Capture, DigitalTrace, Int64
from tracecore.errors import RequestError
from tracecore.own_names import volts_beside
from tracecore.quantities import format_time, group_digits

TRIGGER = "trigger"
_EDGES = 400
_FITS = 0.9
_FEWEST = 3


@dataclass(frozen=True, slots=True)
class Placed:
    """How a part lies to the first one: ``offset_ps`` is added to its times; ``matched`` of ``edges`` edges agree, the
    farthest by ``spread_ps``."""

    offset_ps: int
    matched: int
    edges: int
    spread_ps: int


def joined(parts: Sequence[Capture], how: str) -> Capture:
    """One capture of all channels of ``parts``, each over the time that its own part holds: outside that it is not
    known, which is told.

    ``how`` is "trigger" where all times count from the same trigger, else the name of a logic signal that each part
    holds, by whose edges the others are placed on the times of the first. A channel that two parts hold is that of the
    first; volts of a channel of which there is logic stand beside it. Raises RequestError, one sentence, where they
    cannot be joined.
    """
    if len(parts) < 2:
        return parts[0]
    first, notes = parts[0], list(parts[0].notes)
    logic = {name for part in parts for name in part.digital}
    digital, analog = dict(first.digital), _beside(first.analog, logic)
    resolution = max(part.resolution_ps for part in parts)
    spans = [(first.start_ps, first.stop_ps)]
    for part in parts[1:]:
        volts = _beside(part.analog, logic)
        twice = sorted({*part.digital, *volts} & {*digital, *analog})
        if len(twice) == len(part.channels):
            raise RequestError(
                f"{part.name} holds no signal beside those of {first.name}: that is a repeat, not a part."
            )
        offset = 0
        if how != TRIGGER:
            placed = place(first, part, how)
            offset = placed.offset_ps
            notes.append(
                f"{part.name} is placed {format_time(offset, sign=True)} by {group_digits(placed.matched)} of "
                f"{group_digits(placed.edges)} edges of {how}, which agree to {format_time(placed.spread_ps)}."
            )
        notes += [f"{part.name}: {note}" for note in part.notes]
        if twice:
            notes.append(f"{', '.join(twice)}: taken from {first.name}, left out of {part.name}.")
        digital |= {n: _moved(t, offset) for n, t in part.digital.items() if n not in twice}
        analog |= {n: replace(t, start_ps=t.start_ps + offset) for n, t in volts.items() if n not in twice}
        spans.append((part.start_ps + offset, part.stop_ps + offset))
    if max(start for start, _ in spans) >= min(stop for _, stop in spans):
        names = " and ".join(part.name for part in parts)
        raise RequestError(f"{names} share no time: they cannot be joined by {how}.")
    whole = hashlib.sha256("".join(part.sha256 for part in parts).encode()).hexdigest()
    return replace(
        first,
        name=" + ".join(part.name for part in parts),
        digital=digital,
        analog=analog,
        resolution_ps=resolution,
        sha256=whole if all(part.sha256 for part in parts) else "",
        facts=(*first.facts, ("joined", f"{len(parts)} files, by {how}")),
        notes=(*notes, *_span_notes(parts, spans)),
        parts=tuple(part.path for part in parts[1:]),
        joined_by=how,
    )


def _beside(analog: Mapping[str, AnalogTrace], logic: Set[str]) -> dict[str, AnalogTrace]:
    """Volts by names that no logic has."""
    return {volts_beside(name) if name in logic else name: trace for name, trace in analog.items()}


def _span_notes(parts: Sequence[Capture], spans: Sequence[tuple[int, int]]) -> Iterator[str]:
    """Parts that hold less than the whole run, by more than a sample or two."""
    start, stop = min(a for a, _ in spans), max(b for _, b in spans)
    slack = 2 * max(part.resolution_ps for part in parts)
    for part, (a, b) in zip(parts, spans, strict=True):
        if a - start > slack or stop - b > slack:
            yield (
                f"{part.name} holds {format_time(b - a, digits=3)} of the {format_time(stop - start, digits=3)}: its "
                "signals are not known outside that."
            )


def place(first: Capture, part: Capture, name: str) -> Placed:
    """Where ``part`` lies to ``first`` by the edges of a logic signal that both hold.

    Every pair of edges that go the same way votes for the offset between them; one that fits nine in ten edges, and
    better than any other by as much, is it. Raises RequestError where none is.
    """
    for capture in (first, part):
        if name not in capture.digital:
            kind = "volts" if name in capture.analog else "missing"
            raise RequestError(
                f"--join {name}: the signal is {kind} in {capture.name}; it must be logic in each file, or volts in "
                "one of two."
            )
    one, other = first.digital[name], part.digital[name]
    slack = first.resolution_ps + part.resolution_ps
    offsets = _votes(one, other)
    if len(offsets) < _FEWEST:
        raise RequestError(f"--join {name}: it changes too seldom to place {part.name} by it.")
    counts = offsets.searchsorted(offsets + 2 * slack, side="right") - np.arange(len(offsets))
    best = int(counts.argmax())
    centre = int(np.median(offsets[best : best + counts[best]]))
    away = np.abs(offsets - centre) > 4 * slack
    rival = int(counts[away].max()) if away.any() else 0
    placed = _placed(one, other, centre, slack)
    if placed.matched < max(_FEWEST, _FITS * placed.edges):
        raise RequestError(f"--join {name}: its edges in {first.name} and {part.name} fit at no offset.")
    if rival > _FITS * int(counts[best]):
        raise RequestError(
            f"--join {name}: it repeats, and fits at more than one offset; choose a signal that does not."
        )
    return placed


def _edges(trace: DigitalTrace, rising: bool) -> Int64:
    known = (trace.levels[:-1] < 2) & (trace.levels[1:] == int(rising))
    return np.asarray(trace.times_ps[1:][known])


def _votes(one: DigitalTrace, other: DigitalTrace) -> Int64:
    """Offsets between edges that go the same way, sorted."""
    found = []
    for rising in (True, False):
        a, b = _edges(one, rising)[:_EDGES], _edges(other, rising)[:_EDGES]
        found.append((a[:, None] - b[None, :]).reshape(-1))
    return np.sort(np.concatenate(found))


def _placed(one: DigitalTrace, other: DigitalTrace, offset_ps: int, slack_ps: int) -> Placed:
    """All edges in the time that both hold, at this offset."""
    start, stop = max(one.start_ps, other.start_ps + offset_ps), min(one.stop_ps, other.stop_ps + offset_ps)
    gaps = []
    for rising in (True, False):
        a, b = _edges(one, rising), _edges(other, rising) + offset_ps
        a, b = (t[(t > start + slack_ps) & (t < stop - slack_ps)] for t in (a, b))
        if len(a) > len(b):
            a, b = b, a
        if not len(b):
            continue
        at = np.clip(a.searchsorted(b), 0, max(0, len(a) - 1))
        before = np.clip(at - 1, 0, None)
        gaps.append(
            np.minimum(np.abs(a[at] - b), np.abs(a[before] - b)) if len(a) else np.full(len(b), 2 * slack_ps + 1)
        )
    gap = np.concatenate(gaps) if gaps else np.empty(0, np.int64)
    fits = gap <= 2 * slack_ps
    return Placed(offset_ps, int(fits.sum()), len(gap), int(gap[fits].max()) if fits.any() else 0)


def _moved(trace: DigitalTrace, offset_ps: int) -> DigitalTrace:
    return DigitalTrace(trace.times_ps + offset_ps, trace.levels, trace.stop_ps + offset_ps) if offset_ps else trace
