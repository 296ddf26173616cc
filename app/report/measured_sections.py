"""What the report says of margins in volts, and of setup and hold, with where each limit comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.report.blocks import Block, Bullets, Cell, Paragraph, Table, words
from app.report.cautions import AT_THE_PINS
from app.report.report_input import Material
from app.timing_text import TWO_WAYS, clock_lines, difference_words, reading_sentence, side_words
from tracecore.quantities import format_volts, group_digits

if TYPE_CHECKING:
    from tracecore.compare.signal_levels import SignalLevels
    from tracecore.levels_and_timing import LevelsAndTiming
    from tracecore.measure.level_figures import LevelFigures

Blocks = tuple[Block, ...]


def _measured(material: Material) -> LevelsAndTiming | None:
    """Nothing where captures are absent: only their volts tell."""
    if material.comparison is None:
        return None
    from tracecore.levels_and_timing import levels_and_timing

    return levels_and_timing(material.comparison)


def margins(material: Material) -> Blocks:
    """Margins of every signal in volts, the worst first; what stands out; the sources of the limits."""
    found = _measured(material)
    if found is None or not found.levels.rows:
        return ()
    head = ("Signal", "Driver into receiver", "Low margin", "High margin", "Verdict")
    rows = tuple(
        (
            Cell(words(material.name(row.signal))),
            *(Cell(words(text)) for text in (_families(row), _both(row, "low_margin_v"), _both(row, "high_margin_v"))),
            Cell(words(row.verdict)),
        )
        for row in found.levels.rows
    )
    told = [_finding(row) for row in found.levels.rows if row.finding is not None]
    told += found.levels.notes
    blocks: list[Block] = [Table(head, rows, frozenset((2, 3)), whole=frozenset((0, 1)))]
    if told:
        blocks.append(Bullets(tuple(words(text) for text in told)))
    sides = [side for row in found.levels.rows for side in (row.good, row.suspect) if side is not None]
    sources = dict.fromkeys(_source(side) for side in sides)
    blocks.append(Paragraph(words(f"Margins are good, then suspect. Limits: {'; '.join(sources)}."), "muted"))
    return tuple(blocks)


def _source(side: LevelFigures) -> str:
    note = "" if side.receiver.status == "seen" else " (from memory: check)"
    return f"{side.receiver.name}: {side.receiver.source}{note}"


def _families(row: SignalLevels) -> str:
    side = row.suspect or row.good
    return "" if side is None else f"{side.driver.name} into {side.receiver.name}"


def _both(row: SignalLevels, name: str) -> str:
    def one(side: LevelFigures | None) -> str:
        if side is None:
            return "no volts"
        margin = getattr(side, name)
        return "none" if margin is None else format_volts(margin)

    return f"{one(row.good)}, {one(row.suspect)}"


def _finding(row: SignalLevels) -> str:
    finding = row.finding
    if finding is None:
        return ""
    since = "" if finding.since_cycle is None else f" First at cycle {group_digits(finding.since_cycle)}."
    readings = " ".join(f"{reads}: {may}." for reads, may in finding.readings)
    probe = f" Probe next: {finding.probe}. {AT_THE_PINS} {readings}" if finding.probe else ""
    return f"{row.signal}, {finding.title}: {finding.text}{since}{probe}"


def setup_and_hold(material: Material) -> Blocks:
    """Setup and hold of every signal that has limits; the worst first."""
    found = _measured(material)
    limited = [row for row in found.timing.rows if row.limits is not None] if found is not None else []
    if found is None or not limited:
        return ()
    head = ("Signal", "Into", "Good, median to latest", "Suspect", "Difference", "Verdict", "Why")
    rows = tuple(
        (
            Cell(words(material.name(row.signal))),
            *(
                Cell(words(text))
                for text in (
                    row.into,
                    side_words(row.good),
                    side_words(row.suspect),
                    difference_words(row),
                    row.verdict,
                    row.why,
                )
            ),
        )
        for row in limited
    )
    told = [reading_sentence(row) for row in limited if row.verdict == "violates"]
    told += [*clock_lines(found.timing), *found.timing.notes]
    sources = dict.fromkeys(row.limits.source for row in limited if row.limits is not None)
    blocks: list[Block] = [Table(head, rows, whole=frozenset((0, 1)))]
    if told:
        blocks.append(Bullets(tuple(words(text) for text in told)))
    blocks.append(Paragraph(words(f"Limits: {'; '.join(sources)}. {TWO_WAYS}"), "muted"))
    return tuple(blocks)
