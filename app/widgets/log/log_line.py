"""The strip in which a new line of the log is written: its kind, the cycle, the words, who signs, and pictures."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QApplication,
    QButtonGroup,
    QComboBox,
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.case.values import ENTRY_KINDS, Entry, EntryKind, Mark, Picture
from app.model.line_draft import LineDraft
from app.model.log_lines import SHAPES, parse_cycle, tie_words
from app.model.theme import Theme
from app.widgets.controls.elided_label import ElidedLabel
from app.widgets.controls.label import label
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from app.widgets.log.reading_fields import ReadingFields
from app.widgets.log.shape_button import ShapeButton
from tracecore.quantities import group_digits

EXAMPLES: dict[EntryKind, str] = {
    "seen": "What was seen, in one line",
    "suspected": "What is suspected, in one line",
    "measured": "Where and what was measured, with its unit",
    "done": "What was done, in one line",
    "result": "What came of it, in one line",
}


class LineStrip(QFrame):
    """``kept`` carries an Entry without number and time; ``left`` is Esc; ``picture_wanted`` asks for a photo.

    What the line is because of, or which one it puts right, stands above the words until the line is kept.
    """

    kept = Signal(object)
    left = Signal()
    picture_wanted = Signal()

    def __init__(self, theme: Theme, with_picture: bool = True) -> None:
        super().__init__()
        self.setObjectName("lineStrip")
        self._because: tuple[int, ...] = ()
        self._base: Entry | None = None
        self._tight = self._brief = False
        self._details_px = 84
        self.pictures: tuple[Picture, ...] = ()
        down = QVBoxLayout(self)
        down.setContentsMargins(18, 8, 18, 8)
        down.setSpacing(6)
        down.addWidget(self._tie_row())
        self.choices = self._choices(theme)
        down.addWidget(self.choices)
        self.read = ReadingFields(self)
        down.addWidget(self.read)
        down.addLayout(self._words_row(with_picture))
        self.details = QPlainTextEdit()
        self.details.setAccessibleName("Details")
        self.details.setPlaceholderText("More about it, in as many lines as it takes")
        self.details.setTabChangesFocus(True)
        self.details.installEventFilter(self)
        self.details.hide()
        down.addWidget(self.details)
        self.trouble = label("", "warning")
        self.trouble.hide()
        down.addWidget(self.trouble)
        self.begin()
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.focusChanged.connect(self._on_focus)

    # ---- how it is built

    def _tie_row(self) -> QWidget:
        self.tie = QWidget()
        row = QHBoxLayout(self.tie)
        row.setContentsMargins(0, 0, 0, 0)
        self.tie_words = ElidedLabel("", "strong")
        row.addWidget(self.tie_words, 1)
        self.untie = QPushButton("Let go")
        self.untie.setProperty("small", True)
        self.untie.setToolTip("Write a line of its own instead")
        self.untie.clicked.connect(self._let_go)
        row.addWidget(self.untie)
        return self.tie

    def _choices(self, theme: Theme) -> QWidget:
        area = QWidget()
        row = WrapRow(area)
        row.addWidget(label("New line", "strong", wrap=False))
        group = QButtonGroup(self)
        self.kinds: dict[EntryKind, ShapeButton] = {}
        for kind in ENTRY_KINDS:
            button = ShapeButton(kind, SHAPES[kind], theme)
            button.toggled.connect(lambda _on: self._on_kind())
            group.addButton(button)
            row.addWidget(button)
            self.kinds[kind] = button
        self.helped = QComboBox()
        self.helped.setAccessibleName("Did it help?")
        for words, value in (("no word on whether it helped", None), ("it helped", True), ("it did not help", False)):
            self.helped.addItem(words, value)
        row.addWidget(self.helped)
        row.addWidget(label("at cycle", "muted", wrap=False))
        self.cycle = QLineEdit()
        self.cycle.setAccessibleName("At good cycle")
        self.cycle.setPlaceholderText("none")
        self.cycle.setToolTip("The good cycle that this line is about; it can be jumped to")
        row.addWidget(self.cycle)
        self.mark = QComboBox()
        self.mark.setAccessibleName("With mark")
        self.mark.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.mark.setMinimumContentsLength(12)
        row.addWidget(self.mark)
        for field in (self.cycle, self.helped, self.mark):
            field.installEventFilter(self)
        self._buttons = [*self.kinds.values()]
        return area

    def _words_row(self, with_picture: bool) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(8)
        self.words = QLineEdit()
        self.words.setAccessibleName("Words of the new line")
        self.initials = QLineEdit()
        self.initials.setAccessibleName("Signed by")
        self.initials.setToolTip("Your initials; lines are signed with them from now on")
        self.initials.setAlignment(Qt.AlignmentFlag.AlignCenter)
        row.addWidget(self.words, 1)
        row.addWidget(self.initials)
        for field in (self.words, self.initials):
            field.installEventFilter(self)
        self.more = _button("More", "A field for details")
        self.more.setCheckable(True)
        self.more.toggled.connect(self._on_more)
        row.addWidget(self.more)
        self.picture = _button("Picture", "Put a photo beside this line")
        self.picture.clicked.connect(self.picture_wanted)
        self.picture.setVisible(with_picture)
        row.addWidget(self.picture)
        self.add = _button("Add", "Keep this line; the program sets date and time (Enter)")
        self.add.setProperty("role", "decision")
        self.add.clicked.connect(self.keep)
        row.addWidget(self.add)
        return row

    # ---- what it is told

    def set_look(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        for button in self._buttons:
            button.set_theme(theme)
        self.cycle.setFixedWidth(round(100 * scale))
        self.initials.setFixedWidth(round(56 * scale))
        self.read.set_scale(scale)
        self._details_px = round(84 * scale)
        self._size_details()

    def set_tight(self, tight: bool) -> None:
        """Where room is short only the words are shown, until somebody writes."""
        self._tight = tight
        self._fold()

    def set_brief(self, brief: bool) -> None:
        """Where there is room for one line alone, kind, cycle and mark stand with the details."""
        self._brief = brief
        self._size_details()
        set_tip(self.more, "Kind, cycle, mark, and a field for details" if brief else "A field for details")
        self._fold()

    def _size_details(self) -> None:
        # two lines of them, where the traces are to stay in sight
        self.details.setFixedHeight(self._details_px // 2 if self._brief else self._details_px)

    def _on_more(self, on: bool) -> None:
        self.details.setVisible(on)
        self._fold()

    def _on_focus(self, _before: QWidget | None, _now: QWidget | None) -> None:
        if self._tight:
            self._fold()

    def _fold(self) -> None:
        now = QApplication.focusWidget()
        writing = bool(self.words.text()) or (now is not None and self.isAncestorOf(now))
        shown = self.more.isChecked() if self._brief else writing or not self._tight
        self.choices.setVisible(shown)
        # a correction keeps the readings of the line that it puts right
        self.read.setVisible(shown and self.kind == "measured" and self._base is None)

    def set_author(self, author: str) -> None:
        """The initials that are proposed."""
        self.initials.setText(author)

    def set_cycle(self, cycle: int | None) -> None:
        """The cycle that is proposed."""
        self.cycle.setText("" if cycle is None else group_digits(cycle))

    def set_marks(self, marks: Sequence[Mark], chosen: int | None = None) -> None:
        """The marks that a line can be tied to; none is taken unless one is named here."""
        self.mark.clear()
        self.mark.addItem("no mark", None)
        for mark in marks:
            self.mark.addItem(f"mark {mark.id} {mark.note}"[:40], mark.id)
        self.mark.setCurrentIndex(max(0, self.mark.findData(chosen)) if chosen is not None else 0)
        self.mark.setVisible(bool(marks))

    def set_pictures(self, pictures: Sequence[Picture]) -> None:
        """Photos that will join the line."""
        self.pictures = tuple(pictures)
        count = len(self.pictures)
        self.picture.setText(f"Pictures: {count}" if count else "Picture")

    def begin(self, kind: EntryKind = "seen", *, because: Entry | None = None, corrects: Entry | None = None) -> None:
        """A fresh line: of its own, because of another one, or to put one right."""
        self._because = (because.id,) if because is not None else ()
        self._base = corrects
        self.set_pictures(())
        self.trouble.hide()
        self.read.set_texts(())
        self.details.setPlainText(corrects.details if corrects is not None else "")
        self.more.setChecked(bool(corrects is not None and corrects.details))
        self.words.setText(corrects.text if corrects is not None else "")
        self.kinds[corrects.kind if corrects is not None else kind].setChecked(True)
        self.helped.setCurrentIndex(self.helped.findData(corrects.helped) if corrects is not None else 0)
        if corrects is not None:
            self.set_cycle(corrects.cycle)
        head = f"Because of {tie_words(because)}" if because is not None else ""
        head = f"Puts right {tie_words(corrects)}" if corrects is not None else head
        self.tie_words.setText(head)
        self.tie.setVisible(bool(head))
        self.add.setText("Correct" if corrects is not None else "Add")
        self._on_kind()

    @property
    def holds_words(self) -> bool:
        """Was anything written that is not in the case yet?"""
        base = self._base
        words, details = (base.text, base.details) if base is not None else ("", "")
        if base is None and any(self.read.texts):
            return True
        return (self.words.text().strip(), self.details.toPlainText().strip()) not in ((words, details), ("", ""))

    def draft(self) -> LineDraft | None:
        """What was written and is not in the case yet, for another day; None where nothing was."""
        if not self.holds_words and not self.pictures:
            return None
        corrects = self._base.id if self._base is not None else None
        words, details = self.words.text(), self.details.toPlainText()
        return LineDraft(
            self.kind,
            words,
            details,
            self.cycle.text(),
            self._because,
            corrects,
            self.pictures,
            self.mark.currentData(),
            self.helped.currentData(),
            self.read.texts if any(self.read.texts) else (),
        )

    def restore(self, draft: LineDraft, entries: Sequence[Entry], pictures: Sequence[Picture] = ()) -> None:
        """Goes on with a draft, and those of its photos that are there; ties to entries that the case no longer has are
        left out."""
        known = {entry.id: entry for entry in entries}
        because = known.get(draft.because[0]) if draft.because else None
        self.begin(draft.kind, because=because, corrects=known.get(draft.corrects or 0))
        self.kinds[draft.kind].setChecked(True)
        self.words.setText(draft.text)
        self.details.setPlainText(draft.details)
        self.more.setChecked(bool(draft.details))
        self.cycle.setText(draft.cycle)
        self.helped.setCurrentIndex(max(0, self.helped.findData(draft.helped)))
        self.mark.setCurrentIndex(max(0, self.mark.findData(draft.mark)))
        self.set_pictures(pictures)
        self.read.set_texts(draft.reading)
        self._fold()

    def _let_go(self) -> None:
        """The line becomes one of its own; words that were typed for it stay."""
        if self._base is not None:
            self.begin()
            return
        self._because = ()
        self.tie.hide()

    def _on_kind(self) -> None:
        self.helped.setVisible(self.kind == "result")
        self.words.setPlaceholderText(EXAMPLES[self.kind])
        self._fold()

    # ---- what it gives

    @property
    def kind(self) -> EntryKind:
        """The chosen kind."""
        return next((kind for kind, button in self.kinds.items() if button.isChecked()), "seen")

    def typed(self) -> Entry:
        """The line as typed, without number and time. Raises ValueError where something is lacking."""
        read = self.read.reading() if self.kind == "measured" and self._base is None else None
        words = self.words.text().strip() or (read.where if read is not None else "")
        if not words:
            raise ValueError("The line has no words yet. Write what was seen, suspected, measured or done.")
        entry = Entry(
            0,
            self.kind,
            words,
            self.initials.text().strip(),
            cycle=parse_cycle(self.cycle.text()),
            helped=self.helped.currentData() if self.kind == "result" else None,
            because=self._because,
            marks=() if self.mark.currentData() is None else (self.mark.currentData(),),
            details=self.details.toPlainText().strip(),
            readings=() if read is None else (read,),
        )
        base = self._base
        if base is None:
            return entry
        # what the words do not touch goes on as it was
        return replace(
            entry,
            corrects=base.id,
            because=base.because,
            marks=entry.marks or base.marks,
            pictures=base.pictures,
            figure=base.figure,
            readings=base.readings,
        )

    def keep(self) -> None:
        """Gives the line away, or says what it lacks."""
        try:
            entry = self.typed()
        except ValueError as error:
            self.trouble.setText(str(error))
            self.trouble.show()
            return
        self.trouble.hide()
        self.kept.emit(entry)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        kind = event.type()
        if kind == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and event.key() == Qt.Key.Key_Escape:
            # on Compare the key would take the cursors away
            event.accept()
            return True
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            plain = watched is not self.details or event.modifiers() & Qt.KeyboardModifier.ControlModifier
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and plain:
                self.keep()
                return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.keep()
        else:
            super().keyPressEvent(event)


def _button(text: str, tip: str) -> QPushButton:
    made = QPushButton(text)
    set_tip(made, tip)
    return made
