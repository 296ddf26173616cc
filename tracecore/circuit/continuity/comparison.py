"""The readings of two backplanes side by side: pair by pair, and net by net."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from tracecore.circuit.continuity.nets import Conflict, Nets, nets_of, taken_off
from tracecore.circuit.continuity.pin_name import pin_order
from tracecore.circuit.continuity.readings import ContinuityList, Reading, Side

Verdict = Literal["same", "open", "extra", "raised", "lower", "varies", "to measure"]
VERDICTS: tuple[Verdict, ...] = ("open", "extra", "raised", "lower", "varies", "to measure", "same")
"""Worst first, as they are listed."""
_MOST_EXPLAINED = 64
"""Where more readings cross between nets, no single one is looked for."""
_ALIKE = 0.05
"""Readings through parts differ from board to board by so much and say nothing (common practice)."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two pins on both sides. ``..._ohms`` is the last reading with its leads taken off, ``math.inf`` open.

    ``raised_ohms`` is suspect less good where both are numbers. ``over`` names the sides whose value is not read
    between these pins, but follows from other readings that join them. ``readings`` holds all of both sides.
    """

    start: str
    end: str
    verdict: Verdict
    good_ohms: float | None
    suspect_ohms: float | None
    card_in: bool
    over: tuple[Side, ...]
    readings: tuple[Reading, ...]

    @property
    def raised_ohms(self) -> float | None:
        """Suspect less good; None where either is open or unknown."""
        good, suspect = self.good_ohms, self.suspect_ohms
        if good is None or suspect is None or math.isinf(good) or math.isinf(suspect):
            return None
        return suspect - good

    @property
    def differs(self) -> bool:
        """Does the suspect side read otherwise than the good one?"""
        return self.verdict not in ("same", "to measure")


@dataclass(frozen=True, slots=True)
class SplitNet:
    """A net of the good side that the suspect side has in parts; ``by`` are the suspect readings that part it."""

    pins: tuple[str, ...]
    parts: tuple[tuple[str, ...], ...]
    by: tuple[Reading, ...]


@dataclass(frozen=True, slots=True)
class JoinedNets:
    """Nets of the good side that are one on the suspect side, without pins that the suspect's readings part from it.

    ``by`` are the suspect readings that cross from one to another; where it is one alone, it explains the joining.
    """

    nets: tuple[tuple[str, ...], ...]
    by: tuple[Reading, ...]

    @property
    def alone(self) -> Reading | None:
        """The single reading that explains it."""
        return self.by[0] if len(self.by) == 1 else None


@dataclass(frozen=True, slots=True)
class ContinuityComparison:
    """All that two lists of readings say against each other; pairs worst first."""

    pairs: tuple[Pair, ...]
    split: tuple[SplitNet, ...]
    joined: tuple[JoinedNets, ...]
    conflicts: tuple[Conflict, ...]
    twice: tuple[tuple[Reading, Reading], ...]
    joins_ohms: float
    raised_ohms: float

    def count(self, verdict: Verdict) -> int:
        """How many pairs have this verdict."""
        return sum(pair.verdict == verdict for pair in self.pairs)

    @property
    def differs(self) -> bool:
        """Is anything on the suspect side otherwise than on the good one?"""
        return any(pair.differs for pair in self.pairs) or bool(self.split or self.joined)

    @property
    def tells(self) -> bool:
        """Was any pair known on both sides? Without one nothing was compared."""
        return self.differs or any(pair.verdict != "to measure" for pair in self.pairs)


def compare_continuity(readings: ContinuityList) -> ContinuityComparison:
    """Compares both sides of a list, by the limits that it carries.

    A difference is only told where both sides were read, directly or over other pins; the rest is to be measured.

    >>> from tracecore.circuit.continuity.readings import parse_continuity
    >>> text = "from,to,ohms,side\\n6-B22,7-B04,0.2,good\\n6-B22,7-B04,open,suspect\\n"
    >>> compare_continuity(parse_continuity(text)).pairs[0].verdict
    'open'
    """
    good, suspect = nets_of(readings, "good"), nets_of(readings, "suspect")
    raised_ohms = readings.raised_ohms
    pairs = sorted(
        _pairs(readings, good, suspect, raised_ohms),
        key=lambda pair: (VERDICTS.index(pair.verdict), pin_order(pair.start), pin_order(pair.end)),
    )
    alike = {(pair.start, pair.end) for pair in pairs if pair.verdict == "same" and not pair.card_in}
    return ContinuityComparison(
        tuple(pairs),
        tuple(_split(good, suspect, alike)),
        tuple(_joined(good, suspect, alike)),
        good.conflicts() + suspect.conflicts(),
        tuple(_twice(readings, raised_ohms)),
        readings.joins_ohms,
        raised_ohms,
    )


def _by_pair(readings: ContinuityList) -> dict[tuple[str, str, bool], list[Reading]]:
    found: dict[tuple[str, str, bool], list[Reading]] = {}
    for reading in readings.readings:
        found.setdefault((*reading.pair, reading.card_in), []).append(reading)
    return found


def _pairs(readings: ContinuityList, good: Nets, suspect: Nets, raised: float) -> Iterator[Pair]:
    for (start, end, card_in), rows in _by_pair(readings).items():
        ohms: list[float | None] = []
        varies = False
        over: list[Side] = []
        for side, nets in (("good", good), ("suspect", suspect)):
            mine = [r for r in rows if r.side == side and r.ohms is not None]
            value = taken_off(mine[-1].ohms, nets.leads_ohms) if mine else None
            varies |= side == "suspect" and _vary([taken_off(r.ohms, nets.leads_ohms) for r in mine], raised)
            if value is None and not card_in and nets.joined(start, end):
                over.append("good" if side == "good" else "suspect")
            ohms.append(value)
        verdict = _verdict(ohms[0], ohms[1], varies, over, good.joins_ohms, raised)
        yield Pair(start, end, verdict, ohms[0], ohms[1], card_in, tuple(over), tuple(rows))


def _vary(values: list[float | None], raised: float) -> bool:
    """Were readings of one pair further apart than counts as raised?"""
    known = [value for value in values if value is not None]
    return any(not _alike(one, other, raised) for one, other in pairwise(known))


def _alike(one: float, other: float, raised: float) -> bool:
    if math.isinf(one) or math.isinf(other):
        return one == other
    return abs(one - other) <= max(raised, _ALIKE * max(abs(one), abs(other)))


def _verdict(
    good: float | None, suspect: float | None, varies: bool, over: list[Side], joins: float, raised: float
) -> Verdict:
    if varies:
        return "varies"
    if good is None and suspect is None:
        # joined over other pins on both sides needs no reading
        return "same" if len(over) == 2 else "to measure"
    if good is None:
        return _where_good_is_known(suspect, joins) if "good" in over else "to measure"
    if suspect is None:
        if "suspect" not in over:
            return "to measure"
        return "same" if good < joins else "extra"
    if _alike(good, suspect, raised):
        # a limit between two readings that are nearly alike must not hide a new joining
        return "same"
    if math.isinf(suspect):
        return "open"
    if math.isinf(good) or (good >= joins and suspect < joins):
        return "extra"
    return "raised" if suspect > good else "lower"


def _where_good_is_known(suspect: float | None, joins: float) -> Verdict:
    """The good side joins the pins over others: what the suspect's own reading makes of that."""
    if suspect is None:
        return "to measure"
    if math.isinf(suspect):
        return "open"
    return "same" if suspect < joins else "raised"


def _split(good: Nets, suspect: Nets, alike: set[tuple[str, str]]) -> Iterator[SplitNet]:
    """``alike`` are pairs that read the same on both sides, on whichever side of the limit: they part nothing."""
    parting: dict[str, list[Reading]] = {}
    for reading in suspect.parting:
        pins = reading.pair
        if pins not in alike and good.joined(*pins) and not suspect.joined(*pins):
            parting.setdefault(good.root(reading.start), []).append(reading)
    for net in good.nets():
        by = parting.get(good.root(net[0]))
        if by:
            parts: dict[str, list[str]] = {}
            for pin in net:
                parts.setdefault(suspect.root(pin), []).append(pin)
            yield SplitNet(net, tuple(tuple(part) for part in parts.values()), tuple(by))


def _joined(good: Nets, suspect: Nets, alike: set[tuple[str, str]]) -> Iterator[JoinedNets]:
    """Nets that the good side has apart for certain; pins that it never read count as no net of their own."""
    apart, parted = _apart(good, alike), _apart(suspect, alike)
    members = {good.root(net[0]): net for net in good.nets()}
    crossing: dict[str, list[Reading]] = {}
    for reading in suspect.joining:
        if reading.pair not in alike and not good.joined(reading.start, reading.end):
            crossing.setdefault(suspect.root(reading.start), []).append(reading)
    for joint, readings in crossing.items():
        # pins of one good net are one point here
        links = [(good.root(r.start), good.root(r.end)) for r in readings]
        roots = dict.fromkeys(root for link in links for root in link)
        known = [root for root in roots if any(other != root and other in roots for other in apart.get(root, ()))]
        if len(known) > 1:
            off = parted.get(joint, set())
            nets = tuple(
                tuple(pin for pin in members.get(root, (root,)) if suspect.root(pin) not in off) for root in known
            )
            yield JoinedNets(nets, _explaining(readings, links, known))


def _apart(nets: Nets, alike: set[tuple[str, str]]) -> dict[str, set[str]]:
    """The nets, each by its root, that a reading parts from each net."""
    found: dict[str, set[str]] = {}
    for reading in nets.parting:
        if reading.pair not in alike:
            one, other = nets.root(reading.start), nets.root(reading.end)
            found.setdefault(one, set()).add(other)
            found.setdefault(other, set()).add(one)
    return found


def _explaining(readings: list[Reading], links: list[tuple[str, str]], roots: list[str]) -> tuple[Reading, ...]:
    """The crossing readings of which each, taken out, would leave the nets apart; all of them where none does."""
    if len(readings) > _MOST_EXPLAINED:
        return tuple(readings)
    needed = []
    for out, reading in enumerate(readings):
        reached, grown = {roots[0]}, True
        while grown:
            grown = False
            for index, (one, other) in enumerate(links):
                if index != out and (one in reached) != (other in reached):
                    reached |= {one, other}
                    grown = True
        if not reached.issuperset(roots):
            needed.append(reading)
    return tuple(needed) if needed else tuple(readings)


def _twice(readings: ContinuityList, raised: float) -> Iterator[tuple[Reading, Reading]]:
    """Readings of one pair on one side that differ, as neighbours in the list."""
    for rows in _by_pair(readings).values():
        for side in ("good", "suspect"):
            mine = [r for r in rows if r.side == side and r.ohms is not None]
            for one, other in pairwise(mine):
                if one.ohms is not None and other.ohms is not None and not _alike(one.ohms, other.ohms, raised):
                    yield one, other
