"""What the form head says about the session."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.case.record import UNTITLED, Side
from app.comparison_text import lineup_word, offset_words, pace_words, span_words
from app.model.places import shown_title

if TYPE_CHECKING:
    from app.model.session import Session


def head_words(session: Session) -> dict[str, tuple[str, ...]]:
    """The value of each box of the head: in full, and then shorter wordings for a narrow place."""
    return {
        "case": (shown_title(session.store, session.case.title, UNTITLED),),
        "good": _side(session, "good"),
        "suspect": _side(session, "suspect"),
        "lineup": _lineup(session),
    }


def case_label(session: Session) -> str:
    """The small words above the case's title."""
    return f"Case {session.case.number}" if session.case.number else "Case"


def _side(session: Session, side: Side) -> tuple[str, ...]:
    capture, unit = session.case.side(side).shown_capture, session.case.unit(side)
    if capture is None:
        return (f"{unit.name} · no capture yet",) if unit.name else ("no capture yet",)
    name = unit.name or capture.name
    return f"{name} · {span_words(capture)}", f"{name} · {pace_words(capture)}", name


def _lineup(session: Session) -> tuple[str, ...]:
    if not session.current or session.comparison is None:
        return (_not_lined_up(session),)
    lineup = session.comparison.lineup
    if not lineup:
        return ("none found",)
    arrow = "↑" if lineup.edge == "rising" else "↓"
    clock, sure = f"{lineup.clock} {arrow}", lineup_word(lineup)
    # how sure the line-up is never goes before its offset does
    return f"{clock} · {offset_words(lineup)} cycles · {sure}", f"{clock} · {sure}"


def _not_lined_up(session: Session) -> str:
    if not session.ready:
        return "not yet possible"
    if session.trouble:
        return "cannot be made"
    return "being found…" if session.comparison is None and session.at_hand else "not compared yet"
