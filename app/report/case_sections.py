"""What the case holds beside the comparison and the log: readings, proof, marks, parts moved, pictures, cautions."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.case.dates import camera_words, day_words, signed_words
from app.case.errors import CaseError
from app.case.proof_words import proof_sentence
from app.report.blocks import Block, Bullets, Cell, Heading, Paragraph, PhotoBlock, Run, Table, Words, words
from app.report.cautions import CAUTIONS, DEFER
from app.report.log_section import corrected_by, date_code_text, mark_span, reading_cells
from app.report.report_input import Material
from app.report.shapes import MARK_SHAPES, Shape

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.case.values import BenchCard, Picture

Blocks = tuple[Block, ...]


def continuity(material: Material) -> Blocks:
    """What meters said: the readings of the log, then those of the bench cards."""
    case = material.case
    if case is None:
        return ()
    rows = []
    for entry in case.entries:
        for reading in entry.readings:
            cells = (*(words(text) for text in reading_cells(reading)), words(day_words(entry.at)))
            rows.append(tuple(Cell(part) for part in (*cells, _entry_cell(material, case, entry.id))))
    blocks: list[Block] = []
    if rows:
        head = ("Between", "Known-good", "Suspect", "Read on", "Entry")
        blocks.append(Table(head, tuple(rows), frozenset((1, 2)), whole=frozenset((3,))))
        blocks.append(Paragraph(words("As they were typed. A limit for “raised” is the reader's to choose."), "muted"))
    for card in case.cards:
        blocks += _card(card)
    return tuple(blocks)


def _card(card: BenchCard) -> list[Block]:
    """The rows of a bench card that were filled in."""
    rows = []
    for row, boxes in zip(card.rows, card.filled, strict=False):
        if any(boxes):
            read = ", ".join(f"{name} {text}".strip() for name, text in zip(row.boxes, boxes, strict=False) if text)
            limit = row.limit.partition("\n")[0]
            texts = (row.probe, row.where, f"power {row.power}", row.good or "–", limit or "–", read, row.unit)
            rows.append(tuple(Cell(words(text.replace("\n", " "))) for text in texts))
    if not rows and not card.found and not card.notes:
        return []
    blocks: list[Block] = [Heading(words(f"Bench card {card.number}"))]
    if rows:
        head = ("Probe", "How", "With", "Good", "Limit", "Read", "Unit")
        blocks.append(Table(head, tuple(rows), whole=frozenset((2, 6))))
    for label, text in (("Found", card.found), ("Notes", card.notes)):
        if text:
            blocks.append(Paragraph(words(Run(f"{label}: ", bold=True), text)))
    return blocks


def _entry_cell(material: Material, case: OpenCase, number: int) -> Words:
    if all(entry.id != number for entry in case.entries):
        return words(f"{number}, which is not in this log")
    link = f"entry-{number}" if "log" in material.chosen else ""
    by = corrected_by(case, number)
    return words(Run(str(number), link=link), f", put right by {by}" if by is not None else "")


def proof(material: Material) -> Blocks:
    """What captures after the repair prove, newest line last."""
    case = material.case
    blocks: list[Block] = []
    for entry in case.entries if case is not None else ():
        if entry.proof is None:
            continue
        assert case is not None
        by = corrected_by(case, entry.id)
        shape: Shape = "ring cross" if entry.proof.diverging or by is not None else "disc tick"
        blocks.append(Paragraph(words(proof_sentence(entry.proof)), "plain", shape))
        told = (
            f"Entry {entry.id}",
            signed_words(entry.at, entry.author),
            entry.proof.note,
            f"put right by entry {by}" if by is not None else "",
        )
        blocks.append(Paragraph(words(" · ".join(part for part in told if part)), "muted"))
    return tuple(blocks)


def marks(material: Material) -> Blocks:
    """The marks in the order of their cycles."""
    case = material.case
    if case is None or not case.marks:
        return ()
    rows = []
    for mark in sorted(case.marks, key=lambda m: (m.first_cycle, m.id)):
        names: list[str | Run] = []
        for signal in mark.signals:
            names += [", "] if names else []
            names.append(material.name(signal))
        rows.append(
            (
                Cell(words(mark.kind), MARK_SHAPES[mark.kind]),
                Cell(words(mark_span(mark))),
                Cell(words(*names) or words("all")),
                Cell(words({"both": "both sides"}.get(mark.side, mark.side))),
                Cell(words(mark.note)),
                Cell(words(signed_words(mark.at, mark.author))),
            )
        )
    head = ("Kind", "Where", "Signals", "Side", "Note", "By")
    return (Table(head, tuple(rows), whole=frozenset((0,))),)


def parts(material: Material) -> Blocks:
    """Parts that went from one place to another, a row each way."""
    case = material.case
    if case is None or not case.parts:
        return ()
    rows = []
    for move in case.parts:
        entry = () if move.entry is None else _entry_cell(material, case, move.entry)
        plain = (move.source or "–", move.target or "–", date_code_text(move.date_code) or "–")
        last = words(signed_words(move.at, move.author))
        cells = (words(Run(move.part, bold=True)), *(words(text) for text in plain), last, entry)
        rows.append(tuple(Cell(cell) for cell in cells))
    return (Table(("Part", "From", "To", "Date code", "When", "Entry"), tuple(rows)),)


def pictures(material: Material) -> Blocks:
    """The photos. One that cannot be shown leaves a sentence in its place."""
    case = material.case
    return tuple(_photo(material, case, picture) for picture in case.pictures) if case is not None else ()


def _photo(material: Material, case: OpenCase, picture: Picture) -> Block:
    shown = [str(entry.id) for entry in case.entries if picture.id in entry.pictures]
    told = (
        picture.caption,
        picture.name,
        f"taken {camera_words(picture.taken)}" if picture.taken else "",
        f"entr{'y' if len(shown) == 1 else 'ies'} {', '.join(shown)}" if shown else "",
    )
    caption = words(Run(f"Picture {picture.id}. ", bold=True), " · ".join(part for part in told if part))
    anchor = f"picture-{picture.id}"
    if material.photos is None:
        return Paragraph(words(caption, ": not at hand when the report was written."), "warning", "triangle", anchor)
    try:
        data = material.photos(picture.stored)
    except CaseError as error:
        return Paragraph(words(caption, f": cannot be shown. {error}"), "warning", "triangle", anchor)
    return PhotoBlock(data, picture.width, picture.height, caption, anchor)


def cautions(material: Material) -> Blocks:
    """Reminders, and to whom they defer; the same in every report."""
    del material
    return (Paragraph(words(Run(DEFER, bold=True))), Bullets(tuple(words(sentence) for sentence in CAUTIONS), "small"))
