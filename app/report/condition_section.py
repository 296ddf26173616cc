"""Under what conditions it was found: the units, the captures, thresholds and the line-up with its runner-up."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.case.lead_corrections import moved_words
from app.case.name_words import joined_words, names_sentences
from app.case.read_settings import read_settings_of
from app.case.record import SIDE_WORDS, SIDES
from app.case.side_changes import pair_words
from app.comparison_text import capture_line, lineup_word, signed
from app.report.blocks import Block, Bullets, Cell, Heading, Paragraph, Run, Table, Words, words
from app.report.compared_sections import more_to_know
from app.report.report_input import Material
from app.report.same_again import PROGRAM, command_again, one_command
from tracecore.quantities import format_volts, group_digits, percent
from tracecore.readers.settings import ReadSettings

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from app.case.values import HeldCapture
    from tracecore.capture import Capture
    from tracecore.comparison import Comparison


MOST_SLIPS = 40
"""Slips listed; all of them stand in the JSON."""


def conditions(material: Material) -> tuple[Block, ...]:
    """All of it, as far as it is known."""
    blocks: list[Block] = []
    if material.case is not None:
        blocks += _units(material.case)
    blocks += _captures(material)
    items = _lines(material)
    if items:
        blocks += [Heading(words("Read and lined up by")), Bullets(tuple(items))]
    if more := more_to_know(material):
        blocks += [Heading(words("More to know")), *more]
    return (*blocks, *_slips(material), *_same_again(material))


def _same_again(material: Material) -> tuple[Block, ...]:
    """The program and what to type."""
    blocks: list[Block] = [Heading(words("To get the same result again")), Paragraph(words(f"Made by {PROGRAM}."))]
    if material.comparison is not None:
        if material.case is not None and _read_by_choice(material.case):
            blocks.append(Paragraph(words("The case keeps how its files are read: twinslot report makes it again.")))
        elif one_command(material.comparison):
            command = command_again(material.comparison)
            blocks.append(Paragraph(words("In the folder of these files: ", Run(command, bold=True))))
        else:
            blocks.append(
                Paragraph(words("Its captures are joined from several files: twinslot report makes it again."))
            )
    return tuple(blocks)


def _read_by_choice(case: OpenCase) -> bool:
    """Did a person say how a shown file is read, or put its leads right? A command on the files alone does not know."""
    shown = (held for side in SIDES for held in case.side(side).shown_first)
    return any(held.reclipped or read_settings_of(held) != ReadSettings() for held in shown)


def _slips(material: Material) -> tuple[Block, ...]:
    """Where cycles were inserted or are missing, by the record."""
    slips = material.record["lineup"]["slips"] if material.record else ()
    if not slips:
        return ()
    keys = ("good_cycle", "suspect_cycle", "inserted", "missing")
    rows = [(slip["kind"], *(group_digits(slip[key]) for key in keys)) for slip in slips[:MOST_SLIPS]]
    head = ("Slip", "At good cycle", "At suspect cycle", "Inserted", "Missing")
    table = Table(head, tuple(tuple(Cell(words(text)) for text in row) for row in rows), frozenset(range(1, 5)))
    blocks: list[Block] = [Heading(words("Slips: cycles without partner")), table]
    if len(slips) > MOST_SLIPS:
        blocks.append(Paragraph(words(f"{len(slips) - MOST_SLIPS} more stand in the JSON of the comparison."), "muted"))
    return tuple(blocks)


def _units(case: OpenCase) -> list[Block]:
    rows = []
    for side in SIDES:
        unit = case.unit(side)
        cells = (SIDE_WORDS[side], unit.name or "–", unit.serial or "–", unit.slot or "–", unit.note or "–")
        rows.append(tuple(Cell(words(text)) for text in cells))
    return [Heading(words("The two units")), Table(("Side", "Unit", "Serial", "Slot", "Note"), tuple(rows))]


def _captures(material: Material) -> list[Block]:
    case, comparison = material.case, material.comparison
    rows: list[tuple[Cell, ...]] = []
    for side in SIDES:
        held = case.side(side).shown_first if case is not None else ()
        shown: tuple[Capture | HeldCapture, ...] = held
        if comparison is not None:
            shown = comparison.request.good if side == "good" else comparison.request.suspect
        for capture in shown:
            known = next((h for h in held if _is_of(capture, h)), None)
            rows.append(tuple(Cell(part) for part in _capture(SIDE_WORDS[side], capture, known)))
    if not rows:
        return [Paragraph(words("The case holds no captures."))]
    head = ("Side", "Capture", "What it is", "As the file states", "SHA-256")
    return [Heading(words("Captures and instruments")), Table(head, tuple(rows))]


def _is_of(capture: Capture | HeldCapture, held: HeldCapture) -> bool:
    """Is it the capture that the case holds so? One of several files has a hash of its own."""
    return held.sha256 == capture.sha256 or (bool(held.joining) and held.name == capture.name)


def _capture(side: str, capture: Capture | HeldCapture, held: HeldCapture | None) -> tuple[Words, ...]:
    said = [f"{name}: {value}" for name, value in capture.facts]
    if held is not None:
        said += [f"taken: {held.taken}"] if held.taken else []
        said += [f"rate given by hand: {held.sample_rate.removesuffix('/1')} Hz"] if held.sample_rate else []
        said += [f"leads put right: {'; '.join(moved_words(held))}"] if held.reclipped else []
        said += [f"joined from {joined_words(held)}"] if held.joining else []
        said += [f"note: {held.note}"] if held.note else []
    said += list(capture.notes)
    return (
        words(side), words(capture.name), words(capture_line(capture)), words("; ".join(said)),
        words(capture.sha256[:16]),
    )  # fmt: skip


def _lines(material: Material) -> list[Words]:
    lines: list[Words] = []
    if material.comparison is not None:
        lines += [words(f"{line}.") for line in thresholds(material.comparison)]
        lines += [words(f"{line}.") for line in _lineup(material.comparison)]
    elif material.record is not None:
        lines += [words(f"{line}.") for line in _kept_lineup(material)]
    if material.case is not None:
        lines.append(words(f"Family where the sheet names none: {material.case.settings.family}."))
    path = material.comparison.request.sheet.path if material.comparison is not None else ""
    if path:
        lines.append(words("Probe sheet: ", Run(path.replace("\\", "/").split("/")[-1]), "."))
    if material.case is not None:
        lines += [words(sentence) for sentence in names_sentences(material.case)]
    elif material.comparison is not None and material.comparison.request.same_names:
        pairs = pair_words(material.comparison.request.same_names)
        lines.append(words(f"Taken as one signal, though written otherwise: {pairs}."))
    return lines


def thresholds(comparison: Comparison) -> list[str]:
    """The thresholds that volts were read by, each with its source."""
    from tracecore.measure.families import family

    volts = [s for s in comparison.signals if s.good_volts is not None or s.suspect_volts is not None]
    names = dict.fromkeys(family(s.family or comparison.request.family).name for s in volts)
    lines = []
    for name in names:
        kind = family(name)
        note = "" if kind.status == "seen" else " (figures from memory: check them)"
        lines.append(
            f"Family {name}: low up to {format_volts(kind.vil_v)}, high from {format_volts(kind.vih_v)}; "
            f"source {kind.source}{note}"
        )
    return lines


def _lineup(comparison: Comparison) -> list[str]:
    lineup = comparison.lineup
    lines = [
        f"Line-up: clock {lineup.clock}, {lineup.edge} edge, {lineup_word(lineup)}, confidence "
        f"{percent(lineup.confidence)}"
    ]
    if lineup.drift_ppm is not None:
        lines.append(f"Drift: the suspect's cycle is {lineup.drift_ppm:+.1f} ppm longer".replace("-", "\u2212"))
    if len(lineup.candidates) > 1:
        tried = "; ".join(
            f"{signed(c.offset_cycles)} agrees to {100 * c.agreement:.2f} % over "
            f"{group_digits(c.overlap_cycles)} cycles"
            for c in lineup.candidates[:4]
        )
        lines.append(f"Offsets tried: {tried}")
    return lines


def _kept_lineup(material: Material) -> list[str]:
    assert material.record is not None
    lineup = material.record["lineup"]
    lines = [f"Line-up: clock {lineup['clock']}, {lineup['edge']} edge, confidence {percent(lineup['confidence'])}"]
    if lineup["drift_ppm"] is not None:
        lines.append(f"Drift: the suspect's cycle is {lineup['drift_ppm']:+.1f} ppm longer".replace("-", "\u2212"))
    if rival := lineup["runner_up"]:
        lines.append(
            f"Runner-up: offset {signed(rival['offset_cycles'])}, agrees to {100 * rival['agreement']:.2f} % over "
            f"{group_digits(rival['overlap_cycles'])} cycles"
        )
    return lines
