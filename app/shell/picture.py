"""The window as a picture, for a machine without a display."""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from tracecore.errors import RequestError

if TYPE_CHECKING:
    from demo_traces import DemoCase

CHATTER = "This plugin does not support"
"""So begins what Qt says of a window that no one sees; it is no news to who asked for a picture."""
PATIENCE_S = 120
"""How long a demo case may take before no picture is made."""


@contextmanager
def _without_chatter() -> Iterator[None]:
    """All that Qt has to say is told meanwhile, but for that."""
    from PySide6.QtCore import QMessageLogContext, QtMsgType, qInstallMessageHandler

    def tell(_kind: QtMsgType, _where: QMessageLogContext, words: str) -> None:
        if not words.startswith(CHATTER):
            print(words, file=sys.stderr)

    before = qInstallMessageHandler(tell)
    try:
        yield
    finally:
        qInstallMessageHandler(before)


def picture(case: DemoCase, path: str | Path, size: tuple[int, int] = (1600, 900), page: str = "compare") -> Path:
    """Opens a demo case in a window that no one sees and saves what it shows as PNG.

    Raises RequestError where the case is not compared within ``PATIENCE_S`` or the file cannot be written.
    """
    if not any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")):
        os.environ["QT_QPA_PLATFORM"] = "offscreen"
    from app.model.settings import Settings
    from app.shell.run import application
    from app.shell.window import Window

    app = application()
    with tempfile.TemporaryDirectory() as own, _without_chatter():
        window = Window(Settings(Path(own) / "settings.ini"))
        window.resize(*size)
        window.show()
        window.files.open_demo(case)
        deadline = time.monotonic() + PATIENCE_S
        while not window.session.current and not window.session.trouble and time.monotonic() < deadline:
            app.processEvents()
            time.sleep(0.01)
        trouble = window.session.trouble if not window.session.current else ""
        while not window.jobs.idle and time.monotonic() < deadline:
            app.processEvents()
            time.sleep(0.01)
        window.show_page(page)
        app.processEvents()
        saved = window.grab().save(str(path), "PNG")
        compared = window.session.current
        window.close()
    if not compared:
        raise RequestError(
            trouble or f"Demo case {case.name} was not compared in {PATIENCE_S} s: no picture. Try again."
        )
    if not saved:
        raise RequestError(f"{path}: the picture cannot be written. Choose another place.")
    return Path(path)
