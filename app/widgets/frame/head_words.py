"""What the form head and the stamps of the steps say about the session."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.case.record import Side
from app.comparison_text import LINEUP_WORDS, signed
from app.model.capture_cards import all_judged, cards
from app.widgets.frame.step_list import StepState
from tracecore.quantities import format_rate, format_time

if TYPE_CHECKING:
    from app.model.session import Session


def head_words(session: Session) -> dict[str, str]:
    """The value of each box of the head."""
    return {
        "case": session.case.title,
        "good": _side(session, "good"),
        "suspect": _side(session, "suspect"),
        "lineup": _lineup(session),
    }


def case_label(session: Session) -> str:
    """The small words above the case's title."""
    return f"Case {session.case.number}" if session.case.number else "Case"


def _side(session: Session, side: Side) -> str:
    capture, unit = session.case.side(side).shown_capture, session.case.unit(side)
    if capture is None:
        return f"{unit.name} · no capture yet" if unit.name else "no capture yet"
    pace = format_time(capture.resolution_ps) + " steps"
    if "change" not in capture.reader:
        pace = format_rate(10**12 / capture.resolution_ps)
    return f"{unit.name or capture.name} · {pace} · {format_time(capture.stop_ps - capture.start_ps)}"


def _lineup(session: Session) -> str:
    if session.comparison is None and session.ready and not session.trouble and not session.at_hand:
        return "not compared since it was opened"
    if session.comparison is None:
        return "cannot be made" if session.trouble else ("being found…" if session.ready else "not yet possible")
    lineup = session.comparison.lineup
    if not lineup:
        return "none found"
    arrow = "↑" if lineup.edge == "rising" else "↓"
    start, end = (run.suspect_start - run.good_start for run in (lineup.runs[0], lineup.runs[-1]))
    offset = f"{signed(start)} to {signed(end)}" if lineup.slips and start != end else signed(lineup.offset_cycles)
    return f"{lineup.clock} {arrow} · {offset} cycles · {LINEUP_WORDS[lineup.status]}"


def step_states(session: Session) -> dict[str, StepState]:
    """The stamp of each step, and why."""
    later = StepState("empty", "Not built yet")
    return {
        "captures": _captures(session),
        "lineup": _lined_up(session),
        "compare": _compared(session),
        "levels": later,
        "timing": later,
        "backplane": later,
        "log": _logged(session),
    }


def _logged(session: Session) -> StepState:
    case = session.case
    if not case.entries:
        return StepState("empty", "No line in the log yet: F4 begins one")
    if case.state == "verified":
        return StepState("done", "The repair is verified")
    return StepState("look", f"The case is {case.state}, and not verified yet")


def _captures(session: Session) -> StepState:
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


def _lined_up(session: Session) -> StepState:
    if session.comparison is None:
        return StepState("look" if session.trouble else "empty", session.trouble or "Waits for captures on both sides")
    lineup = session.comparison.lineup
    if lineup.status == "unique":
        return StepState("done", "One line-up fits, and no other comes near")
    return StepState("look", lineup.reason)


def _compared(session: Session) -> StepState:
    if session.comparison is None:
        return StepState("look" if session.trouble else "empty", session.trouble or "Waits for captures on both sides")
    if not session.comparison.lineup:
        return StepState("look", "Not lined up, so nothing was compared by cycle")
    if session.comparison.diverges:
        return StepState("look", "The two sides differ")
    if session.comparison.lineup.slips:
        return StepState("look", "All that is matched agrees, but one side takes cycles that the other lacks")
    return StepState("done", "No divergence found")
