"""The findings on leads, clock and program in words."""

from __future__ import annotations

from tracecore.compare.pair_checkup.leads import Leads, inverted_share, standing
from tracecore.compare.pair_checkup.line import (
    CERTAIN,
    Compared,
    Kind,
    PairLine,
    Request,
    listed,
    lower_bound,
    per_cent,
)
from tracecore.compare.pair_checkup.places import lead_of, lead_words
from tracecore.compare.pair_checkup.readings import Readings
from tracecore.quantities import group_digits

_BOARD_MAY_INVERT = 0.85
"""A lead that reads inverted may be a board that inverts: no capture tells the two apart, so never more sure."""

Pairs = tuple[tuple[str, str], ...]


def lead_lines(request: Request, readings: Readings, leads: Leads) -> list[PairLine]:
    """A line for each pair of swapped leads, each ring, each block, and one for all inverted ones."""
    lines = [_swap_line(request, leads, a, b) for a, b in leads.swaps]
    lines += [_moved_line(request, leads, "ring", ring) for ring in leads.rings]
    lines += [_moved_line(request, leads, "one off", block) for block in leads.blocks]
    if leads.inverted:
        lines.append(_inverted_line(request, readings, leads.inverted))
    return lines


def _sure(leads: Leads, pairs: Pairs) -> float:
    """Each stretch in which the two signals differ counts once: neighbouring cycles are no separate witnesses."""
    found = [leads.evidence[p] for p in pairs if p in leads.evidence]
    return min((lower_bound(round(e.share * e.stretches), e.stretches) for e in found), default=0.0)


def _shares(request: Request, leads: Leads, pairs: Pairs) -> tuple[tuple[str, float], ...]:
    return tuple(
        (f"lead {lead_of(request, a)} reads good {b}", leads.evidence[a, b].share)
        for a, b in pairs
        if (a, b) in leads.evidence
    )


def _until(leads: Leads, pairs: Pairs) -> str:
    """Where a fault hides the rest, how far the evidence goes."""
    ends = [e.last_cycle for p in pairs if (e := leads.evidence.get(p)) and e.last_cycle is not None]
    return f"up to cycle {group_digits(min(ends))} " if ends else ""


def _swap_line(request: Request, leads: Leads, a: str, b: str) -> PairLine:
    pairs = ((a, b), (b, a))
    sure, shares = _sure(leads, pairs), _shares(request, leads, pairs)
    seen = " and ".join(f"{words} in {per_cent(share)}" for words, share in shares)
    ticks = [lead_of(request, p[0]) for p in pairs if p not in leads.evidence]
    channels = lead_of(request, a), lead_of(request, b)
    told = _capital(f"{_until(leads, pairs)}{seen} of the cycles that tell the two apart.")
    clock = f" Lead {ticks[0]} ticks like the clock." if ticks else ""
    text = f"Leads {lead_words(request, a)} and {lead_words(request, b)} look swapped. {told}{clock}"
    do = (
        f"Look at both clips. If the suspect's are swapped, exchange {channels[0]} and {channels[1]} on its sheet. "
        "The good side's may be instead, or two nets are crossed on the board."
    )
    kind: Kind = "bad" if sure >= CERTAIN else "look"
    return PairLine(kind, "swapped", text, sure, do, (a, b), channels, _moves(request, pairs), shares)


def _moved_line(request: Request, leads: Leads, topic: str, pairs: Pairs) -> PairLine:
    sure, shares = _sure(leads, pairs), _shares(request, leads, pairs)
    off = listed(lead_words(request, a) for a, _ in pairs)
    reads = listed(b for _, b in pairs)
    least = min((share for _, share in shares), default=1.0)
    each = ("each in " if least == 1 else "each in at least ") + per_cent(least)
    seen = f"{_until(leads, pairs)}they read good {reads}, {each} of the cycles that tell."
    signals, moves = tuple(a for a, _ in pairs), _moves(request, pairs)
    kind: Kind = "bad" if sure >= CERTAIN else "look"
    if topic == "ring":
        text = f"Leads {off} look exchanged in a ring: {seen}"
        do = "Look at these clips, and name the channels on the suspect's sheet by what they read."
        return PairLine(kind, "ring", text, sure, do, signals, None, moves, shares)
    text = f"Leads {off} look one place off: {seen}"
    do = "Look whether this block of clips, or its plug, sits one pin off. Move it and capture again."
    return PairLine(kind, "one off", text, sure, do, signals, None, moves, shares)


def _moves(request: Request, pairs: Pairs) -> tuple[tuple[str, str], ...]:
    return tuple((lead_of(request, a), lead_of(request, b)) for a, b in pairs)


def _inverted_line(request: Request, readings: Readings, signals: tuple[str, ...]) -> PairLine:
    found = [inverted_share(readings, s) for s in signals]
    share, changes = min(f[0] for f in found), min(f[1] for f in found)
    leads = listed(lead_words(request, s) for s in signals)
    one = len(signals) == 1
    text = (
        f"Lead{'' if one else 's'} {leads} look{'s' if one else ''} inverted: the opposite of the good side in "
        f"{per_cent(share)} of the cycles, from the first on."
    )
    do = (
        "Look whether the channel is set to invert, or is clipped to the other side of an inverter. If neither, "
        "the board inverts the signal itself."
    )
    sure = min(_BOARD_MAY_INVERT, lower_bound(round(share * changes), changes))
    shares = tuple(
        (f"lead {lead_of(request, s)} opposite of good {s}", f[0]) for s, f in zip(signals, found, strict=True)
    )
    return PairLine("look", "inverted", text, sure, do, signals, agreements=shares)


def clock_inverted_line(compared: Compared) -> PairLine:
    """All delays are off by the same half cycle."""
    clock = compared.lineup.clock
    text = (
        f"Lead {lead_words(compared.request, clock)} looks inverted: every signal comes late against it by as long as "
        "it stays at its active level, and all states agree."
    )
    do = f"Look whether {clock} is set to invert or clipped to the other side of an inverter on one of the sides."
    return PairLine("look", "clock", text, _BOARD_MAY_INVERT, do, (clock,))


def no_clock_line(compared: Compared, rate: str) -> PairLine:
    """The suspect shows nothing like the good side's clock."""
    clock = compared.lineup.clock
    text = f"No lead of the suspect ticks like the good side's {clock} ({rate}), so its cycles cannot be told."
    do = f"Look at the clip of lead {lead_words(compared.request, clock)}. If it sits well, the clock itself is gone."
    return PairLine("bad", "clock", text, CERTAIN, do, (clock,))


def program_line(readings: Readings) -> PairLine:
    """Nothing agrees, at whatever offset and whatever the leads are called."""
    live = readings.live()
    total = int(live.sum())
    fits = round(standing(readings) * total)
    some = "none" if not fits else f"only {fits}"
    text = f"Nothing fits: {some} of {total} moving signals agree at the best offset. Another program seems to run."
    do = (
        "Start the same program on both units and capture from the same point on, long enough to overlap. "
        "Check that the leads are on the same slot, and that the clock is the right one."
    )
    return PairLine("bad", "program", text, lower_bound(total - fits, total), do)


def fine_line(readings: Readings) -> PairLine:
    """No lead looks wrong; those that stand still cannot be judged."""
    live = readings.live()
    moving, total = int(live.sum()), len(live)
    still = [s for s, moves in zip(readings.signals, live, strict=True) if not moves]
    unsaid = f" {listed(still)} cannot be judged: not moving on both sides." if still else ""
    text = f"No lead looks swapped, inverted or one place off among the {moving} that move.{unsaid}"
    return PairLine("fine", "leads", text, moving / total if total else 0.0, "Nothing to do.")


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
