"""Step 4: Levels."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.model.step_state import StepState
from app.steps.step import PageNeeds, Step

if TYPE_CHECKING:
    from app.model.session import Session
    from app.pages.page import Page


def _make(needs: PageNeeds) -> Page:
    from app.pages.levels import LevelsPage

    return LevelsPage(needs.context, needs.add_captures)


def _stamp(session: Session) -> StepState:
    measured = session.levels_and_timing if session.ready else None
    report = None if measured is None else measured.levels
    if report is None:
        return StepState("empty", "Waits for a comparison")
    if not report.rows:
        return StepState("empty", "No signal was captured in volts")
    breaks = [row.signal for row in report.rows if row.verdict == "violates"]
    if breaks:
        return StepState("look", f"Out of limits on the suspect side: {', '.join(breaks)}")
    if report.notes or any(row.verdict != "within" for row in report.rows):
        return StepState("look", "Not every margin is within its promise, or can be judged")
    return StepState("done", "All margins keep what is promised")


STEP = Step("levels", "Levels", 4, _make, _stamp)
