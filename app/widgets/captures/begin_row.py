"""On an empty first page: the cases opened lately, and the demo cases."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QMenu, QPushButton, QVBoxLayout

from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow

MOST = 5


class BeginRow(QFrame):
    """``case_wanted`` carries the path of a case, ``demo_wanted`` a demo case's name."""

    case_wanted = Signal(str)
    demo_wanted = Signal(str)

    def __init__(self, demos: Sequence[tuple[str, str]]) -> None:
        """``demos`` are names and titles."""
        super().__init__()
        self.setObjectName("card")
        self.setAccessibleName("Begin with")
        down = QVBoxLayout(self)
        down.setContentsMargins(14, 8, 14, 8)
        down.setSpacing(6)
        row = WrapRow()
        self.demo = QPushButton("Try the demo case")
        self.demo.setProperty("role", "decision")
        set_tip(self.demo, f"An invented machine: {demos[0][1]}")
        self.demo.clicked.connect(lambda: self.demo_wanted.emit(demos[0][0]))
        self.others = QPushButton("Other demo cases ▾")
        menu = QMenu(self.others)
        for name, title in demos[1:]:
            menu.addAction(title).triggered.connect(lambda _on=False, name=name: self.demo_wanted.emit(name))
        self.others.setMenu(menu)
        row.addWidget(self.demo)
        row.addWidget(self.others)
        down.addLayout(row)
        self.head = label("Recent cases", "strong")
        down.addWidget(self.head)
        self.recent = WrapRow()
        down.addLayout(self.recent)
        self.buttons: list[QPushButton] = []

    def set_cases(self, cases: Sequence[tuple[str, str]]) -> None:
        """The cases opened lately, the newest first, each as path and name."""
        for button in self.buttons:
            self.recent.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.buttons = []
        for path, name in cases[:MOST]:
            button = QPushButton(name.replace("&", "&&"))
            set_tip(button, path)
            button.clicked.connect(lambda _on=False, path=path: self.case_wanted.emit(path))
            self.recent.addWidget(button)
            self.buttons.append(button)
        self.head.setVisible(bool(cases))
