"""Ranks likely causes before their consequences.

The signal that goes wrong first comes first: by the cycle, then by the time within the cycle. Where two go
wrong closer together than the captures can tell, they are said to be equal. A wrong delay or a weak level that
was there before anything logical went wrong counts by its own first instant. A signal that differs among
the known-good captures too says little and goes to the end. These are likely causes, not verdicts.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from tracecore.compare.fault_modes import FaultMode
from tracecore.compare.findings import Cause, SignalFinding
from tracecore.quantities import format_time, group_digits


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


def rank_causes(witnesses: Sequence[Witness], uncertainty_ps: int) -> tuple[Cause, ...]:
    """Likely causes, best supported first; ranks from 1."""
    ordered = sorted(witnesses, key=_key)
    first = ordered[0] if ordered else None
    by_name = {w.finding.signal: w for w in ordered}
    return tuple(_cause(rank, witness, first, by_name, uncertainty_ps) for rank, witness in enumerate(ordered, start=1))


def _key(witness: Witness) -> tuple[bool, float, float, str]:
    """Varying ones last; then by the first wrong instant. Of signals wrong at one instant, the one that is
    wrong more often stands nearer to the cause."""
    first = witness.finding.first_divergence
    at = float(first.good_ps) if first is not None else float("inf")
    return witness.goods.diverging > 0, at, -float(len(witness.finding.diverging_cycles)), witness.finding.signal


def _cause(
    rank: int,
    witness: Witness,
    first: Witness | None,
    all_by_name: Mapping[str, Witness],
    uncertainty_ps: int,
) -> Cause:
    finding, mode = witness.finding, witness.mode
    at = finding.first_divergence
    because = list(mode.because)
    because += _place_in_time(witness, first, all_by_name, uncertainty_ps)
    if witness.goods.diverging:
        because.append(
            f"It differs in {witness.goods.diverging} of {witness.goods.captures} other known-good captures too, "
            "so it may be no fault."
        )
    return Cause(
        rank,
        finding.signal,
        mode.name,
        at.cycle if at else None,
        at.good_ps if at else None,
        _summary(finding),
        tuple(because),
        _readings(witness),
        _probe_next(witness),
    )


def _place_in_time(
    witness: Witness, first: Witness | None, all_by_name: Mapping[str, Witness], uncertainty_ps: int
) -> list[str]:
    """Says what came before, or that the captures cannot tell."""
    own = witness.finding.first_divergence
    if own is None or first is None:
        return []
    others = {
        name: w.finding.first_divergence.good_ps
        for name, w in all_by_name.items()
        if w is not witness and w.finding.first_divergence is not None
    }
    if witness is first:
        near = [name for name, at in others.items() if abs(at - own.good_ps) <= uncertainty_ps]
        if near:
            return [
                f"{', '.join(near)} {'goes' if len(near) == 1 else 'go'} wrong within the same "
                f"±{format_time(uncertainty_ps, digits=2)}: "
                "these captures cannot tell which is first."
            ]
        if others:
            return ["No other signal goes wrong before it."]
        return ["No other captured signal is wrong."]
    lead = first.finding.first_divergence
    if lead is None:
        return []
    behind = own.cycle - lead.cycle
    if abs(own.good_ps - lead.good_ps) <= uncertainty_ps:
        return [f"It goes wrong together with {first.finding.signal}, as near as these captures can tell."]
    when = "in the same cycle" if behind == 0 else f"{group_digits(behind)} cycle{'s' if behind != 1 else ''} later"
    return [f"{first.finding.signal} is wrong before it ({when}): this may be a consequence."]


def _summary(finding: SignalFinding) -> str:
    """One line: since when, and how often."""
    at, count = finding.first_divergence, len(finding.diverging_cycles)
    if at is None or not count:
        return "from the start"
    left = max(count, finding.matched_stop - at.cycle)
    return f"from cycle {group_digits(at.cycle)} · {_percent(count / left)} differ since"


def _percent(share: float) -> str:
    return f"{100 * share:.3g} %"


def _readings(witness: Witness) -> tuple[tuple[str, str], ...]:
    rows = [("Seen in", f"{witness.suspects.diverging} of {witness.suspects.captures} suspect captures")]
    if witness.goods.captures:
        rows.append(("Differs in", f"{witness.goods.diverging} of {witness.goods.captures} other known-good captures"))
    finding = witness.finding
    if finding.missing_transitions or finding.extra_transitions:
        rows.append(
            (
                "Transitions",
                f"{group_digits(finding.missing_transitions)} missing, {group_digits(finding.extra_transitions)} extra",
            )
        )
    if finding.moved_transitions:
        rows.append(("Late or early", f"{group_digits(finding.moved_transitions)} transitions"))
    if finding.levels:
        bad = sum(v.side == "suspect" for v in finding.levels)
        rows.append(
            (
                "Outside the limits",
                f"{group_digits(bad)} on the suspect, {group_digits(len(finding.levels) - bad)} on the good",
            )
        )
    return tuple(rows)


def _probe_next(witness: Witness) -> str:
    """One next measurement and what each outcome may mean. It only says may: one probe is no proof."""
    finding, kind = witness.finding, witness.mode.kind
    here = finding.place or f"the pin of {finding.signal}"
    if witness.mode.partners:
        partner = witness.mode.partners[0]
        return (
            f"With power off, measure the resistance between {here} and {partner}. Low against the good slot: "
            "may be bridged pins or wires."
        )
    driver = finding.driver or "the pin that drives this net"
    if kind in ("weak low", "weak high", "undefined", "runts", "slow transitions"):
        return (
            f"{driver}, where this net is driven: compare the level there with {here}. Sound there: may be a "
            "contact or a wire on the way. Weak there too: may be two outputs fighting, or the driver."
        )
    if kind in ("late", "early", "one cycle late"):
        return (
            f"{driver}, where this net is driven. As {kind} there: look ahead of it, at what clocks or feeds it. "
            "On time there: may be the path between, or its load."
        )
    if kind in ("stuck low", "stuck high"):
        return (
            f"{driver}, where this net is driven. If it moves there: may be a contact or a wire. "
            "If it stands still there too: may be the driver, or something that holds the net."
        )
    return (
        f"{driver}, where this net is driven. If it is right there: may be a contact or a wire. "
        "If it is wrong there too: look at the inputs of that part."
    )
