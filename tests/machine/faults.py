"""Eleven kinds of fault on one net of the invented machine."""

from __future__ import annotations

import random
from dataclasses import dataclass

KINDS = (
    "stuck low",
    "stuck high",
    "open input",
    "inverted",
    "bridged and",
    "bridged or",
    "swapped",
    "late",
    "one cycle late",
    "intermittent",
    "weak",
)
PAIRED = ("bridged and", "bridged or", "swapped")
"""Kinds that join two nets."""


@dataclass(frozen=True, slots=True)
class Fault:
    """``kind`` on ``net`` from ``since`` cycles behind the reset on (below zero: from power-up). ``other`` is the net
    that it is joined to; ``late`` the share of a cycle by which a late net comes; ``share`` how often an intermittent
    or weak one fails."""

    kind: str
    net: str
    since: int = -(10**9)
    other: str = ""
    late: float = 0.3
    share: float = 0.02


class FaultyNet:
    """What a fault makes of levels, cycle by cycle."""

    def __init__(self, fault: Fault | None, seed: int) -> None:
        self.fault, self.active = fault, False
        self._rng = random.Random(seed)
        self._before, self._wrong, self._left = 0, False, 0

    def begin(self, cycle: int) -> None:
        """Chance is drawn once a cycle, so that all that reads the net sees the same."""
        fault = self.fault
        self.active = fault is not None and cycle >= fault.since
        if fault is None:
            return
        if fault.kind == "intermittent":
            self._left -= 1
            if self._left <= 0 and self._rng.random() < fault.share:
                self._left = self._rng.randint(2, 6)
            self._wrong = self._left > 0
        elif fault.kind == "weak":
            self._wrong = self._rng.random() < fault.share * 8

    def end(self, driven: int) -> None:
        """Keeps the level that the net was driven to."""
        self._before = driven

    def levels(self, own: int, other: int) -> tuple[int, int]:
        """The level on the wire, and the level that is read from it."""
        fault = self.fault
        if fault is None or not self.active:
            return own, own
        wire = {
            "stuck low": 0,
            "stuck high": 1,
            "inverted": 1 - own,
            "bridged and": own & other,
            "bridged or": own | other,
            "swapped": other,
            "one cycle late": self._before,
            "intermittent": 1 - own if self._wrong else own,
            "weak": 0 if self._wrong else own,
        }.get(fault.kind, own)
        return wire, 1 if fault.kind == "open input" else wire
