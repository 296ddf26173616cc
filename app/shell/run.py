"""The window as a program: the one application, and what is opened in it at the start."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QTimer
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QApplication

from app.desktop import ICON
from app.shell import last_work
from app.shell.window import Window

if TYPE_CHECKING:
    from demo_traces import DemoCase


def application() -> QApplication:
    """The one application of this process."""
    found = QApplication.instance()
    if isinstance(found, QApplication):
        return found
    made = QApplication(sys.argv[:1])
    made.setApplicationName("Twinslot")
    made.setDesktopFileName("twinslot")
    made.setWindowIcon(QIcon(str(ICON)))
    made.setStyle("Fusion")
    return made


def run(
    case: DemoCase | None = None,
    good: Sequence[str | Path] = (),
    suspect: Sequence[str | Path] = (),
    sheet: str | Path | None = None,
    case_file: str | Path | None = None,
) -> int:
    """Opens the window, with a demo case, a case file or captures; returns when it is closed."""
    app = application()
    window = Window()
    sys.excepthook = lambda _kind, error, _trace: window.tell_unforeseen(error)
    last_work.restore_size(window)
    window.show()
    QTimer.singleShot(0, window.view_actions.greet)
    if case_file is not None:
        window.open_file(case_file)
    elif case is not None:
        window.files.open_demo(case)
    elif good or suspect or sheet:
        window.files.open_case(good, suspect, sheet)
    else:
        QTimer.singleShot(0, lambda: last_work.restore_case(window))
    return app.exec()
