"""The words of the Log page: who, when, what led to what, and which line puts which right. Nothing here imports Qt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from app.case.dates import day_words, moment, signed_words, time_words
from app.case.record import OpenCase
from app.case.values import Entry, EntryKind, PartMove, date_code_words
from tracecore.quantities import group_digits

Shape = Literal["ring", "diamond", "rule", "square", "disc", "tick", "cross"]
SHAPES: dict[EntryKind, Shape] = {
    "seen": "ring",
    "suspected": "diamond",
    "measured": "rule",
    "done": "square",
    "result": "disc",
}
SHAPE_WORDS: dict[Shape, str] = {
    "ring": "ring",
    "diamond": "diamond",
    "rule": "rule",
    "square": "filled square",
    "disc": "disc",
    "tick": "disc with a tick: it helped",
    "cross": "ring with a cross: it did not help",
}


def shape_of(entry: Entry) -> Shape:
    """The shape in the margin; a result says by its shape whether it helped."""
    if entry.kind == "result" and entry.helped is not None:
        return "tick" if entry.helped else "cross"
    return SHAPES[entry.kind]


@dataclass(frozen=True, slots=True)
class LogLine:
    """One line of the list, and how it hangs together with the others. Numbers are those of entries."""

    entry: Entry
    signed: str
    shape: Shape
    corrected_by: int | None
    led_to: tuple[int, ...]

    @property
    def spoken(self) -> str:
        """All of it in words, for whoever cannot see the shape."""
        entry = self.entry
        how = {"tick": ", helped", "cross": ", did not help"}.get(self.shape, "")
        parts = [f"{entry.kind}{how}, {self.signed}: {entry.text}"]
        if entry.corrects is not None:
            parts.append(f"corrects entry {entry.corrects}")
        if self.corrected_by is not None:
            parts.append(f"corrected by entry {self.corrected_by}")
        return "; ".join(parts)


def log_lines(case: OpenCase) -> tuple[LogLine, ...]:
    """All lines in their order; the year stands with each where the log spans more than one."""
    years = {when.year for entry in case.entries if (when := moment(entry.at)) is not None}
    corrected = {entry.corrects: entry.id for entry in case.entries if entry.corrects is not None}
    led_to: dict[int, list[int]] = {}
    for entry in case.entries:
        for cause in entry.because:
            led_to.setdefault(cause, []).append(entry.id)
    return tuple(
        LogLine(
            entry,
            signed_words(entry.at, entry.author, len(years) > 1),
            shape_of(entry),
            corrected.get(entry.id),
            tuple(led_to.get(entry.id, ())),
        )
        for entry in case.entries
    )


def opened_words(case: OpenCase) -> str:
    """When and by whom the case was opened, and how long the log is."""
    count = len(case.entries)
    by = f" by {case.opened_by}" if case.opened_by else ""
    opened = f"opened {day_words(case.opened_at)}{by} · " if case.opened_at else ""
    return f"{opened}{group_digits(count)} {'entry' if count == 1 else 'entries'}"


def chosen_entry(case: OpenCase, number: int | None) -> Entry | None:
    """The entry of that number, else the newest one."""
    newest = case.entries[-1] if case.entries else None
    return next((entry for entry in case.entries if entry.id == number), newest)


def tie_words(entry: Entry) -> str:
    """An entry as a link: ``5 Feb 10:15, U14 on card 7 stays set``."""
    return f"{time_words(entry.at, year=False)}, {entry.text}"


def moves_of(case: OpenCase, entry: Entry) -> tuple[PartMove, ...]:
    """The parts that were moved with an entry."""
    return tuple(move for move in case.parts if move.entry == entry.id)


def date_code_text(code: str) -> str:
    """A date code with its meaning: ``7338 (1973, week 38)``."""
    words = date_code_words(code)
    return f"{code} ({words})" if words else code


def date_code_help(code: str) -> str:
    """What the form says beside a date code while it is typed."""
    if not code:
        return "Four digits, as 7338; leave it empty where there is none"
    words = date_code_words(code)
    return f"{code} = {words}" if words else f"{code} is kept as it stands; year and week would be four digits"


def parse_cycle(text: str) -> int | None:
    """A good cycle as a person types it: ``1004`` or ``128 413``; None for nothing. Raises ValueError otherwise.

    >>> parse_cycle("128 413"), parse_cycle(""), parse_cycle("none")
    (128413, None, None)
    """
    plain = "".join(text.split())
    if not plain or plain.casefold() == "none":
        return None
    if not plain.isdecimal():
        raise ValueError(f"At cycle: found {text.strip()!r}; expected a whole number such as 1004, or nothing.")
    return int(plain)
