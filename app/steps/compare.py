"""Step 3: Compare."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.model.step_state import StepState
from app.steps.step import PageNeeds, Step

if TYPE_CHECKING:
    from app.model.session import Session
    from app.pages.page import Page


def _make(needs: PageNeeds) -> Page:
    from app.pages.compare import ComparePage

    return ComparePage(needs.context)


def _stamp(session: Session) -> StepState:
    if session.comparison is None:
        return StepState("look" if session.trouble else "empty", session.trouble or "Waits for captures on both sides")
    if not session.comparison.lineup:
        return StepState("look", "Not lined up, so nothing was compared by cycle")
    if session.comparison.diverges:
        return StepState("look", "The two sides differ")
    if session.comparison.lineup.slips:
        return StepState("look", "All that is matched agrees, but one side takes cycles that the other lacks")
    return StepState("done", "No divergence found")


ONLY_OPEN = (
    "pan_left",
    "pan_right",
    "zoom_in",
    "zoom_out",
    "next_divergence",
    "previous_divergence",
    "fit",
    "words_octal",
    "words_hex",
    "words_binary",
    "show_cycle",
    "cursor_a",
    "cursor_b",
    "cursors_away",
    "cursor_earlier",
    "cursor_later",
    "cursor_to_previous",
    "cursor_to_next",
    "mark",
    "edit_mark",
    "next_mark",
    "previous_mark",
)
ELSEWHERE = ("next_cause", "previous_cause", "copy_finding", "remove_mark", "find_mark")
STEP = Step("compare", "Compare", 3, _make, _stamp, (*ONLY_OPEN, *ELSEWHERE), ONLY_OPEN)
