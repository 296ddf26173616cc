"""Puts a report together from a comparison and a case: which sections there are, and what each of them holds."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from app.case.dates import day_words
from app.case.record import UNTITLED
from app.report import (
    case_sections,
    cause_sections,
    circuit_section,
    compared_sections,
    condition_section,
    log_section,
    measured_sections,
)
from app.report.blocks import Block, Report, Run, Section, Words, words
from app.report.report_input import Material, Photos, gather
from app.report.same_again import PROGRAM
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from tracecore.comparison import Comparison


@dataclass(frozen=True, slots=True)
class SectionKind:
    """A section that can be chosen: its title and what fills it."""

    title: str
    fill: Callable[[Material], tuple[Block, ...]]


SECTIONS: dict[str, SectionKind] = {
    "summary": SectionKind("Summary", compared_sections.summary),
    "findings": SectionKind("Likely causes", cause_sections.findings),
    "figures": SectionKind("Further figures", cause_sections.figures),
    "verdicts": SectionKind("Verdict of each signal", compared_sections.verdicts),
    "levels": SectionKind("Levels outside the limits", compared_sections.levels),
    "margins": SectionKind("Margins in volts", measured_sections.margins),
    "timing": SectionKind("Timing: skew of each signal", compared_sections.timing),
    "setup and hold": SectionKind("Setup and hold", measured_sections.setup_and_hold),
    "backplane": SectionKind("Readings of both backplanes", circuit_section.backplane),
    "chips": SectionKind("Chips against their own inputs", circuit_section.chips),
    "continuity": SectionKind("Continuity and other readings", case_sections.continuity),
    "proof": SectionKind("Proof after repair", case_sections.proof),
    "marks": SectionKind("Marks", case_sections.marks),
    "log": SectionKind("Log", log_section.log),
    "parts": SectionKind("Parts moved", case_sections.parts),
    "pictures": SectionKind("Pictures", case_sections.pictures),
    "conditions": SectionKind("Conditions", condition_section.conditions),
    "not compared": SectionKind("Not compared, and why", compared_sections.not_compared),
    "cautions": SectionKind("Before a hand goes into the cabinet", case_sections.cautions),
}
"""In the order of the report. A section with nothing in it is left out."""


def chosen_sections(names: Sequence[str] | None) -> tuple[str, ...]:
    """The names of the sections in the report's order; None takes all. Raises RequestError for an unknown name.

    >>> chosen_sections(["log", " Summary "])
    ('summary', 'log')
    """
    if names is None:
        return tuple(SECTIONS)
    wanted = {" ".join(name.replace("-", " ").casefold().split()) for name in names} - {""}
    if strangers := sorted(wanted - set(SECTIONS)):
        raise RequestError(
            f"Section {strangers[0]!r} is not known; expected one or more of {', '.join(SECTIONS)}. Name these."
        )
    if not wanted:
        raise RequestError(f"No section was named; expected one or more of {', '.join(SECTIONS)}. Name at least one.")
    return tuple(name for name in SECTIONS if name in wanted)


def build_report(
    comparison: Comparison | None,
    case: OpenCase | None = None,
    photos: Photos | None = None,
    saved: dict[str, Any] | None = None,
    *,
    sections: Sequence[str] | None = None,
    printed: str = "",
) -> Report:
    """The report as a value.

    ``saved`` is the record of an older comparison, used where ``comparison`` is None (captures are absent).
    ``photos`` gives the bytes of a stored photo. ``printed`` is the date shown on each page. Raises RequestError for
    an unknown section, and where there is neither a comparison nor a case.
    """
    if comparison is None and case is None:
        raise RequestError("A report needs a comparison or a case; found neither. Compare, or open a case.")
    names = chosen_sections(sections)
    material = gather(comparison, case, photos, saved, frozenset(names))
    filled = (Section(name, SECTIONS[name].title, SECTIONS[name].fill(material)) for name in names)
    return Report(
        _title(material),
        _subtitle(material),
        _running(material),
        printed,
        tuple(section for section in filled if section.blocks),
        author=case.opened_by if case is not None else "",
        program=PROGRAM,
    )


def _title(material: Material) -> str:
    case = material.case
    if case is not None and (case.number or case.title != UNTITLED):
        return case.named
    return "Comparison of " + " and ".join(_names(material)) if any(_names(material)) else "Case without a name"


def _running(material: Material) -> str:
    """What stands on each page: the title, and when the case was opened."""
    opened = material.case.opened_at if material.case is not None else ""
    return _title(material) + (f" · opened {day_words(opened)}" if opened else "")


def _names(material: Material) -> tuple[str, str]:
    """The names of both sides: the units of a case, else the captures."""
    case, record = material.case, material.record
    captures = (record["good"][0], record["suspect"][0]) if record else ("", "")
    if case is None:
        return captures
    return case.good_unit.name or captures[0], case.suspect_unit.name or captures[1]


def _subtitle(material: Material) -> Words:
    good, suspect = _names(material)
    return words(
        good or "good side without a name",
        Run(" (known-good) against ", tone="muted"),
        suspect or "suspect side without a name",
        Run(" (suspect)", tone="muted"),
    )
