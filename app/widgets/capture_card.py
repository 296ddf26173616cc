"""One capture on the bench: which it is, whether it is the shown one, and what its check-up says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QRadioButton, QToolButton, QVBoxLayout, QWidget

from app.model.theme import Theme
from app.widgets.elided_label import ElidedLabel
from app.widgets.step_list import draw_mark

if TYPE_CHECKING:
    from app.model.capture_cards import CardWords


class Mark(QWidget):
    """A tick or an ochre triangle, as tall as the text beside it."""

    def __init__(self, kind: str, theme: Theme) -> None:
        super().__init__()
        self._kind, self._theme = kind, theme
        self.setAccessibleName({"fine": "fine", "done": "fine", "look": "needs a look", "bad": "bad"}.get(kind, ""))

    def sizeHint(self) -> QSize:
        line = self.fontMetrics().height()
        return QSize(line, line)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        side = min(self.fontMetrics().height(), self.width(), self.height())
        draw_mark(painter, QRectF(0, (self.height() - side) / 2, side, side), self._kind, self._theme)
        painter.end()


class CaptureCard(QFrame):
    """``shownWanted``, ``removeWanted`` and ``openWanted`` carry the index of the capture on its side."""

    shownWanted = Signal(int)
    removeWanted = Signal(int)
    openWanted = Signal(int)

    def __init__(self, words: CardWords, side: str, is_open: bool, theme: Theme, roomy: bool = True) -> None:
        super().__init__()
        self.setObjectName("card")
        self.setProperty("chosen", is_open)
        outer = QHBoxLayout(self)
        outer.setContentsMargins(12, 7, 8, 7)
        outer.setSpacing(10)
        self.radio = QRadioButton()
        self.radio.setAutoExclusive(False)
        self.radio.setChecked(words.shown)
        self.radio.setToolTip("Compare this capture in full; the others count in how often a fault is seen")
        self.radio.setAccessibleName(f"Show {words.capture.name}")
        self.radio.clicked.connect(lambda: self.shownWanted.emit(words.index))
        outer.addWidget(
            self.radio, 0, Qt.AlignmentFlag.AlignTop if is_open or not roomy else Qt.AlignmentFlag.AlignVCenter
        )
        lines = QVBoxLayout()
        lines.setSpacing(3)
        lines.addLayout(self._first_line(words, roomy))
        if not roomy:
            lines.addWidget(ElidedLabel(words.facts, "muted"))
        for kind, text in words.sentences if is_open else words.sentences[:1]:
            lines.addLayout(_sentence(kind, text, theme))
        if is_open:
            lines.addLayout(self._details(words))
        outer.addLayout(lines, 1)
        if roomy and not is_open:
            outer.addWidget(_thumbnail(words, side, theme))
        outer.addWidget(self._opener(words, is_open), 0, Qt.AlignmentFlag.AlignTop)

    def _first_line(self, words: CardWords, roomy: bool) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(12)
        name = ElidedLabel(words.capture.name, "strong")
        line.addWidget(name, 0 if roomy else 1)
        if roomy:
            line.addWidget(ElidedLabel(words.facts, "muted"), 1)
        if words.shown:
            tag = QLabel("shown")
            tag.setObjectName("tag")
            line.addWidget(tag)
        return line

    def _opener(self, words: CardWords, is_open: bool) -> QToolButton:
        opener = QToolButton()
        opener.setText("▾" if is_open else "▸")
        opener.setAutoRaise(True)
        opener.setToolTip("Fold" if is_open else "Details of this capture")
        opener.setAccessibleName(f"{'Fold' if is_open else 'Open'} {words.capture.name}")
        opener.clicked.connect(lambda: self.openWanted.emit(-1 if is_open else words.index))
        return opener

    def _details(self, words: CardWords) -> QVBoxLayout:
        details = QVBoxLayout()
        capture = words.capture
        facts = "\n".join(f"{label}: {value}" for label, value in capture.facts)
        text = QLabel("\n".join(part for part in (capture.path, f"Layout: {capture.reader}", facts) if part))
        text.setObjectName("muted")
        text.setWordWrap(True)
        text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        details.addWidget(text)
        remove = QPushButton("Remove from the case")
        remove.setToolTip("The file itself is not touched; undo brings it back")
        remove.clicked.connect(lambda: self.removeWanted.emit(words.index))
        details.addWidget(remove, 0, Qt.AlignmentFlag.AlignLeft)
        return details


def _sentence(kind: str, text: str, theme: Theme) -> QHBoxLayout:
    line = QHBoxLayout()
    line.setSpacing(6)
    line.addWidget(Mark(kind, theme), 0, Qt.AlignmentFlag.AlignTop)
    label = QLabel(text)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setWordWrap(True)
    label.setObjectName("warning" if kind in ("look", "bad") else "plain")
    line.addWidget(label, 1)
    return line


def _thumbnail(words: CardWords, side: str, theme: Theme) -> QWidget:
    from app.widgets.thumbnail import Thumbnail

    picture = Thumbnail(words.capture, side, theme)
    picture.setFixedWidth(100)
    picture.setMaximumHeight(48)
    return picture
