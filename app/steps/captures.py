"""Step 1: Captures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.model.capture_cards import all_judged, cards
from app.model.recent_cases import recent_cases
from app.model.step_state import StepState
from app.steps.step import PageNeeds, Step

if TYPE_CHECKING:
    from app.model.session import Session
    from app.pages.page import Page


def _make(needs: PageNeeds) -> Page:
    from app.pages.captures import CapturesPage

    page = CapturesPage(needs.context, lambda: recent_cases(needs.settings, needs.context.session.store.path))
    page.case_wanted.connect(needs.open_case)
    page.demo_wanted.connect(needs.open_demo)
    return page


def _stamp(session: Session) -> StepState:
    if not session.ready:
        return StepState("empty", "Waits for a capture on each side")
    words = [*cards(session, "good"), *cards(session, "suspect")]
    look = [w.capture.name for w in words if w.kind in ("look", "bad")]
    if look:
        return StepState("look", f"Worth a look: {', '.join(look)}")
    if any(w.kind == "waiting" for w in words):
        return StepState("empty", "Captures are being checked")
    if not all_judged(session):
        return StepState("empty", "Each capture was checked by itself; the leads are judged after the line-up")
    return StepState("done", "All captures are fit to compare")


STEP = Step("captures", "Captures", 1, _make, _stamp, asks_comparison=False)
