"""From what a comparison found to its outcome. A bad board must never be cleared: what is not sure is "cannot tell"."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Protocol

from tracecore.compare.coverage_notices import ENOUGH, compared_share, not_compared_words
from tracecore.compare.fault_kinds import FaultKind
from tracecore.compare.findings import Cause, SignalFinding
from tracecore.compare.request import CompareRequest
from tracecore.lineup.lineup import Lineup
from tracecore.lineup.slips import SlipCount, slip_count
from tracecore.lineup.unseen import BESIDE
from tracecore.name_lists import few_names
from tracecore.notices import NOTICE_KINDS, Notice
from tracecore.outcome import Outcome, Reason
from tracecore.quantities import group_digits, percent
from tracecore.repeats.learned_variation import LearnedVariation
from tracecore.repeats.table import CaptureOutcome

_DOUBT_WORDS = {"local": "known in stretches only", "weak": "weak", "ambiguous": "ambiguous"}
LEAVE_OUT = "Leave out the cycles in which it runs on its own time, such as refresh; or add known-good captures."
SHOW_ONE = "Compare one of these in full."
MOST = 0.5
"""The share of the signals that must be judged, or the others stand for the board. A choice: nothing measures how often
a fault lies on a signal that never moves."""
_GUESS = 2 / 3
"""A line-up that is right less often than this decides nothing. Of 17 drawn faults with a doubtful one of 0.75 to 0.89
the offset was right in 15 (``tests/machine``)."""
_AT_ANY_OFFSET = frozenset((FaultKind.STUCK_LOW, FaultKind.STUCK_HIGH, FaultKind.STEADY_MID_LEVEL))
_START_LINES = ("RES", "RST", "CLR", "INIT", "MR", "POR")


class Judged(Protocol):
    """What of a comparison its outcome is decided by."""

    @property
    def request(self) -> CompareRequest: ...
    @property
    def lineup(self) -> Lineup: ...
    @property
    def signals(self) -> tuple[SignalFinding, ...]: ...
    @property
    def causes(self) -> tuple[Cause, ...]: ...
    @property
    def captures(self) -> tuple[CaptureOutcome, ...]: ...
    @property
    def notices(self) -> tuple[Notice, ...]: ...
    @property
    def good_slips(self) -> tuple[int, ...]: ...
    @property
    def tolerance(self) -> LearnedVariation | None: ...
    @property
    def as_good(self) -> frozenset[str]: ...
    @property
    def unbelieved(self) -> Mapping[str, str]: ...
    @property
    def only_elsewhere(self) -> tuple[CaptureOutcome, ...]: ...


def decide(judged: Judged) -> Outcome:
    """The outcome: a finding beats "cannot tell", and any doubt forbids "agrees"."""
    return _finding(judged) or _hindrance(judged) or _agreement(judged)


# ---- diverges


def _finding(judged: Judged) -> Outcome | None:
    clock = judged.lineup.clock.split("+")
    seen = tuple(s.signal for s in judged.signals if s.verdict == "diverges")
    wrong = tuple(signal for signal in seen if signal not in judged.unbelieved)
    if not wrong and (spoilt := tuple(signal for signal in (*seen, *clock) if signal in judged.unbelieved)):
        return _spoilt(judged, seen or spoilt)
    count = f"{len(wrong)} of {len(judged.signals)} signals diverge{'s' if len(wrong) == 1 else ''}."
    stops = _told(judged, "clock_stops")
    if bad_clock := tuple(s for s in wrong if s in clock):
        return Outcome(Reason.CLOCK, f"The clock {' and '.join(bad_clock)} is wrong; {count}", signals=wrong)
    if wrong and (apart := _other_program(judged, wrong) or _at_a_guess(judged, wrong)):
        return apart
    if wrong and not stops and (contents := _contents(judged, wrong)):
        return _besides(judged) or contents
    varies = bool(wrong) and judged.as_good.issuperset(wrong)
    if wrong and not varies:
        do = ""
        if judged.lineup.parts_for_good:
            at = group_digits(judged.lineup.parts_at or 0)
            do = f"From good cycle {at} on they never go together again: check that both run the same program."
        return Outcome(Reason.SIGNALS, count, do, wrong)
    if stops:
        return Outcome(Reason.STOPS, stops.text, stops.do, stops.signals)
    dead = _told(judged, "no_clock")
    if dead and len(judged.lineup.good_edges_ps) > 1:
        # the good side ticks, so that is found without any line-up
        return Outcome(Reason.CLOCK, dead.text, dead.do, dead.signals)
    unseen = _told(judged, "never_seen")
    if unseen and any(own.tells for own in judged.lineup.unseen):
        return Outcome(Reason.UNSEEN_STATE, unseen.text, unseen.do, unseen.signals)
    if varies:
        # a clock that stops, or a state that no good side shows, is a finding all the same
        alike = "The known-good captures differ from one another on the same, about as often:"
        own = Outcome(Reason.VARIES_ON_GOOD, f"{count} {alike} {few_names(wrong)}.", LEAVE_OUT, wrong)
        return _besides(judged) or own
    return _finding_elsewhere(judged) or _slips_tell(judged)


def _spoilt(judged: Judged, signals: tuple[str, ...]) -> Outcome:
    """Where nothing differs but what the instrument spoilt: the board may be sound, or not."""
    told = NOTICE_KINDS["volts_spoilt"].do
    first = next(judged.unbelieved[signal] for signal in signals if signal in judged.unbelieved)
    more = len(signals) - 1
    text = f"{first} {f'So it is with {more} more.' if more else ''}"
    return Outcome(Reason.TRACE_SPOILT, text.strip(), told, signals)


def _other_program(judged: Judged, wrong: tuple[str, ...]) -> Outcome | None:
    """Where the two share a start alone, and no signal differs before it: that a part is faulty is no better supported
    than that the programs are two. Whoever knows better sets the offset."""
    lineup = judged.lineup
    if not lineup.shares_a_start_alone:
        return None
    begins, parts = lineup.begins_at or 0, lineup.parts_at or 0
    if any(s.first_divergence and s.first_divergence.cycle < begins for s in judged.signals if s.signal in wrong):
        return None
    text = (
        f"The two start together at good cycle {group_digits(begins)}, and from {group_digits(parts)} on they do "
        "different things to the end: another program, or a fault in its first steps."
    )
    do = (
        "Check that both run the same program, from the same memory contents; if not, capture both with the same one. "
        f"If they do, set the offset {lineup.offset_cycles:+d} by hand and compare again."
    )
    return Outcome(Reason.OTHER_PROGRAM, text, do, wrong)


def _at_a_guess(judged: Judged, wrong: tuple[str, ...]) -> Outcome | None:
    """Where the offset is little better than a guess, what differs at it may differ at no other: captures of two
    stretches of one program look so. What stands still differs at every offset."""
    lineup = judged.lineup
    if not lineup.may_be_a_guess or lineup.confidence >= _GUESS:
        return None
    if any(s.fault_kind in _AT_ANY_OFFSET for s in judged.signals if s.signal in wrong):
        return None
    text = (
        f"The line-up is a guess ({percent(lineup.confidence, digits=2)}): at offset {lineup.offset_cycles:+d} "
        f"{len(wrong)} of {len(judged.signals)} signals differ, and at another one perhaps none."
    )
    return Outcome(Reason.DOUBTFUL_LINEUP, text, next_step(judged), wrong)


def _contents(judged: Judged, wrong: tuple[str, ...]) -> Outcome | None:
    """Where registers or memory came up otherwise, and nothing differs that they do not make too."""
    if not all(c.by_contents for c in judged.causes if c.signal in wrong):
        return None
    if not (told := _told(judged, "contents_differ")):
        return None
    text = "What differs may all come from what registers and memory held at power-up; a fault may make it as well."
    return Outcome(Reason.CONTENTS, text, told.do, wrong)


def _finding_elsewhere(judged: Judged) -> Outcome | None:
    if seen := judged.only_elsewhere:
        return _in_captures(judged, seen, "agrees")
    if told := _told(judged, "other_capture_slips"):
        return Outcome(Reason.OTHER_CAPTURE, told.text, told.do)
    return None


def _besides(judged: Judged) -> Outcome | None:
    """What other captures show where the shown one cannot tell."""
    seen = tuple(own for own in judged.captures[1:] if own.diverges)
    return _in_captures(judged, seen, "cannot tell") if seen else None


def _in_captures(judged: Judged, seen: Sequence[CaptureOutcome], shown: str) -> Outcome:
    signals = tuple(sorted(set().union(*(own.diverges for own in seen))))
    names = few_names((own.name for own in seen), 4)
    text = (
        f"The shown pair {shown}, but {group_digits(len(seen))} of {group_digits(len(judged.captures))} suspect "
        f"captures diverge{'s' if len(seen) == 1 else ''}, on {', '.join(signals[:6])}: {names}."
    )
    return Outcome(Reason.OTHER_CAPTURE, text, SHOW_ONE, signals)


def _slips_tell(judged: Judged) -> Outcome | None:
    count = slip_count(judged.lineup.slips)
    if count is None or not count.tells(judged.good_slips):
        return None
    return Outcome(Reason.SLIPS, slipped_sentence(count, judged.good_slips))


# ---- cannot tell


def _hindrance(judged: Judged) -> Outcome | None:
    lineup = judged.lineup
    if not lineup:
        if clock := _told(judged, "no_clock"):
            return Outcome(Reason.NO_CLOCK, clock.text, clock.do, clock.signals)
        text = "The two sides could not be lined up, so nothing was compared by cycle."
        return Outcome(Reason.NO_LINEUP, text, next_step(judged))
    if not _is_sure(lineup, learnt=judged.tolerance is not None):
        word = _DOUBT_WORDS.get(lineup.status) or ("not certain" if lineup.sure == "likely" else lineup.sure)
        text = f"The line-up is {word}, so agreement proves nothing."
        return Outcome(Reason.DOUBTFUL_LINEUP, text, next_step(judged))
    if compared_share(lineup) < ENOUGH and judged.request.offset is None:
        told = _told(judged, "too_little_compared")
        return Outcome(Reason.TOO_LITTLE, told.text if told else "Too little was compared.", _capture_more(lineup))
    if not _decided(judged):
        text = "No signal besides the clock moves and is decided in enough cycles to be judged."
        return Outcome(Reason.NOTHING_DECIDED, text, "Capture a stretch in which the signals move.")
    if few := _too_few(judged):
        return few
    count = slip_count(lineup.slips)
    if count is not None and not any(judged.good_slips):
        text = slipped_sentence(count, ())
        return Outcome(Reason.SLIPS_UNKNOWN, text, "Compare another known-good capture as well.")
    if count is not None and count.places > (usual := most_usual(judged.good_slips)):
        text = (
            f"Every matched cycle agrees, but the suspect {count.words}. Another known-good capture takes other cycles "
            f"in {group_digits(max(judged.good_slips))}; a sound machine may by chance in {group_digits(usual)}."
        )
        return Outcome(Reason.SLIPS_UNKNOWN, text, "Look where it waits, or compare further known-good captures.")
    if unsettled := _not_compared(lineup):
        return Outcome(Reason.SLIPS_UNKNOWN, unsettled, "Look at these cycles side by side.")
    if alone := _shown_nowhere(lineup):
        do = "Look at these cycles by themselves, or capture again with what causes them at one place on both sides."
        return Outcome(Reason.SLIPS_UNKNOWN, alone, do)
    doubt = next((own for own in judged.notices if own.severity == "doubt" and own.code != "doubtful_lineup"), None)
    return None if doubt is None else Outcome(Reason.IN_DOUBT, doubt.text, doubt.do, doubt.signals)


def most_usual(good_slips: Sequence[int]) -> int:
    """How many places with other cycles are no more than another capture of a sound machine shows, of which the known
    ones show ``good_slips``: of two counts that come alike the one is above this in some thousand (both Poisson, the
    square roots of which spread by 1/2: F. J. Anscombe, Biometrika 35, 1948; from memory).

    >>> most_usual((0, 1)), most_usual((100,))
    (11, 150)
    """
    root = math.sqrt(max(good_slips, default=0) + 3 / 8)
    return math.floor((root + 3.2 / math.sqrt(2)) ** 2 - 3 / 8)


def _not_compared(lineup: Lineup) -> str:
    """Where a fault may hide though every matched cycle agrees: known-good captures that slip excuse cycles more or
    fewer, but no cycles of both sides that were left uncompared. Empty without such."""
    apart = [s for s in lineup.slips if s.kind == "diverged" or min(s.inserted, s.missing) > BESIDE]
    if not apart:
        return ""
    places = f"{group_digits(len(apart))} stretch{'' if len(apart) == 1 else 'es'}"
    cycles = group_digits(sum(max(s.inserted, s.missing) for s in apart))
    return (
        f"Every matched cycle agrees, but in {places}, first at good cycle {group_digits(apart[0].good_cycle)}, "
        f"{cycles} cycles could not be compared."
    )


def _shown_nowhere(lineup: Lineup) -> str:
    """Where a fault may hide though every matched cycle agrees, and known-good captures slip too: cycles of one side
    that the other shows at no place, as an interrupt's routine with a fault in it. Empty without such."""
    told = [
        f"{group_digits(count)} {side}"
        for count, side in zip(lineup.shown_nowhere, ("good", "suspect"), strict=True)
        if count
    ]
    if not told:
        return ""
    several = sum(lineup.shown_nowhere) > 1
    return (
        f"Every matched cycle agrees, but {' and '.join(told)} cycle{'s' if several else ''} without partner "
        f"{'are' if several else 'is'} shown nowhere by the other side, and could not be compared."
    )


def _is_sure(lineup: Lineup, *, learnt: bool) -> bool:
    return lineup.may_clear or (learnt and lineup.status == "differs")


def _capture_more(lineup: Lineup) -> str:
    """What brings more cycles to compare, where the line-up itself is sure."""
    sides = zip(("known-good", "suspect"), (own.total - own.left_out for own in lineup.coverage), strict=True)
    (short, few), (_, many) = sorted(sides, key=lambda side: side[1])
    if lineup.matched_cycles < ENOUGH * few:
        return "Capture both sides from the same event on, and for as long."
    return (
        f"Capture the {short} side as long as the other, {group_digits(many)} cycles from the same event on: "
        f"it has {group_digits(few)}."
    )


def next_step(judged: Judged) -> str:
    """What makes a line-up surer, and has not been done already."""
    request, names = judged.request, {s.signal.upper() for s in judged.signals}
    steps = []
    if not request.same_start:
        steps.append("capture both sides from the same event on, such as the release of reset, and say so")
    if not any(line in name for name in names for line in _START_LINES):
        steps.append("capture the reset line as well")
    if request.offset is None:
        steps.append("set the offset by hand if it is known")
    if not steps:
        steps.append("capture more signals, over a longer time")
    text = "; or ".join(steps)
    return f"{text[0].upper()}{text[1:]}."


# ---- agrees


def _decided(judged: Judged) -> list[SignalFinding]:
    """The signals whose agreement means something, without those that count the cycles."""
    clock = judged.lineup.clock.split("+")
    counted = {signal for own in judged.notices if own.code == "left_out_signal" for signal in own.signals}
    return [s for s in judged.signals if s.verdict == "agrees" and s.signal not in {*clock, *counted}]


def _too_few(judged: Judged) -> Outcome | None:
    """Where most signals stand still, or are on one side only, agreement of the rest is not that of the board."""
    decided, others = len(_decided(judged)), _others(judged)
    if decided >= MOST * others:
        return None
    text = f"Only {decided} of {others} signals besides the clock could be judged: {_unjudged_words(judged)}."
    return Outcome(Reason.FEW_SIGNALS, text, "Capture on both sides a stretch in which more of them move.")


def _others(judged: Judged) -> int:
    clock = judged.lineup.clock.split("+")
    return sum(s.signal not in clock for s in judged.signals)


def _unjudged_words(judged: Judged) -> str:
    """How many signals could not be judged, and why; empty where there are none."""
    lacking = sum(s.verdict == "missing" for s in judged.signals)
    still = _others(judged) - len(_decided(judged)) - lacking
    parts = [f"{still} stand{'s' if still == 1 else ''} too still, undecided or left out"] if still else []
    parts += [f"{lacking} {'is' if lacking == 1 else 'are'} on one side only"] if lacking else []
    return ", ".join(parts)


def _agreement(judged: Judged) -> Outcome:
    decided = _decided(judged)
    clock = judged.lineup.clock.split("+")
    # the table of all signals counts the clock among those that agree
    with_it = "the clock and " if any(s.signal in clock and s.verdict == "agrees" for s in judged.signals) else ""
    others = f"{'other ' if with_it else ''}signal{'' if len(decided) == 1 else 's'}"
    parts = [f"No divergence on {with_it}{len(decided)} {others}"]
    if by_state := [s.compared_cycles for s in decided if not s.by_transitions]:
        parts[0] += (
            f", each decided in at least {group_digits(min(by_state))} of "
            f"{group_digits(judged.lineup.matched_cycles)} cycles"
        )
    if by_transitions := [s.signal for s in decided if s.by_transitions]:
        parts.append(f"{few_names(by_transitions)} by transitions alone, which come with the clock's")
    if unjudged := _unjudged_words(judged):
        parts.append(f"not judged: {unjudged}")
    if rest := not_compared_words(judged.lineup):
        parts.append(rest)
    if count := slip_count(judged.lineup.slips):
        so_do = _slipping_of(judged.good_slips)
        parts.append(f"the suspect {count.words}, and so do {so_do}; these cycles were not compared one by one")
    return Outcome(Reason.ALL_AGREE, f"{'; '.join(parts)}.", signals=tuple(s.signal for s in decided))


def slipped_sentence(count: SlipCount, good_slips: Sequence[int]) -> str:
    """Says that all that is matched agrees, and yet the suspect takes other cycles.

    ``good_slips`` are how many slips each further known-good capture shows: whether a good machine does that too.
    """
    text = f"Every matched cycle agrees, but the suspect {count.words}."
    if not good_slips:
        return f"{text} Whether a good unit does that too is not known."
    seen = f"Seen in {_slipping_of(good_slips)}"
    return (
        f"{text} {seen} too: it may be no fault." if any(good_slips) else f"{text} {seen}: it counts as a difference."
    )


def _slipping_of(good_slips: Sequence[int]) -> str:
    total = len(good_slips)
    return (
        f"{sum(n > 0 for n in good_slips)} of {group_digits(total)} other known-good capture{'' if total == 1 else 's'}"
    )


def _told(judged: Judged, code: str) -> Notice | None:
    return next((own for own in judged.notices if own.code == code), None)
