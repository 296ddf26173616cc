"""Ranks likely causes before their consequences.

The signal that goes wrong first comes first: by the cycle, then by the time within the cycle. Where two go
wrong closer together than the captures can tell, they are said to be equal. A wrong delay or a weak level that
was there before anything logical went wrong counts by its own first instant. A wire list, where there is one, puts
what it explains behind its cause, and a net that breaks the table learnt for its part in front (``cause_order``).
A signal that differs among the known-good captures too says little and goes to the end. These are likely causes,
not verdicts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from tracecore.causes.order import EPISODES, Circuit, Standing, order_key, standings
from tracecore.circuit.probe_split import Split
from tracecore.circuit.wire_list import CLOCKED
from tracecore.compare.fault_mode import FaultMode, counted
from tracecore.compare.findings import Cause, SignalFinding
from tracecore.compare.level_findings import LOAD, MORE_OHMS, PULL_UP
from tracecore.quantities import format_time, group_digits

NAMELESS = "The pin that drives this net, which the probe sheet does not name"
"""Where to probe, where the sheet has no driver."""


@dataclass(frozen=True, slots=True)
class Seen:
    """In how many captures of a side a signal diverges."""

    diverging: int
    captures: int


@dataclass(frozen=True, slots=True)
class Witness:
    """A diverging signal with all that counts for its rank."""

    finding: SignalFinding
    mode: FaultMode
    suspects: Seen
    goods: Seen


def rank_causes(witnesses: Sequence[Witness], uncertainty_ps: int, circuit: Circuit | None = None) -> tuple[Cause, ...]:
    """Likely causes, best supported first; ranks from 1. Equals have ranks of their own but are said to be equal."""
    by_name = {w.finding.signal: w for w in witnesses}
    parts_at = circuit.parts_at if circuit is not None else None
    bridges = {n: w.mode.partners[0] for n, w in by_name.items() if w.mode.partners}
    standing = standings({n: w.finding for n, w in by_name.items()}, bridges, circuit or Circuit(), uncertainty_ps)
    lead_ps = min((s.at_ps for n, s in standing.items() if not by_name[n].goods.diverging), default=0.0)

    def key(witness: Witness) -> tuple[object, ...]:
        name = witness.finding.signal
        wrong = len(witness.finding.diverging_cycles)
        # a part that disobeys its own table does so whatever the others do
        behind = _behind(witness, parts_at) and not standing[name].breaks_table
        return witness.goods.diverging > 0, behind, *order_key(name, standing[name], lead_ps, uncertainty_ps, wrong)

    ordered = sorted(witnesses, key=key)
    by_name = {w.finding.signal: w for w in ordered}
    first = ordered[0] if ordered else None
    causes = [_cause(rank, w, first, by_name, uncertainty_ps, standing) for rank, w in enumerate(ordered, start=1)]
    return tuple(_told_behind(c, parts_at) if _behind(w, parts_at) else c for c, w in zip(causes, ordered, strict=True))


def _behind(witness: Witness, parts_at: int | None) -> bool:
    """Is it wrong for the first time only after both sides have begun to do different things?"""
    at = witness.finding.first_divergence
    return parts_at is not None and at is not None and at.cycle >= parts_at


def _told_behind(cause: Cause, parts_at: int | None) -> Cause:
    told = f"From cycle {group_digits(parts_at or 0)} on the two sides do different things: this may be a consequence."
    return replace(cause, because=(*cause.because, told))


def _cause(
    rank: int,
    witness: Witness,
    first: Witness | None,
    all_by_name: Mapping[str, Witness],
    uncertainty_ps: int,
    standing: Mapping[str, Standing],
) -> Cause:
    finding, mode = witness.finding, witness.mode
    at, own = finding.first_divergence, standing[finding.signal]
    because = list(mode.because)
    because += _by_circuit(own, finding, alone=len(standing) == 1)
    # what is wrong at one chip has its place by the chip
    equals = [] if own.of_chip else _equals(witness, all_by_name, standing, uncertainty_ps)
    if not (own.fed_by or own.of_chip):
        because += _place_in_time(witness, first, all_by_name, equals, uncertainty_ps)
    if witness.goods.diverging:
        because.append(
            f"It diverges in {witness.goods.diverging} of {witness.goods.captures} other known-good captures too, "
            "so it may be no fault."
        )
    return Cause(
        rank,
        finding.signal,
        mode.name,
        at.cycle if at else None,
        at.good_ps if at else None,
        " · ".join(
            part
            for part in (
                _summary(
                    witness, equals if first is not None and first.finding.signal in (finding.signal, *equals) else []
                ),
                _open_at(own),
            )
            if part
        ),
        tuple(because),
        _readings(witness),
        _probe_next(witness, own),
        fault_kind=mode.kind,
        partners=mode.partners,
        came_up=own.came_up,
        by_contents=own.by_contents and not (own.breaks_table or own.of_chip),
    )


def _by_circuit(own: Standing, finding: SignalFinding, alone: bool) -> list[str]:
    """What the learnt table, the wire list, a steady shift and separate episodes say; where a signal is ``alone`` in
    being wrong, that it is first says nothing."""
    out = _by_table(own, finding.signal)
    if own.fed_by:
        out.append(f"By the wire list {own.fed_by} feeds it and is wrong before or with it: this may be a consequence.")
    if own.shift_ps:
        word = "late" if own.shift_ps > 0 else "early"
        out += _steady_shift(own, finding, word)
    if own.came_up and own.settles:
        out.append(
            "It differs from the first cycle until it is loaded, and is right then: so do contents that come up "
            "otherwise when power is switched on."
        )
    elif own.by_contents:
        out.append("What is read from registers or memory that came up otherwise may differ so, too.")
    if own.stands_out:
        out.append("It goes wrong by itself over and over, while others differ since power came up.")
    if own.episodes >= EPISODES and own.firsts and not alone:
        out.append(
            f"Signals go wrong in {own.episodes} separate places; in {own.firsts} of them it is wrong from the first "
            "cycle. The more of them, the nearer to the cause it may be."
        )
    return out


def _steady_shift(own: Standing, finding: SignalFinding, word: str) -> list[str]:
    """By how much, and where it is of one direction alone why the skew is another number."""
    out = [f"Its {own.shift_of} are steadily {word}, by {format_time(abs(own.shift_ps), digits=2)} on average."]
    if own.shift_of != "transitions" and finding.skew is not None:
        skew = format_time(finding.skew.median_ps, digits=3, sign=True)
        others = "falls" if own.shift_of == "rises" else "rises"
        out.append(f"Its {others} are not, so the skew of the table, {skew}, is between the two: it is over both.")
    return out


def _by_table(own: Standing, signal: str) -> list[str]:
    """What was learnt of the part, from how many cycles, and whether the suspect keeps to it."""
    outcome = own.outcome
    if outcome is None or not (own.breaks_table or own.broken_late or own.obeys_table):
        return []
    row, learned = outcome.learned.row, outcome.learned
    when = "in the cycle before" if row.kind in CLOCKED else "in the same cycle"
    learnt = (
        f"Learnt from {counted(learned.cycles, 'cycle')} of the good capture: {signal} as {row.part} makes it from "
        f"{', '.join(row.inputs)} {when} ({learned.entries} of {len(learned.outputs)} input states seen often enough)"
    )
    judged = counted(outcome.checked, "cycle")
    if own.obeys_table:
        return [f"{learnt}; the suspect obeys it in all {judged} judged, so what differs may come from its inputs."]
    out = [f"{learnt}; the suspect breaks it in {group_digits(outcome.broken)} of {judged}."]
    if own.broken_late:
        out.append("Others were wrong before, so the part may have met what the good capture never showed it.")
        return out
    if outcome.open_pins:
        pins = " or ".join(f"{net} as {level}" for net, level in outcome.open_pins)
        may = "may be an open or held input pin"
        if outcome.still:
            may = f"{may}, or the output itself that is held. These captures cannot tell the two apart"
        out.append(f"All of it fits if {row.part} reads {pins} throughout: {may}.")
    return out


def _open_at(own: Standing) -> str:
    """The input pins that may be open, as a place: the nets there are sound, so none of them is wrong itself."""
    outcome = own.outcome
    if outcome is None or not outcome.open_pins or own.broken_late:
        return ""
    nets = list(dict.fromkeys(net for net, _ in outcome.open_pins))
    place = f"input open at {outcome.learned.row.part} (pin of {' or '.join(nets)})"
    return f"maybe {place} or its output held" if outcome.still else f"maybe {place}"


def _equals(
    witness: Witness, all_by_name: Mapping[str, Witness], standing: Mapping[str, Standing], uncertainty_ps: int
) -> list[str]:
    """Signals with as much speaking for them, that go wrong at the same time as near as the captures can tell."""
    own = standing[witness.finding.signal]

    def weight(name: str) -> tuple[object, ...]:
        s, varies = standing[name], all_by_name[name].goods.diverging > 0
        firsts = s.firsts if s.episodes >= EPISODES else 0
        broke = s.outcome.first if s.breaks_table and s.outcome is not None else None
        return varies, s.group, broke, s.shift_ps != 0, bool(s.bridged_with), firsts

    return [
        name
        for name, other in standing.items()
        if name != witness.finding.signal
        and not other.of_chip
        and other.at_ps < float("inf")
        and abs(other.at_ps - own.at_ps) <= uncertainty_ps
        and weight(name) == weight(witness.finding.signal)
    ]


def _place_in_time(
    witness: Witness,
    first: Witness | None,
    all_by_name: Mapping[str, Witness],
    equals: Sequence[str],
    uncertainty_ps: int,
) -> list[str]:
    """Says what came before, or that the captures cannot tell."""
    own = witness.finding.first_divergence
    if own is None or first is None:
        return []
    if witness is first:
        return [_place_of_first(witness, all_by_name, equals, uncertainty_ps)]
    lead = first.finding.first_divergence
    if lead is None:
        return []
    name = first.finding.signal
    if name in equals:
        return [f"It goes wrong together with {name}, as near as these captures can tell: equally likely."]
    if lead.good_ps > own.good_ps + uncertainty_ps:
        return [f"It is wrong before {name}, for which more speaks."]
    if abs(own.good_ps - lead.good_ps) <= uncertainty_ps:
        return [f"It goes wrong together with {name}, as near as these captures can tell; more speaks for {name}."]
    behind = own.cycle - lead.cycle
    when = "earlier in the same cycle" if behind == 0 else f"{counted(behind, 'cycle')} before it"
    return [f"{name} goes wrong {when}: this may be a consequence."]


def _place_of_first(
    witness: Witness, all_by_name: Mapping[str, Witness], equals: Sequence[str], uncertainty_ps: int
) -> str:
    own = witness.finding.first_divergence
    others = {
        name: w.finding.first_divergence.good_ps
        for name, w in all_by_name.items()
        if w.finding.signal != witness.finding.signal and w.finding.first_divergence is not None
    }
    if own is None or not others:
        return "No other captured signal is wrong."
    if equals:
        return (
            f"{', '.join(equals)} {'goes' if len(equals) == 1 else 'go'} wrong within the same "
            f"±{format_time(uncertainty_ps, digits=2)}: these captures cannot tell which is first; equally likely."
        )
    earlier = [name for name, at in others.items() if at < own.good_ps - uncertainty_ps]
    if earlier:
        return f"{', '.join(earlier)} {'is' if len(earlier) == 1 else 'are'} wrong before it, but less speaks for that."
    near = [name for name, at in others.items() if abs(at - own.good_ps) <= uncertainty_ps]
    if near:
        return (
            f"{', '.join(near)} {'goes' if len(near) == 1 else 'go'} wrong within the same "
            f"±{format_time(uncertainty_ps, digits=2)}, but less speaks for that."
        )
    return "No other signal goes wrong before it."


def _summary(witness: Witness, equals: Sequence[str]) -> str:
    """One line: since when, how often, and with whom it shares its place at the front."""
    finding, until = witness.finding, witness.mode.until
    at, count = finding.first_divergence, len(finding.diverging_cycles)
    alike = f" · equally likely as {', '.join(equals[:3])}{' and others' if len(equals) > 3 else ''}" if equals else ""
    if at is None or not count:
        return f"from the start{alike}"
    if until is not None:
        return f"from cycle {group_digits(at.cycle)} to {group_digits(until)}{alike}"
    left = max(count, finding.matched_stop - at.cycle)
    return f"from cycle {group_digits(at.cycle)} · {_percent(count / left)} of the cycles diverge since{alike}"


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"


def _readings(witness: Witness) -> tuple[tuple[str, str], ...]:
    rows = [("Seen in", f"{witness.suspects.diverging} of {witness.suspects.captures} suspect captures")]
    if witness.goods.captures:
        rows.append(("Diverges in", f"{witness.goods.diverging} of {witness.goods.captures} other known-good captures"))
    finding = witness.finding
    if finding.missing_transitions or finding.extra_transitions:
        rows.append(
            (
                "Transitions",
                f"{group_digits(finding.missing_transitions)} missing, {group_digits(finding.extra_transitions)} extra",
            )
        )
    if finding.moved_transitions:
        rows.append(("Late or early", counted(finding.moved_transitions, "transition")))
    if finding.levels:
        bad = sum(v.side == "suspect" for v in finding.levels)
        rows.append(
            (
                "Outside the limits",
                f"{group_digits(bad)} on the suspect, {group_digits(len(finding.levels) - bad)} on the good",
            )
        )
    return tuple(rows)


def _split_words(split: Split, signal: str) -> str:
    """By the wire list: which net to probe, and which parts are left either way."""
    behind, ahead = (", ".join(parts) for parts in (split.behind, split.ahead))
    return (
        f"{split.net}, at the output of {split.part}: by the wire list this net tells most. Wrong there: the fault may "
        f"lie at {behind} or what comes before. Right there: it may lie at {ahead}, in the wires between, or in "
        f"something that holds {signal}."
    )


def _probe_next(witness: Witness, own: Standing) -> str:
    """One next measurement and what each outcome may mean. It only says may: one probe is no proof."""
    finding, kind = witness.finding, witness.mode.kind
    here = finding.place or f"the pin of {finding.signal}"
    if own.outcome is not None and own.breaks_table and own.outcome.open_pins and not own.outcome.still:
        row, (net, level) = own.outcome.learned.row, own.outcome.open_pins[0]
        return (
            f"The input pin of {row.part} for {net}: compare it with {net} where that is driven. Not moving with it: "
            f"may be an open contact or wire. Moving with it: may be the part, which acts as if it read {level}."
        )
    if witness.mode.partners:
        partner = witness.mode.partners[0]
        return (
            f"With power off, measure the resistance between {here} and {partner}. Low against the good slot: "
            "may be bridged pins or wires."
        )
    if own.split is not None:
        return _split_words(own.split, finding.signal)
    driven = f"{finding.driver}, where this net is driven" if finding.driver else NAMELESS
    if kind == "steady mid-level":
        return (
            f"{driven}: does it move there? Moving there: may be an open contact or wire on "
            f"the way to {here}; with power off, measure the resistance between the two. Resting there too: may be the "
            "driver's output."
        )
    if kind == "slow rise":
        return (
            f"With power off, ohms from {here} to +5 V, on both units. {MORE_OHMS}: {PULL_UP}. The same: {LOAD}; "
            f"compare how fast it rises at {driven[0].lower() + driven[1:] if driven == NAMELESS else driven}."
        )
    if kind == "slow transitions":
        return (
            f"{driven}: compare how fast it rises and falls there with {here}. Fast there: "
            "may be a contact or a wire on the way. Slow there too: may be the pull-up, where the outputs on this net "
            "are open collectors; else the driver, or a load too many."
        )
    if kind in ("weak low", "weak high", "undefined", "runts"):
        return (
            f"{driven}: compare the level there with {here}. Sound there: may be a "
            "contact or a wire on the way. Weak there too: may be two outputs fighting, or the driver."
        )
    if kind in ("late", "early", "one cycle late"):
        return (
            f"{driven}. As {kind} there: look ahead of it, at what clocks or feeds it. "
            "On time there: may be the path between, or its load."
        )
    if kind in ("setup missed", "hold missed", "short pulse") and finding.limits is not None:
        part = finding.limits.limits.part or "the register that takes it in"
        source = finding.driver or "the pin that drives this net"
        return (
            f"This signal and the clock together, at the pins of {part}. As close there: look at {source} and at what "
            "feeds it, then at the way of the clock. Enough time there: may be the probes or their grounds."
        )
    if kind in ("stuck low", "stuck high"):
        said = (
            f"{driven}. If it moves there: may be a contact or a wire. "
            "If it stands still there too: may be the driver, or something that holds the net"
        )
        if own.outcome is None or not own.outcome.open_pins:
            return f"{said}."
        part, net = own.outcome.learned.row.part, own.outcome.open_pins[0][0]
        return f"{said}; or {part} does not get {net}, so look at its input pin for {net} too."
    return (
        f"{driven}. If it is right there: may be a contact or a wire. "
        "If it is wrong there too: look at the inputs of that part."
    )
