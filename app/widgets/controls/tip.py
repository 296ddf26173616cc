"""Tips that show words from files as they stand: Qt takes what looks like markup for it, and loads what it names."""

from __future__ import annotations

from html import escape
from typing import Protocol

from PySide6.QtGui import Qt


class Tipped(Protocol):
    """Whatever shows a tip."""

    def setToolTip(self, text: str) -> None:
        """Qt's own."""


def set_tip(shown: Tipped, text: str) -> None:
    """Gives a widget or an item a tip."""
    shown.setToolTip(plain_tip(text))


def plain_tip(text: str) -> str:
    """The text, so that Qt shows it letter for letter."""
    return f"<span style='white-space: pre-wrap'>{escape(text)}</span>" if Qt.mightBeRichText(text) else text
