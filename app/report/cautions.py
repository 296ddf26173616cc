"""Reminders for work in an old mains-powered cabinet.

They defer to local rules, to the maker's service manual and to licensed or otherwise qualified persons, and
never say that a step is safe. Common practice, except the points on disconnecting, stored charge and
who may work on live parts, which follow the de-energising rules that many jurisdictions share.
"""

from __future__ import annotations

from tracecore.cautions import AT_THE_PINS

__all__ = ["AT_THE_PINS", "CAUTIONS", "DEFER", "SHORT", "UNATTENDED"]

SHORT = (
    "Caution: mains and stored charge can kill. Local codes, the maker's service manual and licensed or qualified "
    "persons decide how this cabinet may be worked on; these results do not say that any step is safe."
)

UNATTENDED = (
    "Caution: an old machine can overheat or catch fire while nobody looks. Local codes, and whoever answers for the "
    "building, decide whether it may run unattended."
)
"""Said where a watch is started, since that is when people walk away."""

DEFER = (
    "Reminders only, and not complete. Local codes, the maker's service manual and licensed or otherwise qualified "
    "persons come first. Nothing in this report says that a step is safe."
)

CAUTIONS: tuple[str, ...] = (
    "Disconnect every source of supply before covers come off: pull the plug, or open and lock the breaker. A panel "
    "switch, an interlock or a remote line is not a disconnect.",
    "Treat capacitors as live until they were discharged through a suitable resistor and measured. Large ones can "
    "regain some voltage by themselves.",
    "Prove a circuit dead with a meter that was tried on a known source just before and just after.",
    "Who may work on live circuits, and from what voltage, is for local rules to say. Do not work alone on live "
    "mains parts.",
    "Old machines may lack a sound protective earth or have a wrongly wired plug: have a licensed electrician check "
    "before the first power-up.",
    "Clip an earthed instrument's ground lead only to circuit ground that is known to be earthed, and never lift the "
    "instrument's own earth. Two earthed instruments share a ground loop.",
    "A 5 V logic supply can deliver tens of amperes: a slipped probe or a ring can weld and burn. Take jewellery off.",
    "Power down before a card is pulled or seated, and before clips are moved on closely spaced pins.",
    "Try an unknown supply on a dummy load first, never on the board. Above 7 V on VCC is past what TTL is built for.",
    "Fans, belts and drives start without warning; glass display tubes can implode and hold high voltage.",
    "Old materials may be harmful: asbestos, beryllium oxide, PCB-filled capacitors, leaking cells, lead. Ask before "
    "cutting, brushing or heating.",
    "Static: wear a resistor strap while the machine is off, and take it off near live mains.",
    "Heavy drawers and racks tip: one drawer out at a time, with the stabiliser extended.",
)
