"""How far a step is: the stamp of its row, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from app.model.session import Session

Stamp = Literal["done", "look", "unknown", "empty"]
STAMP_WORDS: dict[str, str] = {
    "done": "done",
    "look": "needs a look",
    "unknown": "cannot tell",
    "empty": "nothing to say yet",
}


@dataclass(frozen=True, slots=True)
class StepState:
    """What a row shows; ``why`` is its tooltip."""

    stamp: Stamp
    why: str


def not_compared(session: Session) -> StepState | None:
    """Why the captures as they stand have no comparison; None where they have one."""
    if session.current:
        return None
    if not session.ready:
        return StepState("empty", "Waits for captures on both sides")
    return StepState("look", session.trouble) if session.trouble else StepState("empty", "Not compared yet")
