"""What a capture's card says, in words. Check-ups come in two waves: alone, then after the line-up."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from app.case.joined_files import strangers
from app.case.lead_corrections import leads_of, moved_words
from app.comparison_text import capture_line
from app.model.lead_offers import LeadOffer, accusing, channels_of, name_of, offers_of
from app.model.pair_checks import PairCheck, pair_key
from tracecore.errors import RequestError
from tracecore.own_names import file_channels

if TYPE_CHECKING:
    from app.case.record import Side
    from app.case.values import HeldCapture
    from app.model.session import Session
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
        """The worst finding, as short as it can be said, what matters most in front: narrow cards cut the end."""
        text = _first_part(self.sentences[0])
        # what is fit for timing is fit for states
        text = text.replace("fit for states and timing", "fit for timing")
        seen, mark, fit = text.partition(": ")
        return f"{fit[:1].upper()}{fit[1:]}: {_lower(seen)}" if mark and fit.startswith("fit for") else text


def _first_part(sentence: Sentence) -> str:
    """The finding without what was seen of it: the first sentence, of leads what stands before the colon."""
    text = sentence.text.partition(". ")[0].rstrip(".")
    return text.partition(": ")[0] if text.startswith("Lead") else text


@dataclass(frozen=True, slots=True)
class LeadMark:
    """What a row of the sheet says of one channel of one capture; ``kind`` "look" or "fine"."""

    kind: str
    text: str


def facts_line(capture: HeldCapture) -> str:
    """Rate, length and channels; the layout of the file stands in the details."""
    return capture_line(capture).removeprefix(f"{capture.reader} · ")


def cards(session: Session, side: Side) -> tuple[CardWords, ...]:
    """The cards of one side, in the order in which the captures came."""
    state = session.case.side(side)
    return tuple(_card(session, side, capture, i, i == state.shown) for i, capture in enumerate(state.captures))


def _card(session: Session, side: Side, capture: HeldCapture, index: int, shown: bool) -> CardWords:
    pair = _pair_check(session, side, capture)
    offers = offers_of(session, capture, pair)
    sentences = sorted(
        [
            *_off_the_sheet(session, capture),
            *_twice(session, side, capture),
            *_stranger(session, side, capture),
            *_alone(session, capture),
            *_paired(session, side, capture, pair),
        ],
        key=lambda s: WORST_FIRST.index(s.kind),
    )
    accused = {
        channel for line in accusing(session, pair, capture) for channel in channels_of(line, session.case.sheet)
    }
    named = tuple(
        NamedShades(probe.signal, probe.active, shades, channel in accused)
        for channel, shades in _shades(capture)
        for probe in (session.case.sheet.probe(channel),)
    )
    return CardWords(capture, index, shown, facts_line(capture), sentences[0].kind, tuple(sentences), offers, named)


def _shades(capture: HeldCapture) -> list[tuple[str, str]]:
    """Channels with their shades, those of exchanged leads exchanged too."""
    kept = dict(zip(capture.channels, capture.shades, strict=False))
    leads = leads_of(capture)
    return [(channel, kept.get(leads.get(channel, ""), "")) for channel in kept]


def _alone(session: Session, capture: HeldCapture) -> list[Sentence]:
    checkup = session.checkups.get(capture.key)
    if checkup is not None:
        return [Sentence(line.kind, line.text) for line in checkup.lines]
    loaded = session.shelf.loaded(capture) is not None
    return [Sentence("waiting", "Being checked…" if loaded else "Not read yet: Compare reads it")]


def _twice(session: Session, side: Side, capture: HeldCapture) -> list[Sentence]:
    """The same file again: on the other side nothing could differ, on the same side it counts once."""
    found = []
    other: Side = "suspect" if side == "good" else "good"
    for where, words in ((other, "on the other side: nothing can differ"), (side, "once more here: it counts once")):
        same = [c for c in session.case.side(where).captures if c.sha256 and c.sha256 == capture.sha256]
        twin = next((c for c in same if c.key != capture.key), None)
        if twin is not None:
            found.append(Sentence("look", f"The same file, {twin.name}, is {words}"))
    return found


def _stranger(session: Session, side: Side, capture: HeldCapture) -> list[Sentence]:
    """A capture that shares no signal with the shown one of its side is no repeat of it."""
    shown = session.case.side(side).shown_capture
    if shown is None or shown is capture or strangers((shown, capture)) is None:
        return []
    text = f"Holds no signal that {shown.name} holds, so it is no repeat of it"
    return [Sentence("look", text, "If both are of one run, join them: Join with… on the open card.")]


def _off_the_sheet(session: Session, capture: HeldCapture) -> list[Sentence]:
    """A sheet that names no channel of a capture is another's: its signals would be compared without their names."""
    sheet = session.case.sheet
    if not sheet.probes or not capture.channels or any(sheet.named(channel) for channel in capture.channels):
        return []
    text = f"The probe sheet names none of its {len(file_channels(capture.channels, capture.reader))} channels"
    return [Sentence("look", text, "Open the sheet that belongs to it, or correct the channels on this one.")]


def sheet_words(session: Session) -> str:
    """How many of the captured channels the sheet names, and how many of its rows fit none of them."""
    sheet = session.case.sheet
    channels = {channel for capture in session.case.captures for channel in capture.channels}
    if not channels:
        return f"{len(sheet.probes)} row{'' if len(sheet.probes) == 1 else 's'}" if sheet.probes else ""
    named = sum(sheet.named(channel) for channel in channels)
    unused = sum(probe.channel not in channels for probe in sheet.probes)
    words = f"{named} of {len(channels)} channels named"
    return words + (f", {unused} row{'' if unused == 1 else 's'} of no channel here" if unused else "")


def _pair_check(session: Session, side: Side, capture: HeldCapture) -> PairCheck | None:
    """None where it was not made yet; leads are judged on the suspect side, against the shown good capture."""
    if side == "good":
        return None
    key = pair_key(session.case, capture)
    return session.pairs.get(key) if key is not None else None


def _paired(session: Session, side: Side, capture: HeldCapture, pair: PairCheck | None) -> list[Sentence]:
    found = []
    if capture.reclipped:
        found.append(Sentence("left", f"Put right for this capture alone: {'; '.join(moved_words(capture))}"))
    if pair is None:
        waits = side == "suspect" and session.ready and capture.key in session.checkups
        return [*found, Sentence("later", LATER)] if waits else found
    for line in pair.lines:
        if name_of(line, session.case.sheet) in capture.left_alone:
            found.append(Sentence("left", f"Left as it is: {_lower(line.text)}"))
        else:
            sure = f" This is {line.sure_words}." if line.kind != "fine" and line.topic != "skew" else ""
            found.append(Sentence(line.kind, line.text + sure, line.do if line.kind != "fine" else ""))
    return found


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def all_offers(session: Session) -> tuple[LeadOffer, ...]:
    """Every mend of leads that is offered now."""
    return tuple(offer for words in cards(session, "suspect") for offer in words.offers)


def lead_marks(session: Session) -> dict[str, tuple[LeadMark, ...]]:
    """By channel, what the check-up of some capture says against its row on the sheet, and its exceptions."""
    marks: dict[str, list[LeadMark]] = {}
    for capture in session.case.suspect.captures:
        for line in accusing(session, _pair_check(session, "suspect", capture), capture):
            for channel, text in _lead_texts(line, session.case.sheet):
                marks.setdefault(channel, []).append(LeadMark("look", f"{text}, {capture.name} only"))
    for capture in session.case.captures:
        leads = leads_of(capture)
        for channel, text in _exceptions(capture, leads):
            marks.setdefault(channel, []).append(LeadMark("fine", f"{text}, {capture.name} only"))
    return {channel: tuple(found) for channel, found in marks.items()}


def _exceptions(capture: HeldCapture, leads: dict[str, str]) -> list[tuple[str, str]]:
    """What a person put right of a capture's leads, by channel."""
    if not capture.reclipped:
        return []
    found = [(channel, f"read from lead {lead}") for channel, lead in leads.items() if channel != lead]
    found += [(channel, "turned over") for channel, lead in leads.items() if lead in capture.inverted]
    return [*found, *((channel, "no lead reads it") for channel in capture.unread)]


def _lead_texts(line: PairLine, sheet: ProbeSheet) -> list[tuple[str, str]]:
    if line.topic == "inverted":
        return [(c, f"lead {c} looks inverted") for c in channels_of(line, sheet)]
    return [(channel, f"lead {channel} looks like {sheet.probe(other).signal}") for channel, other in line.moves]


def side_line(session: Session, side: Side) -> str:
    """ "3 captures, 1 needs a look"; what an empty side waits for."""
    words, unit = cards(session, side), session.case.unit(side)
    parts = [unit.name] if unit.name else []
    if not words:
        return " · ".join([*parts, "no captures yet"])
    look = sum(w.kind in ("look", "bad") for w in words)
    text = f"{len(words)} capture{'s' if len(words) != 1 else ''}"
    return " · ".join([*parts, text + (f", {look} need{'s' if look == 1 else ''} a look" if look else "")])


def bench_line(session: Session) -> str:
    """How far the check-ups are, over both sides; "fit" is said after the second wave only."""
    words = [*cards(session, "good"), *cards(session, "suspect")]
    count = len(words)
    if not count:
        return "No captures yet"
    each = f"{count} capture{'s' if count != 1 else ''}"
    checked = sum(w.capture.key in session.checkups for w in words)
    if checked < count:
        return f"{each} on the bench, {checked} checked"
    if session.ready and not all_judged(session):
        return f"{each} checked one by one; the leads are judged after the line-up"
    counted = f"all {count} count in the ranking" if session.ready and count > 2 else ""
    return "  ·  ".join(part for part in (f"{each} read and checked", counted) if part)


def all_judged(session: Session) -> bool:
    """Are both waves of check-ups over?"""
    captures = session.case.captures
    if not session.ready or any(c.key not in session.checkups for c in captures):
        return False
    return all(pair_key(session.case, c) in session.pairs for c in session.case.suspect.captures)


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
