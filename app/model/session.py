"""The session: the open case, its file, and the newest answers about it. Nothing here knows Qt.

Every change goes through ``Session.change`` and is in the case file when that returns; undo and redo read the file's
own history, so that they work across restarts.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from app.case.errors import CaseError
from app.case.record import OpenCase
from app.case.request import case_request
from app.case.shelf import Shelf
from app.case.store import CaseStore
from app.report.cause_readings import with_case_readings

if TYPE_CHECKING:
    from app.case.change import Change
    from app.model.pair_checks import PairCheck, PairKey
    from tracecore.compare.findings import Cause
    from tracecore.comparison import CompareRequest, Comparison
    from tracecore.levels_and_timing import LevelsAndTiming
    from tracecore.measure.checkup import Checkup


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is looked at; no part of the case, so undo leaves it alone."""

    signal: str | None = None
    cause: int | None = None
    cycle: int | None = None
    mark: int | None = None
    entry: int | None = None


class Session:
    """The open case and the answers about it.

    ``listen`` takes a function that is called with one word: "opened", "case", "comparison", "measured", "checkups",
    "chosen", "causes" (readings changed their order or words) or "refused" (a change could not be kept; ``trouble``
    says why).
    """

    def __init__(self, store: CaseStore | None = None, author: str = "") -> None:
        self.author = author
        self._listeners: list[Callable[[str], None]] = []
        self._take(store or CaseStore.in_memory())

    def _take(self, store: CaseStore) -> None:
        # read first: a case that cannot be read leaves the open one as it is
        case = store.read()
        self.store = store
        self.case: OpenCase = case
        self.shelf = Shelf(store)
        self.answer: Comparison | None = None
        """The comparison as it was made; ``comparison`` has the case's readings beside its causes."""
        self.comparison: Comparison | None = None
        self.compared_case: OpenCase | None = None
        self.trouble = ""
        self.chosen = Chosen()
        self.levels_and_timing: LevelsAndTiming | None = None
        self.checkups: dict[str, Checkup] = {}
        self.pairs: dict[PairKey, PairCheck] = {}

    def listen(self, listener: Callable[[str], None]) -> None:
        """Calls ``listener`` after every change."""
        self._listeners.append(listener)

    def _tell(self, what: str) -> None:
        for listener in tuple(self._listeners):
            listener(what)

    # ---- the case and its file

    def open(self, store: CaseStore) -> None:
        """Puts another case into the session; closing the one before is the caller's. Raises CaseError where it cannot
        be read: then nothing has changed."""
        self._take(store)
        self._tell("opened")
        self._tell("case")

    def move_to(self, store: CaseStore) -> None:
        """The same case, in another file from now on; captures that were read stay read."""
        self.store = store
        shelf = Shelf(store)
        for held in self.case.captures:
            capture = self.shelf.loaded(held)
            if capture is not None:
                shelf.carry(held, capture)
        self.shelf = shelf
        self._tell("case")

    def change(self, change: Change) -> bool:
        """Applies a change and keeps it. False, and "refused" is told, where the file does not take it."""
        case = change.applied(self.case)
        if case == self.case:
            return True
        try:
            self.store.keep(change.words, self.author, case)
        except CaseError as error:
            return self._refuse(error)
        self._put(case)
        return True

    def undo(self) -> str:
        """Takes the newest change back; returns its words, or nothing where there is none."""
        return self._step(self.store.undo)

    def redo(self) -> str:
        """Does the change again that was taken back last."""
        return self._step(self.store.redo)

    def _step(self, step: Callable[[], tuple[str, OpenCase] | None]) -> str:
        try:
            turned = step()
        except CaseError as error:
            self._refuse(error)
            return ""
        if turned is None:
            return ""
        self._put(turned[1])
        return turned[0]

    def _refuse(self, error: CaseError) -> bool:
        self.trouble = str(error)
        self._tell("refused")
        return False

    @property
    def can_undo(self) -> str:
        """The words of the change that undo would take back; empty where there is none."""
        return self.store.can_undo

    @property
    def can_redo(self) -> str:
        """The words of the change that redo would do again; empty where there is none."""
        return self.store.can_redo

    def _put(self, case: OpenCase) -> None:
        if case.sheet != self.case.sheet or case.settings.family != self.case.settings.family:
            self.checkups = {}
        before = {held.key: (held.joining, held.called) for held in self.case.captures}
        for held in case.captures:
            if before.get(held.key, ((), ())) != (held.joining, held.called):
                self.checkups.pop(held.key, None)
        if case.question == self.case.question:
            # a log line or a mark asks nothing new: the answer stands
            if self.compared_case is self.case:
                self.compared_case = case
        else:
            self.trouble = ""
        measured = (case.pins, case.continuity) != (self.case.pins, self.case.continuity)
        was_ready = self.ready
        self.case = case
        told = measured and self._measure()
        dropped = was_ready and not self.ready and self._drop_answer()
        self._tell("case")
        if told and not dropped:
            self._tell("causes")
        if dropped:
            self._tell("comparison")
            self._tell("measured")

    def _drop_answer(self) -> bool:
        """A side has no capture any more: no page may show what was compared before. Was there an answer?"""
        if self.comparison is None:
            return False
        self.answer = self.comparison = self.compared_case = self.levels_and_timing = None
        self.chosen = replace(self.chosen, cause=None, cycle=None)
        return True

    def _measure(self) -> bool:
        """Puts the readings beside the causes; did any cause change?"""
        if self.answer is None or self.comparison is None:
            return False
        before = self.comparison.causes
        self.comparison = with_case_readings(self.answer, self.case)
        own = self._cause_of(self.chosen.signal)
        if own is not None and self.chosen.cause is not None:
            self.chosen = replace(self.chosen, cause=own.rank)
        return self.comparison.causes != before

    # ---- answers

    @property
    def ready(self) -> bool:
        """Has each side a capture?"""
        return bool(self.case.good.captures and self.case.suspect.captures)

    @property
    def current(self) -> bool:
        """Does the comparison belong to the case as it stands?"""
        return self.comparison is not None and self.compared_case is self.case

    @property
    def at_hand(self) -> bool:
        """Were all captures read already?"""
        return all(self.shelf.loaded(held) is not None for held in self.case.captures)

    def request(self, tell: Callable[[float, str], None] | None = None) -> CompareRequest:
        """The comparison that the case asks for, the shown pair first; reads what was not read yet."""
        return case_request(self.case, self.shelf, tell)

    def answered(self, case: OpenCase, comparison: Comparison) -> None:
        """Takes the comparison of ``case``; the best supported cause becomes the chosen one."""
        self.answer, self.comparison = comparison, with_case_readings(comparison, self.case)
        comparison = self.comparison
        # an answer to the same question serves a case that got a log line meanwhile
        self.compared_case = self.case if case.question == self.case.question else case
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
        self.answer = self.comparison = None
        self.compared_case = None
        self._tell("comparison")

    def measured(self, found: LevelsAndTiming | None) -> None:
        """Takes levels and timing of the comparison; None while they are being measured."""
        self.levels_and_timing = found
        self._tell("measured")

    def checked(self, key: str, checkup: Checkup) -> None:
        """Takes the check-up of one capture."""
        self.checkups[key] = checkup
        self._tell("checkups")

    def pair_checked(self, key: PairKey, found: PairCheck) -> None:
        """Takes what the line-up tells of one suspect capture's leads."""
        self.pairs[key] = found
        self._tell("checkups")

    def choose(
        self,
        *,
        signal: str | None = None,
        cause: int | None = None,
        cycle: int | None = None,
        mark: int | None = None,
        entry: int | None = None,
    ) -> None:
        """Looks at a signal, a cause, a cycle, a mark or a log entry; what belongs to it is chosen along."""
        before = self.chosen
        # 0 chooses none; what is not named stays chosen
        mark = before.mark if mark is None else mark or None
        entry = before.entry if entry is None else entry or None
        found = self.cause(cause) if cause is not None else self._cause_of(signal)
        if found is not None:
            now = Chosen(found.signal, found.rank, cycle if cycle is not None else found.since_cycle, mark, entry)
        elif signal is None and cause is None and cycle is None:
            now = Chosen(before.signal, before.cause, before.cycle, mark, entry)
        else:
            now = Chosen(signal or before.signal, None if signal else before.cause, cycle, mark, entry)
        if now != before:
            self.chosen = now
            self._tell("chosen")

    def cause(self, rank: int | None) -> Cause | None:
        """The cause of that rank."""
        causes = self.comparison.causes if self.comparison else ()
        return next((c for c in causes if c.rank == rank), None)

    def _cause_of(self, signal: str | None) -> Cause | None:
        causes = self.comparison.causes if self.comparison else ()
        return next((c for c in causes if c.signal == signal), None)
