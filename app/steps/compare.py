"""Step 3: Compare."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.comparison_text import SHOW_IN_WINDOW, next_step
from app.model.step_state import Stamp, StepState, not_compared
from app.steps.step import PageNeeds, Step
from tracecore.outcome import OutcomeWord

if TYPE_CHECKING:
    from app.model.session import Session
    from app.pages.page import Page

STAMPS: dict[OutcomeWord, Stamp] = {"agrees": "done", "diverges": "look", "cannot tell": "unknown"}


def _make(needs: PageNeeds) -> Page:
    from app.pages.compare import ComparePage

    return ComparePage(needs.context)


def _stamp(session: Session) -> StepState:
    waits = not_compared(session)
    if waits is not None or session.comparison is None:
        return waits or StepState("empty", "Not compared yet")
    outcome = session.comparison.outcome
    return StepState(STAMPS[outcome.word], f"{outcome.headline} {next_step(outcome, SHOW_IN_WINDOW)}".strip())


ONLY_OPEN = (
    "pan_left",
    "pan_right",
    "zoom_in",
    "zoom_out",
    "go_to",
    "find_signal",
    "zoom_cursors",
    "row_up",
    "row_down",
    "hide_row",
    "next_divergence",
    "previous_divergence",
    "next_cycle",
    "previous_cycle",
    "next_limit",
    "previous_limit",
    "fit",
    "words_octal",
    "words_hex",
    "words_binary",
    "show_cycle",
    "show_seen",
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
ELSEWHERE = (
    "show_rows",
    "buses_first",
    "rows_by_bus",
    "rows_as_compared",
    "next_cause",
    "previous_cause",
    "copy_finding",
    "remove_mark",
    "find_mark",
)
STEP = Step("compare", "Compare", 3, _make, _stamp, (*ONLY_OPEN, *ELSEWHERE), ONLY_OPEN)
