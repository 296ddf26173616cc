"""Names of both sides that differ by little: whether each pair is one signal a person says."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QPushButton, QVBoxLayout

from app.case.record import OpenCase
from app.case.side_changes import SetSameNames, offered_names, pair_words
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow

SHOWN = 12
"""Pairs that are named at once; the tip names them all."""


class NameRow(QFrame):
    """``wanted`` carries the change. Hidden where no names are offered, and none were taken."""

    wanted = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(6)
        self.words = label("", "warning")
        down.addWidget(self.words)
        row = WrapRow()
        self.take = QPushButton("Take each pair as one signal")
        self.take.setProperty("small", True)
        self.take.clicked.connect(self._take)
        self.part = QPushButton("Keep them apart")
        self.part.setProperty("small", True)
        set_tip(self.part, "Each name stands for a signal of its own again")
        self.part.clicked.connect(lambda: self.wanted.emit(SetSameNames(())))
        for widget in (self.take, self.part):
            row.addWidget(widget)
        down.addLayout(row)
        self._same: tuple[tuple[str, str], ...] = ()
        self.setVisible(False)

    def show_case(self, case: OpenCase) -> None:
        """Takes what is offered and what was taken."""
        offered, taken = offered_names(case), case.suspect.same
        self._same = (*taken, *offered)
        self.setVisible(bool(self._same))
        pairs = offered or taken
        said = "Names differ, so not compared" if offered else "Taken as one signal"
        self.words.setText(f"{said}: {pair_words(pairs, SHOWN)}")
        self.words.setObjectName("warning" if offered else "muted")
        self.words.style().polish(self.words)
        set_tip(self.words, pair_words(pairs, len(pairs)))
        self.take.setVisible(bool(offered))
        self.part.setVisible(bool(taken))
        self._grow()
        set_tip(self.take, f"Known-good name and suspect name mean the same pin: {pair_words(pairs, len(pairs))}")

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._grow()

    def _grow(self) -> None:
        """A splitter gives wrapped lines no more than the least height, so that is what they need at this width."""
        layout = self.layout()
        if layout is not None:
            self.setMinimumHeight(layout.totalHeightForWidth(self.width()))

    def _take(self) -> None:
        self.wanted.emit(SetSameNames(self._same))
