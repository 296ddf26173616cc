"""Levels and timing of the compared pair, measured off the GUI thread as soon as there is a comparison."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from app.model.jobs import Jobs
    from app.model.session import Session
    from tracecore.compare.level_comparison import LevelReport
    from tracecore.compare.timing_comparison import TimingReport
    from tracecore.comparison import Comparison


@dataclass(frozen=True, slots=True, eq=False)
class Measured:
    """Both reports; ``troubles`` say in one sentence each why one of them could not be made."""

    levels: LevelReport | None
    timing: TimingReport | None
    troubles: tuple[str, ...] = ()


def measure(comparison: Comparison) -> Measured:
    """Levels and timing of the pair that a comparison shows."""
    from tracecore.compare.learned_timing import more_good_timing
    from tracecore.compare.level_comparison import LevelRequest, compare_levels
    from tracecore.compare.timing_comparison import TimingSettings, compare_timing
    from tracecore.errors import RequestError

    request, lineup = comparison.request, comparison.lineup
    troubles: list[str] = []
    levels = None
    try:
        levels = compare_levels(comparison.signals, lineup, request.sheet, LevelRequest(request.family))
    except RequestError as error:
        troubles.append(str(error))
    settings = TimingSettings()
    timing = compare_timing(
        comparison.signals, lineup, request.sheet, settings, more_good_timing(request, lineup, settings)
    )
    return Measured(levels, timing, tuple(troubles))


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

    def _work(self, comparison: Comparison) -> Callable[[Callable[[float, str], None]], Measured]:
        def work(tell: Callable[[float, str], None]) -> Measured:
            tell(0.0, "measuring levels and timing")
            return measure(comparison)

        return work
