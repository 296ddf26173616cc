"""Sentences and words that the command line, the reports and the window share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from tracecore.outcome import Outcome, Reason
from tracecore.own_names import CYCLE_ROWS, file_channels
from tracecore.quantities import format_rate, format_time, group_digits, percent

if TYPE_CHECKING:
    from app.case.values import HeldCapture
    from tracecore.capture import Capture
    from tracecore.compare.findings import SignalFinding, Skew
    from tracecore.comparison import Comparison
    from tracecore.lineup.lineup import Lineup
    from tracecore.repeats.learned_variation import LearnedVariation
    from tracecore.repeats.table import RepeatTable, SignalRepeats

SEVERITY_MARKS = {"doubt": "?", "look": "▲", "info": "·"}
"""Each severity has a shape besides its word."""

VERDICT_MARKS = {"agrees": "✓", "diverges": "▲", "undecided": "?", "missing": "○"}
"""Each verdict has a shape besides its word."""

IN_FULL = 3
"""So many likely causes are told with what speaks for them; what follows from one fault may be dozens."""

LINEUP_WORDS = {
    "unique": "certain",
    "weak": "doubtful",
    "ambiguous": "ambiguous",
    "partial": "partial",
    "differs": "doubtful",
    "local": "in stretches only",
    "by hand": "set by hand",
    "none": "none",
}


def lineup_word(lineup: Lineup) -> str:
    """How sure a line-up is, in a word or two; never at odds with its confidence."""
    word = LINEUP_WORDS[lineup.status]
    if lineup.status == "unique":
        return str(lineup.sure)
    return f"{word}, {lineup.sure}" if lineup.status == "partial" else word


def signed(number: int) -> str:
    """A count with its sign, grouped: +12."""
    return ("+" if number > 0 else "") + group_digits(number)


def offset_words(lineup: Lineup) -> str:
    """Suspect cycle minus good cycle, in the captures' own numbers: where the first and the last matched cycles lie
    apart by another number, since cycles slip or are left out, from the one to the other."""
    ends = [run.suspect_start - run.good_start for run in (lineup.runs[0], lineup.runs[-1])]
    return " to ".join(signed(offset) for offset in dict.fromkeys(ends))


def lineup_sentence(lineup: Lineup) -> str:
    """The line-up in one or two sentences, with a worked pair of cycles."""
    if not lineup:
        return f"No line-up: {lineup.reason}"
    run = max(lineup.runs, key=lambda r: r.length)
    good = 1000 if run.good_start <= 1000 < run.good_start + run.length else run.good_start
    suspect = good - run.good_start + run.suspect_start
    # nothing vouches for an offset by hand but the person
    sure = "" if lineup.status == "by hand" else f" (confidence {percent(lineup.confidence)})"
    return (
        f"Lined up on {lineup.clock}, {lineup.edge} edge, offset {offset_words(lineup)}, "
        f"{lineup_word(lineup)}{sure}: good cycle {group_digits(good)} is suspect cycle "
        f"{group_digits(suspect)}; {group_digits(lineup.matched_cycles)} cycles compared."
    )


def slipping_sentence(slipping: int, captures: int, good_slips: Sequence[int]) -> str:
    """Says in how many of many captures there are slips, and whether other known-good ones do that; empty where none
    does."""
    if not slipping:
        return ""
    take = "takes" if slipping == 1 else "take"
    text = f"{group_digits(slipping)} of {_counted(captures, 'capture')} {take} other cycles than the known-good one"
    if not good_slips:
        return f"{text}; whether a good unit does that too is not known."
    return f"{text}; so do {_slipping_of(good_slips)}."


def shifting_sentence(shifting: Mapping[str, int], captures: int) -> str:
    """Says which signals are steadily late or early in how many of many captures, most often first; empty where none
    is."""
    if not shifting:
        return ""
    order = sorted(shifting, key=lambda s: (-shifting[s], s))
    words = ", ".join(f"{s} in {group_digits(shifting[s])}" for s in order[:4])
    more = f" and {len(order) - 4} more signals" if len(order) > 4 else ""
    return f"Within tolerance but steadily late or early, of {_counted(captures, 'capture')}: {words}{more}."


def repeats_sentences(table: RepeatTable) -> tuple[str, ...]:
    """Over two suspect captures or more: which signal is first, and each signal's share with its interval and where
    it diverges; what the captures prove where none does."""
    if table.captures < 2:
        return ()
    if not table.diverging:
        return (table.proof().sentence,)
    return (table.first_verdict().sentence, *(_repeated(row) for row in table.rows() if row.share.diverging))


def _repeated(row: SignalRepeats) -> str:
    more = len(row.captures) - 4 + row.forgotten
    names = ", ".join(row.captures[:4]) + (f" and {group_digits(more)} more" if more > 0 else "")
    return f"{row.signal} diverges in {row.share.sentence}: {names}."


def varies_sentences(tolerance: LearnedVariation | None) -> tuple[str, ...]:
    """What varies among the known-good captures and is let off; nothing with one of them."""
    return () if tolerance is None else tolerance.described()


def _slipping_of(good_slips: Sequence[int]) -> str:
    return f"{sum(n > 0 for n in good_slips)} of {_counted(len(good_slips), 'other known-good capture')}"


def _counted(number: int, noun: str, several: str = "") -> str:
    """A number with its noun: 1 place, 3 places."""
    return f"{group_digits(number)} {noun if number == 1 else several or noun + 's'}"


SHOW_IN_WINDOW = "Press Show capture (D)."
SHOW_IN_TERMINAL = "Name its file first after --suspect."


def next_step(outcome: Outcome, how_to_show: str) -> str:
    """What to do next, and where another capture is to be shown, how that is done in this place."""
    return f"{outcome.do} {how_to_show}" if outcome.reason is Reason.OTHER_CAPTURE else outcome.do


@dataclass(frozen=True, slots=True)
class Summary:
    """What every output says first: ``word`` is the outcome's, empty where a record of an older version lacks it;
    ``headline`` one sentence or two, ``do`` what to do next, ``lineup`` how the cycles were paired."""

    word: str
    headline: str
    do: str
    lineup: str


def summary_of(comparison: Comparison) -> Summary:
    """The summary of a comparison."""
    outcome = comparison.outcome
    return Summary(outcome.word, outcome.headline, outcome.do, lineup_sentence(comparison.lineup))


def summary_of_record(record: Mapping[str, Any]) -> Summary:
    """The same of the record of a comparison; an older version's has no outcome, so its signals are counted."""
    lineup = record["lineup"]
    lined = "No line-up."
    if lineup["offset_cycles"] is not None:
        lined = (
            f"Lined up on {lineup['clock']}, {lineup['edge']} edge, offset {signed(lineup['offset_cycles'])} "
            f"(confidence {percent(lineup['confidence'])}); {group_digits(lineup['compared_cycles'])} cycles compared."
        )
    if "outcome" in record:
        kept = Outcome(Reason(record["outcome_reason"]), record["outcome_text"], record["outcome_do"])
        return Summary(kept.word, kept.headline, kept.do, lined)
    rows = record["signals"]
    diverging = sum(row["verdict"] == "diverges" for row in rows)
    if not diverging:
        return Summary("", "No divergence is on record; an older version compared it, so compare again.", "", lined)
    text = f"{diverging} of {len(rows)} signals diverge{'s' if diverging == 1 else ''}."
    return Summary("diverges", text, "", lined)


def skew_text(skew: Skew | None) -> str:
    """Median skew and what one pair reads to.

    >>> from tracecore.compare.findings import Skew
    >>> skew_text(Skew(7442, 20_000, 30_000, 83_334, 500))
    '+7.4 ns ±83.33 ns'
    """
    if skew is None:
        return ""
    return f"{median_text(skew.median_ps, skew.uncertainty_ps)} ±{format_time(skew.uncertainty_ps)}"


def median_text(median_ps: int, uncertainty_ps: int) -> str:
    """A median of skew, no finer than a hundredth of what one pair reads to: more digits would only look exact.

    >>> median_text(641, 83_334)
    '+600 ps'
    """
    step = 10 ** max(0, len(str(uncertainty_ps)) - 3)
    return format_time(step * round(median_ps / step), sign=True)


def pin_text(finding: SignalFinding) -> str:
    """Slot and pin, ``7-B04``, or a dash where the sheet does not say."""
    return finding.place or "–"


def pace_words(capture: Capture | HeldCapture) -> str:
    """How finely it was taken: a rate, or the finest step of the times of changes, which have no rate."""
    if capture.reader == CYCLE_ROWS:
        return "a row is a cycle"
    if "change" in capture.reader:
        return f"times to {format_time(capture.resolution_ps)}"
    return format_rate(10**12 / capture.resolution_ps)


def span_words(capture: Capture | HeldCapture) -> str:
    """The same, and how long it is; rows that the board's clock took have no length in time."""
    if capture.reader == CYCLE_ROWS:
        return pace_words(capture)
    return f"{pace_words(capture)} · {format_time(capture.stop_ps - capture.start_ps)}"


def capture_line(capture: Capture | HeldCapture) -> str:
    """One line of facts: layout, rate, length, channels."""
    channels = len(file_channels(capture.channels, capture.reader))
    return f"{capture.reader} · {span_words(capture)} · {channels} channel{'s' if channels != 1 else ''}"
