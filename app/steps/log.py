"""Step 7: Log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.case.proof_words import by_count_alone
from app.model.step_state import StepState
from app.steps.step import PageNeeds, Step

if TYPE_CHECKING:
    from app.model.session import Session
    from app.pages.page import Page


def _make(needs: PageNeeds) -> Page:
    from app.pages.log import LogPage

    page = LogPage(needs.context, needs.jobs, needs.settings)
    page.case_wanted.connect(needs.open_case)
    page.card_wanted.connect(needs.fill_card)
    page.signed.connect(needs.sign)
    page.troubled.connect(needs.trouble)
    return page


def _stamp(session: Session) -> StepState:
    case = session.case
    if not case.entries:
        return StepState("empty", "No line in the log yet: F4 begins one")
    if case.state == "verified":
        told = by_count_alone(case)
        return StepState("done", f"The repair is {told or 'verified'}")
    return StepState("look", f"The case is {case.state}, and not verified yet")


ACTIONS = (
    "because_line", "correct_line", "go_to_mark", "add_picture", "add_reading", "count_readings", "add_part",
    "add_proof",
)  # fmt: skip
STEP = Step("log", "Log", 7, _make, _stamp, (*ACTIONS, "case_state", "cases_folder"), asks_comparison=False)
