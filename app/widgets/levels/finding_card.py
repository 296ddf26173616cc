"""What stands out on one signal in volts: a title, sentences, where to probe next and what each reading may mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFrame, QLabel, QVBoxLayout, QWidget

from app.report.cautions import AT_THE_PINS
from app.widgets.controls.label import label

if TYPE_CHECKING:
    from tracecore.compare.signal_levels import SignalLevels


class FindingCard(QFrame):
    """The chosen card of the Levels page."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("card")
        self.setProperty("chosen", "true")
        self._down = QVBoxLayout(self)
        self._down.setContentsMargins(12, 10, 12, 10)
        self._down.setSpacing(6)
        self.title = label("", "warning")
        self.text = label("")
        self.probe = label("")
        self.caution = label(AT_THE_PINS, "muted")
        self.readings: list[QLabel] = [label("", "muted") for _ in range(2)]
        for widget in (self.title, self.text, self.probe, self.caution, *self.readings):
            self._down.addWidget(widget)

    def set_row(self, row: SignalLevels | None, notes: tuple[str, ...] = ()) -> None:
        """Shows a signal's finding, or in a sentence that there is none."""
        finding = None if row is None else row.finding
        self.title.setVisible(finding is not None)
        own = [note for note in notes if row is not None and note.startswith(f"{row.signal},")]
        own += [note for note in notes if row is not None and note.startswith(f"{row.signal} has volts")]
        if finding is None:
            self.text.setText(" ".join(own) or self._nothing(row))
            self.probe.hide()
            self.caution.hide()
            for line in self.readings:
                line.hide()
            return
        mark = "▲ " if row is not None and row.verdict == "violates" else ""
        self.title.setText(f"{mark}{finding.title}")
        self.text.setText(" ".join((finding.text, *own)))
        self.probe.setVisible(bool(finding.probe))
        self.probe.setText(f"Probe next: {finding.probe}.")
        self.caution.setVisible(bool(finding.probe))
        for line, reading in zip(self.readings, (*finding.readings, None, None), strict=False):
            line.setVisible(reading is not None)
            if reading is not None:
                line.setText(f"{reading[0]}: {reading[1]}.")

    def tell(self, sentence: str) -> None:
        """Says what a person has to put right, until a row is shown again."""
        self.title.hide()
        self.text.setText(sentence)
        for widget in (self.probe, self.caution, *self.readings):
            widget.hide()

    @staticmethod
    def _nothing(row: SignalLevels | None) -> str:
        if row is None:
            return "Choose a signal."
        if row.verdict == "within":
            return "Both levels keep what the driver promises, and nothing was found between them."
        return "A level was never seen, so its margin cannot be judged. Capture while the signal moves."
