"""The changes of a case but those of its circuit: captures, settings, names, and what is noted."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal

from app.case.change import BEGIN, Change
from app.case.record import OpenCase, Side, next_id
from app.case.side_names import one_sheet
from app.case.values import BenchCard, Entry, HeldCapture, Mark, PartMove, Picture, ShownRows, StateStamp, Unit, Unlike
from tracecore.circuit.probe_sheet import ProbeSheet

Noted = Mark | Entry | Picture | PartMove | StateStamp | BenchCard | Unlike
PLACES: dict[type, str] = {
    Mark: "marks",
    Entry: "entries",
    Picture: "pictures",
    PartMove: "parts",
    StateStamp: "stamps",
    BenchCard: "cards",
    Unlike: "unlike",
}
"""Where each kind of value lies in the case."""


@dataclass(frozen=True, slots=True)
class AddCaptures(Change):
    """Captures join a side."""

    side: Side
    captures: tuple[HeldCapture, ...]

    @property
    def words(self) -> str:
        return "add captures"

    def applied(self, case: OpenCase) -> OpenCase:
        state = case.side(self.side)
        return case.with_side(self.side, replace(state, captures=(*state.captures, *self.captures)))


@dataclass(frozen=True, slots=True)
class AddShown(Change):
    """A capture joins a side and is the one that is compared in full."""

    side: Side
    capture: HeldCapture

    @property
    def words(self) -> str:
        return "add a capture"

    def applied(self, case: OpenCase) -> OpenCase:
        case = AddCaptures(self.side, (self.capture,)).applied(case)
        return ShowCapture(self.side, len(case.side(self.side).captures) - 1).applied(case)


@dataclass(frozen=True, slots=True)
class RemoveCapture(Change):
    """One capture leaves its side; its file is not touched."""

    side: Side
    index: int

    @property
    def words(self) -> str:
        return "remove a capture"

    def applied(self, case: OpenCase) -> OpenCase:
        state = case.side(self.side)
        left = state.captures[: self.index] + state.captures[self.index + 1 :]
        shown = state.shown - (1 if self.index < state.shown or state.shown == len(left) else 0)
        return case.with_side(self.side, replace(state, captures=left, shown=max(0, shown)))


@dataclass(frozen=True, slots=True)
class EditCapture(Change):
    """A capture gets another name, note or time of capture; ``capture`` takes the place of the one with its key."""

    capture: HeldCapture

    @property
    def words(self) -> str:
        return "describe a capture"

    def applied(self, case: OpenCase) -> OpenCase:
        for side in ("good", "suspect"):
            state = case.side(side)
            kept = tuple(self.capture if c.key == self.capture.key else c for c in state.captures)
            case = case.with_side(side, replace(state, captures=kept))
        return case


@dataclass(frozen=True, slots=True)
class LeaveAlone(Change):
    """A correction that was offered is not wanted, and is not offered again."""

    key: str
    what: str

    @property
    def words(self) -> str:
        return "leave a capture as it is"

    def applied(self, case: OpenCase) -> OpenCase:
        (held,) = (c for c in case.captures if c.key == self.key)
        return EditCapture(replace(held, left_alone=(*held.left_alone, self.what))).applied(case)


@dataclass(frozen=True, slots=True)
class MoveCapture(Change):
    """A capture goes over to the other side."""

    side: Side
    index: int

    @property
    def words(self) -> str:
        return "move a capture to the other side"

    def applied(self, case: OpenCase) -> OpenCase:
        moved = case.side(self.side).captures[self.index]
        other: Side = "suspect" if self.side == "good" else "good"
        return AddCaptures(other, (moved,)).applied(RemoveCapture(self.side, self.index).applied(case))


@dataclass(frozen=True, slots=True)
class ReplaceCapture(Change):
    """Another capture takes the place of one, and its name and note where they were given by hand."""

    side: Side
    index: int
    capture: HeldCapture

    @property
    def words(self) -> str:
        return "replace a capture"

    def applied(self, case: OpenCase) -> OpenCase:
        state = case.side(self.side)
        kept = (*state.captures[: self.index], self.capture, *state.captures[self.index + 1 :])
        return case.with_side(self.side, replace(state, captures=kept))


@dataclass(frozen=True, slots=True)
class ShowCapture(Change):
    """Another capture of a side becomes the one that is compared in full."""

    side: Side
    index: int

    @property
    def words(self) -> str:
        return "show another capture"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_side(self.side, replace(case.side(self.side), shown=self.index))


@dataclass(frozen=True, slots=True)
class SetSheet(Change):
    """Another probe sheet, or the same with a cell edited."""

    sheet: ProbeSheet

    @property
    def words(self) -> str:
        return "change the probe sheet"

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, sheet=one_sheet(self.sheet, (case.good.sheet, case.suspect.sheet)))


@dataclass(frozen=True, slots=True)
class SetClock(Change):
    """Name the clock; None takes the best candidate. An offset set by hand counted other cycles, so it goes."""

    clock: str | None
    edge: Literal["rising", "falling"] = "rising"

    @property
    def words(self) -> str:
        return "choose the clock"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_settings(clock=self.clock, edge=self.edge, offset=None)


@dataclass(frozen=True, slots=True)
class SetOffset(Change):
    """Set the offset by hand; None finds it."""

    offset: int | None

    @property
    def words(self) -> str:
        return "set the offset"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_settings(offset=self.offset)


@dataclass(frozen=True, slots=True)
class SetFamily(Change):
    """The logic family of channels whose row on the sheet names none."""

    family: str

    @property
    def words(self) -> str:
        return "choose the family"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_settings(family=self.family)


@dataclass(frozen=True, slots=True)
class SetQualifier(Change):
    """Leave cycles out by a condition; None compares all. Other cycles count then, so an offset set by hand goes."""

    qualifier: str | None

    @property
    def words(self) -> str:
        return "choose the cycles to leave out"

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_settings(qualifier=self.qualifier, offset=None)


@dataclass(frozen=True, slots=True)
class NameCase(Change):
    """Title and number of the case."""

    title: str
    number: str = ""

    @property
    def words(self) -> str:
        return "name the case"

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, title=self.title, number=self.number)


@dataclass(frozen=True, slots=True)
class ArrangeRows(Change):
    """Other rows of the traces, or another order of them."""

    rows: ShownRows

    @property
    def words(self) -> str:
        return "arrange the rows"

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, rows=self.rows)


@dataclass(frozen=True, slots=True)
class SetUnit(Change):
    """The machine on one side."""

    side: Side
    unit: Unit

    @property
    def words(self) -> str:
        return "describe a unit"

    def applied(self, case: OpenCase) -> OpenCase:
        if self.side == "good":
            return replace(case, good_unit=self.unit)
        return replace(case, suspect_unit=self.unit)


WORDS: dict[type, str] = {
    Mark: "mark",
    Entry: "log entry",
    Picture: "picture",
    PartMove: "moved part",
    StateStamp: "state of the case",
    BenchCard: "bench card",
    Unlike: "case not alike",
}


@dataclass(frozen=True, slots=True)
class Put(Change):
    """A mark, entry, picture, part, stamp or card joins the case, or takes the place of the one with its number.

    A value whose ``id`` is 0 gets the next free number.
    """

    value: Noted

    @property
    def words(self) -> str:
        return WORDS[type(self.value)]

    def applied(self, case: OpenCase) -> OpenCase:
        place = PLACES[type(self.value)]
        items: tuple[Any, ...] = getattr(case, place)
        value: Any = self.value if self.value.id else replace(self.value, id=next_id(items))
        if any(item.id == value.id for item in items):
            after = tuple(value if item.id == value.id else item for item in items)
        else:
            after = (*items, value)
        changes: dict[str, Any] = {place: after}
        return replace(case, **changes)


@dataclass(frozen=True, slots=True)
class Drop(Change):
    """A mark, picture or card leaves the case. Log entries stay: they are corrected by a new one."""

    value: Mark | Picture | BenchCard | PartMove | StateStamp

    @property
    def words(self) -> str:
        return f"remove a {WORDS[type(self.value)]}"

    def applied(self, case: OpenCase) -> OpenCase:
        place = PLACES[type(self.value)]
        left = tuple(item for item in getattr(case, place) if item.id != self.value.id)
        changes: dict[str, Any] = {place: left}
        return replace(case, **changes)


@dataclass(frozen=True, slots=True)
class Together(Change):
    """Several changes that are kept, and taken back, as one."""

    words_said: str
    changes: tuple[Change, ...]

    @property
    def words(self) -> str:
        return self.words_said

    def applied(self, case: OpenCase) -> OpenCase:
        for change in self.changes:
            case = change.applied(case)
        return case


@dataclass(frozen=True, slots=True)
class Begin(Change):
    """The first change of a case: all that it begins with."""

    case: OpenCase

    @property
    def words(self) -> str:
        return BEGIN

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(
            self.case,
            identity=self.case.identity or case.identity,
            opened_at=self.case.opened_at or case.opened_at,
            opened_by=self.case.opened_by or case.opened_by,
        )
