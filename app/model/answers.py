"""What is worked out of the open case: check-ups, leads, the comparison; each a job, so that the window stays free."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from app.case.codec import decode, encode
from app.case.record import OpenCase
from app.case.request import case_request
from app.case.values import HeldCapture
from app.model.jobs import Jobs
from app.model.pair_checks import PairCheck, check_one, next_unchecked, pair_key
from app.model.session import Session

if TYPE_CHECKING:
    from tracecore.measure.checkup import Checkup


class Answers(QObject):
    """What comes out goes to the session; ``troubled`` carries one sentence that must be seen."""

    troubled = Signal(str)

    def __init__(self, session: Session, jobs: Jobs) -> None:
        super().__init__(jobs)
        self.session, self.jobs = session, jobs

    def check_all(self) -> None:
        """Checks each capture by itself that was read and not yet checked; takes kept check-ups for the others."""
        session, case = self.session, self.session.case
        self.check_pairs()
        self._recall_checkups()
        waiting = [
            (held, capture)
            for held in case.captures
            if held.key not in session.checkups and (capture := session.shelf.loaded(held)) is not None
        ]
        if not waiting:
            return
        store = session.store

        def work(tell: Callable[[float, str], None]) -> list[tuple[str, Checkup]]:
            from tracecore.measure.checkup import check

            found = []
            for i, (held, capture) in enumerate(waiting):
                tell(i / len(waiting), f"checking {held.name}")
                checkup = check(capture, case.sheet, case.settings.family)
                store.remember("checkup", _checkup_key(held, case), encode(checkup))
                found.append((held.key, checkup))
            return found

        self.jobs.request("check", work, self._on_checked, self.troubled.emit)

    def _recall_checkups(self) -> None:
        from tracecore.measure.checkup import Checkup

        session = self.session
        for held in session.case.captures:
            text = None
            if held.key not in session.checkups and session.shelf.loaded(held) is None:
                text = session.store.recall("checkup", _checkup_key(held, session.case))
            if text is not None:
                try:
                    session.checkups[held.key] = decode(Checkup, text)
                except ValueError:
                    # kept by another version: it is made anew when the capture is read
                    continue

    def _on_checked(self, found: list[tuple[str, Checkup]]) -> None:
        for key, checkup in found:
            self.session.checkups[key] = checkup
        self.session.checked(*found[-1])

    def check_pairs(self) -> None:
        """Looks at the leads of the suspect captures once they are lined up: the shown one first, then the others."""
        session, comparison = self.session, self.session.comparison
        if comparison is None or not session.current:
            self.jobs.stop("pair")
            return
        place = next_unchecked(session)
        if place is None or self.jobs.busy("pair"):
            return
        key = pair_key(session.case, session.case.suspect.shown_first[place])
        assert key is not None

        def answer(found: PairCheck) -> None:
            session.pair_checked(key, found)
            self.check_pairs()

        # a capture that cannot be lined up says so in Line-up; of its leads nothing is known
        self.jobs.request(
            "pair", lambda tell: check_one(comparison, place, tell), answer, lambda _: answer(PairCheck())
        )

    def compare_again(self) -> None:
        """Compares the case as it stands; reads the captures that were not read yet."""
        if not self.session.ready:
            return
        case, shelf, store = self.session.case, self.session.shelf, self.session.store

        def work(tell: Callable[[float, str], None]) -> object:
            from app.report.kept_record import keep_record
            from tracecore.comparison import compare

            found = compare(case_request(case, shelf, tell), tell)
            keep_record(store, case, found)
            return found

        self.jobs.request("compare", work, lambda found: self.session.answered(case, found), self.session.failed)


def _checkup_key(held: HeldCapture, case: OpenCase) -> str:
    """A check-up belongs to a capture, and to the names and families that it was made with."""
    files = (held.joining, held.called) if held.joining or held.called else ()
    return encode((held.key, case.sheet.probes, case.settings.family, *files))
