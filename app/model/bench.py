"""The open case: what lies on the bench. Every change of it is one small frozen value, given to ``Bench.change``.

Nothing here knows Qt. A change makes a new ``OpenCase`` from the old one, so that undo is the old value put
back, and so that a case file can later record the changes one by one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, ClassVar, Literal

from tracecore.circuit.probe_sheet import ProbeSheet

if TYPE_CHECKING:
    from tracecore.capture import Capture
    from tracecore.compare.findings import Cause
    from tracecore.comparison import CompareRequest, Comparison
    from tracecore.measure.checkup import Checkup

Side = Literal["good", "suspect"]
SIDES: tuple[Side, Side] = ("good", "suspect")
SIDE_WORDS: dict[str, str] = {"good": "Known-good", "suspect": "Suspect"}


@dataclass(frozen=True, slots=True, eq=False)
class SideState:
    """The captures of one side, and the index of the one that is shown."""

    captures: tuple[Capture, ...] = ()
    shown: int = 0

    @property
    def shown_capture(self) -> Capture | None:
        """The capture that is shown, or None where the side is empty."""
        return self.captures[self.shown] if self.captures else None

    @property
    def shown_first(self) -> tuple[Capture, ...]:
        """All captures, the shown one first, as a comparison wants them."""
        return (
            *self.captures[self.shown : self.shown + 1],
            *self.captures[: self.shown],
            *self.captures[self.shown + 1 :],
        )


@dataclass(frozen=True, slots=True, eq=False)
class OpenCase:
    """All that decides the answer. ``offset`` None finds the line-up, ``clock`` None takes the best candidate."""

    title: str = "No case name yet"
    good: SideState = field(default_factory=SideState)
    suspect: SideState = field(default_factory=SideState)
    sheet: ProbeSheet = field(default_factory=ProbeSheet)
    clock: str | None = None
    edge: Literal["rising", "falling"] = "rising"
    offset: int | None = None
    family: str = "74"

    def side(self, side: Side) -> SideState:
        """The state of one side."""
        return self.good if side == "good" else self.suspect

    def with_side(self, side: Side, state: SideState) -> OpenCase:
        """The same case with another state of one side."""
        return replace(self, good=state) if side == "good" else replace(self, suspect=state)


class Change:
    """One change of the case; ``applied`` gives the case after it, ``words`` what undo will name."""

    __slots__ = ()
    words: ClassVar[str] = "change"

    def applied(self, case: OpenCase) -> OpenCase:
        """The case after this change."""
        raise NotImplementedError


@dataclass(frozen=True, slots=True, eq=False)
class AddCaptures(Change):
    """Captures join a side."""

    words: ClassVar[str] = "add captures"
    side: Side
    captures: tuple[Capture, ...]

    def applied(self, case: OpenCase) -> OpenCase:
        state = case.side(self.side)
        return case.with_side(self.side, replace(state, captures=(*state.captures, *self.captures)))


@dataclass(frozen=True, slots=True)
class RemoveCapture(Change):
    """One capture leaves its side; its file is not touched."""

    words: ClassVar[str] = "remove a capture"
    side: Side
    index: int

    def applied(self, case: OpenCase) -> OpenCase:
        state = case.side(self.side)
        left = state.captures[: self.index] + state.captures[self.index + 1 :]
        shown = state.shown - (1 if self.index < state.shown or state.shown == len(left) else 0)
        return case.with_side(self.side, SideState(left, max(0, shown)))


@dataclass(frozen=True, slots=True)
class ShowCapture(Change):
    """Another capture of a side becomes the one that is compared in full."""

    words: ClassVar[str] = "show another capture"
    side: Side
    index: int

    def applied(self, case: OpenCase) -> OpenCase:
        return case.with_side(self.side, replace(case.side(self.side), shown=self.index))


@dataclass(frozen=True, slots=True)
class SetSheet(Change):
    """Another probe sheet, or the same with a cell edited."""

    words: ClassVar[str] = "change the probe sheet"
    sheet: ProbeSheet

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, sheet=self.sheet)


@dataclass(frozen=True, slots=True)
class SetClock(Change):
    """Name the clock; None takes the best candidate. An offset set by hand counted other cycles, so it goes."""

    words: ClassVar[str] = "choose the clock"
    clock: str | None
    edge: Literal["rising", "falling"] = "rising"

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, clock=self.clock, edge=self.edge, offset=None)


@dataclass(frozen=True, slots=True)
class SetOffset(Change):
    """Set the offset by hand; None finds it."""

    words: ClassVar[str] = "set the offset"
    offset: int | None

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, offset=self.offset)


@dataclass(frozen=True, slots=True)
class SetFamily(Change):
    """The logic family of channels whose row on the sheet names none."""

    words: ClassVar[str] = "choose the family"
    family: str

    def applied(self, case: OpenCase) -> OpenCase:
        return replace(case, family=self.family)


@dataclass(frozen=True, slots=True, eq=False)
class OpenAnother(Change):
    """Another case altogether."""

    words: ClassVar[str] = "open the case"
    case: OpenCase

    def applied(self, case: OpenCase) -> OpenCase:
        return self.case


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is looked at; no part of the case, so undo leaves it alone."""

    signal: str | None = None
    cause: int | None = None
    cycle: int | None = None


class Bench:
    """The open case, its history, and the newest answers about it.

    ``listen`` takes a function that is called with one word: "case", "comparison", "checkups" or "chosen".
    """

    def __init__(self) -> None:
        self.case = OpenCase()
        self.comparison: Comparison | None = None
        self.compared_case: OpenCase | None = None
        self.trouble = ""
        self.chosen = Chosen()
        self.checkups: dict[str, Checkup] = {}
        self._past: list[tuple[str, OpenCase]] = []
        self._future: list[tuple[str, OpenCase]] = []
        self._listeners: list[Callable[[str], None]] = []

    def listen(self, listener: Callable[[str], None]) -> None:
        """Calls ``listener`` after every change."""
        self._listeners.append(listener)

    def _tell(self, what: str) -> None:
        for listener in tuple(self._listeners):
            listener(what)

    def change(self, change: Change) -> None:
        """Applies a change and remembers the case before it."""
        case = change.applied(self.case)
        self._past.append((change.words, self.case))
        self._future.clear()
        self._put(case)

    def undo(self) -> str:
        """Takes the newest change back; returns its words, or nothing where there is none."""
        return self._step(self._past, self._future)

    def redo(self) -> str:
        """Does the change again that was taken back last."""
        return self._step(self._future, self._past)

    def _step(self, source: list[tuple[str, OpenCase]], other: list[tuple[str, OpenCase]]) -> str:
        if not source:
            return ""
        words, case = source.pop()
        other.append((words, self.case))
        self._put(case)
        return words

    @property
    def can_undo(self) -> str:
        """The words of the change that undo would take back; empty where there is none."""
        return self._past[-1][0] if self._past else ""

    @property
    def can_redo(self) -> str:
        """The words of the change that redo would do again; empty where there is none."""
        return self._future[-1][0] if self._future else ""

    def _put(self, case: OpenCase) -> None:
        if case.sheet is not self.case.sheet or case.family != self.case.family:
            self.checkups = {}
        self.case = case
        self.trouble = ""
        self._tell("case")

    @property
    def ready(self) -> bool:
        """Has each side a capture?"""
        return bool(self.case.good.captures and self.case.suspect.captures)

    @property
    def current(self) -> bool:
        """Does the comparison belong to the case as it stands?"""
        return self.comparison is not None and self.compared_case is self.case

    def request(self) -> CompareRequest:
        """The comparison that the case asks for; the shown pair first."""
        from tracecore.comparison import CompareRequest

        case = self.case
        return CompareRequest(
            case.good.shown_first,
            case.suspect.shown_first,
            case.sheet,
            clock=case.clock,
            edge=case.edge,
            offset=case.offset,
            family=case.family,
        )

    def answered(self, case: OpenCase, comparison: Comparison) -> None:
        """Takes the comparison of ``case``; the best supported cause becomes the chosen one."""
        self.comparison = comparison
        self.compared_case = case
        self.trouble = ""
        kept = self.chosen.signal
        if comparison.causes:
            cause = next((c for c in comparison.causes if c.signal == kept), comparison.causes[0])
            self.chosen = Chosen(cause.signal, cause.rank, cause.since_cycle)
        else:
            self.chosen = Chosen(comparison.signals[0].signal if comparison.signals else None)
        self._tell("comparison")

    def failed(self, sentence: str) -> None:
        """The comparison could not be made; the sentence says why. An older answer no longer stands."""
        self.trouble = sentence
        self.comparison = None
        self.compared_case = None
        self._tell("comparison")

    def checked(self, path: str, checkup: Checkup) -> None:
        """Takes the check-up of one capture."""
        self.checkups[path] = checkup
        self._tell("checkups")

    def choose(self, *, signal: str | None = None, cause: int | None = None, cycle: int | None = None) -> None:
        """Looks at a signal, a cause or a cycle; what belongs to it is chosen along."""
        found = self.cause(cause) if cause is not None else self._cause_of(signal)
        if found is not None:
            now = Chosen(found.signal, found.rank, cycle if cycle is not None else found.since_cycle)
        else:
            now = Chosen(signal or self.chosen.signal, None if signal else self.chosen.cause, cycle)
        if now != self.chosen:
            self.chosen = now
            self._tell("chosen")

    def cause(self, rank: int | None) -> Cause | None:
        """The cause of that rank."""
        causes = self.comparison.causes if self.comparison else ()
        return next((c for c in causes if c.rank == rank), None)

    def _cause_of(self, signal: str | None) -> Cause | None:
        causes = self.comparison.causes if self.comparison else ()
        return next((c for c in causes if c.signal == signal), None)
