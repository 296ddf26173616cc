"""How far a step is: the stamp of its row, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Stamp = Literal["done", "look", "unknown", "empty"]
STAMP_WORDS: dict[str, str] = {
    "done": "done",
    "look": "needs a look",
    "unknown": "cannot tell",
    "empty": "not yet possible",
}


@dataclass(frozen=True, slots=True)
class StepState:
    """What a row shows; ``why`` is its tooltip."""

    stamp: Stamp
    why: str
