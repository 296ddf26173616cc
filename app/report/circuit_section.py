"""Readings of both backplanes, and the chips of the pin list against their own inputs."""

from __future__ import annotations

from app.report.blocks import Block, Bullets, Cell, Heading, Paragraph, Table, words
from app.report.cautions import AT_THE_PINS
from app.report.chip_words import chip_words
from app.report.continuity_words import (
    POWER_OFF,
    located_words,
    next_words,
    ohms_words,
    outcome,
    pin_fault_words,
    sentences,
    slow_rise_words,
    verdict_words,
)
from app.report.part_words import settling_words
from app.report.report_input import Material
from tracecore.circuit.continuity.comparison import compare_continuity
from tracecore.circuit.continuity.path import located, next_reading

Blocks = tuple[Block, ...]
MOST_SAME = 40
"""Pairs that read the same are listed up to so many."""


def backplane(material: Material) -> Blocks:
    """Each pair with its verdict, nets split and joined, and where the readings put the fault."""
    case = material.case
    if case is None or not case.continuity.readings:
        return ()
    found = compare_continuity(case.continuity)
    blocks: list[Block] = [Paragraph(words(POWER_OFF), "muted"), Paragraph(words(outcome(found)))]
    same = [pair for pair in found.pairs if pair.verdict == "same"]
    listed = [pair for pair in found.pairs if pair.verdict != "same"] + same[:MOST_SAME]
    nets = {point: row.net for row in (case.pins.rows if case.pins else ()) for point in row.points}
    rows = []
    for pair in listed:
        last = pair.readings[-1]
        good = ohms_words(pair.good_ohms) or ("joined over others" if "good" in pair.over else "–")
        texts = (
            f"{pair.start} to {pair.end}", nets.get(pair.start) or nets.get(pair.end) or "–", good,
            ohms_words(pair.suspect_ohms) or "–", verdict_words(pair), f"{last.read_on} {last.by}".strip() or "–",
        )  # fmt: skip
        rows.append(tuple(Cell(words(text)) for text in texts))
    head = ("Between", "Net", "Known-good, ohm", "Suspect, ohm", "Verdict", "Read on")
    blocks.append(Table(head, tuple(rows), frozenset((2, 3))))
    if len(same) > MOST_SAME:
        blocks.append(Paragraph(words(f"{len(same) - MOST_SAME} more pairs read the same."), "muted"))
    found_by_readings, to_measure = _located(material)
    if told := [*sentences(found), *found_by_readings, *to_measure]:
        blocks.append(Bullets(tuple(words(sentence) for sentence in told)))
    if to_measure:
        blocks.append(Paragraph(words(AT_THE_PINS), "muted"))
    return tuple(blocks)


def _located(material: Material) -> tuple[list[str], list[str]]:
    """Where the readings put the fault of each likely cause whose net the pin list knows, and what to read next."""
    case = material.case
    told: list[str] = []
    to_measure: list[str] = []
    if case is None or case.pins is None or not material.record:
        return told, to_measure
    for cause in material.record["causes"]:
        path = case.pins.path_of(cause["signal"], material.place(cause["signal"]))
        if path is None:
            continue
        place, step = located(path, case.continuity), next_reading(path, case.continuity)
        if place is not None:
            told.append(f"{cause['signal']}: {located_words(place)}")
        elif step is not None:
            slow = f"{slow_rise_words(cause['signal'])} " if cause.get("fault_kind") == "slow_rise" else ""
            to_measure.append(f"{cause['signal']}, next: {slow}{next_words(step)}")
    return told, to_measure


def chips(material: Material) -> Blocks:
    """What each chip of the pin list does on both sides, by the nets that were captured."""
    case, comparison = material.case, material.comparison
    if case is None or case.pins is None or comparison is None or "chips" not in material.chosen:
        return ()
    from tracecore.compare.chips import chips_on_both_sides

    found = chips_on_both_sides(comparison, case.pins)
    faults = case.pins.faults()
    blocks: list[Block] = []
    if found:
        blocks.append(Bullets(tuple(words(chip_words(chip)) for chip in found)))
        settled = dict.fromkeys(settling_words(side) for c in found for side in (c.good, c.suspect) if side is not None)
        blocks.append(Bullets(tuple(words(sentence) for sentence in settled), "muted"))
    if faults:
        blocks.append(Heading(words("What cannot be right in the pin list")))
        blocks.append(Bullets(tuple(words(pin_fault_words(fault)) for fault in faults)))
    return tuple(blocks)
