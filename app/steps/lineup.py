"""Step 2: Line-up."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.model.step_state import StepState, not_compared
from app.steps.step import PageNeeds, Step

if TYPE_CHECKING:
    from app.model.session import Session
    from app.pages.page import Page


def _make(needs: PageNeeds) -> Page:
    from app.pages.lineup import LineupPage

    return LineupPage(needs.context, needs.jobs)


def _stamp(session: Session) -> StepState:
    waits = not_compared(session)
    if waits is not None or session.comparison is None:
        return waits or StepState("empty", "Not compared yet")
    lineup = session.comparison.lineup
    if not lineup:
        return StepState("unknown", lineup.reason)
    told = [own for own in session.comparison.notices if own.severity != "info"]
    if lineup.status == "unique" and lineup.sure == "certain" and not told:
        return StepState("done", "One line-up fits, and no other comes near")
    return StepState("look", told[0].sentence if told and lineup.status == "unique" else lineup.reason)


STEP = Step("lineup", "Line-up", 2, _make, _stamp)
