"""A person without a plan: clicks, keys, typing, menus, forms, drops and resizing, in any order, thousands of times.

Run as ``python -X faulthandler -m tests.gui.random_driver SEED ACTIONS [JOURNAL]``: drives one window over a case that
has something of everything and over a demo, and prints a line at each rest: memory, widgets, threads.
Each action goes into the journal before it is done, so that one that ends the process can be read there. Any error that
reaches the event loop, and any sentence about what nobody foresaw, ends the run with status 1.
"""

from __future__ import annotations

import ctypes
import gc
import os
import random
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO
from unittest.mock import patch

from PySide6.QtCore import QEvent, QMimeData, QPoint, QPointF, Qt, QTimer, QUrl
from PySide6.QtGui import (
    QContextMenuEvent,
    QDesktopServices,
    QDragEnterEvent,
    QDropEvent,
    QKeyEvent,
    QWheelEvent,
)
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QComboBox, QDialog, QFileDialog, QMenu, QWidget

from app.model.settings import Settings
from app.shell.window import Window
from app.steps.step import all_steps

TYPED = ("D03", "7-B04", "12", "-3", "1e9", "4.7 k", "open", "READ == 1", "x" * 300, "\u202e<b>&", "=1+1", "ä漢🔧", " ")
KEYS = (
    *(Qt.Key.Key_Tab, Qt.Key.Key_Backtab, Qt.Key.Key_Return, Qt.Key.Key_Escape, Qt.Key.Key_Space, Qt.Key.Key_Delete),
    *(Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Home, Qt.Key.Key_End),
    *(Qt.Key.Key_PageUp, Qt.Key.Key_PageDown, Qt.Key.Key_F2, Qt.Key.Key_F4, Qt.Key.Key_Backspace, Qt.Key.Key_Menu),
    *(Qt.Key(ord(letter)) for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789+-.,[]="),
)
MODIFIERS = (
    *(Qt.KeyboardModifier.NoModifier,) * 5,
    *(Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.AltModifier),
    Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier,
)
BUTTONS = (Qt.MouseButton.LeftButton,) * 6 + (Qt.MouseButton.RightButton, Qt.MouseButton.MiddleButton)
REST_S, REST_AT_MOST_S = 30.0, 900.0
"""Work that lasts has the first of a processor, however crowded the machine is, or the second by the clock."""
ENDS = ("quit",)
"""Actions that end the run."""


@dataclass(frozen=True, slots=True)
class Rest:
    """What there is when all forms are closed, the same case is open and nothing works in the background."""

    actions: int
    memory_mb: float
    widgets: int
    threads: int

    @property
    def words(self) -> str:
        """One line."""
        return (
            f"{self.actions:6d} actions: {self.memory_mb:6.1f} MB, {self.widgets:5d} widgets, {self.threads:2d} threads"
        )


class Driver:
    """Drives ``window`` by ``chance``; files are taken from ``folder``, what is written goes to its ``out``."""

    def __init__(self, window: Window, chance: random.Random, folder: Path, journal: TextIO) -> None:
        self.window, self.chance, self.folder, self._journal = window, chance, folder, journal
        self.done = 0
        self.errors: list[str] = []
        self._files = sorted(path for path in folder.rglob("*") if path.is_file())
        (folder / "out").mkdir(exist_ok=True)
        for name in ENDS:
            window.actions_by_name[name].setEnabled(False)
        self._ways: list[tuple[int, Callable[[], str]]] = [
            (30, self._click),
            (14, self._press),
            (10, self._type),
            (12, self._act),
            (8, self._turn_page),
            (5, self._wheel),
            (5, self._drag),
            (4, self._ask_menu),
            (4, self._resize),
            (4, self._undo),
            (3, self._close_form),
            (3, self._choose),
            (2, self._drop),
            (2, self._wait),
            (1, self._open_other),
        ]
        self._closer = QTimer(window, interval=40)
        self._closer.timeout.connect(self._serve_popup)

    # ---- the run

    @contextmanager
    def at_work(self) -> Iterator[None]:
        """Dialogs of the system answer by chance, and what nobody foresaw is kept."""

        def unforeseen(_kind: type, error: BaseException, _trace: object) -> None:
            import traceback

            self.errors.append("".join(traceback.format_exception(error)))

        def told(sentence: str) -> Any:
            if "did not foresee" in sentence:
                self.errors.append(sentence)
            return before(sentence)

        before = self.window._told
        answers: dict[str, Callable[..., Any]] = {
            "getOpenFileName": lambda *_: (self._any_file(), ""),
            "getOpenFileNames": lambda *_: (
                [name for _ in range(self.chance.randrange(3)) if (name := self._any_file())],
                "",
            ),
            "getSaveFileName": lambda *_: (self._any_target(), ""),
            "getExistingDirectory": lambda *_: self._any_folder(),
        }
        with (
            patch.object(sys, "excepthook", unforeseen),
            patch.object(self.window, "_told", told),
            patch.object(QDesktopServices, "openUrl", staticmethod(lambda _url: True)),
            patch("app.shell.printing.ask_printer", lambda _parent: None),
            patch.multiple(QFileDialog, **{name: staticmethod(answer) for name, answer in answers.items()}),
        ):
            self._closer.start()
            try:
                yield
            finally:
                self._closer.stop()

    def run(self, actions: int, each: int, rested: Callable[[Rest], None]) -> None:
        """So many actions; comes to rest after each so many, and stops at the first error."""
        for n in range(1, actions + 1):
            (way,) = self.chance.choices([way for _, way in self._ways], [weight for weight, _ in self._ways])
            self._note(f"{n} {way.__name__}")
            self._note(f"  {way()}")
            self.done += 1
            self._events()
            if self.errors:
                return
            if n % each == 0:
                rested(self.rest())
            if self.errors:
                return

    def rest(self) -> Rest:
        """Closes all forms, opens the first case again, and waits until nothing works."""
        from tests.benchmarks.bench_watch import memory_mb

        window = self.window
        for _ in range(20):
            forms = [form for form in QApplication.topLevelWidgets() if form is not window and form.isVisible()]
            for form in forms:
                form.close()
            self._events()
            if not forms:
                break
        form = window.soak_actions.form
        if form is not None:
            form.watch.stop()
        window.resize(1280, 720)
        window.view_actions.set_text(100)
        shutil.copyfile(self.folder / "sound.twinslot", self.folder / "out" / "rest.twinslot")
        if window.session.store.path != self.folder / "out" / "rest.twinslot":
            window.open_file(self.folder / "out" / "rest.twinslot")
        for step in all_steps():
            window.show_page(step.name)
            self._until_idle()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        gc.collect()
        with suppress(OSError, AttributeError):
            # what the C library keeps for later is no leak
            ctypes.CDLL("libc.so.6").malloc_trim(0)
        return Rest(self.done, memory_mb(), len(QApplication.allWidgets()), threading.active_count())

    def _note(self, text: str) -> None:
        self._journal.write(text.encode("unicode_escape").decode() + "\n")
        self._journal.flush()

    def _events(self) -> None:
        QApplication.processEvents()
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)

    def _until_idle(self) -> None:
        end, latest = time.process_time() + REST_S, time.monotonic() + REST_AT_MOST_S
        while not self.window.jobs.idle or self.window._compare_soon.isActive():
            self._events()
            time.sleep(0.002)
            if time.process_time() > end or time.monotonic() > latest:
                self.errors.append(f"busy for good: {self.window.jobs._newest}")
                return

    # ---- where it acts

    def _top(self) -> QWidget:
        popup, modal = QApplication.activePopupWidget(), QApplication.activeModalWidget()
        if popup is not None or modal is not None:
            return popup or modal
        shown = [w for w in QApplication.topLevelWidgets() if w.isVisible() and w.isEnabled()]
        # forms lie over the window, and a person works in them first
        forms = [w for w in shown if w is not self.window]
        return self.chance.choice(forms) if forms and self.chance.random() < 0.7 else self.window

    def _part(self, kinds: tuple[type, ...] = (QWidget,)) -> QWidget | None:
        top = self._top()
        parts = [w for w in top.findChildren(QWidget) if isinstance(w, kinds) and w.isVisible() and w.isEnabled()]
        return self.chance.choice(parts) if parts else None

    def _place(self, part: QWidget) -> QPoint:
        return QPoint(self.chance.randrange(max(1, part.width())), self.chance.randrange(max(1, part.height())))

    def _any_file(self) -> str:
        return str(self.chance.choice(self._files)) if self.chance.random() < 0.8 else ""

    def _any_target(self) -> str:
        name = self.chance.choice(("a.pdf", "b.csv", "c.vcd", "d.png", "e.twinslot", "no/such/folder/x", "plain"))
        return self.chance.choice((str(self.folder / "out" / name), str(self.folder / "out" / name), "", "/dev/full"))

    def _any_folder(self) -> str:
        places = (self.folder, self.folder / "landing", self.folder / "out" / "report", self.folder / "gone", "")
        return str(self.chance.choice(places))

    # ---- what it does; each returns what it did

    def _click(self) -> str:
        part = self._part((QAbstractButton,) if self.chance.random() < 0.4 else (QWidget,))
        if part is None:
            return "nothing"
        place, button = self._place(part), self.chance.choice(BUTTONS)
        told = f"{_named(part)} at {place.x()},{place.y()} {button.name}"
        self._note(f"  {told}")
        if self.chance.random() < 0.15:
            QTest.mouseDClick(part, button, self.chance.choice(MODIFIERS), place)
        else:
            # a part may go when it is pressed, and what the test library lets go of must be there
            QTest.mousePress(part, button, self.chance.choice(MODIFIERS), place)
            if _alive(part):
                QTest.mouseRelease(part, button, Qt.KeyboardModifier.NoModifier, place)
            else:
                self.errors.append(f"{told}: freed while it was pressed")
        return "clicked"

    def _press(self) -> str:
        part = QApplication.focusWidget() or self._part() or self.window
        key, modifier = self.chance.choice(KEYS), self.chance.choice(MODIFIERS)
        self._note(f"  {_named(part)} {key.name} {modifier}")
        QTest.keyClick(part, key, modifier)
        return "pressed"

    def _type(self) -> str:
        part = QApplication.focusWidget() or self._part() or self.window
        text = self.chance.choice(TYPED)
        self._note(f"  {_named(part)} {text[:20]}")
        for letter in text[:40]:
            for kind in (QEvent.Type.KeyPress, QEvent.Type.KeyRelease):
                if _alive(part):
                    event = QKeyEvent(kind, Qt.Key.Key_unknown, Qt.KeyboardModifier.NoModifier, letter)
                    QApplication.sendEvent(part, event)
            if QApplication.focusWidget() is not part:
                return "the place was left"
        if self.chance.random() < 0.5:
            QTest.keyClick(part, Qt.Key.Key_Return)
        return "typed"

    def _act(self) -> str:
        name = self.chance.choice([name for name in self.window.bound_actions if name not in ENDS])
        if QApplication.activeModalWidget() is not None:
            return f"{name} waits behind a form"
        made = self.window.actions_by_name.get(name)
        self._note(f"  {name}")
        if made is None:
            # those of a card's buttons are there only where a card is open
            return "no such action in the menus"
        made.trigger()
        return "acted"

    def _turn_page(self) -> str:
        step = self.chance.choice(all_steps())
        if QApplication.activeModalWidget() is None:
            self.window.show_page(step.name)
        return step.name

    def _wheel(self) -> str:
        part = self._part()
        if part is None:
            return "nothing"
        place = QPointF(self._place(part))
        turn = QPoint(0, self.chance.choice((-120, 120)) * self.chance.randrange(1, 5))
        modifier = self.chance.choice(MODIFIERS)
        event = QWheelEvent(
            place,
            part.mapToGlobal(place),
            turn,
            turn,
            Qt.MouseButton.NoButton,
            modifier,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        )
        self._note(f"  {_named(part)}")
        QApplication.sendEvent(part, event)
        return "turned"

    def _drag(self) -> str:
        part = self._part()
        if part is None:
            return "nothing"
        self._note(f"  {_named(part)}")
        QTest.mousePress(part, Qt.MouseButton.LeftButton, self.chance.choice(MODIFIERS), self._place(part))
        for _ in range(self.chance.randrange(1, 6)):
            if not _alive(part):
                return "gone"
            QTest.mouseMove(part, self._place(part))
            self._events()
        if _alive(part):
            QTest.mouseRelease(part, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, self._place(part))
        return "dragged"

    def _ask_menu(self) -> str:
        part = self._part()
        if part is None:
            return "nothing"
        place = self._place(part)
        self._note(f"  {_named(part)}")
        event = QContextMenuEvent(QContextMenuEvent.Reason.Mouse, place, part.mapToGlobal(place))
        QApplication.sendEvent(part, event)
        return "asked"

    def _resize(self) -> str:
        top = self._top()
        width, height = self.chance.randrange(300, 2000), self.chance.randrange(200, 1200)
        if isinstance(top, QMenu):
            return "nothing"
        top.resize(width, height)
        return f"{_named(top)} {width} x {height}"

    def _undo(self) -> str:
        name = self.chance.choice(("undo", "undo", "redo"))
        if QApplication.activeModalWidget() is None:
            self.window.act(name)
        return name

    def _close_form(self) -> str:
        top = self._top()
        if top is self.window:
            return "nothing"
        self._note(f"  {_named(top)}")
        top.close()
        return "closed"

    def _choose(self) -> str:
        part = self._part((QComboBox,))
        if not isinstance(part, QComboBox) or not part.count():
            return "nothing"
        self._note(f"  {_named(part)}")
        index = self.chance.randrange(part.count())
        part.setCurrentIndex(index)
        part.activated.emit(index)
        return "chosen"

    def _drop(self) -> str:
        data = QMimeData()
        data.setUrls(
            [QUrl.fromLocalFile(name) for _ in range(self.chance.randrange(1, 4)) if (name := self._any_file())]
        )
        if QApplication.activeModalWidget() is not None:
            return "behind a form"
        place = self._place(self.window)
        args = (Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier)
        self._note(f"  {[url.fileName() for url in data.urls()]}")
        QApplication.sendEvent(self.window, QDragEnterEvent(place, *args))
        QApplication.sendEvent(self.window, QDropEvent(QPointF(place), *args))
        return "dropped"

    def _wait(self) -> str:
        self._until_idle()
        return "waited"

    def _open_other(self) -> str:
        if QApplication.activeModalWidget() is not None:
            return "behind a form"
        if self.chance.random() < 0.5:
            self.window.open_demo(self.chance.choice(("receiver", "contact", "held", "clip")))
            return "demo"
        path = self.folder / "out" / f"case{self.chance.randrange(3)}.twinslot"
        if self.window.session.store.path != path:
            shutil.copyfile(self.folder / "sound.twinslot", path)
            self.window.open_file(path)
        return path.name

    def _serve_popup(self) -> None:
        """A menu runs an event loop of its own: something in it is chosen, or it goes."""
        popup = QApplication.activePopupWidget()
        if popup is None:
            return
        if isinstance(popup, QMenu) and popup.actions() and self.chance.random() < 0.5:
            entry = self.chance.choice(popup.actions())
            if entry.isEnabled() and entry.menu() is None and not entry.isSeparator():
                popup.close()
                with suppress(RuntimeError):
                    entry.trigger()
                return
        popup.close()


def _alive(part: QWidget) -> bool:
    from shiboken6 import isValid

    return bool(isValid(part))


def _named(part: QWidget) -> str:
    text = getattr(part, "text", None)
    words = text() if callable(text) and not isinstance(part, QDialog) else ""
    return f"{type(part).__name__} {part.objectName() or str(words)[:30]!r} in {type(part.window()).__name__}"


def furnished(folder: Path) -> Path:
    """A folder with a file of each kind, and ``sound.twinslot``, a case with something of everything."""
    from tests.case.crafted import sound_case
    from tests.cli.every_command import fill

    fill(folder)
    return sound_case(folder / "sound.twinslot")


def drive(
    seed: int, actions: int, folder: Path, journal: TextIO, each: int, rested: Callable[[Rest], None]
) -> list[str]:
    """Drives a new window over the case; what went wrong."""
    window = Window(Settings(folder / "settings.ini"))
    window.resize(1280, 720)
    window.show()
    driver = Driver(window, random.Random(seed), folder, journal)
    try:
        with driver.at_work():
            rested(driver.rest())
            driver.run(actions, each, rested)
    finally:
        window.close()
    return driver.errors


def main(words: list[str]) -> int:
    """Drives in a folder of its own."""
    seed, actions = int(words[0]), int(words[1])
    with tempfile.TemporaryDirectory() as place:
        os.environ["TWINSLOT_SETTINGS"] = str(Path(place) / "own")
        folder = Path(place) / "files"
        folder.mkdir()
        from app.shell.run import application

        app = application()
        furnished(folder)
        with open(words[2] if len(words) > 2 else os.devnull, "w", encoding="utf-8") as journal:
            errors = drive(seed, actions, folder, journal, 250, lambda rest: print(rest.words, flush=True))
        for error in errors:
            print(error)
        print(f"{app.platformName()}, seed {seed}: {len(errors)} errors")
    return 1 if errors else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
