"""Of several files that come together: is each a capture, or are all of them parts of one run?"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QWidget

from app.model.import_preview import Preview
from app.widgets.controls.label import label
from app.widgets.controls.wrap_row import WrapRow
from tracecore.sides.join import TRIGGER

EACH = "Each is a capture of its own"
ONE_TRIGGER = "Parts of one run, begun by one trigger"
ONE_SIGNAL = "Parts of one run, placed by {}"


class Belonging(QWidget):
    """``changed`` where another answer was given. Files that share no signal leave it open until the person says."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        row = WrapRow(self)
        row.addWidget(label("How they belong together", "muted", wrap=False))
        self.box = QComboBox()
        self.box.setAccessibleName("How the files belong together")
        self.box.setPlaceholderText("Say it")
        self.box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        self.box.activated.connect(self._choose)
        row.addWidget(self.box)
        self.note = label("They hold no signal in common.", "warning", wrap=False)
        row.addWidget(self.note)
        self._chosen = False
        self._offered: tuple[str, ...] | None = None

    @property
    def how(self) -> str | None:
        """Empty where each is a capture, "trigger" or a signal where they are joined; None where it is not said."""
        return self.box.currentData(Qt.ItemDataRole.UserRole) if self.box.currentIndex() >= 0 else None

    def offer(self, seen: Sequence[Preview]) -> None:
        """Takes what the files hold, as far as they were looked at."""
        held = [{taken.name: taken.kind for taken in one.channels} for one in seen if one.channels]
        first = held[0] if held else {}
        shared = [name for name in first if all(name in other for other in held[1:])]
        logic = [name for name in shared if all(other[name] == "logic" for other in held)]
        apart = len(held) > 1 and any(not set(first) & set(other) for other in held[1:])
        self.note.setVisible(apart)
        offered = ("", TRIGGER, *logic)
        if offered != self._offered:
            before, self._offered = self.how, offered
            self.box.clear()
            for words, how in zip((EACH, ONE_TRIGGER, *(ONE_SIGNAL.format(n) for n in logic)), offered, strict=True):
                self.box.addItem(words, how)
            self._chosen = self._chosen and before in offered
            self.box.setCurrentIndex(offered.index(before) if self._chosen and before is not None else 0)
        if not self._chosen:
            self.box.setCurrentIndex(-1 if apart else 0)

    def _choose(self) -> None:
        self._chosen = True
        self.changed.emit()
