"""What a check-up of a pair says: what was seen, how sure, what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, Protocol

from tracecore.capture import Capture
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.compare.clock_faults import ClockPair
from tracecore.compare.findings import SignalFinding
from tracecore.lineup.lineup import Lineup
from tracecore.measure.chance import share_bounds

Kind = Literal["fine", "look", "bad"]
Topic = Literal["leads", "swapped", "ring", "one off", "inverted", "clock", "program", "skew"]
WORST_FIRST: tuple[Kind, ...] = ("bad", "look", "fine")

CERTAIN = 0.95
"""From here on a finding is called certain, and its correction may be offered with one click."""


@dataclass(frozen=True, slots=True)
class PairLine:
    """One finding. ``sure`` is 0 to 1; ``do`` one sentence or two; ``signals`` those it is about, by the sheet.

    ``swap`` names the two channels of the suspect capture to exchange on the sheet, where that is the correction.
    ``moves`` says of each lead that is off which channel's place it reads: (channel, channel whose signal it shows).
    ``agreements`` are pairs of words and shares, 0 to 1, for drawing the evidence.
    """

    kind: Kind
    topic: Topic
    text: str
    sure: float
    do: str
    signals: tuple[str, ...] = ()
    swap: tuple[str, str] | None = None
    moves: tuple[tuple[str, str], ...] = ()
    agreements: tuple[tuple[str, float], ...] = ()

    @property
    def sure_words(self) -> str:
        """How sure in words and as a percentage: "certain (99 %)"."""
        word = next(word for least, word in _WORDS if self.sure >= least)
        return f"{word} ({min(99, int(self.sure * 100)) if self.sure < 1 else 100} %)"


_WORDS = ((CERTAIN, "certain"), (0.85, "very likely"), (0.65, "likely"), (0.0, "perhaps"))


class Request(Protocol):
    """What of a request a check-up of a pair looks at."""

    @property
    def good(self) -> tuple[Capture, ...]:
        """The known-good captures, the shown one first."""

    @property
    def suspect(self) -> tuple[Capture, ...]:
        """The suspect captures, the shown one first."""

    @property
    def sheet(self) -> ProbeSheet:
        """Which channel is which signal."""


class Compared(Protocol):
    """What of a comparison a check-up of a pair looks at."""

    @property
    def request(self) -> Request:
        """What was compared."""

    @property
    def lineup(self) -> Lineup:
        """The pairing of cycles."""

    @property
    def signals(self) -> tuple[SignalFinding, ...]:
        """All signals, the clock first."""

    @property
    def clocks(self) -> ClockPair | None:
        """Both sides' clocks."""


def per_cent(share: float) -> str:
    """A share in per cent, never rounded up to 100.

    >>> per_cent(0.99999), per_cent(0.51), per_cent(1.0)
    ('99.9 %', '51 %', '100 %')
    """
    text = f"{share * 100:.1f}"
    return ("99.9" if text == "100.0" and share < 1 else text.removesuffix(".0")) + " %"


def lower_bound(good: int, total: int) -> float:
    """The share that ``good`` of ``total`` speak for at least: Wilson's bound, at 95 % both sides."""
    return share_bounds(good, total)[0]


def listed(names: Iterable[str], most: int = 6) -> str:
    """Names in a row with "and" before the last; many are cut short.

    >>> listed(["A", "B", "C"])
    'A, B and C'
    """
    row = list(names)
    if len(row) > most:
        return f"{', '.join(row[:most])} and {len(row) - most} more"
    return " and ".join(filter(None, (", ".join(row[:-1]), row[-1] if row else "")))
