"""Enter presses the button that has the focus, as Space does: on a form it does so anyway, in a window it does not."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractButton, QApplication, QCheckBox, QRadioButton, QWidget
from shiboken6 import isValid

_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class EnterPresses(QObject):
    """Watches only the button that has the focus: a filter on all of the program would slow every event down."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.focusChanged.connect(self._follow)

    def _follow(self, before: QWidget | None, now: QWidget | None) -> None:
        if before is not None and isValid(before):
            before.removeEventFilter(self)
        pressed = isinstance(now, QAbstractButton) and not isinstance(now, (QCheckBox, QRadioButton))
        if now is not None and pressed and now.window() is self._window:
            now.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent) or event.key() not in _ENTER:
            return False
        if event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier or event.isAutoRepeat():
            return False
        for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
            # what the press leads to may take the button away
            if isValid(watched):
                QApplication.sendEvent(watched, QKeyEvent(kind, Qt.Key.Key_Space, Qt.KeyboardModifier.NoModifier, " "))
        return True
