"""Which pins one side's readings join, and where these readings contradict one another."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass

from tracecore.circuit.continuity.pin_name import pin_order
from tracecore.circuit.continuity.readings import JOINS_OHMS, ContinuityList, Reading, Side


@dataclass(frozen=True, slots=True)
class Conflict:
    """``apart`` was read as not joined, while the readings ``through`` join its pins.

    One of them all is wrong. ``again`` is the one to read again first.
    """

    apart: Reading
    through: tuple[Reading, ...]
    again: Reading


class Nets:
    """The nets of one side by union-find. ``leads_ohms`` is taken off each reading first.

    >>> from tracecore.circuit.continuity.readings import parse_continuity
    >>> text = "from,to,ohms\\n6-B22,7-B04,0.2\\n7-B04,9-B11,0.3\\n1-A01,2-A01,open\\n"
    >>> nets = Nets(parse_continuity(text, side="good").readings)
    >>> nets.joined("6-B22", "9-B11"), nets.joined("1-A01", "2-A01")
    (True, False)
    """

    def __init__(self, readings: Iterable[Reading], joins_ohms: float = JOINS_OHMS, leads_ohms: float = 0.0) -> None:
        self.joins_ohms, self.leads_ohms = joins_ohms, leads_ohms
        self._parent: dict[str, str] = {}
        self.joining: list[Reading] = []
        self.parting: list[Reading] = []
        self._beside: dict[str, list[tuple[str, Reading]]] = {}
        for reading in readings:
            for pin in (reading.start, reading.end):
                self._parent.setdefault(pin, pin)
            if reading.ohms is None or reading.card_in:
                continue
            if self.joins(reading):
                self.joining.append(reading)
                self._join(reading)
            else:
                self.parting.append(reading)

    def joins(self, reading: Reading) -> bool:
        """Is the reading below the limit, the leads taken off?"""
        return reading.ohms is not None and reading.ohms - self.leads_ohms < self.joins_ohms

    def root(self, pin: str) -> str:
        """One pin that stands for the whole net; a pin that was never read stands for itself."""
        parent = self._parent
        if pin not in parent:
            return pin
        root = pin
        while parent[root] != root:
            root = parent[root]
        while parent[pin] != root:
            parent[pin], pin = root, parent[pin]
        return root

    def joined(self, start: str, end: str) -> bool:
        """Do the readings join these two pins, directly or over others?"""
        return self.root(start) == self.root(end)

    @property
    def pins(self) -> tuple[str, ...]:
        """Every pin that a reading names, in counting order."""
        return tuple(sorted(self._parent, key=pin_order))

    def nets(self) -> tuple[tuple[str, ...], ...]:
        """Each net with its pins in counting order, nets by their first pin; a pin alone is a net of one."""
        found: dict[str, list[str]] = {}
        for pin in self.pins:
            found.setdefault(self.root(pin), []).append(pin)
        return tuple(tuple(pins) for pins in found.values())

    def conflicts(self) -> tuple[Conflict, ...]:
        """Each reading that parts what other readings join, in the list's order."""
        against = [reading for reading in self.parting if self.joined(reading.start, reading.end)]
        if not against:
            return ()
        chains = [(reading, self._chain(reading.start, reading.end)) for reading in against]
        blamed: dict[int, int] = {}
        for _, chain in chains:
            for step in chain:
                blamed[id(step)] = blamed.get(id(step), 0) + 1
        return tuple(Conflict(reading, chain, self._again(reading, chain, blamed)) for reading, chain in chains)

    def _join(self, reading: Reading) -> None:
        self._parent[self.root(reading.start)] = self.root(reading.end)
        self._beside.setdefault(reading.start, []).append((reading.end, reading))
        self._beside.setdefault(reading.end, []).append((reading.start, reading))

    def _chain(self, start: str, end: str, without: Reading | None = None) -> tuple[Reading, ...]:
        """The fewest readings that join two pins; empty where none do."""
        came: dict[str, tuple[str, Reading]] = {}
        todo, seen = deque([start]), {start}
        while todo:
            pin = todo.popleft()
            if pin == end:
                break
            for other, reading in self._beside.get(pin, ()):
                if other not in seen and reading is not without:
                    seen.add(other)
                    came[other] = pin, reading
                    todo.append(other)
        chain: list[Reading] = []
        while end != start:
            if end not in came:
                return ()
            end, reading = came[end]
            chain.append(reading)
        return tuple(reversed(chain))

    def _again(self, apart: Reading, chain: tuple[Reading, ...], blamed: dict[int, int]) -> Reading:
        """A joining reading that several parting ones contradict; else the parting one.

        A tip that does not touch reads open, and nothing reads low by mistake so easily (common practice). But
        where one joining reading alone holds the pins together and others contradict it too, it is read again first.
        """
        worst = max(chain, key=lambda reading: blamed[id(reading)])
        if blamed[id(worst)] > 1 and not self._chain(apart.start, apart.end, without=worst):
            return worst
        return apart


_newest: dict[Side, tuple[ContinuityList, Nets]] = {}


def nets_of(readings: ContinuityList, side: Side) -> Nets:
    """The nets of one side of a list. Those of the newest list are kept: a list of 10 000 is asked many times over."""
    kept = _newest.get(side)
    if kept is None or kept[0] is not readings:
        kept = readings, Nets(readings.of(side), readings.joins_ohms, readings.leads_ohms(side))
        _newest[side] = kept
    return kept[1]


def taken_off(ohms: float | None, leads_ohms: float) -> float | None:
    """A reading without its leads; open and unknown stay what they are."""
    return ohms if ohms is None or math.isinf(ohms) else ohms - leads_ohms
