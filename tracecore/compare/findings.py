"""What a comparison says of each signal: values only, filled by the other modules of this room.

All times are int64 picoseconds. ``good_ps`` is on the good capture's own clock, ``suspect_ps`` on the
suspect's own; arrays named ``..._on_good_ps`` hold suspect times carried to the good time axis, so
that both sides can be drawn over one another.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from tracecore.capture import AnalogTrace, DigitalTrace, Int64
from tracecore.compare.fault_kinds import FaultKind
from tracecore.compare.timing_limits import LimitsKept
from tracecore.measure.levels import EventKind

Verdict = Literal["agrees", "diverges", "undecided", "missing"]
FEWEST_DECIDED, FEWEST_MOVES = 30, 2
"""A signal that is decided in fewer cycles, or moves less often in them, agrees by chance too easily."""
Side = Literal["good", "suspect"]


def _none() -> Int64:
    return np.empty(0, np.int64)


@dataclass(frozen=True, slots=True)
class FirstDivergence:
    """Where a signal differs first: good cycle (from 0), and the time on either side's own clock."""

    cycle: int
    good_ps: int
    suspect_ps: int


@dataclass(frozen=True, slots=True)
class Skew:
    """Suspect delay minus good delay after the active edge, over matched transitions; positive is late.

    ``uncertainty_ps`` is what one pair of transitions reads to: the sum of both sample periods.
    """

    median_ps: int
    p95_ps: int
    max_ps: int
    uncertainty_ps: int
    count: int


@dataclass(frozen=True, slots=True)
class LevelViolation:
    """A stretch of volts outside what the family allows.

    ``volts`` is the level it rests at or turns back at; ``limit_v`` the limit it breaks; ``start_ps`` and
    ``stop_ps`` lie on the side's own clock; ``cycle`` is a good cycle, or None outside the line-up.
    """

    kind: EventKind
    side: Side
    start_ps: int
    stop_ps: int
    volts: float
    limit_v: float
    cycle: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Ties:
    """How transitions pair. ``good_ps`` and ``suspect_on_good_ps`` int64[N] pair index by index and are
    within tolerance; ``moved_...`` pair too but lie further apart (early or late); ``missing_ps`` are good
    transitions without a twin; ``extra_on_good_ps`` suspect ones without a twin."""

    good_ps: Int64 = field(default_factory=_none)
    suspect_on_good_ps: Int64 = field(default_factory=_none)
    moved_good_ps: Int64 = field(default_factory=_none)
    moved_suspect_on_good_ps: Int64 = field(default_factory=_none)
    missing_ps: Int64 = field(default_factory=_none)
    extra_on_good_ps: Int64 = field(default_factory=_none)


@dataclass(frozen=True, slots=True, eq=False)
class SignalFinding:
    """All that is known of one signal.

    ``difference_on_good_ps`` int64[N, 2]: spans, sorted and apart, in which the levels differ (for hatching);
    ``diverging_cycles`` int64[M]: good cycles at which it diverges, increasing (for the overview).
    ``let_off_cycles`` int64[L]: those in which it differs as known-good captures do too, which do not count.
    ``matched_stop`` is the good cycle behind the last one that was compared.
    ``fault_mode`` and ``fault_kind``, the same without figures, are None where the signal agrees. Traces are
    None where a side lacks the signal; the volts
    are there besides where the capture has them. ``limits`` is what both sides leave of the limits of the part that
    takes it in, None where no such part is named.
    """

    signal: str
    verdict: Verdict
    slot: str = ""
    pin: str = ""
    active: str = "high"
    bus: str = ""
    bit: int | None = None
    driver: str = ""
    family: str = ""
    fault_mode: str | None = None
    fault_kind: FaultKind | None = None
    first_divergence: FirstDivergence | None = None
    diverging_cycles: Int64 = field(default_factory=_none)
    let_off_cycles: Int64 = field(default_factory=_none)
    undecided_cycles: int = 0
    compared_cycles: int = 0
    matched_stop: int = 0
    skew: Skew | None = None
    missing_transitions: int = 0
    extra_transitions: int = 0
    moved_transitions: int = 0
    levels: tuple[LevelViolation, ...] = ()
    limits: LimitsKept | None = None
    ties: Ties = field(default_factory=Ties)
    difference_on_good_ps: Int64 = field(default_factory=lambda: np.empty((0, 2), np.int64))
    good_trace: DigitalTrace | None = None
    suspect_trace: DigitalTrace | None = None
    suspect_on_good: DigitalTrace | None = None
    good_volts: AnalogTrace | None = None
    suspect_volts: AnalogTrace | None = None

    @property
    def is_too_still(self) -> bool:
        """Is an agreement, of another signal than the clock, too little to mean anything? That it stands as the good
        one does proves nothing of what drives it."""
        if self.good_trace is None or self.suspect_trace is None:
            return False
        if max(len(self.good_trace.transitions_ps), len(self.suspect_trace.transitions_ps)) < FEWEST_MOVES:
            return True
        judged = len(self.ties.good_ps) + self.moved_transitions
        if not self.compared_cycles and not judged:
            # it moves, and no state of it could be compared: that is told in other words
            return False
        return judged < FEWEST_MOVES or (self.compared_cycles < FEWEST_DECIDED and not self.by_transitions)

    @property
    def by_transitions(self) -> bool:
        """Is it judged by its transitions alone? One that moves with the clock has no state that can be read, as a copy
        of the clock has none; but that all its transitions pair says as much."""
        return self.compared_cycles < FEWEST_DECIDED <= len(self.ties.good_ps)

    @property
    def place(self) -> str:
        """Slot and pin as they are typed, ``7-B04``; empty where not on the sheet."""
        return "-".join(part for part in (self.slot, self.pin) if part)


@dataclass(frozen=True, slots=True)
class FaultyChip:
    """A chip that does not obey its own inputs: its name on the board, its number, and ``fault``, what would make it
    obey ("input C, leg 3, may be open"). ``legs`` are those concerned, ``outputs`` the signals that it gets wrong."""

    name: str
    number: str
    fault: str
    legs: tuple[int, ...]
    outputs: tuple[str, ...]

    @property
    def heading(self) -> str:
        """Chip and fault: "U14: input C, leg 3, may be open"."""
        return f"{self.name}: {self.fault}"


@dataclass(frozen=True, slots=True)
class Cause:
    """A likely cause, not a verdict. ``because`` are sentences; ``readings`` are label and value pairs
    for a card ("Good reads", "17 octal"). ``capture`` is empty, or names the suspect capture that showed it where the
    shown one agrees; the cycles are good cycles all the same. ``partners`` are
    the signals that the fault involves besides its own. ``chip`` is where the fault lies, where that is known to be a
    chip: ``signal`` is then the output that goes wrong first."""

    rank: int
    signal: str
    fault_mode: str
    since_cycle: int | None
    since_good_ps: int | None
    summary: str
    because: tuple[str, ...]
    readings: tuple[tuple[str, str], ...]
    probe_next: str
    capture: str = ""
    fault_kind: FaultKind | None = None
    partners: tuple[str, ...] = ()
    chip: FaultyChip | None = None
    came_up: bool = False
    """Does the signal differ from the start until it moves first, as contents at power-up do?"""
    by_contents: bool = False
    """May what it shows all come from such contents, its own or others'?"""

    def heading(self, place: str = "") -> str:
        """What the cause is, in a line; ``place`` is the signal's pin.

        >>> Cause(1, "D03", "stuck low", None, None, "", (), (), "").heading("7-B04")
        'D03 (7-B04): stuck low'
        """
        return self.chip.heading if self.chip is not None else self.shows_as(place)

    def shows_as(self, place: str = "") -> str:
        """The signal, its pin and its fault."""
        return f"{self.signal}{f' ({place})' if place else ''}: {self.fault_mode}"
