"""What the two sides showed: outcome, likely causes with their figures, verdicts, levels, skew, and what was left out.

All of it comes from the record of the comparison, so that a kept one serves where captures are absent; only figures
and what a cause sums up need the captures themselves.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from app.case.dates import day_words, signed_words
from app.case.proof_words import proof_sentence, standing_proof
from app.comparison_text import Summary, summary_of, summary_of_record
from app.report.blocks import (
    Block,
    Bullets,
    Cell,
    FigureBlock,
    Group,
    Heading,
    Paragraph,
    Run,
    Table,
    Tone,
    Words,
    words,
)
from app.report.cautions import AT_THE_PINS
from app.report.figure import plan_figure
from app.report.report_input import Material, place_of
from app.report.shapes import VERDICT_SHAPES, Shape
from tracecore.quantities import format_time, format_volts, group_digits

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from tracecore.compare.findings import Cause
    from tracecore.comparison import Comparison

Blocks = tuple[Block, ...]
MOST_LEVEL_ROWS = 40
"""Level violations listed for each signal; all of them stand in the JSON."""
MOST_FIGURES = 12
_TONES: dict[str, Tone] = {"diverges": "suspect", "undecided": "warning"}
KEPT = (
    "Captures of this case are absent, so this is what was kept of the last comparison; no figure can be drawn from it."
)
CAPTION = (
    "Known-good thin above, suspect thick below, on the known-good side's time. Ties join twins; an open ring: twin "
    "missing; hatched: levels differ; triangle: outside the family's limits."
)


def summary(material: Material) -> Blocks:
    """What came out, the line-up, warnings, and how the case stands."""
    blocks: list[Block] = []
    told = _summary(material)
    if told is None:
        blocks.append(
            Paragraph(
                words("Nothing was compared: a comparison needs a capture of each side, and none was kept."), "lead"
            )
        )
    else:
        blocks.append(Paragraph(words(told.headline), "lead"))
        if told.do:
            blocks.append(Paragraph(words(Run("Next: ", bold=True), told.do)))
    if material.kept:
        blocks.append(Paragraph(words(KEPT), "warning", "triangle"))
    if material.record and told is not None:
        blocks.append(Paragraph(words(told.lineup, _lineup_more(material))))
        # a record of an older version has neither
        if sentences := material.record.get("repeats", {}).get("sentences"):
            blocks.append(Bullets(tuple(words(sentence) for sentence in sentences)))
        if sentences := material.record.get("varies"):
            blocks.append(Bullets(tuple(words(sentence) for sentence in sentences), "muted"))
        blocks += _notices(material.record)
    if material.case is not None:
        blocks += _standing(material.case)
    return tuple(blocks)


def _summary(material: Material) -> Summary | None:
    if material.comparison is not None:
        return summary_of(material.comparison)
    return summary_of_record(material.record) if material.record else None


def _lineup_more(material: Material) -> str:
    """Why the line-up is what it is, and whether a wire list was used; a kept record does not say."""
    if material.comparison is None:
        return ""
    lineup, wires = material.comparison.lineup, material.comparison.request.wire_list
    used = "" if wires is None else f" {wires.use({s.signal for s in material.comparison.signals})}"
    return (f" {lineup.reason}" if lineup else "") + used


def _notices(record: dict[str, Any]) -> list[Block]:
    """What is to be known before it is believed; a record of an older version has sentences alone."""
    if "notices" not in record:
        old = record["warnings"]
        return [Bullets(tuple(words(sentence) for sentence in old), "warning", "triangle")] if old else []
    grave = [own for own in record["notices"] if own["severity"] != "info"]
    rest = [own for own in record["notices"] if own["severity"] == "info"]
    blocks: list[Block] = []
    if grave:
        blocks.append(Bullets(tuple(_notice(own) for own in grave), "warning", "triangle"))
    if rest:
        blocks.append(Bullets(tuple(_notice(own) for own in rest), "muted"))
    return blocks


def _notice(own: dict[str, Any]) -> Words:
    return words(own["text"], f" {own['do']}" if own["do"] else "")


def _standing(case: OpenCase) -> list[Block]:
    """The case's state as on a repair card, and the proof where there is one."""
    opened = signed_words(case.opened_at, case.opened_by)
    stamped = signed_words(case.stamps[-1].at, case.stamps[-1].author) if case.stamps else ""
    state = words("State of the case: ", Run(case.state, bold=True), f" ({stamped})" if stamped else "")
    blocks: list[Block] = [Paragraph(words(state, f"; opened {opened}" if opened else ""))]
    if len(case.stamps) > 1:
        told = "; ".join(f"{s.state} {day_words(s.at)} {s.author}".rstrip() for s in case.stamps[:-1])
        blocks.append(Paragraph(words(f"Before that: {told}"), "muted"))
    proof = standing_proof(case)
    if proof is not None and proof.proof is not None:
        shape: Shape = "disc tick" if not proof.proof.diverging else "ring cross"
        blocks.append(Paragraph(words("Proof: ", proof_sentence(proof.proof)), "plain", shape))
    return blocks


def findings(material: Material) -> Blocks:
    """The likely causes, each with its figure and evidence."""
    if not material.record:
        return ()
    causes = material.record["causes"]
    if not causes:
        lined_up = material.record["lineup"]["offset_cycles"] is not None
        return (Paragraph(words("None: no signal diverges." if lined_up else "None: nothing was compared by cycle.")),)
    intro = Paragraph(words("Best supported first. Likely causes, not verdicts."), "muted")
    return (intro, *(_cause(material, cause) for cause in causes))


def _cause(material: Material, cause: dict[str, Any]) -> Group:
    place = material.place(cause["signal"])
    head = words(
        f"{cause['rank']}. ",
        material.name(cause["signal"], bold=True),
        Run(f" {place}" if place else "", tone="muted"),
        ": ",
        Run(cause["fault_mode"], tone="suspect"),
    )
    blocks: list[Block] = [Heading(head)]
    full = _full_cause(material.comparison, cause["rank"])
    if full is not None and full.summary:
        blocks.append(Paragraph(words(full.summary)))
    if material.comparison is not None:
        blocks += figure_of(material.comparison, cause["signal"], f"cause-{cause['rank']}")
    if cause["because"]:
        blocks.append(Bullets(tuple(words(sentence) for sentence in cause["because"])))
    if full is not None and full.readings:
        blocks.append(Table((), tuple((Cell(words(a)), Cell(words(b))) for a, b in full.readings)))
    if cause["probe_next"]:
        blocks.append(Paragraph(words(Run("Probe next: ", bold=True), cause["probe_next"]), "boxed"))
        blocks.append(Paragraph(words(AT_THE_PINS), "muted"))
    return Group(tuple(blocks), "cause", strong=cause["rank"] == 1, anchor=f"cause-{cause['rank']}")


def _full_cause(comparison: Comparison | None, rank: int) -> Cause | None:
    causes = comparison.causes if comparison is not None else ()
    return next((cause for cause in causes if cause.rank == rank), None)


def figure_of(comparison: Comparison, signal: str, name: str, cycle: int | None = None, caption: str = "") -> Blocks:
    """The figure as a block, or nothing where there is none; ``name`` differs from those of all other figures."""
    plan = plan_figure(comparison, signal, cycle=cycle)
    return () if plan is None else (FigureBlock(plan, caption or CAPTION, name),)


def figures(material: Material) -> Blocks:
    """Figures of the signals that diverge and are no likely cause, worst first."""
    if material.comparison is None:
        return ()
    caused = {cause.signal for cause in material.comparison.causes} if "findings" in material.chosen else set()
    shown = [s for s in material.comparison.signals if s.verdict == "diverges" and s.signal not in caused]
    shown.sort(key=lambda s: -len(s.diverging_cycles))
    blocks: list[Block] = []
    for number, s in enumerate(shown[:MOST_FIGURES], start=1):
        if figure := figure_of(material.comparison, s.signal, f"figure-{number}"):
            head = words(material.name(s.signal, bold=True), Run(f" {s.place}" if s.place else "", tone="muted"))
            blocks += [Heading(words(head, f": {s.fault_mode}" if s.fault_mode else "")), *figure]
    if len(shown) > MOST_FIGURES:
        blocks.append(Paragraph(words(f"{len(shown) - MOST_FIGURES} more signals diverge and are not drawn."), "muted"))
    return tuple(blocks)


def verdicts(material: Material) -> Blocks:
    """The table of all signals."""
    if not material.record:
        return ()
    rows = material.record["signals"]
    head = (
        "Signal", "Pin", "Verdict", "Fault mode", "First cycle", "Good time", "Suspect time", "Cycles that differ",
        "Skew", "Missing", "Extra",
    )  # fmt: skip
    bold = frozenset(i for i, row in enumerate(rows) if row["verdict"] == "diverges")
    table = Table(
        head, tuple(_verdict(material, row) for row in rows), frozenset(range(4, 11)), bold, frozenset((0, 1, 2))
    )
    note = (
        "Cycles count the known-good capture's active edges from 0. Skew: suspect minus good, median; a plus sign is "
        "late. It reads to the sum of both sample periods."
    )
    return (table, Paragraph(words(note), "muted"))


def _verdict(material: Material, row: dict[str, Any]) -> tuple[Cell, ...]:
    first, skew = row["first_divergence"], row["skew_ps"]
    verdict = row["verdict"]
    tone = _TONES.get(verdict, "plain")
    times = ("", "", "")
    if first is not None:
        times = group_digits(first["cycle"]), fine_time(first["good_ps"]), fine_time(first["suspect_ps"])
    plain = (
        *times,
        whole(f"{group_digits(row['diverging_cycles'])} of {group_digits(row['compared_cycles'])}"),
        ""
        if skew is None
        else f"{whole(format_time(skew['median'], sign=True))} ±{whole(format_time(skew['uncertainty']))}",
        group_digits(row["missing_transitions"]),
        group_digits(row["extra_transitions"]),
    )
    return (
        Cell(words(material.name(row["signal"]))),
        Cell(words(place_of(row) or "–")),
        Cell(words(Run(verdict, tone=tone)), VERDICT_SHAPES[verdict]),
        Cell(words(row["fault_mode"] or "")),
        *(Cell(words(text)) for text in plain),
    )


def fine_time(time_ps: int) -> str:
    """A time to seven digits, its unit held to it."""
    return whole(format_time(time_ps, digits=7))


def whole(text: str) -> str:
    """The text with spaces that do not break a line."""
    return text.replace(" ", "\u00a0")


def levels(material: Material) -> Blocks:
    """Volts outside the family's limits; the suspect's first, since they are what the table is read for."""
    if not material.record:
        return ()
    rows: list[tuple[Cell, ...]] = []
    left_out = 0
    for s in material.record["signals"]:
        ordered = sorted(s["levels"], key=lambda v: (v["side"] == "good", v["start_ps"]))
        left_out += max(0, len(ordered) - MOST_LEVEL_ROWS)
        for v in ordered[:MOST_LEVEL_ROWS]:
            plain = (
                v["kind"], v["side"], "–" if v["cycle"] is None else group_digits(v["cycle"]),
                fine_time(v["start_ps"]), whole(format_time(v["stop_ps"] - v["start_ps"])), format_volts(v["volts"]),
                format_volts(v["limit_v"]),
            )  # fmt: skip
            rows.append((Cell(words(material.name(s["signal"]))), *(Cell(words(text)) for text in plain)))
    if not rows:
        return ()
    head = ("Signal", "Kind", "Side", "Cycle", "At", "Lasting", "Volts", "Limit")
    table = Table(head, tuple(rows), frozenset(range(3, 8)), whole=frozenset((0, 1, 2)))
    if not left_out:
        return (table,)
    return (table, Paragraph(words(f"{group_digits(left_out)} more stand in the JSON of the comparison."), "muted"))


def timing(material: Material) -> Blocks:
    """Skew of each signal whose transitions pair."""
    if not material.record:
        return ()
    rows = []
    for s in material.record["signals"]:
        skew = s["skew_ps"]
        if skew is None:
            continue
        texts = (
            place_of(s) or "–", format_time(skew["median"], sign=True), format_time(skew["p95"]),
            format_time(skew["max"]), f"±{format_time(skew['uncertainty'])}", *_pairs(material, s["signal"]),
        )  # fmt: skip
        rows.append((Cell(words(material.name(s["signal"]))), *(Cell(words(text)) for text in texts)))
    if not rows:
        return ()
    pairs = ("Pairs",) if material.comparison is not None else ()
    head = ("Signal", "Pin", "Median", "95 % within", "Largest", "One pair reads to", *pairs)
    note = (
        "Skew: suspect delay after the active edge minus the known-good one, over all pairs of twins; a plus sign is "
        "late. One pair reads to the sum of both sample periods; the median of many reads better, unless sampling is "
        "locked to the board's clock."
    )
    return (
        Table(head, tuple(rows), frozenset(range(2, 7)), whole=frozenset((0, 1))),
        Paragraph(words(note), "muted"),
    )


def _pairs(material: Material, signal: str) -> tuple[str, ...]:
    """How many pairs the skew is taken over; the kept record does not say, and then there is no such column."""
    skew = material.comparison.signal(signal).skew if material.comparison is not None else None
    return () if skew is None else (group_digits(skew.count),)


def not_compared(material: Material) -> Blocks:
    """Signals that were not compared, or not everywhere, and why."""
    if material.comparison is not None:
        reasons = left_out(material.comparison)
    elif material.record:
        said = {"missing": "one of the captures does not have it", "undecided": "no state of it could be compared"}
        rows = material.record["signals"]
        reasons = tuple((row["signal"], said[row["verdict"]]) for row in rows if row["verdict"] in said)
    else:
        reasons = ()
    if not reasons:
        return ()
    return (Bullets(tuple(words(material.name(signal, bold=True), f": {why}.") for signal, why in reasons)),)


def left_out(comparison: Comparison) -> tuple[tuple[str, str], ...]:
    """Signals that were not compared, each with why."""
    out = []
    for s in comparison.signals:
        if s.verdict == "missing":
            side = "known-good" if s.good_trace is None else "suspect"
            out.append((s.signal, f"the {side} capture does not have it"))
        elif s.verdict == "undecided" and not comparison.lineup:
            out.append((s.signal, "the two sides could not be lined up"))
        elif s.verdict == "undecided":
            out.append((s.signal, "no state could be read outside the guard band of the active edge"))
        elif s.undecided_cycles:
            out.append(
                (s.signal, f"{group_digits(s.undecided_cycles)} cycles: it moves within the guard band of the edge")
            )
    return tuple(out)
