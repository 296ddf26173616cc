"""What can be said of a capture, and done with it: name, note, time of capture; replace, move, remove."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLineEdit, QPushButton, QVBoxLayout, QWidget

from app.case.name_words import joined_words
from app.case.values import HeldCapture
from app.model.capture_cards import taken_words
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow

DEEDS = (
    ("look", "How it is read…", "See the file's first lines and what they are taken for, and change it"),
    ("replace", "Replace file…", "Another file takes its place; name, note and time stay"),
    ("join", "Join with…", "Another file of the same run and this one count as one; undo parts them"),
    ("move", "To the other side", "It counts on the other side from now on; undo brings it back"),
    ("remove", "Remove", "Out of the case. The file itself is not touched; undo brings it back"),
)
"""The name of the deed, the words on its button, the tip."""
CALLED_SHOWN = 4


class CaptureDetails(QWidget):
    """``described`` carries name, note and time as typed; ``wanted`` the name of a deed, or "leads_back"."""

    described = Signal(str, str, str)
    wanted = Signal(str)

    def __init__(self, capture: HeldCapture) -> None:
        super().__init__()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(8)
        facts = label(self._facts(capture), "muted")
        facts.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.name = self._field(capture.name, "", "Name")
        self.note = self._field(capture.note, "as: warm, card on the extender", "Note")
        self.taken = self._field(taken_words(capture.taken), "as 2026-02-03 09:40", "Time of capture")
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(4)
        for place, (words, field) in enumerate((("Name", self.name), ("Note", self.note), ("Taken", self.taken))):
            grid.addWidget(label(words, "muted", wrap=False), place, 0)
            grid.addWidget(field, place, 1)
        layout.addLayout(grid)
        layout.addWidget(facts)
        path = ElidedLabel(capture.path, "muted")
        path.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        layout.addWidget(path)
        row = WrapRow()
        if capture.reclipped:
            row.addWidget(self._deed("leads_back", "Put leads back", "The leads of this capture count as they sat"))
        for name, words, tip in DEEDS:
            row.addWidget(self._deed(name, words, tip))
        layout.addLayout(row)

    def _deed(self, name: str, words: str, tip: str) -> QPushButton:
        button = QPushButton(words)
        button.setProperty("small", True)
        set_tip(button, tip)
        button.clicked.connect(lambda: self.wanted.emit(name))
        return button

    def _field(self, text: str, example: str, name: str) -> QLineEdit:
        field = QLineEdit(text)
        field.setPlaceholderText(example)
        set_tip(field, example)
        field.setAccessibleName(name)
        # a page that takes the change makes its cards anew, so it must not come while the key is being handled
        field.editingFinished.connect(self._tell, Qt.ConnectionType.QueuedConnection)
        field.setModified(False)
        return field

    @property
    def fields(self) -> tuple[QLineEdit, QLineEdit, QLineEdit]:
        """Name, note and time."""
        return self.name, self.note, self.taken

    def carry_on(self, before: CaptureDetails) -> None:
        """Takes over what was being typed in the card that stood here before."""
        for field, old in zip(self.fields, before.fields, strict=True):
            if old.isModified():
                field.setText(old.text())
                field.setModified(True)
                old.setModified(False)
            if old.hasFocus():
                field.setFocus()

    def _tell(self) -> None:
        if any(field.isModified() for field in self.fields):
            for field in self.fields:
                field.setModified(False)
            self.described.emit(*(field.text() for field in self.fields))

    @staticmethod
    def _facts(capture: HeldCapture) -> str:
        said = [f"{name}: {value}" for name, value in capture.facts if name != "joined"]
        joined = [f"joined from {joined_words(capture)}"] if capture.joining else []
        called = [f"{file_name} is called {name}" for file_name, name in capture.called[:CALLED_SHOWN]]
        more = len(capture.called) - CALLED_SHOWN
        called += [f"{more} more have other names here"] if more > 0 else []
        return " · ".join([f"Read as {capture.reader}", *joined, *called, *said[:6]])
