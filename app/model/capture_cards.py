"""What a capture's card says, in words. Check-ups come in two waves: alone, then after the line-up."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from app.messages import capture_line
from app.model.pair_checks import CrossedLeads, PairCheck, pair_key
from tracecore.errors import RequestError

if TYPE_CHECKING:
    from app.case.record import Side
    from app.case.values import HeldCapture
    from app.model.bench import Bench
    from tracecore.circuit.probe_sheet import ProbeSheet
    from tracecore.compare.pair_checkup import PairLine

WORST_FIRST = ("bad", "look", "waiting", "left", "fine", "later")
LATER = "Its leads are judged after the line-up"


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence of a check-up.

    ``kind`` is "fine", "look", "bad", "waiting" (for its check-up), "left" (as a person wanted it) or "later" (what
    only the line-up can tell).
    """

    kind: str
    text: str
    do: str = ""


@dataclass(frozen=True, slots=True)
class LeadOffer:
    """Two leads that look swapped, and what can be done: exchange them on the sheet, or leave them."""

    key: str
    channels: tuple[str, str]
    sentence: str
    certain: bool
    picture: CrossedLeads

    @property
    def what(self) -> str:
        """What is remembered where the person leaves them."""
        return swap_name(self.channels)


@dataclass(frozen=True, slots=True)
class NamedShades:
    """One channel in the thumbnail of an open card: its signal, active level, shades, and whether it is accused."""

    signal: str
    active: str
    shades: str
    accused: bool


@dataclass(frozen=True, slots=True)
class CardWords:
    """One card. ``kind`` is that of the worst sentence; ``sentences`` worst first."""

    capture: HeldCapture
    index: int
    shown: bool
    facts: str
    kind: str
    sentences: tuple[Sentence, ...]
    offers: tuple[LeadOffer, ...] = ()
    channels: tuple[NamedShades, ...] = ()

    @property
    def headline(self) -> str:
        """The worst finding, as short as it can be said."""
        text = self.sentences[0].text.partition(". ")[0].rstrip(".")
        # what is fit for timing is fit for states
        return text.replace("fit for states and timing", "fit for timing")


@dataclass(frozen=True, slots=True)
class LeadMark:
    """What a row of the sheet says of one channel of one capture; ``kind`` "look" or "fine"."""

    kind: str
    text: str


def facts_line(capture: HeldCapture) -> str:
    """Rate, length and channels; the layout of the file stands in the details."""
    return capture_line(capture).removeprefix(f"{capture.reader} · ")


def swap_name(channels: tuple[str, str]) -> str:
    """The name under which a swap is left alone, in either order.

    >>> swap_name(("6", "5"))
    'swapped 5 6'
    """
    return f"swapped {min(channels)} {max(channels)}"


def cards(bench: Bench, side: Side) -> tuple[CardWords, ...]:
    """The cards of one side, in the order in which the captures came."""
    state = bench.case.side(side)
    return tuple(_card(bench, side, capture, i, i == state.shown) for i, capture in enumerate(state.captures))


def _card(bench: Bench, side: Side, capture: HeldCapture, index: int, shown: bool) -> CardWords:
    pair = _pair_check(bench, side, capture)
    offers = _offers(capture, pair)
    sentences = sorted(
        [*_alone(bench, capture), *_paired(bench, side, capture, pair)], key=lambda s: WORST_FIRST.index(s.kind)
    )
    accused = {channel for line in _accusing(pair, capture) for channel, _ in line.moves}
    named = tuple(
        NamedShades(probe.signal, probe.active, shades, channel in accused)
        for channel, shades in _shades(capture)
        for probe in (bench.case.sheet.probe(channel),)
    )
    return CardWords(capture, index, shown, facts_line(capture), sentences[0].kind, tuple(sentences), offers, named)


def _shades(capture: HeldCapture) -> list[tuple[str, str]]:
    """Channels with their shades, those of exchanged leads exchanged too."""
    kept = dict(zip(capture.channels, capture.shades, strict=False))
    other = {a: b for pair in capture.swaps for a, b in (pair, pair[::-1])}
    return [(channel, kept.get(other.get(channel, channel), "")) for channel in kept]


def _alone(bench: Bench, capture: HeldCapture) -> list[Sentence]:
    checkup = bench.checkups.get(capture.key)
    if checkup is not None:
        return [Sentence(line.kind, line.text) for line in checkup.lines]
    loaded = bench.shelf.loaded(capture) is not None
    return [Sentence("waiting", "Being checked…" if loaded else "Not read yet: Compare reads it")]


def _pair_check(bench: Bench, side: Side, capture: HeldCapture) -> PairCheck | None:
    """None where it was not made yet; leads are judged on the suspect side, against the shown good capture."""
    if side == "good":
        return None
    key = pair_key(bench.case, capture)
    return bench.pairs.get(key) if key is not None else None


def _paired(bench: Bench, side: Side, capture: HeldCapture, pair: PairCheck | None) -> list[Sentence]:
    found = [
        Sentence("left", f"Leads {a} and {b} are exchanged on the sheet for this capture alone")
        for a, b in capture.swaps
    ]
    if pair is None:
        waits = side == "suspect" and bench.ready and capture.key in bench.checkups
        return [*found, Sentence("later", LATER)] if waits else found
    for line in pair.lines:
        if line.swap is not None and swap_name(line.swap) in capture.left_alone:
            found.append(Sentence("left", f"Left as it is: {_lower(line.text)}"))
        else:
            sure = f" This is {line.sure_words}." if line.kind != "fine" and line.topic != "skew" else ""
            found.append(Sentence(line.kind, line.text + sure, line.do if line.kind != "fine" else ""))
    return found


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def _accusing(pair: PairCheck | None, capture: HeldCapture) -> list[PairLine]:
    """Lines that name leads as off, without those that a person left alone."""
    lines = pair.lines if pair is not None else ()
    left = [line for line in lines if line.swap is not None and swap_name(line.swap) in capture.left_alone]
    return [line for line in lines if line.kind != "fine" and line not in left]


def _offers(capture: HeldCapture, pair: PairCheck | None) -> tuple[LeadOffer, ...]:
    from tracecore.compare.pair_checkup.line import CERTAIN

    offers = []
    for line in _accusing(pair, capture):
        picture = pair.picture(line) if pair is not None else None
        if line.swap is not None and picture is not None:
            offers.append(LeadOffer(capture.key, line.swap, line.text, line.sure >= CERTAIN, picture))
    return tuple(offers)


def all_offers(bench: Bench) -> tuple[LeadOffer, ...]:
    """Every exchange of leads that is offered now."""
    return tuple(offer for words in cards(bench, "suspect") for offer in words.offers)


def lead_marks(bench: Bench) -> dict[str, tuple[LeadMark, ...]]:
    """By channel, what the check-up of some capture says against its row on the sheet, and its exceptions."""
    marks: dict[str, list[LeadMark]] = {}
    for capture in bench.case.suspect.captures:
        for line in _accusing(_pair_check(bench, "suspect", capture), capture):
            for channel, text in _lead_texts(line, bench.case.sheet):
                marks.setdefault(channel, []).append(LeadMark("look", f"{capture.name} only: {text}"))
    for capture in bench.case.captures:
        for pair in capture.swaps:
            for channel, other in (pair, pair[::-1]):
                marks.setdefault(channel, []).append(LeadMark("fine", f"{capture.name} only: read from lead {other}"))
    return {channel: tuple(found) for channel, found in marks.items()}


def _lead_texts(line: PairLine, sheet: ProbeSheet) -> list[tuple[str, str]]:
    if line.topic == "inverted":
        channels = {p.signal: p.channel for p in sheet.probes}
        return [(c, f"lead {c} looks inverted") for c in (channels.get(s, s) for s in line.signals)]
    return [(channel, f"lead {channel} looks like {sheet.probe(other).signal}") for channel, other in line.moves]


def side_line(bench: Bench, side: Side) -> str:
    """ "3 captures, 1 needs a look"; what an empty side waits for."""
    words, unit = cards(bench, side), bench.case.unit(side)
    parts = [unit.name] if unit.name else []
    if not words:
        return " · ".join([*parts, "no captures yet"])
    look = sum(w.kind in ("look", "bad") for w in words)
    text = f"{len(words)} capture{'s' if len(words) != 1 else ''}"
    return " · ".join([*parts, text + (f", {look} need{'s' if look == 1 else ''} a look" if look else "")])


def bench_line(bench: Bench) -> str:
    """How far the check-ups are, over both sides; "fit" is said after the second wave only."""
    words = [*cards(bench, "good"), *cards(bench, "suspect")]
    count = len(words)
    if not count:
        return "No captures yet"
    each = f"{count} capture{'s' if count != 1 else ''}"
    checked = sum(w.capture.key in bench.checkups for w in words)
    if checked < count:
        return f"{each} on the bench, {checked} checked"
    if bench.ready and not all_judged(bench):
        return f"{each} checked one by one; the leads are judged after the line-up"
    counted = f"all {count} count in the ranking" if bench.ready and count > 2 else ""
    return "  ·  ".join(part for part in (f"{each} read and checked", counted) if part)


def all_judged(bench: Bench) -> bool:
    """Are both waves of check-ups over?"""
    captures = bench.case.captures
    if not bench.ready or any(c.key not in bench.checkups for c in captures):
        return False
    return all(pair_key(bench.case, c) in bench.pairs for c in bench.case.suspect.captures)


def edited_capture(capture: HeldCapture, name: str, note: str, taken: str) -> HeldCapture:
    """The capture with what was typed about it. Raises RequestError, one sentence, where it cannot be taken."""
    name = name.strip()
    if not name:
        raise RequestError(f"{capture.name}: found an empty name; expected one. Type a name.")
    return replace(capture, name=name, note=note.strip(), taken=taken_text(taken))


def taken_text(text: str) -> str:
    """A time of capture as it is kept, ISO 8601 with its offset from UTC. Raises RequestError.

    >>> taken_text("2026-02-03 09:40+01:00")
    '2026-02-03T09:40:00+01:00'
    """
    text = text.strip()
    if not text:
        return ""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise RequestError(
            f"Time of capture: found {text!r}; expected a date and a time such as 2026-02-03 09:40. Type it like this."
        ) from error
    return (moment if moment.tzinfo else moment.astimezone()).isoformat(timespec="seconds")


def taken_words(taken: str) -> str:
    """A kept time of capture as it is typed and read: the place's own time, without seconds where they are 0."""
    if not taken:
        return ""
    moment = datetime.fromisoformat(taken)
    return moment.strftime("%Y-%m-%d %H:%M" if not moment.second else "%Y-%m-%d %H:%M:%S")
