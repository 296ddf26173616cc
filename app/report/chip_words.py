"""A chip of the pin list on both sides, in a sentence."""

from __future__ import annotations

from app.report.part_words import explanation_words
from tracecore.circuit.parts.obedience import Obedience
from tracecore.compare.chips import ChipOnBothSides
from tracecore.quantities import group_digits

_VERDICTS = {"obeys": "obeys", "disobeys": "disobeys", "cannot be told": "cannot be told"}


def chip_words(found: ChipOnBothSides) -> str:
    """ "U7 (74181) obeys on good, disobeys on suspect from cycle 1 004." and what would make it right."""
    name = f"{found.chip.name} ({found.chip.number})"
    since = ""
    if found.since_cycle is not None and _is(found.suspect, "disobeys"):
        since = f" from good cycle {group_digits(found.since_cycle)}"
    told = f"{name} {_side(found.good)} on good, {_side(found.suspect)} on suspect{since}."
    if found.suspect is not None and _is(found.suspect, "disobeys"):
        if _is(found.good, "disobeys"):
            return told + " It disobeys on both: look at its number and legs in the pin list."
        told += "".join(f" {explanation_words(e, found.chip.nets)}" for e in found.suspect.explanations[:2])
    return told


def chip_line(found: ChipOnBothSides) -> str:
    """A chip in a list to choose from, with what it does on suspect: "U14 · 74LS138 ▨ disobeys"."""
    marks = {"obeys": "✓ obeys", "disobeys": "▨ disobeys", "cannot be told": "? cannot be told"}
    name = f"{found.chip.name} · {found.chip.number}"
    return f"{name}   {marks[found.suspect.verdict]}" if found.suspect is not None else f"{name}   not captured"


def _side(found: Obedience | None) -> str:
    if found is None:
        return "was not captured"
    count = f"{group_digits(found.wrong)} of " if found.verdict == "disobeys" else ""
    return f"{_VERDICTS[found.verdict]} ({count}{group_digits(found.judged)} judged states)"


def _is(found: Obedience | None, verdict: str) -> bool:
    return found is not None and found.verdict == verdict
