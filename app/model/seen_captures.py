"""Which suspect captures say what, by their place in the case, and the one to show where the shown one is sound."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.case.changes import ShowCapture

if TYPE_CHECKING:
    from app.model.session import Session
    from tracecore.repeats.table import CaptureOutcome

NONE_TO_SHOW = "No suspect capture but the shown one diverges"


def by_place(session: Session) -> tuple[tuple[int, CaptureOutcome], ...]:
    """What each suspect capture said, with its place in the case; the shown one first, as a comparison has it."""
    comparison, state = session.comparison, session.case.suspect
    if comparison is None or not session.current:
        return ()
    order = [state.shown, *(i for i in range(len(state.captures)) if i != state.shown)]
    return tuple(zip(order, comparison.captures, strict=True)) if comparison.captures else ()


def to_show(session: Session) -> tuple[int, str] | None:
    """Place and name of the suspect capture to look at: that of the chosen cause, else the first that differs.

    None where the shown one is the one.
    """
    cause = session.cause(session.chosen.cause)
    others = by_place(session)[1:]
    if cause is not None:
        named = next(((place, own.name) for place, own in others if cause.capture and own.name == cause.capture), None)
        if named is not None or not cause.capture:
            return named
    return next(((place, own.name) for place, own in others if own.differs), None)


def show_seen(session: Session) -> str:
    """Shows that capture in full; what to say of it."""
    found = to_show(session)
    if found is None:
        return NONE_TO_SHOW
    place, name = found
    session.change(ShowCapture("suspect", place))
    return f"{name} is compared in full now; Ctrl+Z goes back"
