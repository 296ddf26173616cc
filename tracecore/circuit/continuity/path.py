"""A net as a path from its driver to the receiver that goes wrong, and where on it to read next.

The path is halved: each reading on the suspect side, from where it is still sound to the middle of what is left, tells
on which side the break may lie. So one reading over the whole path and ceil(log2(n)) more find one of n pieces.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tracecore.circuit.continuity.nets import nets_of
from tracecore.circuit.continuity.pin_name import slot_of
from tracecore.circuit.continuity.readings import ContinuityList, Reading

Kind = Literal["path", "ground empty", "ground card in"]
Place = Literal["wire", "contact", "backplane", "slot", "card", "cannot be told"]
Answer = Literal["as good", "raised", "open", "far below good"]
_FAR_BELOW = 0.5
"""A reading to ground through parts says something where it is under half of good (common practice)."""


@dataclass(frozen=True, slots=True)
class NextReading:
    """What to read next on the suspect side. ``good_ohms`` is what the good side read there, None if nothing.

    ``leaves`` pairs each answer with the pieces that are left by it, as pairs of neighbouring pins; a reading to
    ground leaves none. ``at_most`` counts the readings that are still needed, this one included.
    """

    start: str
    end: str
    kind: Kind
    good_ohms: float | None
    leaves: tuple[tuple[Answer, tuple[tuple[str, str], ...]], ...]
    at_most: int


@dataclass(frozen=True, slots=True)
class Located:
    """Where the readings put the fault. ``between`` are the pins at the ends of what is left, empty for a slot.

    "wire" lies between two slots, "contact" between a connector's pin and the leg behind it, "backplane" holds the
    net down with the slot empty, "slot" is the card or its contact, and "card" the card, which holds the net down when
    it is in: no contact does that. Readings that are all as good clear nothing; then it cannot be told. ``evidence``
    are the readings that say so; ``legs`` are the chips' legs behind the receiver's pin.
    """

    place: Place
    slot: str
    between: tuple[str, ...]
    evidence: tuple[Reading, ...]
    legs: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NetPath:
    """The pins of a net from its driver to ``points[-1]``, the receiver that goes wrong, in the wire's order.

    ``behind`` pairs a connector's pin with the leg of the chip behind it. ``ground`` is a pin of the receiver's slot,
    empty where none is known. Raises ValueError where there are fewer than two points, or one stands twice.
    """

    points: tuple[str, ...]
    ground: str = ""
    behind: frozenset[tuple[str, str]] = frozenset()

    def __post_init__(self) -> None:
        if len(self.points) < 2 or len(set(self.points)) != len(self.points):
            raise ValueError("a path needs two pins or more, each once")

    @property
    def receiver(self) -> str:
        """The pin where readings to ground are taken: the last that is on the backplane."""
        legs = {leg for pair in self.behind for leg in pair[1:]}
        return next(point for point in reversed(self.points) if point not in legs)

    def piece_kind(self, index: int) -> Literal["wire", "contact"]:
        """What joins point ``index`` to the next one."""
        one, other = self.points[index], self.points[index + 1]
        return "contact" if (one, other) in self.behind or (other, one) in self.behind else "wire"


@dataclass(frozen=True, slots=True)
class _Known:
    """Points up to ``sound`` are joined to the driver on the suspect side; ``broken`` is the first known not to be."""

    sound: int
    broken: int | None
    by: tuple[Reading, ...]


def next_reading(path: NetPath, readings: ContinuityList) -> NextReading | None:
    """The reading that tells most now; None where the fault is located, or nothing more can be read.

    >>> from tracecore.circuit.continuity.readings import ContinuityList
    >>> step = next_reading(NetPath(("6-B22", "9-B11", "7-B04")), ContinuityList())
    >>> step.start, step.end
    ('6-B22', '7-B04')
    """
    known = _known(path, readings)
    points, last = path.points, len(path.points) - 1
    ends = _path_ends(known, last)
    if ends is not None and _last(readings, "suspect", points[ends[0]], points[ends[1]], False) is not None:
        # read already, and as on the good side: once more would tell no more
        return None
    if known.broken is None and known.sound < last:
        pieces = _pieces(points, known.sound, last)
        leaves: tuple[tuple[Answer, tuple[tuple[str, str], ...]], ...]
        leaves = (("as good", ()), ("raised", pieces), ("open", pieces))
        start = points[0]
        return _step(path, readings, start, points[last], "path", leaves, 1 + _halvings(len(pieces)))
    if known.broken is not None and known.broken - known.sound > 1:
        middle = (known.sound + known.broken) // 2
        near, far = _pieces(points, known.sound, middle), _pieces(points, middle, known.broken)
        leaves = (("as good", far), ("raised", near), ("open", near))
        count = _halvings(known.broken - known.sound)
        return _step(path, readings, points[known.sound], points[middle], "path", leaves, count)
    if known.broken is None and path.ground:
        for kind, card_in in (("ground empty", False), ("ground card in", True)):
            if _last(readings, "suspect", path.receiver, path.ground, card_in) is None:
                left: tuple[tuple[Answer, tuple[tuple[str, str], ...]], ...] = (("as good", ()), ("far below good", ()))
                step: Kind = "ground card in" if card_in else "ground empty"
                return _step(
                    path, readings, path.receiver, path.ground, step, left, 1 if kind == step and card_in else 2
                )
            if not card_in and _held(path, readings, card_in):
                return None
    return None


def located(path: NetPath, readings: ContinuityList) -> Located | None:
    """Where the readings so far put the fault; None where more is to be read."""
    known = _known(path, readings)
    slot = slot_of(path.receiver)
    waits = next_reading(path, readings) is not None
    if known.broken is not None and known.broken - known.sound == 1:
        return Located(
            path.piece_kind(known.sound), slot, (path.points[known.sound], path.points[known.broken]), known.by
        )
    if waits:
        return None
    if known.broken is not None or known.sound < len(path.points) - 1:
        return Located("cannot be told", slot, (), known.by)
    if not path.ground:
        # the path is whole and the levels are wrong at its end: nothing else is left on the backplane that was read
        return Located("slot", slot, (), known.by)
    return _by_ground(path, readings, known)


def _by_ground(path: NetPath, readings: ContinuityList, known: _Known) -> Located:
    slot, evidence = slot_of(path.receiver), list(known.by)
    places: tuple[tuple[bool, Place], ...] = ((False, "backplane"), (True, "card"))
    for card_in, place in places:
        suspect = _last(readings, "suspect", path.receiver, path.ground, card_in)
        held = _held(path, readings, card_in)
        if suspect is not None:
            evidence.append(suspect)
        if held:
            legs = tuple(sorted(leg for pin, leg in path.behind if pin == path.receiver)) if card_in else ()
            return Located(place, slot, (path.receiver, path.ground), tuple(evidence), legs)
    return Located("cannot be told", slot, (), tuple(evidence))


def _held(path: NetPath, readings: ContinuityList, card_in: bool) -> bool | None:
    """Is the receiver held to ground on the suspect side, and not on the good one? None where good was not read."""
    good, suspect = (
        _ohms(readings, side, _last(readings, side, path.receiver, path.ground, card_in))
        for side in ("good", "suspect")
    )
    if good is None or suspect is None:
        return None
    return suspect < _FAR_BELOW * good


def _known(path: NetPath, readings: ContinuityList) -> _Known:
    nets, good = nets_of(readings, "suspect"), nets_of(readings, "good")
    # what the good side reads apart too is how the machine is made
    alike = {reading.pair for reading in good.parting if not good.joined(*reading.pair)}
    points = path.points
    sound = max(k for k in range(len(points)) if nets.joined(points[0], points[k]))
    broken: int | None = None
    by: tuple[Reading, ...] = ()
    place = {point: index for index, point in enumerate(points)}
    for reading in nets.parting:
        if reading.pair in alike:
            continue
        ends = sorted(index for pin in reading.pair if (index := place.get(pin)) is not None)
        # a break between two points lies in front of the further one, if the nearer is joined to the driver
        if len(ends) == 2 and ends[0] <= sound < ends[1] and (broken is None or ends[1] < broken):
            broken, by = ends[1], (reading,)
    on_path = [r for r in nets.joining if r.start in place and r.end in place]
    return _Known(sound, broken, (*on_path, *by))


def _path_ends(known: _Known, last: int) -> tuple[int, int] | None:
    """The points between which the path is read next; None where nothing is left to read along it."""
    if known.broken is None:
        return (0, last) if known.sound < last else None
    middle = (known.sound + known.broken) // 2
    return (known.sound, middle) if known.broken - known.sound > 1 else None


def _pieces(points: tuple[str, ...], start: int, end: int) -> tuple[tuple[str, str], ...]:
    return tuple(zip(points[start:end], points[start + 1 : end + 1], strict=True))


def _halvings(pieces: int) -> int:
    """Readings that halving needs to find one of so many pieces.

    >>> [_halvings(n) for n in (1, 2, 3, 4, 5)]
    [0, 1, 2, 2, 3]
    """
    return (pieces - 1).bit_length()


def _step(
    path: NetPath,
    readings: ContinuityList,
    start: str,
    end: str,
    kind: Kind,
    leaves: tuple[tuple[Answer, tuple[tuple[str, str], ...]], ...],
    at_most: int,
) -> NextReading:
    good = _ohms(readings, "good", _last(readings, "good", start, end, kind == "ground card in"))
    return NextReading(start, end, kind, good, leaves, at_most)


def _last(readings: ContinuityList, side: str, start: str, end: str, card_in: bool) -> Reading | None:
    """The newest reading between two pins on a side."""
    return next(
        (
            r
            for r in reversed(readings.readings)
            if r.side == side and {r.start, r.end} == {start, end} and r.card_in == card_in and r.ohms is not None
        ),
        None,
    )


def _ohms(readings: ContinuityList, side: str, reading: Reading | None) -> float | None:
    if reading is None or reading.ohms is None:
        return None
    return reading.ohms - (readings.good_leads_ohms if side == "good" else readings.suspect_leads_ohms)
