"""The log as a story: each line with its day and hand, what led to it, what it led to, and what put it right."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.case.dates import signed_words, time_words
from app.case.proof_words import proof_sentence
from app.case.values import date_code_words
from app.comparison_text import IN_FULL
from app.report.blocks import Block, Bullets, Cell, Group, Paragraph, Run, Table, Words, words
from app.report.cause_sections import figure_of
from app.report.report_input import Material
from app.report.shapes import entry_shape
from tracecore.quantities import format_time, group_digits

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.case.values import Entry, Mark, PartMove, Reading

LONGEST_QUOTE = 90


def log(material: Material) -> tuple[Block, ...]:
    """All lines, oldest first."""
    case = material.case
    if case is None or not case.entries:
        return ()
    intro = Paragraph(words("Oldest first. Lines stay as they were written; a correction is a new line."), "muted")
    return (intro, *(_entry(material, case, entry) for entry in case.entries))


def _entry(material: Material, case: OpenCase, entry: Entry) -> Group:
    by = corrected_by(case, entry.id)
    told = "" if entry.helped is None else ", helped" if entry.helped else ", did not help"
    when = signed_words(entry.at, entry.author)
    head = words(Run(entry.kind + told, bold=True), Run(f" {when} · entry {entry.id}", tone="muted"))
    blocks: list[Block] = [Paragraph(head), Paragraph(words(Run(entry.text, bold=by is None)))]
    if by is not None:
        blocks.append(Paragraph(words("Put right by ", _tie(material, case, by)), "warning", "triangle"))
    if entry.corrects is not None:
        blocks.append(Paragraph(words("Puts right ", _tie(material, case, entry.corrects))))
    blocks += [Paragraph(words(line)) for line in entry.details.split("\n") if line.strip()]
    blocks += _evidence(material, case, entry)
    ties = [words("Because of ", _tie(material, case, number)) for number in entry.because]
    ties += [words("Led to ", _tie(material, case, other.id)) for other in case.entries if entry.id in other.because]
    blocks += [Paragraph(tie, "muted") for tie in ties]
    shape = entry_shape(entry.kind, entry.helped)
    return Group(tuple(blocks), "entry", shape, anchor=f"entry-{entry.id}")


def _evidence(material: Material, case: OpenCase, entry: Entry) -> list[Block]:
    """What hangs on a line: cycle, readings, proof, figure, marks, pictures, parts."""
    blocks: list[Block] = []
    if entry.cycle is not None and entry.figure is None:
        blocks.append(Paragraph(words(f"At good cycle {group_digits(entry.cycle)}."), "muted"))
    if entry.readings:
        head = ("Between", "Known-good", "Suspect")
        rows = tuple(tuple(Cell(words(text)) for text in reading_cells(reading)) for reading in entry.readings)
        blocks.append(Table(head, rows, frozenset((1, 2))))
    if entry.proof is not None:
        blocks.append(Paragraph(words(proof_sentence(entry.proof))))
    blocks += _figure(material, entry)
    lines = [mark_words(mark) for mark in case.marks if mark.id in entry.marks]
    lines += [_picture(material, number) for number in entry.pictures]
    lines += [words("Part moved: ", move_words(move)) for move in case.parts if move.entry == entry.id]
    if lines:
        blocks.append(Bullets(tuple(lines)))
    return blocks


def _figure(material: Material, entry: Entry) -> tuple[Block, ...]:
    """The line's figure; where it cannot be drawn from what is compared here, a sentence says why."""
    figure = entry.figure
    if figure is None:
        return ()
    told = f"{figure.signal}, good cycle {group_digits(figure.cycle)}" + (
        f": {figure.caption}" if figure.caption else ""
    )
    if material.comparison is None:
        return (Paragraph(words(f"Figure ({told}): not drawn, since nothing is compared here."), "muted"),)
    if not _same_pair(material.case, figure.good, figure.suspect):
        return (Paragraph(words(f"Figure ({told}): not drawn, since it is of another pair of captures."), "muted"),)
    cause = next(
        (c for c in material.comparison.causes if (c.signal, c.since_cycle) == (figure.signal, figure.cycle)), None
    )
    if cause is not None and cause.rank <= IN_FULL and "findings" in material.chosen:
        drawn_at = Run(f"likely cause {cause.rank}", link=f"cause-{cause.rank}")
        return (Paragraph(words(f"Figure ({told}): as drawn at ", drawn_at, "."), "muted"),)
    drawn = figure_of(material.comparison, figure.signal, f"entry-{entry.id}-figure", figure.cycle, f"{told}.")
    return drawn or (Paragraph(words(f"Figure ({told}): not drawn, since it lies outside the line-up."), "muted"),)


def _same_pair(case: OpenCase | None, good: str, suspect: str) -> bool:
    """Is the named pair (keys, empty for whichever) the one that is shown?"""
    if case is None:
        return True
    shown = case.good.shown_capture, case.suspect.shown_capture
    return all(
        not key or (held is not None and held.key == key) for key, held in zip((good, suspect), shown, strict=True)
    )


def _tie(material: Material, case: OpenCase, number: int) -> Words:
    """Another line of the log, quoted, as a link to it."""
    entry = next((entry for entry in case.entries if entry.id == number), None)
    if entry is None:
        return words(f"entry {number}, which is not in this log")
    link = f"entry-{number}" if "log" in material.chosen else ""
    return words(Run(f"entry {number}", link=link), f", {entry.kind} {time_words(entry.at)}: {quoted(entry.text)}")


def quoted(text: str) -> str:
    """A text short enough to be quoted in another line.

    >>> quoted("Still stops")
    'Still stops'
    """
    flat = " ".join(text.split())
    return flat if len(flat) <= LONGEST_QUOTE else flat[: LONGEST_QUOTE - 1].rstrip() + "…"


def _picture(material: Material, number: int) -> Words:
    picture = material.picture(number)
    if picture is None:
        return words(f"Picture {number}, which is not in the case any more")
    link = f"picture-{number}" if "pictures" in material.chosen else ""
    return words(Run(f"Picture {number}", link=link), f": {picture.caption or picture.name}")


def corrected_by(case: OpenCase, number: int) -> int | None:
    """The line that puts a line right; the newest where there are several."""
    found = [entry.id for entry in case.entries if entry.corrects == number]
    return found[-1] if found else None


def reading_cells(reading: Reading) -> tuple[str, str, str]:
    """Where, known-good, suspect: as they were typed, each number with its unit. What is open has none.

    >>> from app.case.values import Reading
    >>> reading_cells(Reading("6-B22 to 7-B04", "0.2", "open"))
    ('6-B22 to 7-B04', '0.2 ohm', 'open')
    """
    return reading.where, _with_unit(reading.good, reading.unit), _with_unit(reading.suspect, reading.unit)


def _with_unit(value: str, unit: str) -> str:
    plain = value.strip()
    return f"{plain} {unit}".rstrip() if plain and plain[-1].isdigit() else plain or "–"


def mark_words(mark: Mark) -> Words:
    """A mark in a line: kind, cycles, signals, note."""
    signals = ", ".join(mark.signals) or "all signals"
    note = f": {mark.note}" if mark.note else ""
    return words(f"Mark {mark.id}, {mark.kind}, {mark_span(mark)}, {signals}{note}")


def mark_span(mark: Mark) -> str:
    """The cycles of a mark, and the time between its cursors where it has them."""
    cycles = f"cycle {group_digits(mark.first_cycle)}"
    if mark.last_cycle != mark.first_cycle:
        cycles = f"cycles {group_digits(mark.first_cycle)} to {group_digits(mark.last_cycle)}"
    if mark.start_ps is None or mark.stop_ps is None:
        return cycles
    return f"{cycles}, {format_time(mark.stop_ps - mark.start_ps)}"


def move_words(move: PartMove) -> Words:
    """A part's way in a line."""
    code = f", date code {date_code_text(move.date_code)}" if move.date_code else ""
    return words(
        Run(move.part, bold=True), f" from {move.source or 'nowhere named'} to {move.target or 'nowhere named'}{code}"
    )


def date_code_text(code: str) -> str:
    """A date code with its meaning: ``7338 (1973, week 38)``."""
    spelled = date_code_words(code)
    return f"{code} ({spelled})" if spelled else code
