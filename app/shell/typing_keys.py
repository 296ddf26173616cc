"""What is typed into a field is no action of the window."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent

from app.shell.dropping import DropFrame
from app.widgets.controls.forms import takes_words


class TypingFrame(DropFrame):
    """The part of the window that leaves plain keys to the field that has the focus."""

    def writing(self) -> bool:
        """Is somebody at a field that is no page's, such as a line for the log?"""
        now = self.focusWidget()
        return now is not None and takes_words(now) and now.isVisible() and not self.stack.isAncestorOf(now)

    def event(self, event: QEvent) -> bool:
        """Letters, arrows and Esc that go into a field are no actions of the window."""
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            command = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier
            now = self.focusWidget()
            keys = Qt.Key.Key_F1 <= event.key() <= Qt.Key.Key_F35
            if now is not None and takes_words(now) and not event.modifiers() & command and not keys:
                event.accept()
                return True
        return super().event(event)
