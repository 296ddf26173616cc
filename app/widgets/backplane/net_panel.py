"""The chosen net at the right: its pins, where the readings put the fault, and what to read next."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from app.model.crate import BackplaneView
from app.report.continuity_words import located_words, may_say, next_words
from app.widgets.controls.label import label


class NetPanel(QWidget):
    """Emits ``typed`` with what was read for the next reading."""

    typed = Signal(str)
    plan_wanted = Signal()

    def __init__(self) -> None:
        super().__init__()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 10, 14, 10)
        self.title = label("", "heading")
        self.pins = label("")
        self.finding = label("", "strong")
        self.next = label("")
        self.says = label("", "muted")
        self.entry = QLineEdit()
        self.entry.setAccessibleName("Suspect reads, ohm")
        self.entry.setPlaceholderText("0.2, 2.1k or open")
        self.write = QPushButton("Write in table")
        self.plan = QPushButton("Measuring plan…")
        card = QFrame()
        card.setObjectName("card")
        inside = QVBoxLayout(card)
        for part in (self.finding, self.next):
            inside.addWidget(part)
        row = QHBoxLayout()
        self.reads = label("Suspect reads, ohm", wrap=False)
        row.addWidget(self.reads)
        row.addWidget(self.entry, 1)
        inside.addLayout(row)
        inside.addWidget(self.write)
        layout.addWidget(self.title)
        layout.addWidget(self.pins)
        layout.addWidget(card)
        layout.addWidget(self.says)
        layout.addStretch(1)
        layout.addWidget(self.plan)
        self.write.clicked.connect(self._send)
        self.entry.returnPressed.connect(self._send)
        self.plan.clicked.connect(self.plan_wanted.emit)

    def set_view(self, view: BackplaneView) -> None:
        """Shows the net of the chosen pin."""
        self.title.setText(f"Net {view.net}" if view.net else view.chosen or "No pin is named yet")
        points = view.path.points if view.path is not None else ()
        lines = []
        for index, point in enumerate(points):
            spot = view.spot(point)
            role = "driver" if index == 0 else "receiver"
            lines.append(f"{point}  {role}: {spot.words if spot else 'leg of a chip'}")
        self.pins.setText("\n".join(lines) if lines else "Neither the probe sheet nor a pin list knows its driver.")
        self.finding.setText(located_words(view.place) if view.place else "")
        self.finding.setVisible(view.place is not None)
        step = view.step
        self.next.setText(f"Next: {next_words(step)}" if step is not None else "")
        for part in (self.next, self.entry, self.write, self.reads, self.says):
            part.setVisible(step is not None)
        if step is not None:
            lines = [f"{answer}: {told}" for answer, told in may_say(step)]
            self.says.setText("What the reading may say\n" + "\n".join(lines))

    def _send(self) -> None:
        if self.entry.text().strip():
            self.typed.emit(self.entry.text())
            self.entry.clear()
