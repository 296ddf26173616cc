"""The work of yesterday: which case, on which page, in which size; and the cases opened before it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QRect, QTimer

from app.case.record import UNTITLED
from app.case.scratch import is_scratch
from app.steps.step import all_steps

if TYPE_CHECKING:
    from app.shell.frame import Frame

AFTER_MS, MOST_BYTES = 800, 64 << 20
"""When the case of last time is compared by itself, the window being painted; and up to which size of its files."""


def remember(window: Frame) -> None:
    """Keeps what is open now, and how."""
    settings, path = window.settings, window.session.store.path
    settings.last_case = "" if path is None or is_scratch(window.session.store) else str(path)
    settings.last_page = window.current
    area = window.normalGeometry()
    settings.last_window = (area.x(), area.y(), area.width(), area.height(), window.isMaximized())


def note_case(window: Frame) -> None:
    """Puts the open case first among those opened lately; one without a name as soon as something was done in it."""
    store = window.session.store
    if store.path is None or (is_scratch(store) and not window.session.can_undo):
        return
    title = window.session.case.title
    window.settings.add_recent_case(str(store.path), "" if title == UNTITLED else title)


def restore_size(window: Frame) -> None:
    """The window as it was, where that still is on a screen."""
    kept = window.settings.last_window
    if kept is None:
        return
    area = QRect(*kept[:4])
    room = window.screen().availableGeometry()
    if area.width() >= window.minimumWidth() and area.height() >= window.minimumHeight():
        window.resize(area.size().boundedTo(room.size()))
        if room.contains(area):
            window.move(area.topLeft())
    if kept[4]:
        window.showMaximized()


def restore_case(window: Frame) -> None:
    """The case of last time at its page; a case that is gone is told, and nothing is lost by that."""
    settings = window.settings
    page, path = settings.last_page, settings.last_case
    if path and Path(path).is_file():
        window.open_file(path)
    elif path:
        window.say(f"{path}, the case of last time, is not there any more")
    if page in [step.name for step in all_steps()] and window.session.case.captures:
        window.show_page(page)
    QTimer.singleShot(AFTER_MS, window, lambda: compare_quietly(window))


def compare_quietly(window: Frame) -> None:
    """Compares the case of last time in the background, so that head and stamps say of it what they said yesterday.

    Large captures wait until somebody looks at a page that needs them, and files outside the case for a yes.
    """
    session = window.session
    captures = session.case.captures
    if not session.ready or session.current or session.trouble or window.jobs.busy("compare"):
        return
    if sum(own.size_bytes for held in captures for own in held.files) > MOST_BYTES or session.shelf.unagreed(captures):
        return
    window.answers.compare_again()
