"""What the two sides showed: outcome, likely causes with their figures, verdicts, levels, skew, and what was left out.

All of it comes from the record of the comparison, so that a kept one serves where captures are absent; only figures
and what a cause sums up need the captures themselves.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from app.case.dates import day_words, signed_words
from app.case.proof_words import by_count_alone, proof_sentence, standing_proof
from app.case.record import SIDE_WORDS, SIDES
from app.comparison_text import Summary, median_text, summary_of, summary_of_record
from app.report.blocks import (
    Block,
    Bullets,
    Cell,
    Paragraph,
    Run,
    Table,
    Tone,
    Words,
    words,
)
from app.report.cautions import AT_THE_PINS
from app.report.report_input import Material, place_of
from app.report.shapes import VERDICT_SHAPES, Shape
from tracecore.name_lists import few_names
from tracecore.notices import AT_PINS
from tracecore.quantities import format_instant, format_time, format_volts, group_digits

if TYPE_CHECKING:
    from app.case.record import OpenCase
    from tracecore.comparison import Comparison

Blocks = tuple[Block, ...]
MOST_LEVEL_ROWS = 12
"""Level violations listed for each signal; all of them stand in the JSON."""
_TONES: dict[str, Tone] = {"diverges": "suspect", "undecided": "warning"}
KEPT = (
    "Captures of this case are absent, so this is what was kept of the last comparison; no figure can be drawn from it."
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
    if material.case is not None and material.case.unread:
        lost = f"Not all of the case could be read, so this may leave something out: {'; '.join(material.case.unread)}."
        blocks.append(Paragraph(words(lost), "warning", "triangle"))
    if material.record and told is not None:
        blocks.append(_units(material))
        blocks.append(Paragraph(words(told.lineup)))
        # a record of an older version has none
        if sentences := material.record.get("repeats", {}).get("sentences"):
            blocks.append(Paragraph(words(sentences[0])))
        blocks += _notices(material.record, grave=True)
        if lacks := not_compared_sentence(material):
            blocks.append(Paragraph(words(Run("Not compared: ", bold=True), lacks)))
    if material.case is not None:
        blocks += _standing(material.case)
    return tuple(blocks)


def _summary(material: Material) -> Summary | None:
    if material.comparison is not None:
        return summary_of(material.comparison)
    return summary_of_record(material.record) if material.record else None


def _units(material: Material) -> Table:
    """Both units in two lines: what they are called, where they sit, and the capture that is shown of each."""
    assert material.record is not None
    rows = []
    for side in SIDES:
        captures = material.record[side]
        more = len(captures) - 1
        parts = [captures[0] + (f" and {more} more" if more else "")]
        if material.case is not None:
            unit = material.case.unit(side)
            parts = [unit.name, unit.slot and f"slot {unit.slot}", unit.serial and f"serial {unit.serial}", *parts]
        rows.append((Cell(words(SIDE_WORDS[side])), Cell(words(" · ".join(part for part in parts if part)))))
    return Table((), tuple(rows))


def more_to_know(material: Material) -> Blocks:
    """What the first page leaves out: the line-up's reason, and lesser notices."""
    if not material.record:
        return ()
    more = _lineup_more(material)
    return (*((Paragraph(words(more)),) if more else ()), *_notices(material.record, grave=False))


def _lineup_more(material: Material) -> str:
    """Why the line-up is what it is, and whether a wire list was used; a kept record does not say."""
    if material.comparison is None:
        return ""
    lineup, wires = material.comparison.lineup, material.comparison.request.wire_list
    used = "" if wires is None else f" {wires.use({s.signal for s in material.comparison.signals})}"
    return ((lineup.reason if lineup else "") + used).strip()


def _notices(record: dict[str, Any], *, grave: bool) -> list[Block]:
    """What is to be known before it is believed; a record of an older version has sentences alone."""
    if "notices" not in record:
        old = record["warnings"] if grave else ()
        return [Bullets(tuple(words(sentence) for sentence in old), "warning", "triangle")] if old else []
    told = tuple(_notice(own) for own in record["notices"] if (own["severity"] != "info") is grave)
    if not told:
        return []
    hands = any(own["code"] in AT_PINS for own in record["notices"] if (own["severity"] != "info") is grave)
    caution = [Paragraph(words(AT_THE_PINS), "muted")] if hands else []
    return [Bullets(told, "warning", "triangle") if grave else Bullets(told, "muted"), *caution]


def _notice(own: dict[str, Any]) -> Words:
    return words(own["text"], f" {own['do']}" if own["do"] else "")


def _standing(case: OpenCase) -> list[Block]:
    """The case's state as on a repair card, and the proof where there is one."""
    opened = signed_words(case.opened_at, case.opened_by)
    stamped = signed_words(case.stamps[-1].at, case.stamps[-1].author) if case.stamps else ""
    state = words("State of the case: ", Run(case.state, bold=True), f" ({stamped})" if stamped else "")
    blocks: list[Block] = [Paragraph(words(state, f"; opened {opened}" if opened else ""))]
    if alone := by_count_alone(case):
        blocks.append(Paragraph(words(f"{alone[0].upper()}{alone[1:]}."), "warning"))
    if len(case.stamps) > 1:
        told = "; ".join(f"{s.state} {day_words(s.at)} {s.author}".rstrip() for s in case.stamps[:-1])
        blocks.append(Paragraph(words(f"Before that: {told}"), "muted"))
    proof = standing_proof(case)
    if proof is not None and proof.proof is not None:
        shape: Shape = "disc tick" if not proof.proof.diverging else "ring cross"
        blocks.append(Paragraph(words("Proof: ", proof_sentence(proof.proof)), "plain", shape))
    return blocks


def verdicts(material: Material) -> Blocks:
    """The table of all signals."""
    if not material.record:
        return ()
    rows = material.record["signals"]
    head = (
        "Signal", "Pin", "Verdict", "First cycle", "Good time", "Suspect time", "Cycles that diverge", "Missing",
        "Extra",
    )  # fmt: skip
    bold = frozenset(i for i, row in enumerate(rows) if row["verdict"] == "diverges")
    table = Table(head, tuple(_verdict(material, row) for row in rows), frozenset(range(3, 9)), bold, frozenset((0, 1)))
    note = (
        "Cycles count the known-good capture's active edges from 0. Those that diverge are counted among those in "
        "which the signal could be judged on both sides. Missing and extra are transitions; skew has its own table."
    )
    return (table, Paragraph(words(note), "muted"))


def _verdict(material: Material, row: dict[str, Any]) -> tuple[Cell, ...]:
    first, verdict = row["first_divergence"], row["verdict"]
    tone = _TONES.get(verdict, "plain")
    times = ("", "", "")
    if first is not None:
        times = group_digits(first["cycle"]), fine_time(first["good_ps"]), fine_time(first["suspect_ps"])
    plain = (
        *times,
        whole(f"{group_digits(row['diverging_cycles'])} of {group_digits(row['compared_cycles'])}"),
        group_digits(row["missing_transitions"]),
        group_digits(row["extra_transitions"]),
    )
    fault = f": {row['fault_mode']}" if row["fault_mode"] else ""
    return (
        Cell(words(material.name(row["signal"]))),
        Cell(words(place_of(row) or "–")),
        Cell(words(Run(verdict, tone=tone), fault), VERDICT_SHAPES[verdict]),
        *(Cell(words(text)) for text in plain),
    )


def fine_time(time_ps: int) -> str:
    """A time to seven digits, its unit held to it."""
    return whole(format_instant(time_ps))


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
            place_of(s) or "–", median_text(skew["median"], skew["uncertainty"]), format_time(skew["p95"]),
            format_time(skew["max"]), f"±{format_time(skew['uncertainty'])}", *_pairs(material, s["signal"]),
        )  # fmt: skip
        rows.append((Cell(words(material.name(s["signal"]))), *(Cell(words(text)) for text in texts)))
    if not rows:
        return ()
    pairs = ("Pairs",) if material.comparison is not None else ()
    head = ("Signal", "Pin", "Median", "95 % within", "Largest", "One pair, accurate to", *pairs)
    note = (
        "Skew: suspect delay after the active edge minus the known-good one, over all transitions that both "
        "sides have; a plus sign is late. "
        "One pair is accurate to the sum of both sample periods; the median of many is better, unless sampling is "
        "locked to the board's clock. The difference of medians beside setup and hold is over all transitions, so the "
        "two need not be alike."
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
    reasons = _reasons(material)
    if not reasons:
        return ()
    by_reason: dict[str, list[Words]] = {}
    for signal, why, count in reasons:
        more = f" ({group_digits(count)} {'cycle' if count == 1 else 'cycles'})" if count else ""
        by_reason.setdefault(why, []).append(words(material.name(signal, bold=True), more))
    items = []
    for why, signals in by_reason.items():
        joined = [part for name in signals for part in (*name, Run(", "))][:-1]
        items.append(words(*joined, f": {why}."))
    return (Bullets(tuple(items)),)


def not_compared_sentence(material: Material) -> str:
    """The same in a line for the first page; empty where all was compared."""
    reasons = _reasons(material)
    rows = {row["signal"]: row for row in material.record["signals"]} if material.record else {}
    no = [signal for signal, _why, _count in reasons if rows[signal]["verdict"] in ("missing", "undecided")]
    partly = [signal for signal, _why, _count in reasons if signal not in no]
    parts = [few_names(no, 4)] if no else []
    parts += [f"some cycles of {few_names(partly, 4)}"] if partly else []
    return f"{'; '.join(parts)}." if parts else ""


def _reasons(material: Material) -> tuple[tuple[str, str, int], ...]:
    if material.comparison is not None:
        return left_out(material.comparison)
    said = {"missing": "one of the captures does not have it", "undecided": "too little of it could be compared"}
    rows = material.record["signals"] if material.record else ()
    return tuple((row["signal"], said[row["verdict"]], 0) for row in rows if row["verdict"] in said)


def left_out(comparison: Comparison) -> tuple[tuple[str, str, int], ...]:
    """Signals that were not compared, each with why, and in how many cycles; 0 where it is in all of them."""
    out = []
    for s in comparison.signals:
        if s.verdict == "missing":
            side = "known-good" if s.good_trace is None else "suspect"
            out.append((s.signal, f"the {side} capture does not have it", 0))
        elif s.verdict == "undecided" and not comparison.lineup:
            out.append((s.signal, "the two sides could not be lined up", 0))
        elif s.verdict == "undecided" and s.is_too_still:
            out.append((s.signal, "it stands too still for its agreement to mean anything", 0))
        elif s.verdict == "undecided":
            out.append(
                (
                    s.signal,
                    "it always moves too close to the active edge for a state to be read",
                    0,
                )
            )
        elif s.undecided_cycles:
            out.append((s.signal, "it moves there too close to the active edge to be read", s.undecided_cycles))
    return tuple(out)
