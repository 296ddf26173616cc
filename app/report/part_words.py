"""What a chip does, in sentences: the verdict, each output, what would make it right, what may take its place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from tracecore.circuit.parts.catalogue import Part
from tracecore.circuit.parts.clip_pair import LegPair, OtherOutput
from tracecore.circuit.parts.donor import Donor
from tracecore.circuit.parts.explanation_words import LEVEL_WORDS, what_fits
from tracecore.circuit.parts.explanations import Explanation
from tracecore.circuit.parts.obedience import Doubt, Obedience, OutputCheck
from tracecore.circuit.parts.replacements import Replacement
from tracecore.quantities import format_time, group_digits

_DOUBTS: dict[Doubt, str] = {
    "low while let go": "an open collector is low where it should let go, which another part on its net may explain",
    "output not captured": "no output was captured",
    "output not judged": "an output was judged in too few states: its inputs never stand still long enough, or are not "
    "known; sample faster, or capture more legs",
    "too short to count": "an output departs for so short a time that a pulse between two samples may explain it; "
    "sample faster",
    "pulses may be missed": "edges may have fallen between samples, which would explain what seems wrong; "
    "sample faster",
}


def answer(found: Obedience) -> str:
    """The verdict in a sentence, with how much was judged and seen."""
    judged = group_digits(found.judged)
    seen = ""
    if found.possible is not None:
        seen = f"; {group_digits(found.seen)} of {group_digits(found.possible)} input states were seen"
    if found.verdict == "obeys":
        return f"{found.number} obeys in all {judged} judged states{seen}."
    if found.verdict == "disobeys":
        return f"{found.number} disobeys in {group_digits(found.wrong)} of {judged} judged states{seen}."
    why = "; ".join(_DOUBTS[doubt] for doubt in found.doubts)
    return f"{found.number}: cannot be told ({why}). {judged} states were judged{seen}."


def sentences(found: Obedience) -> Iterator[str]:
    """What stands below the verdict: outputs, explanations, what was left out, the settling time."""
    for check in found.outputs:
        yield from output_words(found, check)
    told = [explanation_words(e) for e in found.explanations]
    if len(told) > 1:
        yield "The capture cannot tell between these, of which each alone makes all of it right:"
    yield from told
    if found.verdict == "disobeys" and not told:
        yield "No single fault that was tried makes all of it right."
    if found.not_captured:
        legs = ", ".join(f"{found.part.leg(name)} ({name})" for name in found.not_captured)
        word = "legs" if len(found.not_captured) > 1 else "leg"
        yield f"Nothing is known of {word} {legs}; what hangs on them is not judged."
    if found.unshown:
        legs = ", ".join(f"{found.part.leg(name)} ({name})" for name in found.unshown)
        yield f"Nothing shows that pin {legs} is read: the answer would be the same if it stood still inside."
    yield settling_words(found)


def output_words(found: Obedience, check: OutputCheck) -> Iterator[str]:
    """What is wrong at an output, or was left out there."""
    name = f"output {check.leg} ({check.name})"
    for wrong, counted, level in (
        (check.wrong_low, check.should_high, 0),
        (check.wrong_high, check.should_low, 1),
    ):
        if wrong:
            yield (
                f"O{name[1:]} is {LEVEL_WORDS[level]} in {group_digits(wrong)} of {group_digits(counted)} states "
                f"where it should be {LEVEL_WORDS[1 - level]}."
            )
    if check.doubtful:
        yield f"O{name[1:]} departs in {group_digits(check.doubtful)} states too shortly to count."
    if check.let_go_low:
        yield (
            f"O{name[1:]} lets go in {group_digits(check.let_go_low)} states in which its net is low: something else "
            "may pull it, or it may not let go."
        )
    if check.judged and not check.wrong and not (check.should_high and check.should_low):
        asked = LEVEL_WORDS[int(check.should_high > 0)]
        yield f"O{name[1:]} was asked to be {asked} only: nothing shows that it can be otherwise."
    if not check.judged and not check.doubtful and not check.let_go_low:
        yield f"O{name[1:]} was not judged in any state."


def explanation_words(found: Explanation, nets: Mapping[int, str] | None = None) -> str:
    """One thing that makes all of it right, and where to look; ``nets`` by leg, where they are known."""
    since = "from the first wrong state on" if found.since_ps is not None else ""
    return f"{what_fits(found, nets, since)} {_look(found)}"


def _look(found: Explanation) -> str:
    if found.kind == "dead input":
        return "The input may be open: leg, socket or inside." if found.level else "It may be held low inside."
    if found.kind == "swapped leads":
        return "Look at leg 1." if found.rotated else "Follow each lead to its leg."
    return {
        "stuck output": "It may be the output, or a short on its net.",
        "joined outputs": "Look for a bridge between them.",
        "late output": "A heavy load may explain some of it.",
        "other part": "Read the number on the chip.",
    }[found.kind]


def settling_words(found: Obedience) -> str:
    """How long an output was given, and whose figure that is."""
    allowed, sample = format_time(found.times.settle_ps, digits=3), format_time(found.resolution_ps, digits=3)
    if not found.times.settle_of:
        return f"Settling allowed: {allowed} and one sample ({sample}); the table has no figure for {found.number}."
    of = "" if found.times.settle_of == found.number else f" of the {found.times.settle_of}"
    return f"Settling allowed: {allowed}, the published maximum{of} ({found.times.source}), and one sample ({sample})."


def what_it_does(part: Part) -> str:
    """The part in a sentence."""
    if part.behaviour:
        more = f"; {part.asynchronous}" if part.asynchronous not in ("", "none") else ""
        return f"{part.title[0].upper()}{part.title[1:]}: {part.behaviour}{more}."
    return f"{part.title[0].upper()}{part.title[1:]}."


def replacement_words(number: str, found: Replacement) -> str:
    """What differs where this number takes the place of another, from the table alone, and where one is left."""
    stock = "; in stock: " + ", ".join(donor_words(donor) for donor in found.donors) if found.donors else ""
    return difference_words(number, found) + stock


def difference_words(number: str, found: Replacement) -> str:
    """What differs where this number takes the place of another, from the table alone."""
    if found.number == number:
        told = ["the same number"]
    else:
        told = [f"family {found.family}"] if found.family else []
        if found.settle_ps is None:
            told.append("its delay is not in the table")
        elif found.faster_by is not None and abs(found.faster_by - 1) > 0.05:
            told.append(f"{'faster' if found.faster_by > 1 else 'slower'}, {format_time(found.settle_ps, digits=3)}")
        if found.loads is not None:
            told.append(f"drives {found.loads} loads of its own family")
        if found.open_collector == "gains":
            told.append("open collector: needs a pull-up")
        elif found.open_collector == "loses":
            told.append("not open collector: only where no other output shares the net")
    return "; ".join(told)


def leg_words(found: LegPair) -> str:
    """A leg on both boards: how it moves on good, then on suspect."""
    return {
        "still on suspect": "moves on good, stands still on suspect",
        "still on good": "stands still on good, moves on suspect",
        "rests otherwise": "rests at another level than on good",
        "moves less": "moves far less than on good",
        "moves more": "moves far more than on good",
        "alike": "moves as on good" if found.good_moves else "rests as on good",
        "not captured": "not captured on both sides",
    }[found.verdict]


def leg_side_words(moves: int | None, high: float | None) -> str:
    """One side of a leg: "1 204 transitions, 48 % high".

    >>> leg_side_words(12, 0.5), leg_side_words(0, 1.0), leg_side_words(None, None)
    ('12 transitions, 50 % high', 'high throughout', 'not captured')
    """
    if moves is None or high is None:
        return "not captured" if moves is None else "no level known"
    if not moves:
        return f"{LEVEL_WORDS[round(high)]} throughout"
    return f"{group_digits(moves)} transition{'s' if moves > 1 else ''}, {100 * high:.0f} % high"


def other_output_words(found: OtherOutput) -> str:
    """An output that shows other levels for alike inputs."""
    return (
        f"Output {found.leg} ({found.name}) differs from the good board in {group_digits(found.states)} of "
        f"{group_digits(found.of_states)} input states that both went through."
    )


def donor_words(donor: Donor) -> str:
    """Where one is left."""
    return f"{donor.position} of {donor.board}" + (f" ({donor.date_code})" if donor.date_code else "")
