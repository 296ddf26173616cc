"""What the form head and the stamps of the steps say about the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.case.record import Side
from app.messages import LINEUP_WORDS, signed
from app.model.capture_cards import all_judged, cards
from app.widgets.step_list import StepState
from tracecore.quantities import format_rate, format_time

if TYPE_CHECKING:
    from app.model.bench import Bench


def head_words(bench: Bench) -> dict[str, str]:
    """The value of each box of the head."""
    return {
        "case": bench.case.title,
        "good": _side(bench, "good"),
        "suspect": _side(bench, "suspect"),
        "lineup": _lineup(bench),
    }


def case_label(bench: Bench) -> str:
    """The small words above the case's title."""
    return f"Case {bench.case.number}" if bench.case.number else "Case"


def _side(bench: Bench, side: Side) -> str:
    capture, unit = bench.case.side(side).shown_capture, bench.case.unit(side)
    if capture is None:
        return f"{unit.name} · no capture yet" if unit.name else "no capture yet"
    pace = format_time(capture.resolution_ps) + " steps"
    if "change" not in capture.reader:
        pace = format_rate(10**12 / capture.resolution_ps)
    return f"{unit.name or capture.name} · {pace} · {format_time(capture.stop_ps - capture.start_ps)}"


def _lineup(bench: Bench) -> str:
    if bench.comparison is None and bench.ready and not bench.trouble and not bench.at_hand:
        return "not compared since it was opened"
    if bench.comparison is None:
        return "cannot be made" if bench.trouble else ("being found…" if bench.ready else "not yet possible")
    lineup = bench.comparison.lineup
    if not lineup:
        return "none found"
    arrow = "↑" if lineup.edge == "rising" else "↓"
    start, end = (run.suspect_start - run.good_start for run in (lineup.runs[0], lineup.runs[-1]))
    offset = f"{signed(start)} to {signed(end)}" if lineup.slips and start != end else signed(lineup.offset_cycles)
    return f"{lineup.clock} {arrow} · {offset} cycles · {LINEUP_WORDS[lineup.status]}"


def step_states(bench: Bench) -> dict[str, StepState]:
    """The stamp of each step, and why."""
    later = StepState("empty", "Not built yet")
    return {
        "captures": _captures(bench),
        "lineup": _lined_up(bench),
        "compare": _compared(bench),
        "levels": later,
        "timing": later,
        "backplane": later,
        "log": _logged(bench),
    }


def _logged(bench: Bench) -> StepState:
    case = bench.case
    if not case.entries:
        return StepState("empty", "No line in the log yet: F4 begins one")
    if case.state == "verified":
        return StepState("done", "The repair is verified")
    return StepState("look", f"The case is {case.state}, and not verified yet")


def _captures(bench: Bench) -> StepState:
    if not bench.ready:
        return StepState("empty", "Waits for a capture on each side")
    words = [*cards(bench, "good"), *cards(bench, "suspect")]
    look = [w.capture.name for w in words if w.kind in ("look", "bad")]
    if look:
        return StepState("look", f"Worth a look: {', '.join(look)}")
    if any(w.kind == "waiting" for w in words):
        return StepState("empty", "Captures are being checked")
    if not all_judged(bench):
        return StepState("empty", "Each capture was checked by itself; the leads are judged after the line-up")
    return StepState("done", "All captures are fit to compare")


def _lined_up(bench: Bench) -> StepState:
    if bench.comparison is None:
        return StepState("look" if bench.trouble else "empty", bench.trouble or "Waits for captures on both sides")
    lineup = bench.comparison.lineup
    if lineup.status == "unique":
        return StepState("done", "One line-up fits, and no other comes near")
    return StepState("look", lineup.reason)


def _compared(bench: Bench) -> StepState:
    if bench.comparison is None:
        return StepState("look" if bench.trouble else "empty", bench.trouble or "Waits for captures on both sides")
    if not bench.comparison.lineup:
        return StepState("look", "Not lined up, so nothing was compared by cycle")
    if bench.comparison.diverges:
        return StepState("look", "The two sides differ")
    if bench.comparison.lineup.slips:
        return StepState("look", "All that is matched agrees, but one side takes cycles that the other lacks")
    return StepState("done", "No divergence found")
