"""Step 6: Backplane."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.model.step_state import StepState
from app.steps.step import PageNeeds, Step

if TYPE_CHECKING:
    from app.model.session import Session
    from app.pages.page import Page


def _make(needs: PageNeeds) -> Page:
    from app.pages.later import LaterPage

    return LaterPage(needs.context, "backplane")


def _stamp(_session: Session) -> StepState:
    return StepState("empty", "Not built yet")


STEP = Step("backplane", "Backplane", 6, _make, _stamp)
