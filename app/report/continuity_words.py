"""Sentences about ohm readings: verdicts, nets, conflicts, and what to read next. The values come from tracecore."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from tracecore.circuit.continuity.comparison import ContinuityComparison, JoinedNets, Pair, SplitNet, Verdict
from tracecore.circuit.continuity.nets import Conflict
from tracecore.circuit.continuity.path import Located, NextReading
from tracecore.circuit.continuity.pin_name import slot_of
from tracecore.circuit.continuity.readings import Reading
from tracecore.circuit.pin_list import PinFault
from tracecore.name_lists import few_names

POWER_OFF = (
    "Power off for every ohm reading. A panel switch is no disconnect: unplug, let supplies bleed, prove dead. "
    "Local codes and qualified persons decide how this cabinet may be worked on."
)
"""Stands over every list of ohms; it never says that a step is safe."""
_FEW = 6


def ohms_words(ohms: float | None) -> str:
    """A reading as a meter shows it, without its unit.

    >>> ohms_words(0.2), ohms_words(2100.0), ohms_words(math.inf), ohms_words(None)
    ('0.2', '2.1 k', 'open', '')
    """
    if ohms is None:
        return ""
    if math.isinf(ohms):
        return "open"
    for factor, letter in ((1e6, " M"), (1e3, " k")):
        if abs(ohms) >= factor:
            return f"{ohms / factor:.4g}{letter}"
    return f"{round(ohms, 2) + 0.0:g}".replace("-", "−")


def reads(ohms: float | None) -> str:
    """A reading with its unit: "0.2 ohm", "2.1 kohm", "open", "not read".

    >>> reads(2100.0)
    '2.1 kohm'
    """
    if ohms is None:
        return "not read"
    text = ohms_words(ohms)
    return text if math.isinf(ohms) else f"{text}ohm" if text[-1] in "kM" else f"{text} ohm"


def verdict_words(pair: Pair) -> str:
    """The verdict of a pair: "open on suspect", "raised by 52.2 ohm"."""
    words: dict[Verdict, str] = {
        "same": "same",
        "open": "open on suspect",
        "extra": "extra on suspect",
        "varies": "varies: read again while moving the wire",
        "to measure": "to measure",
    }
    more = pair.raised_ohms
    if pair.verdict in words:
        told = words[pair.verdict]
    elif more is None:
        told = f"raised to {reads(pair.suspect_ohms)}"
    else:
        told = f"{'raised' if more > 0 else 'lower'} by {reads(abs(more))}"
    return told + ", card in" if pair.card_in else told


def outcome(found: ContinuityComparison) -> str:
    """The whole comparison in one sentence."""
    counts = [
        (found.count("open"), "open on suspect"),
        (found.count("extra"), "extra on suspect"),
        (found.count("raised"), "raised"),
        (found.count("lower"), "lower"),
        (found.count("varies"), "varying"),
    ]
    told = ", ".join(f"{count} {words}" for count, words in counts if count)
    rest = f"{found.count('same')} the same, {found.count('to measure')} to measure"
    if not found.tells:
        return f"Cannot tell: no pair has been read on both sides yet, {found.count('to measure')} to measure."
    if not told:
        return f"No pair differs of those that both sides have read: {rest}."
    return f"{told}; {rest}."


def sentences(found: ContinuityComparison) -> Iterator[str]:
    """What stands behind the table: nets split and joined, readings that contradict or vary."""
    yield from (split_words(net) for net in found.split)
    yield from (joined_words(nets) for nets in found.joined)
    yield from (conflict_words(conflict) for conflict in found.conflicts)
    yield from (twice_words(one, other) for one, other in found.twice)


def split_words(net: SplitNet) -> str:
    """Into which parts a net falls, and which readings say so."""
    parts = " | ".join(_pins(part) for part in net.parts)
    return f"The net of {net.pins[0]} is in {len(net.parts)} parts on suspect: {parts}. By {_list(net.by)}."


def joined_words(nets: JoinedNets) -> str:
    """Which nets are one on the suspect side, and which single reading explains it."""
    names = " and ".join(_pins(net) for net in nets.nets)
    if nets.alone is not None:
        return f"Joined on suspect, apart on good: {names}. One reading alone explains it: {_one(nets.alone)}."
    return f"Joined on suspect, apart on good: {names}, by {len(nets.by)} readings: {_list(nets.by)}."


def conflict_words(conflict: Conflict) -> str:
    """Readings of one side of which one is wrong."""
    count = len(conflict.through) + 1
    start, end = conflict.apart.pair
    return (
        f"On {conflict.apart.side}, {start} and {end} are joined by {_list(conflict.through)}, yet read "
        f"{reads(conflict.apart.ohms)}{_line(conflict.apart)}. One of these {count} readings is wrong. "
        f"Read {_pair(conflict.again)} again first."
    )


def twice_words(one: Reading, other: Reading) -> str:
    """A pair that was read twice with different values on one side."""
    return (
        f"{_where(other)}{_pair(other)} reads {reads(other.ohms)} on {other.side}, and {reads(one.ohms)}{_line(one)}. "
        "Read it again while moving the wire."
    )


def next_words(step: NextReading) -> str:
    """The next reading as an instruction that begins with the power."""
    how = {"path": "", "ground empty": ", its slot empty", "ground card in": ", with the card seated"}[step.kind]
    good = "not read on good yet" if step.good_ohms is None else f"good reads {reads(step.good_ohms)}"
    return f"With power off, measure {step.start} to {step.end} on suspect{how}; {good}."


def slow_rise_words(signal: str) -> str:
    """Why another reading comes first on a line that rises slowly."""
    return (
        f"{signal} rises slowly and falls quickly, so that the wire may be whole. Ohms to +5 V tell more: the likely "
        "cause and the bench card ask for them first. Then the wire."
    )


def may_say(step: NextReading) -> tuple[tuple[str, str], ...]:
    """What the reading may say: each answer and what it would leave."""
    if step.kind == "ground empty":
        return (
            ("as good", "nothing on the backplane seems to hold the net; read it with the card seated"),
            ("far below good", "something on the backplane may hold it to ground"),
        )
    if step.kind == "ground card in":
        return (
            ("as good", "ohms do not tell; the contact or the card may still be at fault"),
            ("far below good", f"something in slot {slot_of(step.start)} may hold it to ground"),
        )
    out = []
    for answer, pieces in step.leaves:
        where = "; ".join(f"{one} to {other}" for one, other in pieces[:_FEW])
        if answer == "as good":
            told = f"the fault may lie in {where}" if pieces else "contact or card may be at fault"
        elif answer == "raised":
            told = f"wrap, wire or contact may be poor in {where}; read again while moving it"
        else:
            told = f"may be broken in {where}. An open input floats near 1.4 V, so look for what holds a level"
        out.append((answer, told))
    return tuple(out)


def _leg(point: str) -> str:
    """A chip's leg in words.

    >>> _leg("U7-23")
    'U7, leg 23'
    """
    return ", leg ".join(point.rsplit("-", 1))


def on_card_words(found: Located) -> str:
    """What to look at on a card that holds a net down."""
    if not found.legs:
        return f"each leg on this net, on the card of slot {found.slot},"
    return " and ".join(_leg(leg) for leg in found.legs)


def located_words(found: Located) -> str:
    """Where the readings put the fault, and nothing more than they say."""
    listed = " and ".join(_leg(leg) for leg in found.legs)
    part = f" Of its parts the pin list has {listed} there." if listed else ""
    ends = " and ".join(found.between)
    return {
        "wire": f"The wire or its wraps between {ends} may be broken or poor.",
        "contact": f"The contact or socket between {ends} may be open.",
        "backplane": f"Something on the backplane may hold {found.between[0] if found.between else 'it'} down, "
        "for it reads so with the slot empty.",
        "slot": f"The wire reads as on good: something in slot {found.slot} may be at fault, contact or card.",
        "card": f"The wire reads as on good, and the net is held down with the card in: something on the card of slot "
        f"{found.slot} may hold it. A contact does not do that.{part}",
        "cannot be told": f"Every reading is as on good: ohms cannot tell. They do not clear slot {found.slot}.",
    }[found.place]


def pin_fault_words(fault: PinFault) -> str:
    """What cannot be right in a pin list."""
    lines = ", ".join(str(row.line) for row in fault.rows)
    at = f" (line {lines})" if len(fault.rows) == 1 else f" (lines {lines})"
    points = ", ".join(point for row in fault.rows for point in row.points[-1:])
    return {
        "two outputs": f"Net {fault.about} has a plain output and another driver: {points}{at}. "
        "Write three-state or open collector if they share it.",
        "no driver": f"Net {fault.about} has inputs and no driver{at}. Add the pin that drives it.",
        "pin on two nets": f"Pin {fault.about} is on two nets: {' and '.join(dict.fromkeys(r.net for r in fault.rows))}"
        f"{at}. Take one out.",
        "no such leg": f"{fault.about} has no leg {fault.rows[0].part_pin}{at}. Correct the leg or the number.",
        "net of one pin": f"Net {fault.about} has one pin alone{at}. Add the other, or take it out.",
    }[fault.kind]


def _pins(pins: Iterable[str]) -> str:
    return few_names(pins, _FEW)


def _pair(reading: Reading) -> str:
    return " to ".join(reading.pair)


def _one(reading: Reading) -> str:
    return f"{_pair(reading)} ({reads(reading.ohms)}{_line(reading)})"


def _list(readings: tuple[Reading, ...]) -> str:
    return few_names(map(_one, readings), _FEW)


def _line(reading: Reading) -> str:
    return f" in line {reading.line}" if reading.line else ""


def _where(reading: Reading) -> str:
    return f"{reading.path}, line {reading.line}: " if reading.line else ""
