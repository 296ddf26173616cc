"""The opened entry: words, photos, trace figure, readings, parts moved, and what it hangs together with."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QPixmap, QResizeEvent
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from app.case.counted_readings import uncounted
from app.case.dates import signed_words
from app.case.proof_words import proof_sentence
from app.case.values import Entry, Picture
from app.model.actions import action
from app.model.log_lines import (
    LogLine,
    date_code_text,
    moves_of,
    tie_words,
)
from app.model.session import Session
from app.model.theme import Theme
from app.report.log_section import reading_cells
from app.widgets.controls.label import label
from app.widgets.controls.scrolled_column import show_instead
from app.widgets.controls.tip import set_tip
from app.widgets.controls.wrap_row import WrapRow
from app.widgets.log.log_figure import figure_widget, pair_words
from app.widgets.log.log_photo import WIDEST_PX, PhotoBox
from app.widgets.log.log_shape import ShapeMark
from tracecore.quantities import group_digits

PhotoOf = Callable[[Picture], QPixmap | None]
SIDE_BY_SIDE_PX = 560
"""From this width on, at 100 %, a photo stands beside the figure."""


class LinkButton(QPushButton):
    """A link to another entry or a mark: underlined words, cut where room is short; a press goes there."""

    def __init__(self, words: str, tip: str) -> None:
        super().__init__(words)
        self._words = words
        self.setProperty("role", "link")
        set_tip(self, tip)
        self.setAccessibleName(words)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def sizeHint(self) -> QSize:
        high = super().sizeHint().height()
        return QSize(self.fontMetrics().horizontalAdvance(self._words) + 6, high)

    def minimumSizeHint(self) -> QSize:
        return QSize(60, super().minimumSizeHint().height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.setText(self.fontMetrics().elidedText(self._words, Qt.TextElideMode.ElideRight, self.width() - 2))


class EntryView(QScrollArea):
    """``asked`` carries an action's name, ``entry_wanted`` an entry's number, ``mark_wanted`` a mark's,
    ``captioned`` a picture's number and its new caption."""

    asked = Signal(str)
    entry_wanted = Signal(int)
    mark_wanted = Signal(int)
    captioned = Signal(int, str)

    def __init__(self, session: Session, photo_of: PhotoOf) -> None:
        super().__init__()
        self.setObjectName("entryView")
        self.setAccessibleName("Opened entry")
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._session, self._photo_of = session, photo_of
        self._shown: int | None = None
        self._lines: dict[int, LogLine] = {}

    def show_entry(self, lines: Sequence[LogLine], number: int | None, theme: Theme, scale: float) -> None:
        """Builds the entry anew; where it is the same one, the place that was read stays in sight."""
        at = self.verticalScrollBar().value() if number is not None and number == self._shown else 0
        self._shown, self._lines = number, {line.entry.id: line for line in lines}
        self._theme, self._scale = theme, scale
        body = QWidget()
        body.setObjectName("entryBody")
        down = QVBoxLayout(body)
        down.setContentsMargins(18, 10, 18, 10)
        down.setSpacing(10)
        if number is None:
            self._empty(down)
        else:
            self._fill(down, self._lines[number])
        down.addStretch(1)
        show_instead(self, body)
        body.show()
        if at:
            body.adjustSize()
        self.verticalScrollBar().setValue(at)

    def _empty(self, down: QVBoxLayout) -> None:
        down.addWidget(label("Nothing is written yet", "heading"))
        down.addWidget(
            label(
                "The log begins with what was seen: which unit, what it did, since when. Write it in the line "
                "below, then press Enter; the program sets date and time. From any other page F4 opens such a line."
            )
        )

    def _fill(self, down: QVBoxLayout, line: LogLine) -> None:
        entry = line.entry
        down.addLayout(self._head(line))
        self._corrections(down, line)
        if entry.details:
            down.addWidget(_selectable(entry.details))
        self._pictures(down, entry)
        self._jump(down, entry)
        self._readings(down, entry)
        self._parts(down, entry)
        if entry.proof is not None:
            down.addWidget(label("Proof after repair", "strong"))
            down.addWidget(label(proof_sentence(entry.proof)))
            if entry.proof.note:
                down.addWidget(label(entry.proof.note, "muted"))
        self._ties(down, line)
        down.addWidget(self._buttons(line))

    def _head(self, line: LogLine) -> QHBoxLayout:
        entry = line.entry
        head = QHBoxLayout()
        head.setSpacing(10)
        top = Qt.AlignmentFlag.AlignTop
        head.addWidget(ShapeMark(line.shape, self._theme, 1.25, self._theme.paper), 0, top)
        words = QVBoxLayout()
        words.setSpacing(2)
        title = label(entry.text, "heading")
        if line.corrected_by is not None:
            # the style sheet sets this label's font, so a struck font of its own would be lost
            title.setStyleSheet("text-decoration: line-through;")
        title.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        words.addWidget(title)
        how = {"tick": "it helped", "cross": "it did not help"}.get(line.shape, "")
        facts = (f"entry {entry.id}", entry.kind, how, signed_words(entry.at, entry.author))
        words.addWidget(label(" · ".join(fact for fact in facts if fact), "muted"))
        head.addLayout(words, 1)
        if not self._narrow:
            head.addWidget(self._correct(line), 0, top)
        return head

    @property
    def _narrow(self) -> bool:
        """Is there no room beside the heading?"""
        return self.viewport().width() < SIDE_BY_SIDE_PX * self._scale

    def _correct(self, line: LogLine) -> QPushButton:
        correct = self._action("correct_line", "Correct")
        correct.setEnabled(line.corrected_by is None)
        if line.corrected_by is not None:
            set_tip(correct, f"Entry {line.corrected_by} puts it right already; correct that one")
        return correct

    def _corrections(self, down: QVBoxLayout, line: LogLine) -> None:
        """Which line puts which right."""
        rows = QGridLayout()
        for words, number in (("Put right by", line.corrected_by), ("Puts right", line.entry.corrects)):
            if number in self._lines:
                self._link_row(rows, words, [self._lines[number]])
        if rows.count():
            rows.setColumnStretch(2, 1)
            down.addLayout(rows)

    # ---- pictures, figure, cycle, marks

    def _pictures(self, down: QVBoxLayout, entry: Entry) -> None:
        case = self._session.case
        pictures = [p for p in case.pictures if p.id in entry.pictures]
        if not pictures and entry.figure is None:
            return
        wide = not self._narrow
        grid = QGridLayout()
        grid.setHorizontalSpacing(14)
        grid.setVerticalSpacing(10)
        across = 2 if wide else 1
        for place, picture in enumerate(pictures):
            box = PhotoBox(picture, self._photo_of(picture), len(case.pictures), self._theme, self._scale)
            box.captioned.connect(lambda text, number=picture.id: self.captioned.emit(number, text))
            grid.addWidget(box, place // across, place % across, Qt.AlignmentFlag.AlignTop)
        if entry.figure is not None:
            figure = QVBoxLayout()
            beside = wide and len(pictures) == 1
            room = self.viewport().width() - 60 - (round(WIDEST_PX * self._scale) + 14 if beside else 0)
            figure.addWidget(figure_widget(self._session, entry.figure, self._theme, self._scale, room))
            pair = pair_words(case, entry.figure)
            figure.addWidget(
                label(f"{entry.figure.signal}, good above suspect" + (f": {pair}" if pair else ""), "muted")
            )
            figure.addStretch(1)
            grid.addLayout(figure, -(-len(pictures) // across) - beside, int(beside), 1, 1 if beside else across)
        for column in range(across):
            grid.setColumnStretch(column, 1 if column or not (wide and entry.figure) else 0)
        down.addLayout(grid)

    def _jump(self, down: QVBoxLayout, entry: Entry) -> None:
        """To the cycle, and to each mark."""
        cycle = entry.cycle if entry.cycle is not None or entry.figure is None else entry.figure.cycle
        marks = [mark for mark in self._session.case.marks if mark.id in entry.marks]
        if cycle is None and not marks:
            return
        area = QWidget()
        row = WrapRow(area)
        if cycle is not None:
            go = self._action("go_to_mark", f"Go to cycle {group_digits(cycle)}")
            go.setProperty("role", "decision")
            row.addWidget(go)
        for mark in marks:
            link = LinkButton(f"mark {mark.id} ({mark.kind}): {mark.note}", f"Go to cycle {mark.first_cycle}")
            link.clicked.connect(lambda _checked=False, number=mark.id: self.mark_wanted.emit(number))
            row.addWidget(link)
        down.addWidget(area)

    # ---- tables and ties

    def _readings(self, down: QVBoxLayout, entry: Entry) -> None:
        if entry.readings:
            rows = [reading_cells(reading) for reading in entry.readings]
            down.addWidget(label("Readings", "strong"))
            down.addLayout(_table(("Where", "Good", "Suspect"), rows))
        left = len(uncounted(self._session.case, entry))
        if left:
            told = "reading of it is" if left == 1 else "readings of it are"
            down.addWidget(label(f"{left} {told} not among those of Backplane, so no likely cause follows.", "warning"))
            area = QWidget()
            WrapRow(area).addWidget(self._action("count_readings"))
            down.addWidget(area)

    def _parts(self, down: QVBoxLayout, entry: Entry) -> None:
        moves = moves_of(self._session.case, entry)
        if moves:
            rows = [(move.part, move.source, move.target, date_code_text(move.date_code)) for move in moves]
            down.addWidget(label("Parts moved", "strong"))
            down.addLayout(_table(("Part", "From", "To", "Date code"), rows))

    def _ties(self, down: QVBoxLayout, line: LogLine) -> None:
        rows = QGridLayout()
        rows.setHorizontalSpacing(10)
        for words, numbers in (("Because of", line.entry.because), ("Led to", line.led_to)):
            tied = [self._lines[number] for number in numbers if number in self._lines]
            if tied:
                self._link_row(rows, words, tied)
        if rows.count():
            rows.setColumnStretch(2, 1)
            down.addLayout(rows)

    def _link_row(self, rows: QGridLayout, words: str, lines: Sequence[LogLine]) -> None:
        for i, line in enumerate(lines):
            entry = line.entry
            row = rows.rowCount()
            if i == 0:
                rows.addWidget(label(words, "muted", wrap=False), row, 0, Qt.AlignmentFlag.AlignTop)
            rows.addWidget(
                ShapeMark(line.shape, self._theme, 0.9, self._theme.paper), row, 1, Qt.AlignmentFlag.AlignTop
            )
            link = LinkButton(tie_words(entry), f"Open entry {entry.id}: {entry.text}")
            link.setAccessibleName(f"{words}: {tie_words(entry)}")
            link.clicked.connect(lambda _checked=False, number=entry.id: self.entry_wanted.emit(number))
            rows.addWidget(link, row, 2, Qt.AlignmentFlag.AlignLeft)

    def _buttons(self, line: LogLine) -> QWidget:
        area = QWidget()
        row = WrapRow(area)
        if self._narrow:
            correct = self._correct(line)
            correct.setProperty("small", True)
            row.addWidget(correct)
        for name in ("because_line", "add_picture", "add_reading", "add_part"):
            button = self._action(name)
            button.setProperty("small", True)
            row.addWidget(button)
        return area

    def _action(self, name: str, text: str = "") -> QPushButton:
        row = action(name)
        button = QPushButton(text or row.text)
        button.setObjectName(name)
        set_tip(button, row.hint)
        button.clicked.connect(lambda: self.asked.emit(name))
        return button


def _selectable(text: str) -> QWidget:
    made = label(text)
    made.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return made


def _table(heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> QGridLayout:
    """Ruled rows of words, as on paper."""
    grid = QGridLayout()
    grid.setHorizontalSpacing(14)
    grid.setVerticalSpacing(5)
    for column, head in enumerate(heads):
        grid.addWidget(label(head, "muted"), 0, column)
        grid.setColumnStretch(column, 0 if column == 0 and len(heads) > 3 else 2)
    for number, cells in enumerate(rows):
        rule = QFrame()
        rule.setObjectName("rule")
        rule.setFixedHeight(1)
        grid.addWidget(rule, 2 * number + 1, 0, 1, len(heads))
        for column, words in enumerate(cells):
            place = Qt.AlignmentFlag.AlignTop
            grid.addWidget(label(words, "strong" if column == 0 else "plain"), 2 * number + 2, column, place)
    return grid
