"""What the Line-up page says and counts: the verdict, both sides' coverage, slips, shares and drift. No Qt here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from app.comparison_text import lineup_word, signed
from tracecore.lineup.rivals import RIVAL_SHARE
from tracecore.quantities import MINUS, format_rate, format_time, group_digits, percent

if TYPE_CHECKING:
    from tracecore.comparison import Comparison
    from tracecore.lineup.coverage import SideCoverage
    from tracecore.lineup.drift import Drift
    from tracecore.lineup.lineup import Lineup
    from tracecore.lineup.slips import Slip

VerdictMark = Literal["fine", "look", "hand", "unknown"]
PROBED_CYCLES = 2000


@dataclass(frozen=True, slots=True)
class Verdict:
    """``mark`` is the shape beside it; only a line-up without rivals gets the tick."""

    mark: VerdictMark
    headline: str
    certainty: str
    pair: str


@dataclass(frozen=True, slots=True)
class SignalShare:
    """The share (0 to 1) of compared cycles in which a signal agrees; ``why_not`` says why it does not judge."""

    name: str
    active: str
    share: float | None
    why_not: str = ""


def verdict(lineup: Lineup) -> Verdict:
    """The line-up in a headline, how sure it is, and a worked pair of cycles."""
    if not lineup:
        return Verdict("unknown", "No line-up", f"None found. {lineup.reason}", "")
    start, end = (run.suspect_start - run.good_start for run in (lineup.runs[0], lineup.runs[-1]))
    offset = start
    count = f"{group_digits(abs(offset))} {'cycle' if abs(offset) == 1 else 'cycles'}"
    head = f"The suspect’s count is {count} {'ahead' if offset > 0 else 'behind'}"
    head = head if offset else "Both sides count the same cycles alike"
    if start != end:
        why = "" if lineup.slips else ", by cycles that are left out"
        head = f"The suspect’s count moves from {signed(start)} to {signed(end)}{why}"
    if lineup.status == "by hand":
        mark: VerdictMark = "hand"
        why = f": nothing vouches for it but you. {lineup.reason.partition('. ')[2]}".rstrip()
        head = f"Offset {signed(lineup.offset_cycles)}, by hand{kept_alone(lineup)}"
    else:
        mark = "fine" if lineup.status == "unique" and lineup.sure == "certain" else "look"
        why = f": {rival_words(lineup)}" if lineup.status == "unique" else f". {lineup.reason}"
    return Verdict(mark, head + ".", f"{lineup_word(lineup).capitalize()}{why}", worked_pair(lineup))


def kept_alone(lineup: Lineup) -> str:
    """What an offset counts that is tried or set by hand, where cycles are left out: all other offsets count every
    cycle of the captures."""
    return " counted without the cycles left out" if any(lineup.left_out) else ""


def rival_words(lineup: Lineup) -> str:
    """How near the next best offset comes."""
    rival = next((c for c in lineup.candidates if c.offset_cycles != lineup.offset_cycles), None)
    if rival is None:
        return "no other offset comes near."
    line = doubtful_from(lineup)
    if line is not None and rival.fit > line:
        # a rival that fits as well and is none all the same: why not is what counts
        return lineup.reason
    offset = f"{signed(rival.offset_cycles)}{kept_alone(lineup)}"
    return f"the next best fit, {offset}, agrees on {percent(rival.agreement)} of states."


def doubtful_from(lineup: Lineup) -> float | None:
    """The fit (0 to 1) from which on a rival makes the offset that is taken doubtful; None where no rivals were
    looked for."""
    own = next((c for c in lineup.candidates if c.offset_cycles == lineup.offset_cycles), None)
    return None if own is None or not lineup or lineup.status == "by hand" else RIVAL_SHARE * own.fit


def worked_pair(lineup: Lineup) -> str:
    """One pair of cycles, worked out: in the longest run, at good cycle 1 000 where it lies there."""
    run = max(lineup.runs, key=lambda r: r.length)
    good = 1000 if run.good_start <= 1000 < run.good_start + run.length else run.good_start
    suspect = good - run.good_start + run.suspect_start
    return f"Good cycle {group_digits(good)} is suspect cycle {group_digits(suspect)}."


def book_words(side: Literal["good", "suspect"], cover: SideCoverage) -> str:
    """Where each cycle of one side went, as a sum written out."""
    kind, whose = ("missing", "Known-good") if side == "good" else ("inserted", "Suspect")
    parts = [f"{group_digits(cover.matched)} matched", f"{group_digits(cover.slipped)} {kind}"]
    parts.append(f"{group_digits(cover.diverged)} diverged")
    if cover.unsure:
        parts.append(f"{group_digits(cover.unsure)} unsure")
    parts.append(f"{group_digits(cover.outside)} without partner")
    if cover.left_out:
        parts.append(f"{group_digits(cover.left_out)} left out")
    end = "" if cover.closes else " (this does not add up)"
    return f"{whose}: {' + '.join(parts)} = {group_digits(cover.total)} cycles{end}"


# ---- slips


def offset_after(slip: Slip) -> int:
    """The offset from behind the slip on."""
    return slip.suspect_cycle + slip.inserted - slip.good_cycle - slip.missing


def change_words(slip: Slip) -> str:
    """What a slip changes: ``+2 in suspect``, ``−1 in suspect``, ``318 against 326``."""
    if slip.kind in ("diverged", "unsure"):
        return f"{group_digits(slip.missing)} against {group_digits(slip.inserted)}"
    return f"{signed(slip.inserted - slip.missing)} in suspect"


def tag_words(slip: Slip) -> str:
    """A slip on the strip: its good cycle and what it changes."""
    change = slip.kind if slip.kind in ("diverged", "unsure") else signed(slip.inserted - slip.missing)
    return f"{group_digits(slip.good_cycle)}  {change}"


def course_words(lineup: Lineup) -> str:
    """How the offset moves over the capture."""
    if not lineup:
        return ""
    first, last = lineup.runs[0], lineup.runs[-1]
    start, end = first.suspect_start - first.good_start, last.suspect_start - last.good_start
    if not lineup.slips and start == end:
        return f"{signed(start)} throughout, no slip"
    if not lineup.slips:
        return f"from {signed(start)} at the start to {signed(end)} at the end by cycles left out, no slip"
    count = f"{group_digits(len(lineup.slips))} slip{'s' if len(lineup.slips) > 1 else ''}"
    return f"from {signed(start)} at the start to {signed(end)} at the end, in {count}"


def looks_like(comparison: Comparison, slip: Slip) -> str:
    """A guess at what a slip is, from what its cycles show: a signal that is rarely at that level outside them."""
    if slip.kind == "diverged":
        return "another path?"
    if slip.kind == "unsure":
        return "not settled"
    side = "suspect" if slip.inserted else "good"
    edges = comparison.lineup.suspect_edges_ps if slip.inserted else comparison.lineup.good_edges_ps
    first, count = (slip.suspect_cycle, slip.inserted) if slip.inserted else (slip.good_cycle, slip.missing)
    captures = comparison.request.suspect if slip.inserted else comparison.request.good
    period = captures[0].resolution_ps if captures else 1
    inside = edges[first + 1 : first + 1 + min(count, 64)] - period
    usual = edges[1:][:: max(1, len(edges) // 1024)] - period
    held = True
    for finding in comparison.signals:
        trace = finding.suspect_trace if side == "suspect" else finding.good_trace
        if trace is None or not len(inside) or finding.signal in comparison.lineup.clock.split("+"):
            continue
        level = trace.level_at(inside)
        if level[0] < 2 and bool((level == level[0]).all()) and float((trace.level_at(usual) == level[0]).mean()) < 0.1:
            return f"{finding.signal} {'high' if level[0] else 'low'}?"
        before = trace.level_at(edges[first : first + 1] - period)
        held = held and bool((level == before[0]).all())
    if held:
        return "a held cycle?"
    return "not clear"


# ---- signals


def signal_shares(comparison: Comparison) -> list[SignalShare]:
    """Every signal that both sides have, the worst first; those that do not judge last."""
    counting = set(comparison.lineup.clock.split("+"))
    rows = []
    for f in comparison.signals:
        if f.good_trace is None or f.suspect_trace is None:
            continue
        share = 1 - len(f.diverging_cycles) / f.compared_cycles if f.compared_cycles else None
        why = ""
        if f.signal in counting:
            share, why = None, "counts the cycles"
        elif share is None:
            why = "no cycle compared"
        else:
            still = [w for w, t in (("good", f.good_trace), ("suspect", f.suspect_trace)) if not _moves(t.levels)]
            if still:
                why = "still on both sides" if len(still) == 2 else f"still on the {still[0]} side"
        rows.append(SignalShare(f.signal, f.active, None if share is None else max(0.0, share), why))
    return sorted(rows, key=lambda r: (bool(r.why_not), 2.0 if r.share is None else r.share))


def not_judging(rows: list[SignalShare]) -> str:
    """The signals that do not judge the line-up, and why; empty where all do."""
    reasons: dict[str, list[str]] = {}
    for row in rows:
        if row.why_not:
            reasons.setdefault(row.why_not, []).append(row.name)
    if not reasons:
        return ""
    said = [f"{', '.join(names[:6])}{' and others' if len(names) > 6 else ''} {why}" for why, names in reasons.items()]
    return f"Not used to judge: {'; '.join(said)}."


def _moves(levels: np.ndarray) -> bool:
    head = levels[:4]
    return bool((head == 0).any() and (head == 1).any()) or bool((levels == 0).any() and (levels == 1).any())


# ---- offsets


def agreement_at(comparison: Comparison, offset: int) -> float | None:
    """The share of states that agree at an offset, over some cycles spread over the overlap; None without one."""
    lineup, request = comparison.lineup, comparison.request
    good, suspect = len(lineup.good_edges_ps) - 1, len(lineup.suspect_edges_ps) - 1
    low, high = max(0, -offset), min(good, suspect - offset)
    if high <= low or not request.good or not request.suspect:
        return None
    at = np.unique(np.linspace(low, high - 1, PROBED_CYCLES).astype(np.int64))
    good_ps = lineup.good_edges_ps[at + 1] - request.good[0].resolution_ps
    suspect_ps = lineup.suspect_edges_ps[at + offset + 1] - request.suspect[0].resolution_ps
    same, known = 0, 0
    for f in comparison.signals:
        if f.good_trace is None or f.suspect_trace is None or f.signal in lineup.clock.split("+"):
            continue
        a, b = f.good_trace.level_at(good_ps), f.suspect_trace.level_at(suspect_ps)
        sure = (a < 2) & (b < 2)
        known += int(sure.sum())
        same += int((sure & (a == b)).sum())
    return same / known if known else None


def hand_words(comparison: Comparison, offset: int) -> str:
    """What an offset that is being set would bring, beside its neighbours."""
    if any(comparison.lineup.left_out):
        # that would take the whole search: offsets are tried on the cycles that are kept
        return "Set it, or take the condition out, to see how many states agree there."
    here = agreement_at(comparison, offset)
    if here is None:
        return f"At {signed(offset)} the captures share no cycle."
    beside = [s for s in (agreement_at(comparison, offset + step) for step in (-1, 1)) if s is not None]
    words = f"At {signed(offset)} throughout, about {percent(here)} of states agree"
    words += f"; one cycle away no more than {percent(max(beside))}." if beside else "."
    return words.replace(" %", "\u00a0%")


# ---- drift


def drift_amount(found: Drift | None) -> str:
    """How much longer or shorter the suspect's cycle is: ``−0.21 %``, or in millionths where that is little."""
    if found is None:
        return ""
    ppm = found.ppm
    amount = f"{ppm / 1e4:+.2f} %".replace("-", MINUS) if abs(ppm) >= 1000 else f"{signed(round(ppm))} ppm"
    if not round(ppm):
        return "no drift to be seen"
    return f"{amount}, suspect cycle {'longer' if ppm > 0 else 'shorter'}"


def reads_to_ps(comparison: Comparison) -> int:
    """What the difference of two edges reads to: the sum of both sample periods."""
    return sum(c.resolution_ps for side in (comparison.request.good, comparison.request.suspect) for c in side[:1])


def drift_words(found: Drift | None) -> list[str]:
    """The clocks of both sides, how near their edges lie to a straight line, and what is made of that."""
    if found is None:
        return []
    words = [f"Suspect clock {format_rate(found.suspect_hz)}, good {format_rate(found.good_hz)}."]
    off, floor = format_time(found.residual_ps, digits=3), format_time(found.floor_ps, digits=3)
    line = f"Edges lie {off} off a straight line (root mean square); sampling alone leaves {floor}"
    words.append(f"{line}: both clocks are steady." if found.straight else f"{line}: a clock jitters or wanders.")
    if any(found.odd_cycles):
        odd = f"{group_digits(found.odd_cycles[0])} good and {group_digits(found.odd_cycles[1])} suspect"
        words.append(f"Left out of this: {odd} cycles that last unlike the others (pauses, lost edges).")
    if found.good_width or found.suspect_width:
        means = [f"±{w} {side}" for w, side in ((found.good_width, "good"), (found.suspect_width, "suspect")) if w]
        words.append(f"Times are carried over by edges averaged over {' and '.join(means)} cycles.")
    return words
