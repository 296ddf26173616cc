"""The small form of a mark: kind, note, signals, side. It opens in place; Enter keeps, Esc leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QEvent, QPoint, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QFrame, QGridLayout, QHBoxLayout, QLineEdit, QPushButton, QWidget

from app.case.values import Mark, MarkSide
from app.model.line_draft import MarkDraft
from app.model.theme import Theme
from app.widgets.controls.label import label
from app.widgets.marks.kind_picker import KindPicker
from app.widgets.traces.mark_spans import parse_signals, place_words

SIDES: tuple[tuple[MarkSide, str], ...] = (("both", "Both sides"), ("good", "Known-good"), ("suspect", "Suspect"))
MARGINS, TIGHT_MARGINS = ((14, 10, 14, 12), 7), ((14, 4, 14, 4), 2)
"""Around the form and between its rows, as there is room; a kind that is cut would be worse."""
GAP = 10
"""Pixels between the mark and the form."""


class MarkForm(QFrame):
    """``kept`` carries the mark as typed; ``left`` tells that the form was closed without it."""

    kept = Signal(object)
    left = Signal()

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("card")
        self.setProperty("chosen", True)
        self.setAccessibleName("Mark")
        self.setAutoFillBackground(True)
        self.setCursor(Qt.CursorShape.ArrowCursor)
        self._mark = Mark(0, "question", "", 0, 0)
        self._known: tuple[str, ...] = ()
        self._beside = QRectF()
        self._begun, self._warned = ("", "", 0), False
        grid = QGridLayout(self)
        grid.setHorizontalSpacing(10)
        grid.setColumnStretch(1, 1)
        self.heading = label("", "strong", wrap=False)
        grid.addWidget(self.heading, 0, 0, 1, 2)
        self.kinds = KindPicker()
        self.note = _field("What there is to be seen", "Note")
        self.signals = _field("none typed: all signals", "Signals")
        self.side = QComboBox()
        self.side.setAccessibleName("Side")
        for _value, words in SIDES:
            self.side.addItem(words)
        rows = (("Kind", self.kinds), ("Note", self.note), ("Signals", self.signals), ("Side", self.side))
        for row, (words, field) in enumerate(rows, start=1):
            grid.addWidget(label(words, "muted", wrap=False), row, 0)
            grid.addWidget(field, row, 1)
        self.complaint = label("", "warning")
        grid.addWidget(self.complaint, 5, 0, 1, 2)
        grid.addLayout(self._buttons(), 6, 0, 1, 2)
        parent.installEventFilter(self)
        self.hide()

    def _buttons(self) -> QHBoxLayout:
        buttons = QHBoxLayout()
        buttons.setSpacing(8)
        keep, leave = QPushButton("Keep"), QPushButton("Cancel")
        keep.setProperty("role", "decision")
        keep.setToolTip("Keep the mark (Enter)")
        leave.setToolTip("Close the form, nothing is kept (Esc)")
        keep.clicked.connect(self.keep)
        leave.clicked.connect(self.leave)
        self.leave_button = leave
        for button in (keep, leave):
            button.setProperty("small", True)
            buttons.addWidget(button)
        buttons.addStretch(1)
        return buttons

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self.kinds.set_theme(theme, scale)
        if self.isVisible():
            self._settle()

    def show_mark(self, mark: Mark, known: Sequence[str], beside: QRectF) -> None:
        """Opens on a mark, beside what it marks; ``beside`` and the form share the parent's pixels."""
        self._mark, self._known, self._beside = mark, tuple(known), beside
        what = f"Mark {mark.id}" if mark.id else "New mark"
        self.heading.setText(f"{what} · {place_words(mark)}")
        self.kinds.pick(mark.kind)
        self.note.setText(mark.note)
        self.signals.setText(", ".join(mark.signals))
        self.side.setCurrentIndex([value for value, _words in SIDES].index(mark.side))
        self._begun, self._warned = self._typed(), False
        self._complain("")
        self.show()
        self._settle()
        self.raise_()
        self.note.setFocus()
        self.note.selectAll()

    def _settle(self) -> None:
        """To the right of the mark where there is room, else to its left, else below or above its rows."""
        parent, beside = self.parentWidget(), self._beside
        assert parent is not None
        room = parent.rect().adjusted(4, 4, -4, -4)
        layout = self.layout()
        assert isinstance(layout, QGridLayout)
        for margins, spacing in (MARGINS, TIGHT_MARGINS):
            layout.setContentsMargins(*margins)
            layout.setVerticalSpacing(spacing)
            # where the kinds take a second row the form is higher
            if layout.totalHeightForWidth(self.sizeHint().width()) <= room.height():
                break
        size = self.sizeHint().boundedTo(room.size())
        size.setHeight(min(layout.totalHeightForWidth(size.width()), room.height()))
        self.resize(size)
        x, y = round(beside.right()) + GAP, round(beside.top()) + GAP
        if x + size.width() > room.right():
            x = round(beside.left()) - GAP - size.width()
            if x < room.left():
                x = round(beside.center().x()) - size.width() // 2
                below, above = round(beside.bottom()) + GAP, round(beside.top()) - GAP - size.height()
                y = above if below + size.height() > room.bottom() and above >= room.top() else below
        x = max(min(x, room.right() - size.width()), room.left())
        self.move(QPoint(x, max(min(y, room.bottom() - size.height()), room.top())))

    def _complain(self, sentence: str) -> None:
        self.complaint.setText(sentence)
        self.complaint.setVisible(bool(sentence))
        if self.isVisible():
            self._settle()

    def keep(self) -> None:
        """Hands out the mark as typed; a name that is no signal is told instead."""
        try:
            signals = parse_signals(self.signals.text(), (*self._known, *self._mark.signals))
        except ValueError as error:
            self._complain(str(error))
            self.signals.setFocus()
            return
        side = SIDES[self.side.currentIndex()][0]
        kind = self.kinds.kind or self._mark.kind
        self.hide()
        self.kept.emit(replace(self._mark, kind=kind, note=self.note.text().strip(), signals=signals, side=side))

    def _typed(self) -> tuple[str, str, int]:
        return self.note.text(), self.signals.text(), self.side.currentIndex()

    def _escape(self) -> None:
        """Closes, but never drops what was typed without a word: the second Esc does."""
        if self._typed() == self._begun or self._warned:
            self.leave()
            return
        self._warned = True
        self._complain("Esc once more drops what you typed; Enter keeps the mark.")

    def draft(self) -> MarkDraft | None:
        """What was typed and not kept, for another day; None where nothing was."""
        if self.isHidden() or self._typed() == self._begun:
            return None
        note, signals, side = self._typed()
        return MarkDraft(self._mark, self.kinds.kind or self._mark.kind, note, signals, SIDES[side][0])

    def restore(self, draft: MarkDraft, known: Sequence[str], beside: QRectF) -> None:
        """Opens again with what was typed before."""
        self.show_mark(draft.mark, known, beside)
        self.kinds.pick(draft.kind)
        self.note.setText(draft.note)
        self.signals.setText(draft.signals)
        self.side.setCurrentIndex([value for value, _words in SIDES].index(draft.side))

    def leave(self) -> None:
        """Closes without keeping anything."""
        self.hide()
        self.left.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.leave() if self.leave_button.hasFocus() else self.keep()
        elif event.key() == Qt.Key.Key_Escape:
            self._escape()
        # what is typed here is nobody else's: keys of the traces stay away
        event.accept()

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            # letters, arrows and Esc are actions of the window elsewhere
            command = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
            if not event.modifiers() & command:
                event.accept()
                return True
        return super().event(event)

    def eventFilter(self, watched: object, event: QEvent) -> bool:
        if event.type() == QEvent.Type.Resize and self.isVisible():
            self._settle()
        return False


def _field(example: str, name: str) -> QLineEdit:
    field = QLineEdit()
    field.setPlaceholderText(example)
    field.setAccessibleName(name)
    return field
