"""What a page works with."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.model.theme import Theme

if TYPE_CHECKING:
    from app.model.session import Session


@dataclass(slots=True)
class PageContext:
    """The session, the look, and ``act``, which does an action by its name."""

    session: Session
    act: Callable[[str], None]
    theme: Theme
    scale: float
