"""A chip that does not obey its own inputs is a likely cause by itself, and its wrong outputs are consequences.

Its inputs were captured, so no other signal's fault explains it: it stands in front, as a net does that breaks the
table learnt for its part. The first of its outputs carries it; the others follow with a word on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from tracecore.circuit.parts.explanation_words import what_fits
from tracecore.circuit.parts.explanations import Explanation
from tracecore.circuit.parts.obedience import Obedience
from tracecore.compare.chips import ChipOnBothSides, wrong_outputs
from tracecore.compare.findings import Cause, FaultyChip
from tracecore.name_lists import few_names
from tracecore.quantities import group_digits

MOST_TOLD = 2


def with_chips(causes: Sequence[Cause], chips: Sequence[ChipOnBothSides]) -> tuple[Cause, ...]:
    """The causes, those in front that the ``chips`` carry, ranked anew; ``chips`` obey on good and not on suspect."""
    front: list[Cause] = []
    rest = list(causes)
    for found in chips:
        outputs = set(wrong_outputs(found).values())
        own = [cause for cause in rest if cause.signal in outputs]
        if not own:
            continue
        lead = _lifted(own[0], found, [cause.signal for cause in own[1:]])
        front.append(lead)
        rest = [_behind(c, lead, found.chip.name) if c in own else c for c in rest if c is not own[0]]
    return tuple(replace(c, rank=i) for i, c in enumerate((*front, *rest), start=1))


def _behind(cause: Cause, lead: Cause, name: str) -> Cause:
    """A further output of a chip that does not obey."""
    told = f"{name} does not obey its inputs here either, so this may be the same fault."
    out = replace(cause, because=(*cause.because, told))
    if lead.chip is None:
        return out
    return replace(out, probe_next=f"First {name}, as its own cause says: this may come right with it.")


def _lifted(lead: Cause, found: ChipOnBothSides, others: Sequence[str]) -> Cause:
    """The first output of a chip as a cause: the chip's own, or that of a net between the chip and the captured pin."""
    suspect, good, name = found.suspect, found.good, found.chip.name
    assert suspect is not None
    assert good is not None
    told = suspect.explanations
    where = " around the first difference" if found.part_alone else ""
    because = [
        f"{name} ({suspect.number}) does not obey its inputs in {group_digits(suspect.wrong)} of "
        f"{group_digits(suspect.judged)} judged states{where} on suspect; on good it obeys in "
        f"all {group_digits(good.judged)}.",
        *(_makes_right(found, e) for e in told[:MOST_TOLD]),
    ]
    if len(told) > 1:
        because.append("Each of these alone makes all of it right: the captures cannot tell between them.")
    elif not told:
        because.append("No single fault that was tried makes all of it right.")
    if others:
        because.append(f"Wrong at the same chip: {few_names(others, 8)}.")
    lifted = replace(lead, because=(*because, *lead.because))
    if not _lies_in_the_chip(suspect, len(others) + 1):
        return lifted
    legs = tuple(dict.fromkeys(leg for e in told for leg in e.legs))
    chip = FaultyChip(name, suspect.number, _fault(suspect), legs, (lead.signal, *others))
    return replace(lifted, chip=chip, probe_next=_probe_next(found))


def _lies_in_the_chip(found: Obedience, outputs: int) -> bool:
    """One output that is held, late or simply wrong may as well be wrong on its way to the pin that was captured."""
    if not found.explanations:
        return outputs > 1
    return not {e.kind for e in found.explanations} & {"stuck output", "late output"}


def _fault(found: Obedience) -> str:
    """What would make it obey, in a few words; two at most, of more it is said that they cannot be told apart."""
    told = [_fault_words(found, e) for e in found.explanations]
    if not told:
        return "does not obey its inputs"
    if len(told) > 2:
        return f"{told[0]}, or one of {len(told) - 1} other faults"
    return ", or ".join(told)


def _fault_words(found: Obedience, told: Explanation) -> str:
    names = " and ".join(told.names)
    legs = f"leg{'s' if len(told.legs) > 1 else ''} {' and '.join(str(leg) for leg in told.legs)}"
    if told.kind == "dead input":
        return f"input {names}, {legs}, may be {'open' if told.level else 'held low inside'}"
    if told.kind == "joined outputs":
        return f"outputs {names}, {legs}, may be joined"
    if told.kind == "swapped leads":
        return "its clip may be on the wrong way round" if told.rotated else f"the leads of {legs} may be exchanged"
    return f"may be a {told.number}, not a {found.number}"


def _makes_right(found: ChipOnBothSides, told: Explanation) -> str:
    """The evidence for one fault."""
    known = told.since_ps is not None and found.since_cycle is not None
    return what_fits(told, found.chip.nets, f"from cycle {group_digits(found.since_cycle or 0)} on" if known else "")


def _probe_next(found: ChipOnBothSides) -> str:
    """One measurement and what each outcome may mean."""
    told = found.suspect.explanations if found.suspect is not None else ()
    name = found.chip.name
    if not told:
        return (
            f"All legs of {name}, supply and ground first, on the chip's own legs. Inputs as on the good board and "
            "outputs not: may be the chip. Otherwise: may be its socket or a wire."
        )
    first = told[0]
    if first.kind == "dead input":
        leg, net = first.legs[0], found.chip.nets.get(first.legs[0], "its net")
        where = f"Leg {leg} of {name}, on the chip's own leg: compare it with {net} where that is driven."
        if first.level:
            return (
                f"{where} Not moving with it: may be socket, solder or wire. Moving with it: may be open inside {name}."
            )
        return f"{where} Low all the time: may be a short there. Moving with it: may be held inside {name}."
    if first.kind == "joined outputs":
        one, other = first.legs
        return (
            f"With power off, measure the resistance between legs {one} and {other} of {name}. Low against the good "
            f"board: may be bridged. As on the good board: may be {name} itself."
        )
    if first.kind == "swapped leads":
        return f"The leads on {name}: follow each to its leg, from leg 1 on, then capture again."
    return f"The number printed on {name}: may be another part than the pin list says."
