"""The form for a condition of cycles to leave out: read back while typed, with its effect before it is applied."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QPaintEvent, QPen
from PySide6.QtWidgets import QLineEdit, QPushButton, QVBoxLayout, QWidget

from app.model.condition_effect import Effect, Reading, read_condition
from app.model.theme import LIGHT, Theme
from app.widgets.controls.label import label
from app.widgets.controls.painting import painting
from app.widgets.controls.signal_name import fixed_font
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from tracecore.comparison import Comparison

OPERATORS = "== != < > && || ! & | ^ ~"
PAUSE_MS = 300
"""How long no key must come before the effect is counted."""


class ConditionLine(QLineEdit):
    """A field that underlines the character at which a condition cannot go on."""

    def __init__(self) -> None:
        super().__init__()
        self.trouble_at: int | None = None
        self.theme: Theme = LIGHT

    def set_trouble(self, at: int | None) -> None:
        """The character, counted from 0; None where all is well."""
        self.trouble_at = at
        self.update()

    def trouble_box(self) -> QRectF | None:
        """Where the mark is drawn."""
        if self.trouble_at is None:
            return None
        cursor = QRectF(self.cursorRect())
        metrics = QFontMetricsF(self.font())
        # from where the text cursor stands, so that a scrolled field is right too
        before = metrics.horizontalAdvance(self.text()[: self.cursorPosition()])
        at = min(self.trouble_at, len(self.text()))
        left = cursor.center().x() - before + metrics.horizontalAdvance(self.text()[:at])
        wide = max(8.0, metrics.horizontalAdvance(self.text()[at : at + 1]))
        return QRectF(left, cursor.bottom() - 1, wide, 3)

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        box = self.trouble_box()
        if box is not None:
            with painting(self) as painter:
                painter.setPen(QPen(QColor(self.theme.suspect), 1))
                painter.fillRect(box, QColor(self.theme.suspect))


class ConditionForm(QWidget):
    """``applied`` carries the condition, empty to leave out nothing; ``effect_wanted`` one whose effect is wanted."""

    applied = Signal(str)
    effect_wanted = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.comparison: Comparison | None = None
        self.kept = ""
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(label("Leave out cycles where", "strong"))
        column.addWidget(label("In both captures, before lining up", "muted"))
        self.line = ConditionLine()
        self.line.setAccessibleName("Condition of cycles to leave out")
        self.line.setPlaceholderText("no cycle is left out")
        self.line.textChanged.connect(lambda _text: self._read())
        self.line.returnPressed.connect(self._apply)
        column.addWidget(self.line)
        self.words, self.effect = label(""), label("", "muted")
        column.addWidget(self.words)
        column.addWidget(self.effect)
        area = QWidget()
        row = WrapRow(area)
        self.apply_button, self.clear_button = QPushButton("Leave out"), QPushButton("Clear")
        self.apply_button.setProperty("role", "decision")
        self.apply_button.clicked.connect(self._apply)
        self.clear_button.clicked.connect(self._clear)
        row.addWidget(self.apply_button)
        row.addWidget(self.clear_button)
        column.addWidget(area)
        column.addWidget(label("Operators of IEEE Std 1364. 1 is a high pin, 0 a low one.", "muted"))
        self.operators = label(OPERATORS)
        self.operators.setAlignment(Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.operators)
        self._soon = QTimer(self, singleShot=True, interval=PAUSE_MS)
        self._soon.timeout.connect(lambda: self.effect_wanted.emit(self.line.text()))
        self.reading = Reading()
        self._read()

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self.line.theme = theme
        self.line.setFont(fixed_font(scale))
        self.operators.setFont(fixed_font(scale))
        self.line.update()

    def set_case(self, kept: str, comparison: Comparison | None) -> None:
        """The condition of the case, and what names are looked up in; what is being typed stays."""
        untouched = self.line.text().strip() == self.kept
        self.comparison = comparison
        changed, self.kept = kept.strip() != self.kept, kept.strip()
        if changed and untouched:
            self.line.setText(self.kept)
        self._read()

    def show_effect(self, text: str, found: Effect) -> None:
        """The effect of a condition, dropped where another one is typed by now."""
        if text == self.line.text() and text.strip() != self.kept and not self.reading.trouble:
            self.effect.setText(found.words)
            self.effect.show()

    def _read(self) -> None:
        text = self.line.text().strip()
        self.reading = read_condition(self.line.text(), self.comparison)
        self.line.set_trouble(self.reading.at)
        self.words.setText(self.reading.trouble or (f"reads as: {self.reading.words}" if self.reading.words else ""))
        self.words.setObjectName("warning" if self.reading.trouble else "plain")
        self.words.style().polish(self.words)
        self.words.setVisible(bool(self.words.text()))
        new = bool(text) and text != self.kept and not self.reading.trouble
        self.apply_button.setEnabled(new)
        set_tip(self.apply_button, "" if new else self._why_not(text))
        self.clear_button.setEnabled(bool(text or self.kept))
        set_tip(self.clear_button, "" if text or self.kept else "No condition is typed")
        self.effect.setText("Left out now." if text and text == self.kept else "")
        self.effect.setVisible(bool(self.effect.text()))
        if new and self.comparison is not None:
            self._soon.start()
        else:
            self._soon.stop()

    def _why_not(self, text: str) -> str:
        if not text:
            return "Type a condition first"
        return "The condition cannot be read" if self.reading.trouble else "These are left out already"

    def _apply(self) -> None:
        if self.apply_button.isEnabled():
            self.kept = self.line.text().strip()
            self.applied.emit(self.kept)
            self._read()

    def _clear(self) -> None:
        had, self.kept = bool(self.kept), ""
        self.line.clear()
        if had:
            self.applied.emit("")
        self._read()
