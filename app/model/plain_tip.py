"""A tip that shows words from files as they stand: Qt takes what looks like markup for it, and loads what it names."""

from __future__ import annotations

from html import escape

from PySide6.QtGui import Qt


def plain_tip(text: str) -> str:
    """The text, so that Qt shows it letter for letter."""
    return f"<span style='white-space: pre-wrap'>{escape(text)}</span>" if Qt.mightBeRichText(text) else text
