"""Step 5: Timing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.model.step_state import StepState
from app.steps.step import PageNeeds, Step

if TYPE_CHECKING:
    from app.model.session import Session
    from app.pages.page import Page


def _make(needs: PageNeeds) -> Page:
    from app.pages.timing import TimingPage

    return TimingPage(needs.context)


def _stamp(session: Session) -> StepState:
    measured = session.levels_and_timing if session.ready else None
    report = None if measured is None else measured.timing
    if report is None or not report.rows:
        return StepState("empty", "Waits for a comparison")
    breaks = [row.signal for row in report.rows if row.verdict == "violates"]
    if breaks:
        return StepState("look", f"Setup or hold is violated: {', '.join(breaks)}")
    limited = [row for row in report.rows if row.limits is not None]
    if not limited:
        return StepState("empty", "No part is given that takes a signal in, so no setup or hold can be judged")
    if any(row.verdict != "within" for row in limited):
        return StepState("look", "Not every setup and hold is within its limit, or can be judged")
    return StepState("done", "Every setup and hold that has a limit keeps it")


STEP = Step("timing", "Timing", 5, _make, _stamp)
