"""What a fault mode is, and the words that the modules which name them share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tracecore.capture import UNKNOWN, UInt8
from tracecore.compare.divergence import Divergence
from tracecore.compare.fault_kinds import FaultKind
from tracecore.quantities import group_digits


@dataclass(frozen=True, slots=True)
class FaultMode:
    """``name`` as shown; ``kind`` without figures, for sorting and tests; ``because`` sentences;
    ``partners`` the signals it involves besides its own; ``until`` the last good cycle of a fault that ends."""

    name: str
    kind: FaultKind
    because: tuple[str, ...]
    partners: tuple[str, ...] = ()
    until: int | None = None


def counted(count: int, noun: str) -> str:
    """A number with its noun.

    >>> counted(1, "transition"), counted(20, "transition")
    ('1 transition', '20 transitions')
    """
    return f"{group_digits(count)} {noun}{'' if count == 1 else 's'}"


def verb_for(count: int, verb: str) -> str:
    """The verb behind a number.

    >>> verb_for(1, "come"), verb_for(2, "come")
    ('comes', 'come')
    """
    return f"{verb}s" if count == 1 else verb


def are(count: int) -> str:
    """ "is" or "are" behind a number."""
    return "is" if count == 1 else "are"


def start_index(found: Divergence) -> int:
    """Index of the first diverging cycle among the compared ones: what was sound before has no fault mode."""
    return found.index_of(int(found.cycles[0])) if len(found.cycles) else 0


def share_alike(a: UInt8, b: UInt8) -> float | None:
    """Share of the cycles decided on both that are equal; None with fewer than eight of them."""
    both = (a != UNKNOWN) & (b != UNKNOWN)
    count = int(np.count_nonzero(both))
    return int(np.count_nonzero((a == b) & both)) / count if count >= 8 else None


def decided_on_both(a: UInt8, b: UInt8) -> tuple[UInt8, UInt8]:
    """The states of both in the cycles in which neither is unknown."""
    keep: NDArray[np.bool_] = (a != UNKNOWN) & (b != UNKNOWN)
    return a[keep], b[keep]
