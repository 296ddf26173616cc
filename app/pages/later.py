"""Steps that are planned and not built: one sentence each, and nothing to press."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout

from app.pages.page import Page, PageContext
from app.widgets.controls.label import label

PURPOSE: dict[str, tuple[str, str]] = {
    "backplane": (
        "Backplane",
        "Here the slots and pins will be drawn as a map, with ohm readings of two backplanes compared. "
        "This step is not built yet.",
    ),
}


class LaterPage(Page):
    """One sentence what the step is for, and that it comes later."""

    def __init__(self, context: PageContext, name: str) -> None:
        super().__init__(context)
        title, sentence = PURPOSE[name]
        layout = QVBoxLayout(self)
        layout.setContentsMargins(20, 16, 20, 16)
        layout.setSpacing(10)
        layout.addWidget(label(title, "heading"))
        words = label(sentence)
        words.setMaximumWidth(760)
        layout.addWidget(words)
        layout.addStretch(1)
        layout.setAlignment(Qt.AlignmentFlag.AlignTop)
