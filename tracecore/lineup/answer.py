"""The line-up as it is found: an offset, where both captures are followed from, how sure it is and why, in words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from tracecore.capture import Int64
from tracecore.lineup.alignment import Places
from tracecore.lineup.explained import ANY_START, FEWEST_CYCLES, SAME_START, Explained
from tracecore.lineup.fit import Fit, fit_at, fit_of_runs
from tracecore.lineup.follower import Stretch
from tracecore.lineup.gap_places import gaps_placed
from tracecore.lineup.offset import WHOLE, BothWords, anchor, both_words, once_moves, search
from tracecore.lineup.rejoin import LEAST_TOGETHER
from tracecore.lineup.rivals import (
    Choice,
    Sides,
    Status,
    agreeing_elsewhere,
    agrees_throughout,
    choose,
    less_contradicted,
    telling_signals,
    with_repeats,
    would_tell,
)
from tracecore.lineup.slips import follow, slips_of
from tracecore.name_lists import few_names

MOST_TOLD = 8  # offsets whose facts are told
_FITS = 0.25  # what a stretch of cycles reaches in which the best two thirds of the signals differ in 0.3 %
CERTAIN, LIKELY = 0.99, 0.9
"""The least confidence of the words: of such line-ups at least that share is right."""
BELOW_LIKELY = 0.89
_NAMED = 4  # signals that are named in a sentence


@dataclass(frozen=True, slots=True)
class Candidate:
    """One offset that was tried: suspect cycle = good cycle + ``offset_cycles``.

    ``agreement`` is the share (0 to 1) of compared states that agree; ``overlap_cycles`` how many cycles
    both captures have there; ``disagreeing`` how many signals differ on more than 1 % of them. ``fit`` (0 to 1) is
    what offsets are judged by: how much of both captures it explains, as a share of what the best one does.
    """

    offset_cycles: int
    agreement: float
    overlap_cycles: int
    disagreeing: int
    fit: float = 0.0
    agrees: bool = False
    """Does every decided state of every shared signal agree over the whole overlap?"""


@dataclass(frozen=True, slots=True)
class Answer:
    """What was found out of both sides, before it is dressed as a ``Lineup``; what the slips are is said there.
    ``bits`` speak for the offset, and ``begins`` is where the two start together, as ``Explained`` has it."""

    status: Status
    reason: str
    offset: int = 0
    confidence: float = 0.0
    stretches: tuple[Stretch, ...] = ()
    tried: tuple[Candidate, ...] = ()
    rivals: tuple[Candidate, ...] = ()
    bits: float = math.inf
    begins: int | None = None


def answer(sides: Sides, clock: str, offset: int | None, same_start: bool) -> Answer:
    """Finds the offset, or takes the one that was set by hand, and follows both captures from it."""
    if sides.cycles < FEWEST_CYCLES:
        return Answer(
            "none",
            f"{clock} makes only {max(sides.cycles, 0)} whole cycles on one side; at least "
            f"{FEWEST_CYCLES} are needed. Capture longer, or choose another clock.",
        )
    if offset is not None:
        return _by_hand(sides, offset)
    if not sides.live.any():
        return Answer("none", _nothing_moves(sides))
    words = both_words(sides.good, sides.suspect, sides.live)
    tried = search(words, SAME_START if same_start else ANY_START)
    choice = choose(tried, sides.cycles)
    if choice is not None:
        choice = less_contradicted(choice, sides)
        if max(sides.counts) <= WHOLE:
            choice = agreeing_elsewhere(choice, tried, sides)
    if choice is not None and not choice.refused:
        at = anchor(words, choice.taken)
        stretches = _followed(sides, words, Places(at, at + choice.taken.offset))
        if not _matched(stretches):
            stretches = _start_alone(sides, choice.taken)
        # of a dead board most of a cycle's signals may agree and no two cycles be alike: that is no line-up
        if _matched(stretches):
            return _found(sides, words, tried, choice, stretches, same_start)
    return Answer("none", _no_offset(sides, same_start), tried=_facts(sides, tried[:MOST_TOLD]))


def _followed(sides: Sides, words: BothWords, at: Places) -> list[Stretch]:
    return gaps_placed(follow(*words[:2], at, words.live), sides.good, sides.suspect, sides.live)


def _start_alone(sides: Sides, way: Explained) -> list[Stretch]:
    """The few cycles round a start, where nothing else fits: a fault that makes most signals wrong from the first cycle
    on moves no release of the reset. None where no signal moves once on both sides, and there at this offset."""
    at = [once_moves(side, sides.live) for side in (sides.good, sides.suspect)]
    released = any(good + way.offset == suspect for good, suspect in zip(*at, strict=True) if good and suspect)
    if way.begins is None or not released:
        return []
    low, high = max(0, -way.offset), min(sides.counts[0], sides.counts[1] - way.offset)
    parts = ("diverged", low, way.start), ("paired", way.start, way.stop), ("diverged", way.stop, high)
    return [Stretch(kind, a, b, a + way.offset, b + way.offset) for kind, a, b in parts if b > a]  # type: ignore[arg-type]


def _by_hand(sides: Sides, offset: int) -> Answer:
    """The offset as it was set, and slips followed from where it fits best; where it fits nowhere, kept throughout."""
    fit = fit_at(sides.good, sides.suspect, offset, sides.live)
    said = f"Offset {offset:+d} was set by hand"
    if fit is not None and fit.at_best >= _FITS:
        words = both_words(sides.good, sides.suspect, sides.live)
        at = Places(fit.anchor, fit.anchor + offset)
        stretches = _followed(sides, words, at)
        if _holds_at(stretches, at):
            if not slips_of(stretches):
                own = (_told(fit, sides, 1.0),)
                return Answer("by hand", f"{said}. No slip is seen.", offset, 1.0, tuple(stretches), own)
            whole = fit_of_runs(sides.good, sides.suspect, *starts_of(stretches), sides.live, offset)
            holds = sides.good_number(fit.anchor)
            said += f". It holds round good cycle {holds}, and slips are followed from there, both ways."
            return Answer("by hand", said, offset, 1.0, tuple(stretches), (_told(whole, sides, 1.0),))
    low, high = max(0, -offset), min(sides.counts[0], sides.counts[1] - offset)
    kept = (Stretch("paired", low, high, low + offset, high + offset),) if high > low else ()
    said += ". It fits nowhere, so it is kept throughout and no slip is followed."
    tried = () if fit is None else (_told(fit, sides, 1.0),)
    return Answer("by hand", said, offset, 1.0 if fit else 0.0, kept, tried)


def _holds_at(stretches: Iterable[Stretch], at: Places) -> bool:
    """Is the pair of cycles in a stretch of pairs long enough to be no chance, or as long as the captures allow?"""
    return any(
        s.kind == "paired"
        and s.good_start <= at.good < s.good_stop
        and s.suspect_start - s.good_start == at.suspect - at.good
        and (s.good_stop - s.good_start >= LEAST_TOGETHER or not slips_of(stretches))
        for s in stretches
    )


def _found(
    sides: Sides,
    words: BothWords,
    tried: Sequence[Explained],
    choice: Choice,
    stretches: list[Stretch],
    same_start: bool,
) -> Answer:
    """The answer where an offset explains more than chance does."""
    taken = choice.taken
    slips = slips_of(stretches)
    offset = _start_followed(stretches, tried, taken)
    if slips:
        # the offsets of what was followed are no rivals of one another
        own = frozenset(s.suspect_start - s.good_start for s in stretches if s.kind == "paired")
        choice = less_contradicted(choose(tried, sides.cycles, own - {taken.offset}) or choice, sides)
        if all(slip.kind != "diverged" for slip in slips) and _matched(stretches) >= sides.cycles / 2:
            choice = replace(choice, whole=True)
        whole = fit_of_runs(sides.good, sides.suspect, *starts_of(stretches), sides.live, offset)
    else:
        own = frozenset()
        whole = fit_at(sides.good, sides.suspect, taken.offset, sides.live)  # type: ignore[assignment]
    short = max(sides.counts) <= WHOLE
    choice = with_repeats(choice, tried, words[:2], sides if short else None, own)
    status, reason, confidence = _status(sides, choice, whole, stretches, same_start)
    rivals = (*choice.repeats, *choice.rivals) if status in ("weak", "ambiguous") else ()
    told = [t for t in (*rivals, *(t for t in tried if t not in rivals)) if t.offset != offset][: MOST_TOLD - 1]
    facts = _facts(sides, told, taken.score, frozenset(t.offset for t in rivals))
    own_facts = _told(whole, sides, 1.0, agrees=bool(rivals) and not slips and agrees_throughout(sides, taken.offset))
    near = {t.offset for t in rivals}
    return Answer(
        status,
        reason,
        offset,
        confidence,
        tuple(stretches),
        (own_facts, *facts),
        tuple(f for f in facts if f.offset_cycles in near),
        taken.bits,
        taken.begins,
    )


def _start_followed(stretches: Sequence[Stretch], tried: Sequence[Explained], taken: Explained) -> int:
    """The offset that is told: that of the first stretch, where it holds a start in common or an event that both show
    once, and slips lead from there to the offset taken. However little agrees there, the two begin so."""
    first = next(s for s in stretches if s.kind == "paired")
    at = first.suspect_start - first.good_start
    begins = (t.begins for t in tried if t.offset == at and t.begins is not None)
    return at if any(first.good_start <= cycle < first.good_stop for cycle in begins) else taken.offset


def _facts(
    sides: Sides, tried: Sequence[Explained], best: float = 0.0, whole: frozenset[int] = frozenset()
) -> tuple[Candidate, ...]:
    """Offsets as they are told; those in ``whole`` are asked whether all of the overlap agrees."""
    out = []
    for t in tried:
        fit = fit_at(sides.good, sides.suspect, t.offset, sides.live)
        if fit is not None:
            share = min(1.0, max(0.0, t.score) / best) if best > 0 else 0.0
            out.append(_told(fit, sides, share, agrees=t.offset in whole and agrees_throughout(sides, t.offset)))
    return tuple(out)


def _told(fit: Fit, sides: Sides, share: float, agrees: bool = False) -> Candidate:
    disagreeing = int((fit.agree[sides.live] < 0.99).sum())
    return Candidate(fit.offset, fit.agreement, fit.overlap, disagreeing, round(share, 4), agrees)


def _status(
    sides: Sides, choice: Choice, whole: Fit, stretches: Sequence[Stretch], same_start: bool
) -> tuple[Status, str, float]:
    """How sure the offset taken is, why, and the chance that it is right."""
    taken = choice.taken
    chance = round(choice.chance, 4)
    if slips_of(stretches) and stretches[0].kind == "diverged" and whole.overlap < 0.5 * sides.cycles:
        share = whole.overlap / sides.cycles
        text = f"Only stretches of the two agree, {whole.overlap} of {sides.cycles} cycles, each at its own offset."
        return "local", text, round(min(chance, share / 2), 4)
    if choice.repeats:
        return _repeated(sides, choice, whole, chance, same_start)
    disagreeing = int((whole.agree[sides.live] < 0.999).sum())
    if whole.spread > 0.25 and disagreeing > 2:
        text = (
            f"{disagreeing} of {int(sides.live.sum())} signals disagree even in the best stretch: perhaps "
            "another program or another phase."
        )
        return "differs", text, min(chance, BELOW_LIKELY)
    if choice.rivals:
        names = ", ".join(f"{r.offset:+d}" for r in choice.rivals[:3])
        text = f"Offset{'s' if len(choice.rivals) > 1 else ''} {names} explain{'' if len(choice.rivals) > 1 else 's'} "
        return "weak", f"{text}nearly as much. {_anew(same_start)}", min(chance, BELOW_LIKELY)
    if taken.late:
        start = sides.good_number(taken.start)
        text = f"The two agree from good cycle {start} on alone; what lies before it differs. {_anew(same_start)}"
        return "weak", text, min(chance, 0.5)
    overlap = taken.overlap
    if overlap < 0.25 * sides.cycles:
        return "partial", f"The captures share only {overlap} cycles at the offset that fits.", chance
    if chance < LIKELY:
        return "weak", f"It leads the other offsets by little. {_anew(same_start)}", chance
    if choice.beaten:
        rival = choice.beaten[0]
        assert rival.parts is not None
        text = (
            f"Offset {rival.offset:+d} agrees for long as well, but on many signals at once it differs "
            f"around good cycle {sides.good_number(rival.parts)}, where {taken.offset:+d} agrees."
        )
        return "unique", text, chance
    return "unique", "No other offset comes near.", chance


def _repeated(sides: Sides, choice: Choice, whole: Fit, chance: float, same_start: bool) -> tuple[Status, str, float]:
    """Other offsets agree to their end as well: a few signals tell them apart, or none does."""
    taken, rival, step = choice.taken, choice.repeats[0], choice.step
    fit = fit_at(sides.good, sides.suspect, rival.offset, sides.live)
    if fit is not None and (tell := telling_signals(whole, fit, sides)):
        only = "Only " if len(tell) <= _NAMED else ""
        verb = "tells" if len(tell) == 1 else "tell"
        text = f"{only}{few_names(tell, _NAMED)} {verb} offset {taken.offset:+d} from {rival.offset:+d}."
        return "weak", text, min(chance, BELOW_LIKELY)
    family = all((r.offset - taken.offset) % step == 0 for r in choice.repeats)
    members = 1 + max(len(choice.repeats), max(taken.overlap, 1) // step * 2 if family else 0)
    text = f"The sequence repeats: offsets {step} cycles apart fit equally well, so it is known only modulo {step}. "
    if names := would_tell(sides, step):
        still = "stands" if len(names) == 1 else "stand"
        text += f"{', '.join(names)} would tell them apart, but {still} still on one side. "
    else:
        text += "No captured signal tells them apart: add one that counts the turns. "
    if same_start:
        return "ambiguous", text + "The smallest is taken, since both started alike.", min(chance, BELOW_LIKELY)
    smallest = all(abs(taken.offset) <= abs(r.offset) for r in choice.repeats)
    text += "The smallest is taken." if smallest else "One of them is taken."
    return "ambiguous", text, round(min(chance, 1 / members), 4)


def _anew(same_start: bool) -> str:
    """What to do where too little speaks for an offset."""
    if same_start:
        return "Capture both sides from the reset on, with the reset line as a signal."
    return "Capture both sides from the same event, such as the reset, with its line as a signal, and say so."


def _nothing_moves(sides: Sides) -> str:
    """Why nothing tells the cycles apart: one side stands still, or both."""
    moving = [_moving(side) for side in (sides.good, sides.suspect)]
    if moving[0] and not moving[1]:
        return (
            "No signal moves on the suspect side but the clock, so nothing tells the cycles apart: it may be held in "
            "reset. Check its reset line and its supply, then capture again from the moment it is switched on."
        )
    return (
        "No signal that both sides have moves on both, so nothing tells the cycles apart. "
        "Set the offset by hand, or capture a signal that moves."
    )


def _no_offset(sides: Sides, same_start: bool) -> str:
    """Why no offset was found, and what to do."""
    moving = [_moving(side) for side in (sides.good, sides.suspect)]
    for own, other, name in ((moving[1], moving[0], "suspect"), (moving[0], moving[1], "known-good")):
        if other >= 8 and own <= 0.25 * other:
            return (
                f"No offset makes the two sides agree: on the {name} side {own} of {other} signals move. It may be "
                "held in reset, or have stopped: compare its reset line, and capture from the moment it is released."
            )
    return (
        "No offset makes the two sides agree: they may run different programs, the captures may not overlap, or begin "
        f"behind the fault. {_anew(same_start)}"
    )


def _moving(side: np.ndarray) -> int:
    """How many signals show both levels."""
    return int(((side == 0).any(1) & (side == 1).any(1)).sum())


def starts_of(stretches: Iterable[Stretch]) -> tuple[Int64, Int64]:
    """Where paired stretches start, int64[R, 2], good and suspect, and how long they are."""
    paired = [s for s in stretches if s.kind == "paired"]
    starts = np.array([(s.good_start, s.suspect_start) for s in paired], np.int64).reshape(-1, 2)
    return starts, np.array([s.good_stop - s.good_start for s in paired], np.int64)


def _matched(stretches: Iterable[Stretch]) -> int:
    return sum(s.good_stop - s.good_start for s in stretches if s.kind == "paired")
