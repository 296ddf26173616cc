"""What a capture's card says, in words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.messages import capture_line

if TYPE_CHECKING:
    from app.case.record import Side
    from app.case.values import HeldCapture
    from app.model.bench import Bench


@dataclass(frozen=True, slots=True, eq=False)
class CardWords:
    """One card. ``kind`` is "fine", "look", "bad" or "waiting"; ``sentences`` worst first."""

    capture: HeldCapture
    index: int
    shown: bool
    facts: str
    kind: str
    sentences: tuple[tuple[str, str], ...]


def facts_line(capture: HeldCapture) -> str:
    """Rate, length and channels; the layout of the file stands in the details."""
    return capture_line(capture).removeprefix(f"{capture.reader} · ")


def cards(bench: Bench, side: Side) -> tuple[CardWords, ...]:
    """The cards of one side, in the order in which the captures came."""
    state = bench.case.side(side)
    return tuple(_card(bench, capture, i, i == state.shown) for i, capture in enumerate(state.captures))


def _card(bench: Bench, capture: HeldCapture, index: int, shown: bool) -> CardWords:
    checkup = bench.checkups.get(capture.key)
    if checkup is None:
        words = "Being checked…" if bench.shelf.loaded(capture) else "Not read yet: Compare reads it"
        return CardWords(capture, index, shown, facts_line(capture), "waiting", (("waiting", words),))
    sentences = tuple((line.kind, line.text) for line in checkup.lines)
    return CardWords(capture, index, shown, facts_line(capture), sentences[0][0], sentences)


def side_line(bench: Bench, side: Side) -> str:
    """ "3 captures, 1 needs a look"; what an empty side waits for."""
    words = cards(bench, side)
    if not words:
        return "no captures yet"
    look = sum(w.kind in ("look", "bad") for w in words)
    text = f"{len(words)} capture{'s' if len(words) != 1 else ''}"
    return text + (f", {look} need{'s' if look == 1 else ''} a look" if look else "")
