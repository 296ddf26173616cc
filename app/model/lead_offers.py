"""Leads that look wrong and what can be done about them, for one capture. Nothing here knows Qt."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from app.case.lead_corrections import MendLeads
from app.model.pair_checks import CrossedLeads, PairCheck

if TYPE_CHECKING:
    from app.case.values import HeldCapture
    from app.model.session import Session
    from tracecore.circuit.probe_sheet import ProbeSheet
    from tracecore.compare.pair_checkup import PairLine
    from tracecore.compare.pair_checkup.line import Topic


@dataclass(frozen=True, slots=True)
class LeadOffer:
    """Leads that look wrong, and what can be done: put them right on the sheet for this capture, or leave them.

    ``capture`` is the name of the capture. ``moves`` are pairs of channels, what is read under the first belonging
    under the second; ``inverted`` channels read the opposite. ``picture`` is there for two that are exchanged.
    """

    key: str
    topic: Topic | Literal["all"]
    channels: tuple[str, ...]
    sentence: str
    certain: bool
    capture: str = ""
    moves: tuple[tuple[str, str], ...] = ()
    inverted: tuple[str, ...] = ()
    picture: CrossedLeads | None = None

    @property
    def what(self) -> str:
        """What is remembered where the person leaves them."""
        return mend_name(self.topic, self.channels)

    @property
    def words(self) -> str:
        """What its button says beside the sheet."""
        count = len(self.channels)
        if self.topic == "swapped":
            return f"Swap {self.channels[0]} and {self.channels[1]}"
        if self.topic == "inverted":
            return f"Turn {self.channels[0]} over" if count == 1 else f"Turn {count} over"
        return f"Move {count} leads"

    @property
    def deed(self) -> str:
        """What its button says on the card."""
        if self.topic == "all":
            return "Put all right in the sheet"
        if self.topic == "swapped":
            return "Swap them in the sheet"
        if self.topic == "inverted":
            return "Turn it over in the sheet" if len(self.channels) == 1 else "Turn them over in the sheet"
        return "Move them in the sheet"

    @property
    def effect(self) -> str:
        """What will have changed, for a tip."""
        this = "for this capture alone; undo takes it back"
        if self.topic == "inverted":
            return f"High counts as low and low as high, {this}"
        lost = [a for a, _ in self.moves if a not in dict(self.moves).values()]
        if lost:
            return f"Each goes under the name of what it reads, {this}. No lead reads {' and '.join(lost)} then"
        return f"Each goes under the name of what it reads, {this}"

    @property
    def change(self) -> MendLeads:
        """The change of the case that puts it right."""
        return MendLeads(self.key, self.moves, self.inverted)


def mend_name(topic: str, channels: Iterable[str]) -> str:
    """The name under which leads are left alone, in whatever order.

    >>> mend_name("swapped", ("6", "5"))
    'swapped 5 6'
    """
    return " ".join((topic, *sorted(channels)))


def name_of(line: PairLine, sheet: ProbeSheet) -> str:
    """The same for a line of a check-up; empty where nothing is offered."""
    channels = channels_of(line, sheet)
    return mend_name(line.topic, channels) if channels else ""


def channels_of(line: PairLine, sheet: ProbeSheet) -> tuple[str, ...]:
    """The channels that would be put right."""
    if line.topic == "inverted":
        channels = {p.signal: p.channel for p in sheet.probes}
        return tuple(channels.get(s, s) for s in line.signals)
    return line.swap or tuple(channel for channel, _ in line.moves)


def accusing(session: Session, pair: PairCheck | None, capture: HeldCapture) -> list[PairLine]:
    """Lines that name leads as off, without those that a person left alone."""
    lines = pair.lines if pair is not None else ()
    return [n for n in lines if n.kind != "fine" and name_of(n, session.case.sheet) not in capture.left_alone]


def offers_of(session: Session, capture: HeldCapture, pair: PairCheck | None) -> tuple[LeadOffer, ...]:
    from tracecore.compare.pair_checkup.line import CERTAIN

    offers = []
    loaded = session.shelf.loaded(capture)
    for line in accusing(session, pair, capture):
        channels = channels_of(line, session.case.sheet)
        inverted = channels if line.topic == "inverted" else ()
        # volts have no opposite
        if not channels or (inverted and loaded is not None and not all(c in loaded.digital for c in inverted)):
            continue
        picture = pair.picture(line) if pair is not None and line.swap is not None else None
        certain = line.sure >= CERTAIN
        offers.append(
            LeadOffer(
                capture.key, line.topic, channels, line.text, certain, capture.name, line.moves, inverted, picture
            )
        )
    return tuple(offers)


def together(offers: tuple[LeadOffer, ...]) -> LeadOffer | None:
    """All that is offered for one capture as one offer; None where there is one at most."""
    if len(offers) < 2:
        return None
    return LeadOffer(
        offers[0].key,
        "all",
        tuple(channel for offer in offers for channel in offer.channels),
        "",
        all(offer.certain for offer in offers),
        offers[0].capture,
        tuple(move for offer in offers for move in offer.moves),
        tuple(channel for offer in offers for channel in offer.inverted),
    )
