"""In which of the suspect captures anything differs: a row of cells above the traces, to go from one to the next."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from app.case.changes import ShowCapture
from app.model.seen_captures import by_place, to_show
from app.model.session import Session
from app.model.theme import Theme
from app.widgets.captures.capture_strip import CaptureCell, CaptureStrip
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from tracecore.quantities import group_digits
from tracecore.repeats.table import CaptureOutcome


class SeenIn(QWidget):
    """Hidden where it would tell nothing. The outlined cell is the capture that is shown.

    ``asked`` carries an action's name.
    """

    asked = Signal(str)

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__()
        self._session = session
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(12)
        self.words = label("", "muted", wrap=False)
        row.addWidget(self.words)
        self.strip = CaptureStrip(theme)
        self.strip.setAccessibleName("Suspect captures")
        self.strip.wanted.connect(self._show)
        row.addWidget(self.strip, 1)
        self.show_button = QPushButton("Show capture")
        self.show_button.setProperty("small", True)
        self.show_button.clicked.connect(lambda: self.asked.emit("show_seen"))
        row.addWidget(self.show_button)

    def set_theme(self, theme: Theme) -> None:
        """Takes the colours."""
        self.strip.set_theme(theme)

    def refresh(self) -> None:
        """Follows the session."""
        placed = by_place(self._session)
        seen = [own for _, own in placed]
        # two that say the same are told in the card
        telling = len(seen) > 2 or len({s.differs for s in seen}) > 1
        self.setVisible(telling)
        if not telling:
            return
        # here they stand as they came
        cells = [CaptureCell("unknown", "")] * len(seen)
        for place, one in placed:
            cells[place] = capture_cell(one)
        found = to_show(self._session)
        self.show_button.setVisible(found is not None)
        if found is not None:
            set_tip(self.show_button, f"Compare {found[1]} in full (D)")
        count, compared = sum(s.differs for s in seen), sum(s.counts for s in seen)
        differ = "diverges" if count == 1 else "diverge"
        self.words.setText(f"{group_digits(count)} of {group_digits(compared)} captures {differ}")
        self.strip.set_cells(cells, self._session.case.suspect.shown)

    def _show(self, number: int) -> None:
        if number != self._session.case.suspect.shown:
            self._session.change(ShowCapture("suspect", number))


def capture_cell(seen: CaptureOutcome) -> CaptureCell:
    """One suspect capture; slips alone make it differ where no other good capture slips."""
    if not seen.counts:
        return CaptureCell("unknown", f"{seen.name}: {seen.reason}")
    if seen.diverges:
        return CaptureCell("diverges", f"{seen.name}: diverges on {', '.join(sorted(seen.diverges))}")
    if seen.slips is not None:
        return CaptureCell(
            "diverges" if seen.slips_tell else "agrees",
            f"{seen.name}: agrees in every matched cycle, but {seen.slips.words}",
        )
    return CaptureCell("agrees", f"{seen.name}: agrees")
