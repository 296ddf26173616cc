"""Where files are dropped: a large box with buttons, and a strip once the column above it is full."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton, QVBoxLayout

from app.case.record import SIDE_WORDS, Side
from app.model.theme import Theme
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from app.widgets.frame.form_head import SideMark

KNOWN = (
    "Known by what is in them, not by their names: sampled rows, change rows, bus words, scope volts, value change "
    "dump. If a file can be taken two ways, you are asked."
)


class DropTarget(QFrame):
    """``buttons`` are made by the page, from its table of actions; they are left out of a strip."""

    def __init__(self, side: Side, buttons: tuple[QPushButton, ...], strip: bool, wordy: bool, theme: Theme) -> None:
        super().__init__()
        self.setObjectName("dropTarget")
        self.strip, self.wordy = strip, wordy
        self._over = f"QFrame#dropTarget {{ background: {theme.tint}; border: 2px solid {theme.ink}; }}"
        half = "left" if side == "good" else "right"
        words = f"Drop {SIDE_WORDS[side].lower()} files or a folder on the {half} half of the window"
        if strip:
            line = QHBoxLayout(self)
            line.setContentsMargins(14, 6, 14, 6)
            line.addWidget(ElidedLabel(f"Drop {SIDE_WORDS[side].lower()} files here", "muted"), 1)
            set_tip(self, words)
            return
        box = QVBoxLayout(self)
        box.setContentsMargins(22, 14, 22, 14)
        box.setSpacing(10)
        box.addStretch(1)
        head = QHBoxLayout()
        head.setSpacing(10)
        head.addWidget(SideMark(side, theme), 0, Qt.AlignmentFlag.AlignTop)
        head.addWidget(label(words, "strong"), 1)
        box.addLayout(head)
        row = WrapRow()
        for button in buttons:
            row.addWidget(button)
        box.addLayout(row)
        if wordy:
            box.addWidget(label(KNOWN, "muted"))
        box.addStretch(1)

    def set_over(self, over: bool) -> None:
        """Files hang over this half: tint and an ink edge."""
        wanted = self._over if over else ""
        if self.styleSheet() != wanted:
            self.setStyleSheet(wanted)
