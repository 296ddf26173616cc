"""Step 6: Backplane."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.model.step_state import StepState
from app.steps.step import PageNeeds, Step

if TYPE_CHECKING:
    from app.model.session import Session
    from app.pages.page import Page


def _make(needs: PageNeeds) -> Page:
    from app.pages.backplane import BackplanePage

    return BackplanePage(needs.context, needs.jobs)


def _stamp(session: Session) -> StepState:
    from app.model.compared_readings import compared_readings

    causes = session.comparison.causes if session.comparison is not None else ()
    if chip := next((c.chip for c in causes if c.chip is not None), None):
        return StepState("look", f"{chip.heading}: see Chip")
    readings = session.case.continuity
    if not readings.readings:
        return StepState("empty", "No ohm reading in the case yet")
    found = compared_readings(readings)
    if found.differs or found.conflicts:
        return StepState("look", "Readings differ, or contradict one another")
    if found.count("to measure"):
        return StepState("look", f"{found.count('to measure')} pairs are to be measured")
    return StepState("done", "No pair differs of those that were read")


def _hinders(session: Session, action: str) -> str:
    from app.model.crate import no_pin_words, pin_of_signal

    signal = session.chosen.signal
    cause = session.cause(session.chosen.cause)
    if cause is not None and cause.chip is not None:
        return ""
    if action != "go_to_pin" or pin_of_signal(session.case, signal):
        return ""
    return no_pin_words(signal) if signal else "No signal is chosen yet, so there is no pin to go to"


STEP = Step("backplane", "Backplane", 6, _make, _stamp, ("go_to_pin",), hinders=_hinders)
