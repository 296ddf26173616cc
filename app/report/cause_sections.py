"""The likely causes with their figures and evidence, and figures of what else diverges."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from app.comparison_text import IN_FULL
from app.report.blocks import Block, Bullets, Cell, FigureBlock, Group, Heading, Paragraph, Run, Table, words
from app.report.cautions import AT_THE_PINS
from app.report.figure import REPORT, plan_figure
from app.report.report_input import Material
from tracecore.outcome import Reason
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from tracecore.compare.findings import Cause
    from tracecore.comparison import Comparison

Blocks = tuple[Block, ...]
ROWS_OF_FIRST, ROWS_OF_OTHERS = 5, 3
"""Signals in the figure of the first cause, and in any other: what a page has room for."""
MOST_FIGURES, MOST_BESIDE_CAUSES = 12, 2
CAPTION = (
    "Known-good thin above, suspect thick below, on the known-good side's time. Ties join the same transition on "
    "both; an open ring: it is missing on one; hatched: levels differ; triangle: outside the family's limits."
)


def findings(material: Material) -> Blocks:
    """The likely causes: the first ones each with figure and evidence, all others as rows of a table."""
    if not material.record:
        return ()
    causes = material.record["causes"]
    if not causes:
        return (Paragraph(words(_why_none(material.record))), *_over_all_captures(material.record))
    blocks: list[Block] = [_cause(material, cause) for cause in causes[:IN_FULL]]
    if causes[IN_FULL:]:
        blocks += [Heading(words("Further likely causes")), _further(material, causes[IN_FULL:])]
        blocks.append(Paragraph(words(AT_THE_PINS), "muted"))
    blocks += _over_all_captures(material.record)
    note = "Best supported first. Likely causes, not verdicts. A later one is often a consequence of an earlier one."
    return (*blocks, Paragraph(words(note), "muted"))


def _why_none(record: dict[str, Any]) -> str:
    if record["lineup"]["offset_cycles"] is None:
        return "None: nothing was compared by cycle."
    if record.get("outcome_reason") == Reason.OTHER_PROGRAM:
        return f"None: what differs between two programs points at no part. {record.get('outcome_do', '')}"
    return "None: no signal diverges."


def _over_all_captures(record: dict[str, Any]) -> list[Block]:
    """Each signal's share over many captures, and what varies among the known-good ones; an older record has neither.

    The first sentence of the shares stands in the summary.
    """
    shares, varies = record.get("repeats", {}).get("sentences", ())[1:], record.get("varies", ())
    blocks: list[Block] = [Heading(words("Over all captures"))] if shares or varies else []
    if shares:
        blocks.append(Bullets(tuple(words(sentence) for sentence in shares)))
    if varies:
        blocks.append(Bullets(tuple(words(sentence) for sentence in varies), "muted"))
    return blocks


def _further(material: Material, causes: Sequence[dict[str, Any]]) -> Table:
    rows = []
    for cause in causes:
        full = full_cause(material.comparison, cause["rank"])
        since = "" if full is None or full.since_cycle is None else group_digits(full.since_cycle)
        name = words(material.name(cause["signal"]), f" {material.place(cause['signal'])}")
        texts = (words(_fault(cause)), words(since), words(cause["probe_next"]))
        rows.append((Cell(words(str(cause["rank"]))), Cell(name), *(Cell(text) for text in texts)))
    return Table(
        ("", "Signal", "Fault", "Since cycle", "Probe next"), tuple(rows), frozenset((0, 3)), whole=frozenset((1,))
    )


def _of_chip(chip: dict[str, Any]) -> str:
    return f"{chip['name']}: {chip['fault']}"


def _fault(cause: dict[str, Any]) -> str:
    """The fault in a table; an older record knows of no chip."""
    chip = cause.get("chip")
    return f"{_of_chip(chip)}; {cause['fault_mode']}" if chip else str(cause["fault_mode"])


def _cause(material: Material, cause: dict[str, Any]) -> Group:
    place = material.place(cause["signal"])
    head = words(
        f"{cause['rank']}. ",
        material.name(cause["signal"], bold=True),
        Run(f" {place}" if place else "", tone="muted"),
        ": ",
        Run(cause["fault_mode"], tone="suspect"),
    )
    first = cause["rank"] == 1
    blocks: list[Block] = [Heading(head)]
    if chip := cause.get("chip"):
        shown = words(
            material.name(cause["signal"], bold=True), f" {place}" if place else "", f": {cause['fault_mode']}"
        )
        blocks = [Heading(words(f"{cause['rank']}. ", Run(_of_chip(chip), tone="suspect"))), Paragraph(shown)]
    full = full_cause(material.comparison, cause["rank"])
    if full is not None and full.summary:
        blocks.append(Paragraph(words(full.summary)))
    if material.comparison is not None:
        most = ROWS_OF_FIRST if first else ROWS_OF_OTHERS
        blocks += figure_of(material.comparison, cause["signal"], f"cause-{cause['rank']}", most=most, told=first)
    if cause["because"]:
        blocks.append(Bullets(tuple(words(sentence) for sentence in cause["because"])))
    if full is not None and full.readings:
        facts = " · ".join(f"{name}: {value}" for name, value in full.readings)
        blocks.append(Paragraph(words(facts), "muted"))
    if cause["probe_next"]:
        blocks.append(Paragraph(words(Run("Probe next: ", bold=True), cause["probe_next"]), "boxed"))
        blocks.append(Paragraph(words(AT_THE_PINS), "muted"))
    return Group(tuple(blocks), "cause", strong=first, anchor=f"cause-{cause['rank']}")


def full_cause(comparison: Comparison | None, rank: int) -> Cause | None:
    """The cause itself, which a kept record does not have."""
    causes = comparison.causes if comparison is not None else ()
    return next((cause for cause in causes if cause.rank == rank), None)


def figure_of(
    comparison: Comparison,
    signal: str,
    name: str,
    cycle: int | None = None,
    caption: str = "",
    *,
    most: int = ROWS_OF_OTHERS,
    told: bool = True,
) -> Blocks:
    """The figure as a block, or nothing where there is none; ``name`` differs from those of all other figures.

    ``most`` signals are drawn at most; without ``told`` the caption does not say once more how to read it.
    """
    plan = plan_figure(comparison, signal, cycle=cycle, most=most, style=REPORT)
    return () if plan is None else (FigureBlock(plan, caption or (CAPTION if told else plan.title), name),)


def figures(material: Material) -> Blocks:
    """Figures of the signals that diverge and are no likely cause, worst first."""
    if material.comparison is None:
        return ()
    caused = {cause.signal for cause in material.comparison.causes} if "findings" in material.chosen else set()
    shown = [s for s in material.comparison.signals if s.verdict == "diverges" and s.signal not in caused]
    shown.sort(key=lambda s: -len(s.diverging_cycles))
    blocks: list[Block] = []
    most = MOST_BESIDE_CAUSES if "findings" in material.chosen else MOST_FIGURES
    for number, s in enumerate(shown[:most], start=1):
        if figure := figure_of(material.comparison, s.signal, f"figure-{number}", told=number == 1):
            head = words(material.name(s.signal, bold=True), Run(f" {s.place}" if s.place else "", tone="muted"))
            blocks += [Heading(words(head, f": {s.fault_mode}" if s.fault_mode else "")), *figure]
    more = len(shown) - most
    if more > 0:
        also = "more signal diverges and is" if more == 1 else "more signals diverge and are"
        blocks.append(Paragraph(words(f"{more} {also} not drawn."), "muted"))
    return tuple(blocks)
