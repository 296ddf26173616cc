"""Levels and timing of the compared pair, measured off the GUI thread as soon as there is a comparison."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.model.jobs import Jobs
    from app.model.session import Session
    from tracecore.comparison import Comparison
    from tracecore.levels_and_timing import LevelsAndTiming


class Measuring:
    """Measures again after each comparison; the session tells "measured" when it is done."""

    def __init__(self, session: Session, jobs: Jobs) -> None:
        self.session, self.jobs = session, jobs
        session.listen(self._on_session)

    def _on_session(self, what: str) -> None:
        if what == "comparison":
            self.session.measured(None)
            comparison = self.session.comparison
            if comparison is not None:
                self.jobs.request("measure", self._work(comparison), self.session.measured, lambda _sentence: None)
        elif what == "opened":
            self.jobs.stop("measure", quietly=True)

    def _work(self, comparison: Comparison) -> Callable[[Callable[[float, str], None]], LevelsAndTiming]:
        def work(tell: Callable[[float, str], None]) -> LevelsAndTiming:
            from tracecore.levels_and_timing import levels_and_timing

            tell(0.0, "measuring levels and timing")
            return levels_and_timing(comparison)

        return work
