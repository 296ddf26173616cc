"""The marks of the case as a list that folds to its title: searched by text and kind, Enter or a click goes there."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetrics, QKeyEvent, QPainter, QPen
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QListView,
    QPushButton,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from app.case.values import Mark
from app.model.theme import LIGHT, Theme
from app.widgets.controls.label import label
from app.widgets.controls.tip import plain_tip, set_tip
from app.widgets.marks.kind_picker import KindPicker
from app.widgets.traces.mark_spans import full_words, matches, place_words, signed_words, subject_words
from app.widgets.traces.mark_tags import SHAPE, draw_kind

Index = QModelIndex | QPersistentModelIndex
MARK_ROLE = Qt.ItemDataRole.UserRole
ROWS_KEPT = 2
"""So many rows of the list stay in sight, however short the window."""


class MarkModel(QAbstractListModel):
    """The marks that are listed."""

    def __init__(self) -> None:
        super().__init__()
        self.marks: tuple[Mark, ...] = ()

    def set_marks(self, marks: Sequence[Mark]) -> None:
        """Lists other marks."""
        self.beginResetModel()
        self.marks = tuple(marks)
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.marks)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        mark = self.marks[index.row()]
        if role == MARK_ROLE:
            return mark
        if role == Qt.ItemDataRole.DisplayRole:
            return mark.note or place_words(mark)
        if role in (Qt.ItemDataRole.AccessibleTextRole, Qt.ItemDataRole.ToolTipRole):
            return plain_tip(full_words(mark)) if role == Qt.ItemDataRole.ToolTipRole else full_words(mark)
        return None


class MarkDelegate(QStyledItemDelegate):
    """Paints one mark: shape, number and note, and below them where it is, on what, and who made it."""

    def __init__(self) -> None:
        super().__init__()
        self.theme, self.scale = LIGHT, 1.0

    def _pad(self) -> int:
        return round(5 * self.scale)

    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        # what the style sheet sets is the view's font; an option made for a hint may not have it yet
        font = option.widget.font() if option.widget is not None else option.font
        return QSize(60, 2 * QFontMetrics(font).lineSpacing() + 2 * self._pad() + 1)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        mark: Mark = index.data(MARK_ROLE)
        theme, area, pad = self.theme, option.rect, self._pad()
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        font = QFont(option.widget.font() if option.widget is not None else option.font)
        painter.save()
        if chosen:
            painter.fillRect(area, QColor(theme.tint))
        line = QFontMetrics(font).lineSpacing()
        size = SHAPE * self.scale
        draw_kind(painter, mark.kind, area.x() + 2 * pad, area.y() + pad + line / 2, size, theme.ink)
        left = round(area.x() + 4 * pad + size)
        head = QRect(left, area.y() + pad, area.right() - pad - left, line)
        font.setBold(True)
        number = f"{mark.id}  "
        self._words(painter, head, font, number, theme.ink)
        font.setBold(chosen)
        beside = QFontMetrics(font).horizontalAdvance(number) + pad
        self._words(painter, head.adjusted(beside, 0, 0, 0), font, mark.note or "(no note)", theme.ink)
        font.setBold(False)
        below = " · ".join(w for w in (place_words(mark), subject_words(mark), signed_words(mark)) if w)
        self._words(painter, head.translated(0, line), font, below, theme.muted)
        painter.setPen(QPen(QColor(theme.rule), 1))
        painter.drawLine(area.bottomLeft(), area.bottomRight())
        if chosen:
            painter.setPen(QPen(QColor(theme.ink), 2))
            painter.drawRect(area.adjusted(1, 1, -1, -1))
        painter.restore()

    def _words(self, painter: QPainter, area: QRect, font: QFont, words: str, colour: str) -> None:
        painter.setFont(font)
        painter.setPen(QColor(colour))
        shown = QFontMetrics(font).elidedText(words, Qt.TextElideMode.ElideRight, area.width())
        painter.drawText(area, int(Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft), shown)


class MarkRows(QListView):
    """``wanted`` carries the number of a mark to go to; ``asked`` an action's name."""

    wanted = Signal(int)
    asked = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.setAccessibleName("Marks")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setResizeMode(QListView.ResizeMode.Adjust)
        self.setVerticalScrollMode(QListView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.listed = MarkModel()
        self.setModel(self.listed)
        self.delegate = MarkDelegate()
        self.setItemDelegate(self.delegate)
        self.clicked.connect(self._go)

    def _go(self, index: Index) -> None:
        if index.isValid():
            self.wanted.emit(self.listed.marks[index.row()].id)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._go(self.currentIndex())
        elif event.key() == Qt.Key.Key_Delete and self.currentIndex().isValid():
            self._go(self.currentIndex())
            self.asked.emit("remove_mark")
        else:
            super().keyPressEvent(event)


class MarkList(QWidget):
    """``wanted`` carries the number of a mark to go to, ``asked`` an action's name, ``opened`` whether it is open."""

    wanted = Signal(int)
    asked = Signal(str)
    opened = Signal(bool)

    def __init__(self) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(6)
        self.title = QPushButton()
        self.title.setCheckable(True)
        self.title.setProperty("small", True)
        self.title.toggled.connect(self._fold)
        column.addWidget(self.title)
        self.body = QWidget()
        column.addWidget(self.body, 1)
        inside = QVBoxLayout(self.body)
        inside.setContentsMargins(0, 0, 0, 0)
        inside.setSpacing(6)
        self.search = QLineEdit()
        self.search.setPlaceholderText("Search notes, signals, cycles")
        self.search.setAccessibleName("Search the marks")
        self.search.setClearButtonEnabled(True)
        self.search.textChanged.connect(lambda _text: self._list())
        self.search.returnPressed.connect(self._first)
        self.kinds = KindPicker(every=True, words=False)
        self.kinds.picked.connect(self._list)
        find = QHBoxLayout()
        find.setSpacing(6)
        find.addWidget(self.search, 1)
        find.addWidget(self.kinds)
        inside.addLayout(find)
        self.rows = MarkRows()
        self.rows.wanted.connect(self.wanted)
        self.rows.asked.connect(self.asked)
        inside.addWidget(self.rows, 1)
        self.none = label("", "muted")
        inside.addWidget(self.none)
        inside.addLayout(self._buttons())
        self._marks: tuple[Mark, ...] = ()
        self._chosen: int | None = None
        self.body.hide()
        self._list()

    def _buttons(self) -> QHBoxLayout:
        buttons = QHBoxLayout()
        buttons.setSpacing(6)
        self.buttons: dict[str, QPushButton] = {}
        for name, words, tip in (
            ("mark", "Mark", "Mark the chosen cycle, or what lies between the cursors (M)"),
            ("edit_mark", "Edit", "Open the chosen mark"),
            ("remove_mark", "Remove", "Remove the chosen mark"),
        ):
            button = QPushButton(words)
            button.setProperty("small", True)
            set_tip(button, tip)
            button.clicked.connect(lambda _on=False, name=name: self.asked.emit(name))
            buttons.addWidget(button)
            self.buttons[name] = button
        buttons.addStretch(1)
        return buttons

    # ---- what is listed

    def set_marks(self, marks: Sequence[Mark], chosen: int | None) -> None:
        """The marks in the order of their cycles, and the number of the chosen one."""
        self._marks = tuple(sorted(marks, key=lambda m: (m.first_cycle, m.start_ps or 0, m.id)))
        self._chosen = chosen
        self._list()

    def _list(self) -> None:
        kind = self.kinds.kind or ""
        shown = tuple(m for m in self._marks if matches(m, self.search.text(), kind))
        if shown != self.rows.listed.marks:
            self.rows.listed.set_marks(shown)
        order = [m.id for m in shown]
        if self._chosen in order:
            index = self.rows.listed.index(order.index(self._chosen))
            self.rows.setCurrentIndex(index)
            self.rows.scrollTo(index)
        else:
            self.rows.clearSelection()
        there = any(m.id == self._chosen for m in self._marks)
        for name in ("edit_mark", "remove_mark"):
            self.buttons[name].setEnabled(there)
        self.none.setVisible(not shown)
        self.none.setText("No mark is like that." if self._marks else "No marks yet. M marks the chosen cycle.")
        self._name()

    def _name(self) -> None:
        count = len(self._marks)
        sign = "▾" if self.title.isChecked() else "▸"
        self.title.setText(f"{sign} Marks · {count or 'none yet'}")
        self.title.setAccessibleName(f"Marks, {count or 'none yet'}, {'open' if self.title.isChecked() else 'folded'}")
        set_tip(self.title, "Fold the marks" if self.title.isChecked() else "Open the list of marks")

    def shown_numbers(self) -> list[int]:
        """Numbers of the marks that the search leaves, from the top."""
        return [m.id for m in self.rows.listed.marks]

    def _first(self) -> None:
        if self.rows.listed.marks:
            self.wanted.emit(self.rows.listed.marks[0].id)

    # ---- folding and looks

    @property
    def is_open(self) -> bool:
        """Is the list to be seen?"""
        return self.title.isChecked()

    def open(self) -> None:
        """Unfolds, with the search under the keys."""
        self.title.setChecked(True)
        self.search.setFocus()
        self.search.selectAll()

    def _fold(self, on: bool) -> None:
        self.body.setVisible(on)
        self._name()
        self.opened.emit(on)

    def set_theme(self, theme: Theme, scale: float) -> None:
        """Takes colours and text size."""
        self.kinds.set_theme(theme, scale)
        self.rows.delegate.theme, self.rows.delegate.scale = theme, scale
        self.rows.setMinimumHeight(round(ROWS_KEPT * 46 * scale))
        self.rows.scheduleDelayedItemsLayout()
        self.rows.viewport().update()
