"""What a person allows beside the line-up: how far apart transitions may lie, and the same file on both sides."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QCheckBox, QLineEdit, QVBoxLayout, QWidget

from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from tracecore.quantities import format_time, parse_time_ps
from tracecore.settings import CompareSettings


class AllowanceForm(QWidget):
    """``tolerance_set`` carries picoseconds, or None for what sampling and parts explain; ``same_file_set`` whether the
    same file may be on both sides."""

    tolerance_set = Signal(object)
    same_file_set = Signal(bool)

    def __init__(self) -> None:
        super().__init__()
        self._kept: int | None = None
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(7)
        column.addWidget(label("Tolerance", "strong"))
        self.tolerance = QLineEdit()
        self.tolerance.setAccessibleName("Tolerance")
        self.tolerance.setPlaceholderText("both sample periods and 10 ns")
        set_tip(self.tolerance, "How far apart matched transitions may lie, as 20 ns; half a cycle at most")
        self.tolerance.editingFinished.connect(self._on_typed)
        column.addWidget(self.tolerance)
        self.trouble = label("", "warning")
        self.trouble.setVisible(False)
        column.addWidget(self.trouble)
        self.same_file = QCheckBox("The same file on both sides")
        set_tip(self.same_file, "Allows a test of the program against itself; it says nothing of a board")
        self.same_file.clicked.connect(lambda _on=False: self.same_file_set.emit(self.same_file.isChecked()))
        column.addWidget(self.same_file)

    def set_settings(self, settings: CompareSettings) -> None:
        """Follows the case."""
        self.same_file.setChecked(settings.same_file)
        # words that are not understood yet stay to be put right
        if settings.tolerance_ps != self._kept or not self.trouble.isVisibleTo(self):
            self._kept = settings.tolerance_ps
            self.tolerance.setText("" if self._kept is None else format_time(self._kept))

    def _on_typed(self) -> None:
        if not self.tolerance.isModified():
            # what is shown is rounded, and is nobody's wish
            return
        text = self.tolerance.text().strip()
        try:
            found = round(parse_time_ps(text)) if text else None
            trouble = "" if found is None or found >= 0 else f"Found {text}; expected 0 or more. Type a time as 20 ns."
        except ValueError:
            found, trouble = None, f"Found {text!r}; expected a time, as 20 ns. Type a number with its unit."
        self.trouble.setText(trouble)
        self.trouble.setVisible(bool(trouble))
        if not trouble and found != self._kept:
            self._kept = found
            self.tolerance_set.emit(found)
