"""Which rows a bench card gets: what to measure with power off, then with power on, at the pins that are known.

Only the probe sheet, the pin list, the case's log and the caller know pins; none is made up. A row whose pin nobody
knows says what is lacking and keeps a line to write it on. Readings of the good unit come from the log, from the ohm
readings, or from volts of the good capture. Limits stand with their source in the line below them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from app.case.record import OpenCase, next_id
from app.case.values import BenchCard, CardRow
from tracecore.circuit.pin_list import DRIVING, Pinned
from tracecore.compare.fault_kinds import FaultKind
from tracecore.measure.families import Family, family
from tracecore.quantities import group_digits

if TYPE_CHECKING:
    from tracecore.circuit.probe_sheet import Probe
    from tracecore.compare.findings import Cause, SignalFinding
    from tracecore.comparison import Comparison

BLANK = "________"
"""A line to write on where a pin is not known."""
MOST_ROWS = 10
"""So many rows and the figure fit on one sheet of A4 or Letter."""
RAISED_OHM = 1.0
"""A contact reads "raised" from so much above the good unit on. Common practice."""
PRACTICE = "common practice"
TO_SUPPLY = "line to +5 V"
PIN = re.compile(r"\b(\d{1,3})-([A-Z])(\d{1,3})\b")
"""Slot, row letter and number of a pin that can be drawn on a map: ``7-B04``."""
_GROUND, _SUPPLY = {"gnd", "ground", "0v", "vss"}, {"vcc", "+5v", "5v", "+5"}


@dataclass(frozen=True, slots=True)
class Net:
    """The pins of one signal, each as it is typed and empty where not known, and the rail pins by slot.

    ``here`` is the pin that was captured; it is the driver's own where both are the same. ``partner`` is the pin of a
    signal that this one may be bridged to.
    """

    here: str
    driver: str
    receivers: tuple[str, ...]
    partner: str
    ground: Mapping[str, str]
    supply: Mapping[str, str]

    @property
    def first_receiver(self) -> str:
        """The receiver that is measured first: the captured pin, unless that is the driver's."""
        if self.here != self.driver:
            return self.here
        return self.receivers[0] if self.receivers else ""

    @property
    def further(self) -> tuple[str, ...]:
        """Known receivers besides the first."""
        return tuple(pin for pin in self.receivers if pin not in (self.first_receiver, self.driver))


def card_for(
    case: OpenCase,
    comparison: Comparison,
    cause: Cause,
    *,
    receivers: Iterable[str] = (),
    ground_pins: Iterable[str] = (),
    supply_pins: Iterable[str] = (),
    at: str = "",
    author: str = "",
) -> BenchCard:
    """The card of a likely cause, not yet part of the case (its ``id`` is 0, so that ``Put`` numbers it).

    ``receivers`` are further pins on the net, ``ground_pins`` and ``supply_pins`` one pin a slot, all as ``7-B04``;
    the sheet's rows named ground or +5 V, and those with the same driver, count besides. Raises KeyError where the
    comparison does not have the cause's signal.
    """
    finding = comparison.signal(cause.signal)
    net = net_of(case, finding, cause, receivers, ground_pins, supply_pins)
    # the longest card has both kinds of rows for each further receiver
    slow = cause.fault_kind is FaultKind.SLOW_RISE
    spare = 1 if net.partner or slow else 2
    off, on = _power_off(case, net, spare), _power_on(case, comparison, finding, net, spare)
    if slow:
        off.insert(0, _to_supply(case, net))
    return BenchCard(
        0, card_number(case), cause.signal, cause.since_cycle, _sentence(finding, cause), (*off, *on)[:MOST_ROWS],
        at=at, author=author,
    )  # fmt: skip


def card_number(case: OpenCase) -> str:
    """The number of the case's next card: the case's own (1 where it has none), and a count.

    >>> card_number(OpenCase(number="14"))
    '14-1'
    """
    taken, count = {card.number for card in case.cards}, next_id(case.cards)
    while (number := f"{case.number or '1'}-{count}") in taken:
        count += 1
    return number


def found_choices(card: BenchCard) -> tuple[str, ...]:
    """What the fault may turn out to be: boxes to tick.

    >>> found_choices(BenchCard(0, "1-1", "D03", None, "", (CardRow("off", "6-B22 to 7-B04", "", "", "", "ohm"),)))
    ('wire', 'wrap', 'contact', 'card 6', 'card 7', 'nothing yet')
    """
    pull_up = ("pull-up",) if any(row.how.startswith(TO_SUPPLY) for row in card.rows) else ()
    slots = card_slots(card)[: 4 - len(pull_up)]
    return ("wire", "wrap", "contact", *pull_up, *(f"card {slot}" for slot in slots), "nothing yet")


def card_slots(card: BenchCard) -> tuple[str, ...]:
    """The slots whose pins the card names, in the crate's order."""
    slots = {place.rsplit("-", 1)[0] for row in card.rows for place in _places(row.probe)}
    return tuple(sorted(slots, key=lambda slot: (not slot.isdecimal(), int(slot) if slot.isdecimal() else 0, slot)))


_LACKING = re.compile(
    r"[,;:] (?:pin not known|both pins not known|(?:\+5 V|ground) pin not known|the sheet lacks [^;]*)"
)


def with_pins(row: CardRow, pins: tuple[str, ...]) -> CardRow:
    """The row with its blanks filled in order, as somebody found the pins; an empty text leaves its blank.

    >>> with_pins(CardRow("off", f"7-B04 to {BLANK}", "to ground, pin not known", "", "", "ohm"), ("7-A36",)).probe
    '7-B04 to 7-A36'
    """
    parts = row.probe.split(BLANK)
    given = [*(pin.strip() for pin in pins), *("" for _ in parts)]
    probe = parts[0] + "".join((pin or BLANK) + part for pin, part in zip(given, parts[1:], strict=False))
    # what was lacking is not lacking any more
    how = row.how if BLANK in probe else _LACKING.sub("", row.how)
    return replace(row, probe=probe, how=how)


def net_of(
    case: OpenCase,
    finding: SignalFinding,
    cause: Cause,
    receivers: Iterable[str] = (),
    ground_pins: Iterable[str] = (),
    supply_pins: Iterable[str] = (),
) -> Net:
    """What the sheet, the pin list and the caller know of the finding's net."""
    probes = case.sheet.probes
    listed = _listed(case, finding)
    driver = finding.driver or next((row.place for row in listed if row.direction in DRIVING and row.place), "")
    same = [_place(p) for p in probes if driver and p.driver == driver]
    of_list = [row.place for row in listed if row.place and row.direction == "in"]
    named = dict.fromkeys([finding.place, *same, *of_list, *receivers])
    partner = cause.partners[0] if cause.partners else ""
    return Net(
        finding.place,
        driver,
        tuple(pin for pin in named if pin and pin != driver),
        next((_place(p) for p in probes if p.signal == partner), "") or partner,
        _by_slot(case, _GROUND, ground_pins),
        _by_slot(case, _SUPPLY, supply_pins),
    )


def _listed(case: OpenCase, finding: SignalFinding) -> tuple[Pinned, ...]:
    """The pin list's rows of the net at the captured pin, else of the net called like the signal."""
    if case.pins is None:
        return ()
    return case.pins.of_net(case.pins.net_at(finding.place) or finding.signal)


def _by_slot(case: OpenCase, names: set[str], said: Iterable[str]) -> dict[str, str]:
    rails = [_place(p) for p in case.sheet.probes if _plain(p.signal) in names and p.slot and p.pin]
    listed = [row.place for row in (case.pins.rows if case.pins else ()) if _plain(row.net) in names and row.place]
    return {_slot(pin): pin for pin in (*listed, *rails, *said)}


def _plain(name: str) -> str:
    return name.replace(" ", "").lower()


def _power_off(case: OpenCase, net: Net, spare: int) -> list[CardRow]:
    driver, first = net.driver or BLANK, net.first_receiver or BLANK
    lacking = [what for what, pin in (("driver", net.driver), ("receiver", net.first_receiver)) if not pin]
    how = "at the wrap posts; read again while moving it"
    if lacking:
        how = f"at the wrap posts; the sheet lacks the {' and '.join(lacking)} pin"
    rows = [_continuity(case, driver, first, how)]
    left = len(net.further) - spare
    more = f"; not on this card: {left} more" if left > 0 else ""
    rows += [_continuity(case, driver, pin, f"at the wrap posts{more}") for pin in net.further[:spare]]
    if net.partner:
        limit = f"below good: may be bridged\n{PRACTICE}"
        good = _reading(case, (first, net.partner), "ohm")
        rows.append(CardRow("off", f"{first} to {net.partner}", "between the two nets", good, limit, "ohm"))
    slot = _slot(first)
    ground = net.ground.get(slot, "")
    lacks = "" if ground else ", pin not known"
    card = f"slot {slot}" if slot else "its slot"
    probe = f"{first} to {ground or BLANK}"
    rows.append(
        CardRow(
            "off", probe, f"to ground{lacks}", _reading(case, (first, ground), "ohm", "empty"),
            f"far below good: may be held\n{PRACTICE}", "ohm", state=f"{card} empty",
        )
    )  # fmt: skip
    lead = f"red lead on {first.rsplit('-', 1)[-1]}" if first != BLANK else "red lead on the signal"
    rows.append(
        CardRow(
            "off", probe, f"to ground{lacks}", _reading(case, (first, ground), "kohm", "card"),
            f"same meter, same range\n{PRACTICE}", "kohm", state=f"card {slot or 'back'} in, {lead}",
        )
    )  # fmt: skip
    return rows


def _to_supply(case: OpenCase, net: Net) -> CardRow:
    """The line's pull-up or terminator, where it rises slowly."""
    first = net.first_receiver or net.driver or BLANK
    supply = net.supply.get(_slot(first), "")
    return CardRow(
        "off", f"{first} to {supply or BLANK}", f"{TO_SUPPLY}{'' if supply else ', +5 V pin not known'}",
        _reading(case, (first, supply), "ohm"), f"above good: may be the pull-up\n{PRACTICE}", "ohm", state="cards in",
    )  # fmt: skip


def _continuity(case: OpenCase, one: str, other: str, how: str) -> CardRow:
    good = _reading(case, (one, other), "ohm")
    number = re.match(r"\s*(\d+(?:\.\d+)?)\s*ohm", good)
    limit = (
        f"above {float(number[1]) + RAISED_OHM:g} ohm: raised" if number else f"{RAISED_OHM:g} ohm above good: raised"
    )
    return CardRow("off", f"{one} to {other}", how, good, f"{limit}\n{PRACTICE}", "ohm")


def _power_on(case: OpenCase, comparison: Comparison, finding: SignalFinding, net: Net, spare: int) -> list[CardRow]:
    rows = [_supply(case, net)]
    pins = [("driver", net.driver), ("receiver", net.first_receiver)]
    pins += [("receiver", pin) for pin in net.further[:spare]]
    for role, pin in pins:
        rows.append(_levels(case, comparison, finding, net, role, pin))
    return rows


def _supply(case: OpenCase, net: Net) -> CardRow:
    """+5 V at the slot, before any level: a low supply explains every weak one. Limits of plain 74, the narrowest."""
    limits, slot = family("74"), _slot(net.first_receiver or net.driver)
    supply, ground = net.supply.get(slot, ""), net.ground.get(slot, "")
    lacking = [what for what, pin in (("+5 V", supply), ("ground", ground)) if not pin]
    how = f"+5 V at {f'slot {slot}' if slot else 'the slot'}, read first"
    if lacking:
        how += "; both pins not known" if len(lacking) > 1 else f"; {lacking[0]} pin not known"
    good = _reading(case, (supply, ground), "V")
    limit = f"{limits.vcc_min_v:.2f} to {limits.vcc_max_v:.2f} V\n{_source(limits)}"
    return CardRow("on", f"{supply or BLANK} to {ground or BLANK}", how, good, limit, "V")


def _levels(case: OpenCase, comparison: Comparison, finding: SignalFinding, net: Net, role: str, pin: str) -> CardRow:
    """Where the pin rests when low and when high: an output's promise at the driver, an input's need elsewhere."""
    here = _at_pin(comparison, pin) or (finding if pin == finding.place else None)
    said = (here.family if here else "") or (finding.family if role == "receiver" else "")
    limits = family(said or finding.family or case.settings.family)
    low, high = (limits.vol_v, limits.voh_v) if role == "driver" else (limits.vil_v, limits.vih_v)
    ground = net.ground.get(_slot(pin), "")
    how = f"{role}, {_motion(finding)}; ground clip on {ground or BLANK}"
    if not pin:
        how = f"{role}: the sheet lacks its pin; {_motion(finding)}"
    good = _rests(here, limits) or _reading(case, (pin,), "V")
    assumed = "" if said else ", family assumed"
    limit = f"low ≤ {low:.1f}, high ≥ {high:.1f} V\n{_source(limits)}{assumed}"
    return CardRow("on", pin or BLANK, how, good, limit, "V", ("low", "high"))


def _source(limits: Family) -> str:
    note = "" if limits.status == "seen" else ", from memory: check"
    return f"{limits.name}: {limits.cited}{note}"


def _at_pin(comparison: Comparison, pin: str) -> SignalFinding | None:
    return next((s for s in comparison.signals if pin and s.place == pin), None)


def _rests(finding: SignalFinding | None, limits: Family) -> str:
    """Where the good side rests, in volts; empty where it was not captured in volts.

    Taken where the line rests, not from its ringing; a level that it never takes reads "none".
    """
    if finding is None or finding.good_volts is None:
        return ""
    from tracecore.measure.levels import digitise

    levels = digitise(finding.good_volts, limits)
    low, high = ("none" if v is None else f"{v:.1f}" for v in (levels.low_v, levels.high_v))
    return f"{low} and {high} V"


def _motion(finding: SignalFinding) -> str:
    """What the good unit's capture shows of the net: it moves, or it stands still."""
    trace = finding.good_trace
    if trace is None:
        return "not captured on the good unit"
    return "should move" if len(trace.transitions_ps) else "stands still on the good unit"


def _reading(case: OpenCase, pins: tuple[str, ...], unit: str, word: str = "") -> str:
    """The newest reading of the good unit between just these pins, in the log or among the ohm readings; empty where
    there is none.

    ``word`` must stand in what was written of the place, for readings that differ by the card's being in or out.
    """
    corrected = {entry.corrects for entry in case.entries}
    for entry in reversed([e for e in case.entries if e.id not in corrected]):
        for reading in entry.readings:
            alike = set(_places(reading.where)) == set(pins) and "" not in pins
            if alike and reading.good and word in reading.where.lower() and reading.unit.lower() == unit.lower():
                typed = reading.good.strip()
                return f"{typed} {reading.unit}" if re.fullmatch(r"[\d.,]+", typed) else typed
    return _metered(case, pins, card_in=word == "card") if unit in ("ohm", "kohm") else ""


def _metered(case: OpenCase, pins: tuple[str, ...], *, card_in: bool) -> str:
    """The same from the ohm readings, the leads taken off."""
    for read in reversed(case.continuity.of("good")):
        if read.ohms is not None and {read.start, read.end} == set(pins) and read.card_in == card_in:
            ohms = read.ohms - case.continuity.good_leads_ohms
            if math.isinf(ohms):
                return "open"
            return f"{ohms / 1e3:.4g} kohm" if ohms >= 1e3 else f"{round(ohms, 2) + 0.0:g} ohm"
    return ""


def _sentence(finding: SignalFinding, cause: Cause) -> str:
    at = f" at {finding.place}" if finding.place else ""
    since = "" if cause.since_cycle is None else f", from good cycle {group_digits(cause.since_cycle)} on"
    driven = f"; driven by {finding.driver}" if finding.driver and finding.driver != finding.place else ""
    chip = f" {cause.chip.heading}." if cause.chip is not None else ""
    return f"{cause.signal}{at}: {cause.fault_mode}{since}{driven}.{chip}"


def _places(text: str) -> list[str]:
    """Pins in a text, as typed: words with a slot, a dash and a pin."""
    return re.findall(r"\b[0-9A-Za-z]+-[0-9A-Za-z]+\b", text)


def _place(probe: Probe) -> str:
    return "-".join(part for part in (probe.slot, probe.pin) if part)


def _slot(place: str) -> str:
    head = place.rsplit("-", 1)[0] if "-" in place else ""
    # a leg, U14-14, is in no slot that it names
    return head if head.isdecimal() else ""
