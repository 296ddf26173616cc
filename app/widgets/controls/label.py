"""Words on a form or a card."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel


def label(text: str, name: str = "plain", wrap: bool = True) -> QLabel:
    """A label whose look the style sheet knows by ``name``."""
    made = QLabel(text)
    made.setObjectName(name)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(wrap)
    return made
