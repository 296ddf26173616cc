"""The open case: one frozen value that holds all of it. Every change makes a new one from the old."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Any, Literal, Protocol, TypeVar

from app.case.side_names import SameNames, named
from app.case.values import (
    BenchCard,
    CaseState,
    CrateShape,
    Entry,
    HeldCapture,
    Mark,
    PartMove,
    Picture,
    ShownRows,
    StateStamp,
    Unit,
    Unlike,
)
from tracecore.circuit.continuity.readings import ContinuityList
from tracecore.circuit.parts.donor import Donor
from tracecore.circuit.pin_list import PinList
from tracecore.circuit.probe_sheet import ProbeSheet
from tracecore.circuit.wire_list import WireList
from tracecore.settings import CompareSettings

Side = Literal["good", "suspect"]
SIDES: tuple[Side, Side] = ("good", "suspect")
SIDE_WORDS: dict[str, str] = {"good": "Known-good", "suspect": "Suspect"}
UNTITLED = "No case name yet"


class Numbered(Protocol):
    """Anything with a number of its own within the case."""

    @property
    def id(self) -> int:
        """Counts from 1."""


Item = TypeVar("Item", bound=Numbered)


@dataclass(frozen=True, slots=True)
class SideState:
    """The captures of one side, and the index of the one that is shown.

    ``sheet`` is a probe sheet of this side alone. ``same`` pairs names of this side with names of the other that a
    person took for the same signal. Every capture of the side is called by both.
    """

    captures: tuple[HeldCapture, ...] = ()
    shown: int = 0
    sheet: ProbeSheet | None = None
    same: SameNames = ()

    def __post_init__(self) -> None:
        called = tuple(named(held, self.sheet, self.same) for held in self.captures)
        if called != self.captures:
            object.__setattr__(self, "captures", called)

    @property
    def shown_capture(self) -> HeldCapture | None:
        """The capture that is shown, or None where the side is empty."""
        return self.captures[self.shown] if self.captures else None

    @property
    def shown_first(self) -> tuple[HeldCapture, ...]:
        """All captures, the shown one first, as a comparison wants them."""
        return (
            *self.captures[self.shown : self.shown + 1],
            *self.captures[: self.shown],
            *self.captures[self.shown + 1 :],
        )


@dataclass(frozen=True, slots=True)
class OpenCase:
    """All of a case. ``settings`` are how its captures are compared.

    ``identity`` tells the case from every other one, whatever its file is called. ``unread`` names what its file holds
    and cannot be read, which is in none of the rest; it is never kept.
    """

    title: str = UNTITLED
    number: str = ""
    identity: str = ""
    opened_at: str = ""
    opened_by: str = ""
    good: SideState = field(default_factory=SideState)
    suspect: SideState = field(default_factory=SideState)
    good_unit: Unit = field(default_factory=Unit)
    suspect_unit: Unit = field(default_factory=Unit)
    sheet: ProbeSheet = field(default_factory=ProbeSheet)
    settings: CompareSettings = field(default_factory=CompareSettings)
    wire_list: WireList | None = None
    pins: PinList | None = None
    continuity: ContinuityList = field(default_factory=ContinuityList)
    crate: CrateShape | None = None
    donors: tuple[Donor, ...] = ()
    rows: ShownRows = field(default_factory=ShownRows)
    marks: tuple[Mark, ...] = ()
    entries: tuple[Entry, ...] = ()
    pictures: tuple[Picture, ...] = ()
    parts: tuple[PartMove, ...] = ()
    stamps: tuple[StateStamp, ...] = ()
    cards: tuple[BenchCard, ...] = ()
    unlike: tuple[Unlike, ...] = ()
    unread: tuple[str, ...] = ()

    def side(self, side: Side) -> SideState:
        """The state of one side."""
        return self.good if side == "good" else self.suspect

    def with_side(self, side: Side, state: SideState) -> OpenCase:
        """The same case with another state of one side."""
        return replace(self, good=state) if side == "good" else replace(self, suspect=state)

    def with_settings(self, **changed: Any) -> OpenCase:
        """The same case with some settings changed, each by its name."""
        return replace(self, settings=replace(self.settings, **changed))

    def unit(self, side: Side) -> Unit:
        """The machine on one side."""
        return self.good_unit if side == "good" else self.suspect_unit

    @property
    def state(self) -> CaseState:
        """The state that was stamped last; a case without a stamp is open."""
        return self.stamps[-1].state if self.stamps else "open"

    @property
    def named(self) -> str:
        """What the case is called: its number and its title."""
        return f"Case {self.number} · {self.title}" if self.number else self.title

    @property
    def question(self) -> tuple[object, ...]:
        """All that decides the comparison's answer; two cases with the same question have the same answer."""
        keys = tuple((c.key, c.name, c.clipping) for side in SIDES for c in self.side(side).shown_first)
        split = len(self.good.captures)
        files = tuple((c.key, c.joining, c.called) for c in self.captures if c.joining or c.called)
        legs = self.pins.legs_alone.rows if self.pins is not None else ()
        more = ((files,) if files else ()) + ((legs,) if legs else ())
        return (split, keys, self.sheet.probes, self.settings, self.wire_list, *more)

    @property
    def captures(self) -> tuple[HeldCapture, ...]:
        """The captures of both sides, known-good first."""
        return (*self.good.captures, *self.suspect.captures)


def next_id(items: Iterable[Numbered]) -> int:
    """The next free number.

    >>> next_id([])
    1
    """
    return max((item.id for item in items), default=0) + 1


def found(items: Iterable[Item], number: int) -> Item:
    """The item of that number; KeyError where there is none."""
    for item in items:
        if item.id == number:
            return item
    raise KeyError(number)
