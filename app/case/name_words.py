"""In words: of which files a capture is, and what the channels of a side are called."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from app.case.record import SIDE_WORDS, SIDES
from app.case.side_changes import pair_words
from tracecore.file_name import file_name

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.case.values import HeldCapture


def joined_words(held: HeldCapture) -> str:
    """Its files, and by what they are joined: "north1.csv, north2.csv; by trigger"."""
    names = ", ".join(file_name(own.path) if own.path else own.name for own in held.files)
    by = [held.parts_by, f"{held.through[0]} of both instruments" if held.through else ""]
    return f"{names}; by {' and '.join(part for part in by if part)}"


def names_sentences(case: OpenCase) -> Iterator[str]:
    """A sentence for each side with a sheet of its own, and for names that were taken as one signal."""
    for side in SIDES:
        sheet = case.side(side).sheet
        if sheet is not None:
            yield f"The {SIDE_WORDS[side].lower()} side has a probe sheet of its own: {sheet_name(sheet.path)}."
    if case.suspect.same:
        yield f"Taken as one signal, though written otherwise: {pair_words(case.suspect.same)}."


def sheet_name(path: str) -> str:
    """What the file of a sheet is called."""
    return file_name(path) if path else "without a file"
