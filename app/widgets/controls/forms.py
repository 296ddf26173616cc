"""Forms that open above a page: their fields scroll where the screen is small, their buttons stay in sight."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractSpinBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFrame,
    QLineEdit,
    QMessageBox,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

FRAME = QSize(16, 48)
"""What the window system puts around a window, at most: the frame and the title (common practice)."""


def open_form(form: QDialog) -> None:
    """Opens a form; once closed it is freed, so that a day of work leaves none behind."""
    form.finished.connect(form.deleteLater)
    form.open()


def free_room(widget: QWidget) -> QSize:
    """The largest size at which a window with its frame is all on the screen."""
    return widget.screen().availableSize() - FRAME


def fit(form: QWidget, width: int, height: int) -> None:
    """Gives a form that size, or what the screen has."""
    form.resize(QSize(width, height).boundedTo(free_room(form)))


class UprightScroll(QScrollArea):
    """Scrolls up and down alone; lines that wrap in it get the height that they need at its width."""

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.grow()

    def grow(self) -> None:
        """Gives what is scrolled the height that its wrapped lines need."""
        body = self.widget()
        layout = body.layout() if body is not None else None
        if body is not None and layout is not None and layout.hasHeightForWidth():
            body.setMinimumHeight(layout.totalHeightForWidth(self.viewport().width()))


class ScrolledBody(UprightScroll):
    """``column`` is the layout to fill."""

    def __init__(self) -> None:
        super().__init__()
        body = QWidget()
        body.setObjectName("columnBody")
        self.content = body
        self.column = QVBoxLayout(body)
        self.column.setContentsMargins(0, 0, 8, 0)
        self.column.setSpacing(12)
        self.setWidget(body)

    def wanted_height(self, width: int) -> int:
        """The height at which nothing has to be scrolled."""
        inner = width - self.verticalScrollBar().sizeHint().width()
        wrapped = self.column.heightForWidth(inner) if self.column.hasHeightForWidth() else 0
        return max(wrapped, self.content.sizeHint().height()) + 4

    def minimumSizeHint(self) -> QSize:
        """Wide enough for the widest part, since it never scrolls sideways."""
        wide = self.content.minimumSizeHint().width() + self.verticalScrollBar().sizeHint().width()
        return QSize(wide, 3 * self.fontMetrics().height())


def takes_words(field: QWidget) -> bool:
    """Is it a field in which one types?"""
    if isinstance(field, QComboBox):
        return field.isEditable()
    return isinstance(field, QLineEdit | QPlainTextEdit | QAbstractSpinBox)


def typed(form: QWidget) -> tuple[object, ...]:
    """All that a person may have typed or ticked in a form, to be compared with what it was."""
    found: list[object] = []
    for field in form.findChildren(QWidget):
        if isinstance(field, QLineEdit):
            found.append(field.text())
        elif isinstance(field, QPlainTextEdit):
            found.append(field.toPlainText())
        elif isinstance(field, QSpinBox):
            found.append(field.value())
        elif isinstance(field, QComboBox):
            found.append(field.currentText())
        elif isinstance(field, QAbstractButton) and field.isCheckable():
            found.append(field.isChecked())
    return tuple(found)


class AskingForm(QDialog):
    """A form that Esc, or its window's cross, does not close with something typed in it: it asks first."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._begun: tuple[object, ...] | None = None
        self._asked: QMessageBox | None = None

    def written_in(self) -> QWidget:
        """The part whose fields a person writes in; parts that come and go by themselves stand beside it."""
        return self

    def take_as_begun(self) -> None:
        """What stands in the fields now is nothing that could be lost."""
        self._begun = typed(self.written_in())

    @property
    def holds_words(self) -> bool:
        """Was anything typed since the form was shown?"""
        return self._begun is not None and typed(self.written_in()) != self._begun

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if self._begun is None:
            self.take_as_begun()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.holds_words:
            self.ask_to_leave()
        else:
            super().keyPressEvent(event)

    def closeEvent(self, event: QCloseEvent) -> None:
        if self.isVisible() and self.holds_words:
            event.ignore()
            self.ask_to_leave()
        else:
            super().closeEvent(event)

    def ask_to_leave(self) -> None:
        """Asks whether what was typed may be dropped."""
        if self._asked is not None:
            return
        box = QMessageBox(QMessageBox.Icon.NoIcon, self.windowTitle(), "Drop what you typed in this form?")
        box.setParent(self, box.windowFlags())
        drop = box.addButton("Drop it", QMessageBox.ButtonRole.DestructiveRole)
        stay = box.addButton("Go on typing", QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(stay)
        box.setEscapeButton(stay)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        drop.clicked.connect(self.drop)
        box.finished.connect(self._on_answer)
        box.open()
        self._asked = box

    def _on_answer(self, _answer: int) -> None:
        self._asked = None

    def drop(self) -> None:
        """Closes without keeping anything."""
        self._begun = None
        if self._asked is not None:
            self._asked.close()
        self.reject()


class FieldsForm(AskingForm):
    """Fields that scroll above, in ``body``; Keep and Cancel below them. The first field has the focus.

    ``letters`` is how wide the form wants to be, in letters of its text.
    """

    def __init__(self, title: str, parent: QWidget | None = None, letters: int = 62) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self._letters, self._fitted = letters, False
        down = QVBoxLayout(self)
        down.setContentsMargins(20, 16, 12, 16)
        down.setSpacing(12)
        self.area = ScrolledBody()
        self.body = self.area.column
        down.addWidget(self.area, 1)
        buttons = QDialogButtonBox()
        self.keep: QPushButton = buttons.addButton("Keep", QDialogButtonBox.ButtonRole.AcceptRole)
        self.keep.setProperty("role", "decision")
        self.leave: QPushButton = buttons.addButton("Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self.foot = QVBoxLayout()
        down.addLayout(self.foot)
        down.addWidget(buttons)

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if not self._fitted:
            self._fitted = True
            for number in self.area.content.findChildren(QSpinBox):
                # the style sheet does not reach the words in there
                number.lineEdit().setTextMargins(self.fontMetrics().averageCharWidth() // 2, 0, 0, 0)
            self.fit()
            first = next((f for f in self.area.content.findChildren(QWidget) if takes_words(f) and f.isEnabled()), None)
            if first is not None:
                first.setFocus(Qt.FocusReason.TabFocusReason)
            # wrapped lines know their height only once they have their width
            QTimer.singleShot(0, self, self.fit)

    def fit(self) -> None:
        """Takes the size that its fields ask for, or what the screen has."""
        room = free_room(self)
        least = self.area.minimumSizeHint().width() + 40
        width = min(max(self._letters * self.fontMetrics().averageCharWidth(), least), room.width())
        layout = self.layout()
        around = (layout.sizeHint().height() if layout is not None else 0) - self.area.sizeHint().height()
        self.area.grow()
        self.resize(width, min(around + self.area.wanted_height(width - 32), room.height()))
