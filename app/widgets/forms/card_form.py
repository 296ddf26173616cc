"""A bench card as a form: the same rows as on paper, a field for each box, in the order in which they were written.

What is typed is kept as typed, with its unit where one was typed; nothing is converted. A reading of the good unit, and
a pin that the card left blank, have fields of their own and become part of the row.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING, Literal

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from app.case.card_rows import BLANK, found_choices, with_pins
from app.widgets.controls.forms import UprightScroll
from app.widgets.controls.tip import set_tip

if TYPE_CHECKING:
    from app.case.values import BenchCard, CardRow
    from app.model.theme import Theme

FIELD_PX, PIN_PX, GOOD_PX = 72, 76, 120
"""Least widths of fields at 100 %."""
WIDE_PX = 760
"""From this width on, at 100 %, a row stands on one line."""
FOOT = "Enter goes to the next box, Ctrl+Enter keeps. Ohms between two pins join the readings of Backplane."


class RowFields(QObject):
    """The fields of one row, in the order of the keyboard: pins, the good unit's reading, then a field a box."""

    def __init__(self, number: int, row: CardRow, filled: tuple[str, ...]) -> None:
        super().__init__()
        self.row = row
        spoken = f"Row {number}, {row.probe.replace(BLANK, 'pin not known')}"
        blanks = row.probe.count(BLANK)
        self.pins = [_field(f"{spoken}: pin", "", "pin") for _ in range(blanks)]
        self.good = None if row.good else _field(f"{spoken}: good unit reads, in {row.unit}", "", row.unit)
        self.boxes = []
        for index, name in enumerate(row.boxes):
            text = filled[index] if index < len(filled) else ""
            self.boxes.append(_field(f"{spoken}: suspect reads{f', {name}' if name else ''}, in {row.unit}", text))

    @property
    def fields(self) -> list[QLineEdit]:
        """All of them, in order."""
        return [*self.pins, *([self.good] if self.good is not None else []), *self.boxes]

    def typed_row(self) -> CardRow:
        """The row with the pins and the good reading that were typed."""
        row = with_pins(self.row, tuple(pin.text() for pin in self.pins)) if self.pins else self.row
        typed = self.good.text().strip() if self.good is not None else ""
        return replace(row, good=typed) if typed else row

    def typed(self) -> tuple[str, ...]:
        """A text for each box."""
        return tuple(box.text().strip() for box in self.boxes)


class RowCells:
    """What a row looks like: its number, where to probe, what the good unit reads, the boxes, and a rule below."""

    def __init__(self, number: int, fields: RowFields) -> None:
        row = fields.row
        self.number = _label(str(number), "number", wrap=False)
        self.where, where = _cell()
        where.addLayout(_probe(fields))
        where.addWidget(_label(row.where, "muted"))
        self.good, good = _cell()
        good.addWidget(fields.good if fields.good is not None else _label(row.good, "pin"))
        limit, _, source = row.limit.partition("\n")
        told = _label(limit, "muted")
        set_tip(told, f"Source: {source}" if source else "")
        good.addWidget(told)
        self.boxes, boxes = _cell()
        line = QHBoxLayout()
        line.setSpacing(8)
        for name, field in zip(row.boxes, fields.boxes, strict=True):
            if name:
                line.addWidget(_label(name, "plain", wrap=False))
            line.addWidget(field, 1)
        line.addWidget(_label(row.unit, "plain", wrap=False))
        boxes.addLayout(line)
        self.rule = QFrame()
        self.rule.setObjectName("rowRule")
        self.rule.setFixedHeight(1)

    def cells(self, wide: bool) -> tuple[tuple[QWidget, int, int, int], ...]:
        """Each part with its line, column and count of columns; narrow rows take two lines."""
        top = ((self.number, 0, 0, 1), (self.where, 0, 1, 1 if wide else 2), (self.rule, 2, 0, 4 if wide else 3))
        return (*top, (self.good, 0 if wide else 1, 2 if wide else 1, 1), (self.boxes, 0 if wide else 1, 2 + wide, 1))


class BlockGrid(QGridLayout):
    """The rows of one block, one line each where there is room, else two."""

    def __init__(self, rows: list[RowCells]) -> None:
        super().__init__()
        self._rows = rows
        self._heads = [_label(words, "muted", wrap=False) for words in ("Probe", "Good unit", "Suspect reads")]
        self.setHorizontalSpacing(14)
        self.setVerticalSpacing(5)
        self.wide: bool | None = None

    def arrange(self, wide: bool) -> None:
        """Puts every part in its place."""
        if wide == self.wide:
            return
        self.wide = wide
        for column, stretch in enumerate((0, 3, 2, 3) if wide else (0, 2, 3, 0)):
            self.setColumnStretch(column, stretch)
        for index, head in enumerate(self._heads):
            self.removeWidget(head)
            self.addWidget(head, 0, index + 1 if wide else max(1, index))
            head.setVisible(wide or index > 0)
        for place, row in enumerate(self._rows):
            for widget, line, column, columns in row.cells(wide):
                self.removeWidget(widget)
                self.addWidget(widget, 1 + 3 * place + line, column, 1, columns, _align(widget, row))


def _align(widget: QWidget, row: RowCells) -> Qt.AlignmentFlag:
    """A number stands at the top of its row; everything else fills its place."""
    return Qt.AlignmentFlag.AlignTop if widget is row.number else Qt.AlignmentFlag(0)


class CardForm(QWidget):
    """``filled`` carries the BenchCard with what was typed, when the button or Ctrl+Enter asks to keep it;
    ``cancelled`` tells that nothing is to be kept.

    Enter and Down go to the next field, Up to the one before.
    """

    filled = Signal(object)
    cancelled = Signal()

    def __init__(self, card: BenchCard, theme: Theme, scale: float, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("cardForm")
        self.setAccessibleName(f"Bench card {card.number}")
        self._card = card
        self.rows = [
            RowFields(number, row, card.filled[number - 1] if number <= len(card.filled) else ())
            for number, row in enumerate(card.rows, start=1)
        ]
        self.found = [QCheckBox(words) for words in found_choices(card)]
        self.other = _field("Found: something else", "", "something else")
        self.notes = QPlainTextEdit(card.notes)
        self.keep, self.cancel = QPushButton("Keep readings"), QPushButton("Cancel")
        self.blocks: list[BlockGrid] = []
        self._scale = scale
        self._restore_found()
        self._build()
        self.set_theme(theme, scale)
        self._order()

    def card(self) -> BenchCard:
        """The card with all that is typed now."""
        ticked = [box.text() for box in self.found if box.isChecked()]
        other = self.other.text().strip()
        return replace(
            self._card,
            rows=tuple(row.typed_row() for row in self.rows),
            filled=tuple(row.typed() for row in self.rows),
            found=", ".join([*ticked, *([other] if other else [])]),
            notes=self.notes.toPlainText(),
        )

    @property
    def fields(self) -> list[QLineEdit]:
        """The fields of all rows, in the order of the keyboard: as the rows are grouped, power off first."""
        return [field for row in self._grouped() for field in row.fields]

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""

        def px(size: float) -> str:
            return f"{round(size * scale)}px"

        self.setStyleSheet(f"""
QWidget#cardForm, QWidget#cardBody {{ background: {theme.paper}; }}

QLabel#power {{ background: {theme.ink}; color: {theme.panel}; font-weight: bold; padding: {px(4)} {px(12)}; }}
QLabel#pin {{ font-weight: bold; font-size: {px(16)}; color: {theme.ink}; }}
QLabel#number {{ font-weight: bold; font-size: {px(21)}; color: {theme.ink}; }}
QFrame#rowRule {{ background: {theme.rule_strong}; border: none; }}
""")
        for row in self.rows:
            for field, least in (
                *((pin, PIN_PX) for pin in row.pins),
                *((box, FIELD_PX) for box in row.boxes),
                *([(row.good, GOOD_PX)] if row.good is not None else []),
            ):
                field.setMinimumWidth(round(least * scale))
        self.notes.setFixedHeight(round(84 * scale))
        self._scale = scale
        self._arrange()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Enter and the arrows walk the fields; the rows' keys stay as they are while a field has none of these."""
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent) and watched in self.fields:
            key, control = event.key(), event.modifiers() & Qt.KeyboardModifier.ControlModifier
            step = {Qt.Key.Key_Return: 1, Qt.Key.Key_Enter: 1, Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}.get(Qt.Key(key))
            if step is not None and not control:
                self._walk(self.fields.index(watched) + step)
                return True
        return super().eventFilter(watched, event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and (
            event.modifiers() & Qt.KeyboardModifier.ControlModifier
        ):
            self._keep()
        else:
            super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        empty = next((field for row in self._grouped() for field in row.boxes if not field.text()), None)
        if empty is not None:
            empty.setFocus()

    # ---- parts

    def _build(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 10, 4, 10)
        column.setSpacing(8)
        column.addWidget(_label(f"Bench card {self._card.number}", "heading"))
        column.addWidget(_label(self._card.finding, "strong"))
        body = QWidget()
        body.setObjectName("cardBody")
        inner = QVBoxLayout(body)
        inner.setContentsMargins(0, 0, 10, 0)
        self._block(inner, "off")
        self._block(inner, "on")
        self._foot(inner)
        inner.addStretch(1)
        self.area = UprightScroll()
        self.area.setWidget(body)
        column.addWidget(self.area, 1)
        line = QHBoxLayout()
        self.keep.setProperty("role", "decision")
        self.keep.setToolTip("Keep readings (Ctrl+Enter)")
        self.keep.clicked.connect(lambda _checked=False: self._keep())
        self.cancel.clicked.connect(self.cancelled)
        for button in (self.keep, self.cancel):
            button.setAutoDefault(False)
            line.addWidget(button)
        line.addWidget(_label(FOOT, "muted"), 1)
        column.addLayout(line)

    def _block(self, inner: QVBoxLayout, power: Literal["off", "on"]) -> None:
        head = QHBoxLayout()
        head.addWidget(_label(f"POWER {power.upper()}", "power", wrap=False))
        head.addStretch(1)
        inner.addLayout(head)
        rows = [(number, row) for number, row in enumerate(self.rows, start=1) if row.row.power == power]
        block = BlockGrid([RowCells(number, row) for number, row in rows])
        inner.addLayout(block)
        inner.addSpacing(10)
        self.blocks.append(block)

    def _foot(self, inner: QVBoxLayout) -> None:
        inner.addWidget(_label("Found", "strong"))
        grid = QGridLayout()
        for index, box in enumerate(self.found):
            grid.addWidget(box, index // 4, index % 4)
        grid.addWidget(self.other, (len(self.found) + 3) // 4, 0, 1, 4)
        inner.addLayout(grid)
        inner.addWidget(_label("Notes", "strong"))
        self.notes.setAccessibleName("Notes")
        self.notes.setTabChangesFocus(True)
        inner.addWidget(self.notes)

    # ---- doings

    def _arrange(self) -> None:
        for block in self.blocks:
            block.arrange(self.width() >= WIDE_PX * self._scale)
        self.area.grow()

    def _grouped(self) -> list[RowFields]:
        return [row for power in ("off", "on") for row in self.rows if row.row.power == power]

    def _order(self) -> None:
        chain: list[QWidget] = [*self.fields, *self.found, self.other, self.notes, self.keep, self.cancel]
        for one, other in pairwise(chain):
            QWidget.setTabOrder(one, other)
        for field in self.fields:
            field.installEventFilter(self)

    def _walk(self, index: int) -> None:
        """Goes to a field by its place; past the last one comes what was found."""
        fields = self.fields
        target: QWidget = fields[max(0, index)] if index < len(fields) else self.found[0]
        target.setFocus(Qt.FocusReason.TabFocusReason)
        self.area.ensureWidgetVisible(target)

    def _restore_found(self) -> None:
        said = [words.strip() for words in self._card.found.split(",") if words.strip()]
        known = {box.text(): box for box in self.found}
        for words in said:
            if words in known:
                known[words].setChecked(True)
        self.other.setText(", ".join(words for words in said if words not in known))

    def _keep(self) -> None:
        self._card = self.card()
        self.filled.emit(self._card)


def _field(spoken: str, text: str, hint: str = "") -> QLineEdit:
    field = QLineEdit(text)
    field.setAccessibleName(spoken)
    field.setPlaceholderText(hint)
    return field


def _label(text: str, name: str, *, wrap: bool = True) -> QLabel:
    made = QLabel(text)
    made.setObjectName(name)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(wrap)
    return made


def _cell() -> tuple[QWidget, QVBoxLayout]:
    """A part of a row, and the column in it that takes its content at the top."""
    cell = QWidget()
    column = QVBoxLayout(cell)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(2)
    column.setAlignment(Qt.AlignmentFlag.AlignTop)
    return cell, column


def _probe(row: RowFields) -> QHBoxLayout:
    """The pins in words, with a field for each that is blank."""
    line = QHBoxLayout()
    line.setSpacing(6)
    parts = row.row.probe.split(BLANK)
    for part, pin in zip(parts, [*row.pins, None], strict=True):
        if part.strip():
            line.addWidget(_label(part.strip(), "pin", wrap=False))
        if pin is not None:
            line.addWidget(pin)
    line.addStretch(1)
    return line
