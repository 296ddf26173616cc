"""Tips that show words from files as they stand: Qt takes what looks like markup for it, and loads what it names."""

from __future__ import annotations

from typing import Protocol

from app.model.plain_tip import plain_tip

__all__ = ["Tipped", "plain_tip", "set_tip"]


class Tipped(Protocol):
    """Whatever shows a tip."""

    def setToolTip(self, text: str) -> None:
        """Qt's own."""


def set_tip(shown: Tipped, text: str) -> None:
    """Gives a widget or an item a tip."""
    shown.setToolTip(plain_tip(text))
