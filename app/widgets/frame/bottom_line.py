"""The line at the bottom of the window: what is said, how far a job is, and a button to stop it."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QProgressBar, QPushButton, QStatusBar

from app.model.actions import action
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.tip import set_tip


class BottomLine(QObject):
    """Fills a status bar. ``stop_wanted`` is told when the person asks to stop what runs, ``watch_wanted`` when the
    form of the watched folder is."""

    stop_wanted = Signal()
    watch_wanted = Signal()

    def __init__(self, bar: QStatusBar) -> None:
        super().__init__(bar)
        self.line = ElidedLabel("", "statusLine")
        self.line.setAccessibleName("Status")
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.progress.setFixedWidth(160)
        self.progress.setAccessibleName("Progress")
        self.stop_button = QPushButton("Stop")
        self.stop_button.setProperty("small", True)
        set_tip(self.stop_button, action("stop").hint)
        self.stop_button.clicked.connect(self.stop_wanted)
        self.watch_button = QPushButton()
        self.watch_button.setProperty("small", True)
        set_tip(self.watch_button, "A folder is being watched; open its form")
        self.watch_button.clicked.connect(self.watch_wanted)
        self.watch_button.hide()
        bar.setSizeGripEnabled(False)
        bar.addWidget(self.line, 1)
        bar.addPermanentWidget(self.watch_button)
        bar.addPermanentWidget(self.progress)
        bar.addPermanentWidget(self.stop_button)
        self.end_progress()

    def say(self, text: str) -> None:
        """What the line says."""
        self.line.setText(text)

    def show_watch(self, words: str) -> None:
        """The running count of a watched folder; nothing where none is watched, or its form is open."""
        self.watch_button.setText(words)
        self.watch_button.setVisible(bool(words))

    def show_progress(self, share: float, words: str) -> None:
        """How far a job is, 0 to 1, and what is being done."""
        self.progress.show()
        self.stop_button.show()
        self.progress.setValue(round(share * 100))
        self.say(words[:1].upper() + words[1:] + "…")

    def end_progress(self) -> None:
        """Nothing runs."""
        self.progress.hide()
        self.stop_button.hide()
