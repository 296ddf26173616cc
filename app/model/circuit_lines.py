"""What the Backplane page finds, as lines of the log: readings of a net, and a chip that disobeys."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.case.values import Entry, Reading
from app.model.crate import BackplaneView
from app.report.chip_words import chip_words
from app.report.continuity_words import located_words, ohms_words
from app.report.part_words import answer, sentences

if TYPE_CHECKING:
    from tracecore.compare.chips import ChipOnBothSides


def net_line(view: BackplaneView, author: str, cycle: int | None) -> Entry | None:
    """What was read on the chosen net, as measured; None where the suspect side was not read there yet."""
    mine = {pin.point for pin in view.net_pins} | ({view.path.ground} if view.path is not None else set())
    readings = tuple(
        Reading(
            f"{pair.start} to {pair.end}" + (", card in" if pair.card_in else ""),
            "" if "good" in pair.over else ohms_words(pair.good_ohms),
            ohms_words(pair.suspect_ohms),
        )
        for pair in view.pairs
        if {pair.start, pair.end} <= mine and pair.suspect_ohms is not None and "suspect" not in pair.over
    )
    if not readings:
        return None
    told = located_words(view.place) if view.place is not None else "Not located yet."
    return Entry(0, "measured", f"Net {view.net}: {told}", author, cycle=cycle, readings=readings)


def chip_line(found: ChipOnBothSides, author: str) -> Entry:
    """What a chip does on both sides, as suspected where it disobeys on suspect, else as seen."""
    wrong = found.suspect is not None and found.suspect.verdict == "disobeys"
    details = []
    for side, own in (("Known-good", found.good), ("Suspect", found.suspect)):
        if own is not None:
            details.append(f"{side}: {answer(own)}")
    details += list(sentences(found.suspect)) if found.suspect is not None else []
    cycle = found.since_cycle if wrong else None
    return Entry(
        0, "suspected" if wrong else "seen", chip_words(found), author, cycle=cycle, details="\n".join(details)
    )
