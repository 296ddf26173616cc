"""Which lead of the suspect reads what: swapped, in a ring, a block one place off, inverted.

Only cycles in which two good signals differ can tell their leads apart. A board with one fault has one wrong signal,
or wrong ones behind it; two leads that each read exactly what the other one should are no such thing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from tracecore.capture import UNKNOWN
from tracecore.compare.pair_checkup.readings import Floats, Readings

_FEWEST_STRETCHES, _FEWEST_CYCLES, _FEWEST_CHANGES = 4, 8, 2
_SHARE = 0.9
_TRIED = 6
_FITS = 0.8  # beyond chance
_PARTS = (1.0, 0.5, 0.25)
"""A fault that comes later may hide what the leads show: then the first half or quarter must do."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """In ``stretches`` stretches of cycles the two signals differ; in a share ``share`` of these cycles the lead
    reads the other one's. ``last_cycle`` is the last good cycle looked at, None where that is the end."""

    share: float
    stretches: int
    last_cycle: int | None


@dataclass(frozen=True, slots=True)
class Leads:
    """Signals by name. ``swaps`` pairs; ``rings`` and ``blocks`` each a tuple of (signal, whose place it reads);
    ``inverted`` signals; ``evidence`` by (signal, whose place it reads)."""

    swaps: tuple[tuple[str, str], ...] = ()
    rings: tuple[tuple[tuple[str, str], ...], ...] = ()
    blocks: tuple[tuple[tuple[str, str], ...], ...] = ()
    inverted: tuple[str, ...] = ()
    evidence: Mapping[tuple[str, str], Evidence] = field(default_factory=dict)

    @property
    def place(self) -> dict[str, str]:
        """Whose place each lead that is off reads."""
        pairs = [p for a, b in self.swaps for p in ((a, b), (b, a))]
        return dict([*pairs, *(p for group in (*self.rings, *self.blocks) for p in group)])

    def __bool__(self) -> bool:
        return bool(self.swaps or self.rings or self.blocks or self.inverted)


def read_leads(
    readings: Readings, orders: Sequence[Mapping[str, int]], known: Mapping[str, str] | None = None
) -> Leads:
    """``orders`` are ways in which the leads lie side by side: signal -> place. ``known`` places of leads that the
    readings do not hold, such as that of the clock."""
    evidence: dict[tuple[str, str], Evidence] = {}
    names = readings.signals
    reads: dict[str, list[tuple[float, str]]] = {}
    for part in _PARTS:
        piece = readings.first(part)
        agree = piece.agreement()
        for i in np.flatnonzero(piece.moving("suspect")).tolist():
            if names[i] in reads:
                continue
            for j in _better_than_own(agree, i):
                found = _evidence(piece, i, j, part < 1)
                if found is not None:
                    evidence[names[i], names[j]] = found
                    reads.setdefault(names[i], []).append((float(agree[i, j]), names[j]))
    for lead, sure_place in (known or {}).items():
        reads[lead] = [(1.0, sure_place)]
    swaps = _swaps(reads)
    taken = {s for pair in swaps for s in pair}
    place = {lead: max(found)[1] for lead, found in reads.items() if lead not in taken}
    rings = _rings(place)
    taken |= {s for ring in rings for s, _ in ring}
    blocks = _blocks({a: b for a, b in place.items() if a not in taken}, orders)
    taken |= {s for block in blocks for s, _ in block}
    inverted = tuple(n for i, n in enumerate(names) if n not in taken and _is_inverted(readings, i))
    return Leads(swaps, rings, blocks, inverted, evidence)


def _better_than_own(agree: Floats, i: int) -> list[int]:
    """Signals that lead i agrees with better than with its own, the best few first.

    Where it is nearer to the opposite of its own signal than to any other, that is the plainer explanation. What it
    agrees with too seldom is left out, as looking at the cycles one by one would leave it out.
    """
    best = np.argsort(-agree[i], kind="stable")[:_TRIED].tolist()
    least = max(_SHARE, 1 - agree[i, i]) - 1e-9
    return [j for j in best if agree[i, j] > agree[i, i] and agree[i, j] >= least]


def _evidence(readings: Readings, i: int, j: int, is_part: bool) -> Evidence | None:
    """Does suspect i read good j, above all wherever goods i and j differ?"""
    own, other, seen = readings.good[i], readings.good[j], readings.suspect[i]
    known = (other != UNKNOWN) & (seen != UNKNOWN)
    telling = known & (own != other)
    # at its own edge the clock has no state: whatever its lead reads instead tells
    if (own != UNKNOWN).any():
        telling &= own != UNKNOWN
    stretches = max(int((telling[1:] & ~telling[:-1]).sum()), int(np.count_nonzero(np.diff(other[telling]))))
    if int(telling.sum()) < _FEWEST_CYCLES or stretches < _FEWEST_STRETCHES:
        return None
    share = float((seen[telling] == other[telling]).mean())
    # an inverted lead reads the other one wherever the two differ, and nowhere else
    if share < _SHARE or float((seen[known] == other[known]).mean()) < _SHARE:
        return None
    return Evidence(share, stretches, int(readings.cycles[-1]) if is_part else None)


def _swaps(reads: Mapping[str, list[tuple[float, str]]]) -> tuple[tuple[str, str], ...]:
    """Pairs that read each other's place, the clearest first, none twice; in the order of the signals."""
    # a lead reads what fits best; signals that are nearly alike fit nearly as well
    agree = {(a, b): share for a, found in reads.items() for share, b in found if share >= max(found)[0] - 0.005}
    both = [(min(share, agree[b, a]), a, b) for (a, b), share in agree.items() if (b, a) in agree]
    taken: set[str] = set()
    swaps = []
    for _, a, b in sorted(both, key=lambda row: -row[0]):
        if a not in taken and b not in taken:
            swaps.append((a, b))
            taken |= {a, b}
    return tuple(swaps)


def _rings(place: Mapping[str, str]) -> tuple[tuple[tuple[str, str], ...], ...]:
    """Three or more leads, each in the place of the next, the last in that of the first."""
    rings: list[tuple[tuple[str, str], ...]] = []
    seen: set[str] = set()
    for start in place:
        way: list[str] = []
        at = start
        while at in place and at not in way and at not in seen:
            way.append(at)
            at = place[at]
        if at in way and len(way) - way.index(at) >= 3:
            ring = way[way.index(at) :]
            rings.append(tuple((a, place[a]) for a in ring))
        seen |= set(way)
    return tuple(rings)


def _blocks(place: Mapping[str, str], orders: Sequence[Mapping[str, int]]) -> tuple[tuple[tuple[str, str], ...], ...]:
    """Two or more neighbours that all read the place one further, or one before, in one of the orders."""
    best: tuple[tuple[tuple[str, str], ...], ...] = ()
    for order in orders:
        blocks: list[tuple[tuple[str, str], ...]] = []
        for step in (1, -1):
            off = [a for a, b in place.items() if a in order and b in order and order[b] - order[a] == step]
            off.sort(key=lambda a: order[a])
            block: list[str] = []
            for lead in off:
                if block and order[lead] != order[block[-1]] + 1:
                    blocks.append(tuple((a, place[a]) for a in block))
                    block = []
                block.append(lead)
            blocks.append(tuple((a, place[a]) for a in block))
        # one lead alone may be a net that follows its neighbour
        found = tuple(b for b in blocks if len(b) >= 2)
        if sum(map(len, found)) > sum(map(len, best)):
            best = found
    return best


def _is_inverted(readings: Readings, i: int) -> bool:
    """The opposite from the first cycle on: a board that goes wrong later does not invert what came before."""
    for part in _PARTS:
        piece = readings.first(part)
        known = (piece.good[i] != UNKNOWN) & (piece.suspect[i] != UNKNOWN)
        own, seen = piece.good[i][known], piece.suspect[i][known]
        changes = int((own[1:] != own[:-1]).sum())
        if len(own) < _FEWEST_CYCLES or changes < _FEWEST_CHANGES or int((own[:16] == seen[:16]).sum()) > 1:
            return False
        if float((own == seen).mean()) <= 0.01:
            return True
    return False


def inverted_share(readings: Readings, signal: str) -> tuple[float, int]:
    """Share of the decided cycles in which the lead reads the opposite, and how often the good one changes."""
    i = readings.signals.index(signal)
    known = (readings.good[i] != UNKNOWN) & (readings.suspect[i] != UNKNOWN)
    own, seen = readings.good[i][known], readings.suspect[i][known]
    return float((own != seen).mean()) if len(own) else 0.0, int((own[1:] != own[:-1]).sum())


def standing(readings: Readings, leads: Leads | None = None) -> float:
    """Share of the moving signals that agree, once each lead is taken for what ``leads`` says; 0 to 1."""
    place = leads.place if leads else {}
    inverted = set(leads.inverted) if leads else set()
    tables: list[Floats] = [readings.first(part).beyond_chance() for part in _PARTS]
    good_moves, suspect_moves = readings.moving("good"), readings.moving("suspect")
    fits = []
    for i in np.flatnonzero(suspect_moves).tolist():
        name = readings.signals[i]
        wanted = place.get(name, name)
        j = readings.signals.index(wanted) if wanted in readings.signals else i
        if good_moves[j]:
            sign = -1 if name in inverted else 1
            fits.append(any(sign * table[i, j] >= _FITS for table in tables))
    return sum(fits) / len(fits) if fits else 0.0


def agrees_somewhere(readings: Readings, block: int = 64) -> bool:
    """Is there a stretch in which most signals move and agree? Then both run the same there."""
    for start in range(0, len(readings.cycles) - block + 1, block):
        good, suspect = readings.good[:, start : start + block], readings.suspect[:, start : start + block]
        known = (good != UNKNOWN) & (suspect != UNKNOWN)
        moving = Readings(readings.signals, good, suspect, readings.cycles[start : start + block]).live()
        if int(moving.sum()) < min(3, len(moving)) or not moving.any():
            continue
        apart = ((good != suspect) & known)[moving].sum(1) / np.maximum(known[moving].sum(1), 1)
        if float((apart < 0.02).mean()) >= 0.8:
            return True
    return False
