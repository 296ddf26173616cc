"""On the first start: the short caution at the foot of the window, until somebody sends it away."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QPushButton

from app.report.cautions import SHORT
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip


class CautionStrip(QFrame):
    """It stands below the page, since a box over it would hide the first answer. ``asked`` carries an action's name."""

    asked = Signal(str)
    closed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("lineStrip")
        self.setAccessibleName("Cautions")
        across = QHBoxLayout(self)
        across.setContentsMargins(14, 6, 10, 6)
        across.setSpacing(10)
        across.addWidget(label(f"\u25b2 {SHORT}", "warning"), 1)
        self.all = QPushButton("All cautions")
        set_tip(self.all, "Show the reminders for work in an old cabinet; Help has them too")
        self.all.clicked.connect(lambda: self.asked.emit("cautions"))
        self.close_button = QPushButton("Close")
        set_tip(self.close_button, "Close this line; Help, Cautions has all of them")
        self.close_button.clicked.connect(self._close)
        for button in (self.all, self.close_button):
            button.setProperty("small", True)
            across.addWidget(button)
        self.hide()

    def _close(self) -> None:
        self.hide()
        self.closed.emit()
