"""Windows that several tests of one module look at, since opening a case and making the pages takes most of their time.

Only a test that leaves the case as it was may share a window: that is asserted, and size, theme and page are put back.
One that works on a page gets that page anew, and its changes are taken back.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from PySide6.QtTest import QTest

from app.model.settings import Settings
from app.shell.window import Window

SIZE = (1280, 720)


class SharedWindows:
    """Makes windows for one module, with folders of its own, and closes them at its end."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._made: list[Window] = []

    def window(self) -> Window:
        """An empty window, shown."""
        made = Window(Settings(self._folder / f"settings{len(self._made)}.ini"))
        self._made.append(made)
        made.resize(*SIZE)
        made.show()
        return made

    def close(self) -> None:
        """Closes them all."""
        for made in self._made:
            made.close()
            made.deleteLater()


@contextmanager
def own_folders(folder: Path) -> Iterator[None]:
    """What the program keeps for a person goes below a folder, before and after the tests' own settings as well."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("CONFIG", "DATA", "CACHE", "STATE"):
            patch.setenv(f"XDG_{name}_HOME", str(folder / name.lower()))
        yield


def until(holds: Callable[[], bool], seconds: float = 120) -> None:
    """Lets the window work until something holds."""
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "waited in vain"
        QTest.qWait(5)


@contextmanager
def looked_at(window: Window) -> Iterator[Window]:
    """The window for one test, which may look at it in any size, theme and page, and may not change the case."""
    case, page = window.session.case, window.current
    settings = window.settings
    look = settings.text_percent, settings.dark
    window.resize(*SIZE)
    window.show()
    yield window
    window.hide()
    if (settings.text_percent, settings.dark) != look:
        settings.text_percent, settings.dark = look
        window.apply_look()
    if window.current != page:
        window.show_page(page)
    assert window.session.case == case, "a test that changes the case needs a window of its own"
    assert window.session.current


@contextmanager
def worked_in(window: Window, name: str) -> Iterator[Window]:
    """The window for one test that may work on one page and change what needs no new comparison: the page is made for
    it alone, and what it changed in the case is taken back."""
    session, here = window.session, window.current
    case, chosen, store = session.case, session.chosen, session.store
    _let_go(window, name)
    with looked_at(window):
        window.show_page(name)
        yield window
        assert session.store is store, "a test that keeps the case elsewhere needs a window of its own"
        while session.case != case and session.can_undo:
            session.undo()
        session.chosen = chosen
        _let_go(window, name)
        window.show_page(here)


def _let_go(window: Window, name: str) -> None:
    """The page is made anew when it is next wanted."""
    page = window.pages.pop(name, None)
    if page is not None:
        window.stack.removeWidget(page)
        page.hide()
        page.deleteLater()
