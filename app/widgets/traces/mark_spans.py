"""Marks of the case as stretches of time: where they lie, how they read, how they are found. No Qt here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from app.case.values import Mark
from app.widgets.traces.cursor_pair import CursorPair, Reading, digits_for
from app.widgets.traces.time_axis import TimeAxis
from app.widgets.traces.trace_rows import View
from tracecore.capture import Int64
from tracecore.quantities import format_time, group_digits

SIDE_WORDS = {"both": "both sides", "good": "known-good side", "suspect": "suspect side"}
GAP_PX = 5
"""Between two tags."""


@dataclass(frozen=True, slots=True)
class MarkSpan:
    """A mark and its time on the good side's clock, both ends in whole picoseconds."""

    mark: Mark
    start_ps: int
    stop_ps: int

    def within(self, view: View) -> bool:
        """Is any of it in view?"""
        return self.start_ps < view.stop_ps and self.stop_ps > view.t0_ps


def mark_spans(marks: Iterable[Mark], edges_ps: Int64) -> tuple[MarkSpan, ...]:
    """The marks that lie on this comparison, by time. ``edges_ps`` int64[N + 1] begin the good cycles.

    A mark made from cursors keeps its own times; one on cycles that the capture has not, has no place here.
    """
    last = len(edges_ps) - 2
    spans = []
    for mark in marks:
        if mark.start_ps is not None and mark.stop_ps is not None:
            if last < 0 or mark.first_cycle <= last:
                spans.append(MarkSpan(mark, mark.start_ps, max(mark.stop_ps, mark.start_ps + 1)))
        elif 0 <= mark.first_cycle <= last:
            until = min(max(mark.last_cycle, mark.first_cycle), last) + 1
            spans.append(MarkSpan(mark, int(edges_ps[mark.first_cycle]), int(edges_ps[until])))
    return tuple(sorted(spans, key=lambda s: (s.start_ps, s.mark.id)))


# ---- words


def place_words(mark: Mark) -> str:
    """Where it is: ``cycles 1 004 to 1 012 · 3.34 µs``."""
    first, last = group_digits(mark.first_cycle), group_digits(mark.last_cycle)
    words = f"cycle {first}" if mark.first_cycle == mark.last_cycle else f"cycles {first} to {last}"
    if mark.start_ps is not None and mark.stop_ps is not None:
        words += f" · {format_time(mark.stop_ps - mark.start_ps)}"
    return words


def subject_words(mark: Mark) -> str:
    """What it is about: its signals, and its side where it is one of them."""
    words = ", ".join(mark.signals) or "all signals"
    return words if mark.side == "both" else f"{words} · {SIDE_WORDS[mark.side]}"


def signed_words(mark: Mark) -> str:
    """Who made it and on which day; empty where nobody knows."""
    return " ".join(part for part in (mark.author, mark.at[:10]) if part)


def full_words(mark: Mark) -> str:
    """All of a mark, a line each for what it is, its note, and its place."""
    head = f"Mark {mark.id}, {mark.kind}"
    signed = signed_words(mark)
    below = f"{place_words(mark)} · {subject_words(mark)}" + (f" · {signed}" if signed else "")
    return "\n".join(line for line in (head, mark.note, below) if line)


def matches(mark: Mark, text: str, kind: str = "") -> bool:
    """Does a mark hold every word of ``text``, whatever its case? ``kind`` empty takes all kinds."""
    if kind and mark.kind != kind:
        return False
    narrow = f"{mark.first_cycle} {mark.last_cycle} {full_words(mark)}".casefold()
    return all(word in narrow for word in text.casefold().split())


# ---- making one


def mark_of_cycle(cycle: int, signal: str | None) -> Mark:
    """A new mark on one good cycle, of one signal or of all; number, note and author are still to come."""
    return Mark(0, "question", "", cycle, cycle, (signal,) if signal else ())


def mark_of_cursors(pair: CursorPair, axis: TimeAxis, signal: str | None) -> Mark | None:
    """A new mark from cursor to cursor, with their exact times; None where one is not placed or outside all cycles.

    It is about the signals on whose transitions they stand, else about ``signal``; where both stand on one side's, it
    is a mark of that side.
    """
    a, b = pair.both
    if a is None or b is None or a.at_ps == b.at_ps:
        return None
    early, late = sorted((a, b), key=lambda c: c.at_ps)
    first, last = axis.cycle_at(early.at_ps), axis.cycle_at(late.at_ps - 1)
    if first is None or last is None:
        return None
    side = a.side if a.side is not None and a.side == b.side else "both"
    signals = tuple(dict.fromkeys(c.signal for c in (a, b) if c.signal is not None)) or ((signal,) if signal else ())
    return Mark(0, "reference", "", first, last, signals, side, early.at_ps, late.at_ps)


def reading_note(mark: Mark, read: Reading | None) -> str:
    """What the cursors read, as the first words of a note."""
    if mark.start_ps is None or mark.stop_ps is None or read is None:
        return ""
    apart = mark.stop_ps - mark.start_ps
    words = format_time(apart, digits=digits_for(apart, read.reads_to_ps))
    return f"{words}, accurate to ±{format_time(read.reads_to_ps, digits=3)}"


def parse_signals(text: str, known: Sequence[str]) -> tuple[str, ...]:
    """Signals as typed, with spaces or commas between; none typed means all of them.

    Raises ValueError with a sentence where a name is not among ``known``.

    >>> parse_signals("d03, ACK", ["ACK", "D03"])
    ('D03', 'ACK')
    """
    by_name = {name.casefold(): name for name in known}
    found: list[str] = []
    for word in text.replace(",", " ").split():
        name = by_name.get(word.casefold())
        if name is None:
            raise ValueError(f"{word} is no signal of this comparison. Type names as at the left, or none for all.")
        if name not in found:
            found.append(name)
    return tuple(found)


def nearby(spans: Sequence[MarkSpan], chosen: int | None, at_ps: int, forward: bool) -> MarkSpan | None:
    """The mark after or before the chosen one, or else after or before a time; None at the end."""
    order = [span.mark.id for span in spans]
    if chosen in order:
        at = order.index(chosen) + (1 if forward else -1)
        return spans[at] if 0 <= at < len(spans) else None
    if forward:
        return next((s for s in spans if s.start_ps >= at_ps), None)
    return next((s for s in reversed(spans) if s.start_ps <= at_ps), None)


# ---- tags along the top


@dataclass(frozen=True, slots=True)
class Tag:
    """A ruled box over one mark, or over several that would touch; ``left`` and ``width`` in pixels of the plot.

    ``note`` is the note of a lone mark where there is room for some of it.
    """

    spans: tuple[MarkSpan, ...]
    left: float
    width: float
    words: str
    note: str = ""

    def holds(self, number: int | None) -> bool:
        """Is the mark of that number under it?"""
        return any(span.mark.id == number for span in self.spans)


def tag_words(spans: Sequence[MarkSpan], chosen: int | None) -> str:
    """The number of one mark; of several their count, or the chosen one's number and how many more."""
    if len(spans) == 1:
        return str(spans[0].mark.id)
    if any(span.mark.id == chosen for span in spans):
        return f"{chosen} +{len(spans) - 1}"
    return f"{len(spans)} marks"


def place_tags(
    spans: Sequence[MarkSpan],
    view: View,
    chosen: int | None,
    width_of: Callable[[str], float],
    note_width: Callable[[str], float],
    note_px: tuple[float, float],
) -> tuple[Tag, ...]:
    """Tags from left to right, none over another. Those that would have to move far from their marks become one.

    ``width_of`` gives the pixels of a tag with such words, ``note_width`` what a note adds to it. A lone mark's note
    follows where there is room for the smaller of ``note_px`` or for all of it, as far as the larger one.
    """
    groups: list[list[MarkSpan]] = []
    lefts: list[float] = []
    sizes: list[float] = []
    for span in spans:
        if not span.within(view):
            continue
        group, least = [span], 0.0
        while True:
            size = width_of(tag_words(group, chosen))
            most = max(0.0, view.width - size)
            ends = max(0.0, view.x_of(group[0].start_ps)), min(float(view.width), view.x_of(group[-1].stop_ps))
            left = min(max(sum(ends) / 2 - size / 2, least), most)
            moved = max(left, lefts[-1] + sizes[-1] + GAP_PX) if groups else left
            if moved - left <= size and moved <= most:
                break
            # no room of its own beside the tag before: both become one
            group = groups.pop() + group
            least = lefts.pop()
            sizes.pop()
        groups.append(group)
        lefts.append(moved)
        sizes.append(size)
    tags = []
    ends_px = [*lefts, view.width + GAP_PX][1:]
    for group, left, size, end in zip(groups, lefts, sizes, ends_px, strict=True):
        note = group[0].mark.note if len(group) == 1 else ""
        room = min(end - GAP_PX - left - size, note_px[1])
        adds = min(note_width(note), room) if note else 0.0
        if adds < min(note_width(note), note_px[0]):
            note, adds = "", 0.0
        tags.append(Tag(tuple(group), left, size + adds, tag_words(group, chosen), note))
    return tuple(tags)


def tag_at(tags: Iterable[Tag], x: float) -> Tag | None:
    """The tag at a pixel of the plot; None between them."""
    return next((tag for tag in tags if tag.left <= x <= tag.left + tag.width), None)
