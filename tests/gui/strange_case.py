"""A case that somebody altered, opened in the window: every page is looked at, a change is made and taken back.

Run as ``python -m tests.gui.strange_case SEED NUMBER SECONDS``: prints what went wrong with that many altered cases, in
one window, and how much memory and how many widgets there are now and then.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication, QDialog

from app.case.changes import Put
from app.case.values import Entry
from app.model.settings import Settings
from app.shell.window import Window
from app.steps.step import all_steps

PATIENCE_S, AT_MOST_S = 60.0, 900.0
"""Seconds of a processor, and by the clock: a crowded machine is no error."""


class Onlooker:
    """Gathers what the window says in dialogs, and what nobody foresaw, while ``look`` goes over an opened case."""

    def __init__(self, window: Window) -> None:
        self.window = window
        self.unforeseen: list[str] = []
        self.told: list[str] = []
        sys.excepthook = lambda _kind, error, _trace: window.tell_unforeseen(error)
        window.files.troubled.connect(self.told.append)

    def look(self, path: Path) -> list[str]:
        """Opens a case and goes over all pages; the sentences that should not be."""
        window = self.window
        self.told.clear()
        window.open_file(path)
        self._wait("opened")
        for step in all_steps():
            window.show_page(step.name)
            self._wait(step.name)
            window.grab()
            self._note_dialogs()
        if window.session.change(Put(Entry(0, "seen", "a line"))):
            self._wait("a line")
            window.act("undo")
            self._wait("undo")
        self._note_dialogs()
        bad = [text for text in self.told if "did not foresee" in text or "Traceback" in text]
        trouble = window.session.trouble
        return bad + ([trouble] if "did not foresee" in trouble else [])

    def _wait(self, what: str) -> None:
        end, latest = time.process_time() + PATIENCE_S, time.monotonic() + AT_MOST_S
        while True:
            QApplication.processEvents()
            if self.window.jobs.idle and not self.window._compare_soon.isActive():
                return
            if time.process_time() > end or time.monotonic() > latest:
                self.told.append(f"Traceback: busy for good at {what}: {self.window.jobs._newest}")
                self.window.jobs.stop_all()
                return
            time.sleep(0.002)

    def _note_dialogs(self) -> None:
        for dialog in self.window.findChildren(QDialog):
            if dialog.isVisible():
                text = getattr(dialog, "text", None)
                if isinstance(text, Callable):  # type: ignore[arg-type]
                    self.told.append(text())
                dialog.close()
        QApplication.processEvents()
        # without an event loop that runs, nothing that was closed would go
        QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def main(words: list[str]) -> None:
    """Tries altered cases."""
    from tests.benchmarks.bench_watch import memory_mb
    from tests.case.crafted import objects, sound_case, wrong_fields, wrong_values

    seed, number, seconds = (int(word) for word in words[:3])
    only = words[3] if len(words) > 3 else ""
    app = QApplication.instance() or QApplication([])
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        sound = sound_case(folder / "sound.twinslot")
        fields = list(wrong_fields(sound))
        random.Random(seed).shuffle(fields)
        todo = [*objects(), *wrong_values(), *fields]
        todo = [a for a in todo if only in a.what] if only else todo[:number]
        window = Window(Settings(folder / "settings.ini"))
        window.resize(1280, 720)
        window.show()
        onlooker, begun, bad = Onlooker(window), time.monotonic(), 0
        for n, alteration in enumerate(todo, start=1):
            if time.monotonic() - begun > seconds:
                break
            path = alteration.made(sound, folder / f"case{n}.twinslot")
            for text in onlooker.look(path):
                bad += 1
                print("BAD", ascii(alteration.what), ascii(text[:300]), flush=True)
            if n % 50 == 0:
                widgets = len(app.allWidgets())
                print(f"{n} of {len(todo)}: {bad} bad, {memory_mb():.0f} MB, {widgets} widgets", flush=True)
            if n > 1:
                (folder / f"case{n - 1}.twinslot").unlink()
        window.close()
        print(f"end: {n} tried, {bad} bad")


if __name__ == "__main__":
    main(sys.argv[1:])
