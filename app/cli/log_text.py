"""A case's log as lines for the terminal: what hangs on an entry stands under it, as in the report."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from app.case.dates import signed_words
from app.case.name_words import joined_words, names_sentences
from app.case.proof_words import proof_sentence
from app.case.record import SIDE_WORDS, SIDES
from app.report.blocks import text_of
from app.report.log_section import corrected_by, mark_words, move_words, reading_cells
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.case.values import Entry, HeldCapture

INDENT = "     "


def log_text(case: OpenCase) -> Iterator[str]:
    """The case's state and how it came there, both sides, then each entry, oldest first."""
    yield f"{case.named}: {case.state}"
    for stamp in case.stamps:
        yield f"{INDENT}{stamp.state}: {signed_words(stamp.at, stamp.author)}"
    for side in SIDES:
        unit = case.unit(side)
        captures = ", ".join(_capture(c) for c in case.side(side).captures) or "no captures"
        place = " · ".join(part for part in (unit.name, unit.slot and f"slot {unit.slot}", unit.serial) if part)
        yield f"{SIDE_WORDS[side]}: {place + ': ' if place else ''}{captures}"
    yield from names_sentences(case)
    for entry in case.entries:
        yield from _entry(case, entry)


def _capture(held: HeldCapture) -> str:
    """Its name; of a joined one also its files."""
    return f"{held.name} ({joined_words(held)})" if held.joining else held.name


def _entry(case: OpenCase, entry: Entry) -> Iterator[str]:
    when = f"{entry.at[:16].replace('T', ' ')} {entry.author}".strip()
    helped = "" if entry.helped is None else ", helped" if entry.helped else ", did not help"
    corrects = f" (corrects {entry.corrects})" if entry.corrects else ""
    yield f"{entry.id:>3}  {when}  {entry.kind}{helped}: {entry.text}{corrects}"
    for line in _hung(case, entry):
        yield INDENT + line


def _hung(case: OpenCase, entry: Entry) -> Iterator[str]:
    by = corrected_by(case, entry.id)
    if by is not None:
        yield f"Put right by entry {by}."
    yield from (line for line in entry.details.split("\n") if line.strip())
    if entry.cycle is not None:
        yield f"At good cycle {group_digits(entry.cycle)}."
    for reading in entry.readings:
        where, good, suspect = reading_cells(reading)
        yield f"{where}: known-good {good}, suspect {suspect}"
    if entry.proof is not None and (sentence := proof_sentence(entry.proof)) != entry.text:
        yield sentence
    yield from (text_of(mark_words(mark)) for mark in case.marks if mark.id in entry.marks)
    pictures = {picture.id: picture.caption or picture.name for picture in case.pictures}
    yield from (f"Picture {number}: {pictures.get(number, 'not in the case any more')}" for number in entry.pictures)
    yield from (f"Part moved: {text_of(move_words(move))}" for move in case.parts if move.entry == entry.id)
    if entry.because:
        yield f"Because of {', '.join(f'entry {number}' for number in entry.because)}."
